"""All training sound in one array, cut from people, spliced, and synthesised, by kind.

python -m speech.training.pools PREPARED_FOLDER POOL.npz --espeak LIB DATA
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from speech.phones import PAUSE, VOWELS
from speech.training import corpus
from speech.training.corpus import Clip, Splicer, Spoken
from speech.training.partition import Partition, partition
from speech.training.strings import plain
from speech.training.synthesis import Espeak, espeak_voice

CHILD_AGE = 11
STOPS = ("B", "CH", "D", "G", "JH", "K", "P", "T")
KINDS: tuple[str, ...] = (
    "child words", "adult words", "child splices", "adult splices", "child parts", "adult parts",
    "espeak", "espeak sounded out", "piper", "child runs", "adult runs",
)  # fmt: skip


@dataclass(frozen=True)
class Pool:
    """Clips end to end.

    ``wave`` int16 (samples,); ``start``, ``length`` int64 (clips,); ``phones`` one string a clip;
    ``kind`` int64 (clips,), a place in ``KINDS``.
    """

    wave: NDArray[np.int16]
    start: NDArray[np.int64]
    length: NDArray[np.int64]
    phones: tuple[str, ...]
    kind: NDArray[np.int64]

    def save(self, path: Path) -> None:
        """Write to an ``.npz`` file."""
        np.savez(
            path, wave=self.wave, start=self.start, length=self.length, kind=self.kind,
            phones=np.array(self.phones),
        )  # fmt: skip

    @classmethod
    def load(cls, path: Path) -> Pool:
        """Read what ``save`` wrote."""
        with np.load(path) as file:
            return cls(
                file["wave"], file["start"], file["length"], tuple(file["phones"].tolist()),
                file["kind"],
            )  # fmt: skip


Job = tuple[str, int, int]
_state: dict[str, object] = {}


def build(folder: Path, held_out: Partition, espeak: tuple[Path, Path], scale: float) -> Pool:
    """Make every kind of clip; ``scale`` multiplies how many of the made-up ones."""
    utterances = corpus.load(folder)
    held = held_out.test_speakers | held_out.calibration_speakers
    _state["people"] = [spoken for spoken in utterances if spoken.speaker not in held]
    _state["partition"] = held_out
    _state["espeak"] = espeak
    _state["strings"] = json.loads((folder / "strings.json").read_text())
    jobs: list[Job] = []
    for kind, count in (
        ("child splices", 60_000), ("adult splices", 40_000), ("child parts", 30_000),
        ("adult parts", 15_000), ("espeak", 40_000), ("espeak sounded out", 8_000),
    ):  # fmt: skip
        jobs += [(kind, seed, 500) for seed in range(int(count * scale) // 500)]
    jobs += [(kind, 0, 0) for kind in ("child words", "adult words", "child runs", "adult runs")]
    found: list[tuple[str, Clip]] = []
    with multiprocessing.get_context("fork").Pool() as workers:
        for kind, clips in workers.imap_unordered(_make, jobs):
            found += [(kind, clip) for clip in clips]
    found += [("piper", clip) for clip in _piper(folder)]
    lengths = np.array([len(clip.samples) for _, clip in found], np.int64)
    wave = np.concatenate(
        [np.clip(c.samples * 32767, -32768, 32767).astype(np.int16) for _, c in found]
    )
    return Pool(
        wave, np.cumsum(lengths) - lengths, lengths, tuple(clip.phones for _, clip in found),
        np.array([KINDS.index(kind) for kind, _ in found], np.int64),
    )  # fmt: skip


def _people(kind: str) -> list[Spoken]:
    everyone: list[Spoken] = _state["people"]  # type: ignore[assignment]
    return [s for s in everyone if (s.age <= CHILD_AGE) == kind.startswith("child")]


def _make(job: Job) -> tuple[str, list[Clip]]:
    kind, seed, count = job
    rng = random.Random(f"{kind} {seed}")
    maker: Callable[[str, random.Random, int], list[Clip]] = {
        "splices": _splices, "parts": _parts, "words": _words, "runs": _runs,
        "espeak": _espeak, "out": _espeak_sounded_out,
    }[kind.split()[-1]]  # fmt: skip
    return kind, maker(kind, rng, count)


def _splices(kind: str, rng: random.Random, count: int) -> list[Clip]:
    by_speaker: dict[str, list[Spoken]] = {}
    for spoken in _people(kind):
        by_speaker.setdefault(spoken.speaker, []).append(spoken)
    held_out: Partition = _state["partition"]  # type: ignore[assignment]
    splicer = Splicer(rng.choice(sorted(by_speaker.items()))[1], held_out)
    return [splicer.clip(rng) for _ in range(count)] if splicer.usable else []


def _parts(kind: str, rng: random.Random, count: int) -> list[Clip]:
    """Two to seven neighbouring sounds, wherever they begin and end."""
    held_out: Partition = _state["partition"]  # type: ignore[assignment]
    runs = [
        (spoken, run) for spoken in _people(kind) for run in corpus.training_runs(spoken, held_out)
    ]
    clips = []
    for _ in range(count):
        spoken, (first, last) = rng.choice(runs)
        length = min(rng.randint(2, 7), last - first + 1)
        begin = rng.randint(first, last - length + 1)
        clips.append(corpus.cut(spoken, begin, begin + length - 1, rng.uniform(0, 0.12)))
    return clips


def _words(kind: str, rng: random.Random, _count: int) -> list[Clip]:
    held_out: Partition = _state["partition"]  # type: ignore[assignment]
    clips = []
    for spoken in _people(kind):
        for first, last in corpus.training_runs(spoken, held_out):
            for word in range(spoken.segments[first].word, spoken.segments[last].word + 1):
                if word in spoken.doubtful:
                    continue
                place = corpus.word_range(spoken, word)
                clips += [corpus.cut(spoken, *place, rng.uniform(0.02, 0.15)) for _ in range(2)]
    return clips


def _runs(kind: str, _rng: random.Random, _count: int) -> list[Clip]:
    held_out: Partition = _state["partition"]  # type: ignore[assignment]
    return [
        corpus.cut(spoken, *run)
        for spoken in _people(kind)
        for run in corpus.training_runs(spoken, held_out)
    ]


def _voice() -> Espeak:
    if "speaker" not in _state:
        files: tuple[Path, Path] = _state["espeak"]  # type: ignore[assignment]
        _state["speaker"] = Espeak(*files)
    return _state["speaker"]  # type: ignore[return-value]


def _espeak(_kind: str, rng: random.Random, count: int) -> list[Clip]:
    texts: Sequence[str] = _state["strings"]  # type: ignore[assignment]
    clips = []
    for _ in range(count):
        text = rng.choice(texts)
        clips.append(Clip(_trimmed(_voice().say(text, *espeak_voice(rng))), plain(text)))
    return clips


def _espeak_sounded_out(_kind: str, rng: random.Random, count: int) -> list[Clip]:
    """Sounds one by one, with or without a small vowel after consonants; half then blended."""
    texts = [t for t in _state["strings"] if len(t.split()) <= 5]  # type: ignore[attr-defined]
    clips = []
    for _ in range(count):
        text = rng.choice(texts)
        voice = espeak_voice(rng)
        pieces, phones = [], []
        for symbol in text.split():
            vowel = symbol.startswith("'") or symbol in VOWELS
            sound = symbol.lstrip("'")
            if not vowel and (sound in STOPS or rng.random() < 0.4):
                sound += " AH"
            pieces += [_trimmed(_voice().say(sound, *voice)), _silence(rng)]
            phones += [*sound.split(), PAUSE]
        if rng.random() < 0.5:
            pieces.append(_trimmed(_voice().say(text, *voice)))
            phones += plain(text).split()
        else:
            pieces.pop()
            phones.pop()
        clips.append(Clip(np.concatenate(pieces), " ".join(phones)))
    return clips


def _silence(rng: random.Random) -> NDArray[np.float32]:
    return np.zeros(int(rng.uniform(0.15, 0.7) * 16000), np.float32)


def _trimmed(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    loud = np.flatnonzero(np.abs(samples) > 0.01 * max(float(np.abs(samples).max(initial=0)), 1e-4))
    return samples[loud[0] : loud[-1] + 1] if len(loud) > 400 else np.zeros(800, np.float32)


def _piper(folder: Path) -> list[Clip]:
    sound, _rate = soundfile.read(folder / "piper.opus", dtype="float32")
    return [
        Clip(sound[start : start + length], plain(text))
        for text, start, length in json.loads((folder / "piper.json").read_text())
    ]


def main() -> None:
    """Build the pool, say what is in it, and write it."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="what speech.training.prepare wrote")
    parser.add_argument("out", type=Path)
    parser.add_argument("--espeak", type=Path, nargs=2, required=True, metavar=("LIB", "DATA"))
    parser.add_argument("--scale", type=float, default=1.0, help="how many made-up clips")
    args = parser.parse_args()
    rows = [json.loads(line) for line in (args.folder / "corpus.jsonl").read_text().splitlines()]
    pool = build(args.folder, partition(rows), tuple(args.espeak), args.scale)
    for number, kind in enumerate(KINDS):
        mine = pool.kind == number
        print(f"{kind:20s} {mine.sum():7d} clips {pool.length[mine].sum() / 16000:9.0f} s")
    pool.save(args.out)


if __name__ == "__main__":
    main()
