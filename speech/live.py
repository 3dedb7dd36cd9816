"""The live listener: hears a turn as it is spoken, by vosk with our own phone-level model.

For each turn it is given the candidates beforehand and builds a graph of exactly these
(``speech.live_graph``). While the child speaks it says what has been completed so far, from which
follows how much quiet ends the turn; at the end it gives every candidate's log-likelihood.
"""

from __future__ import annotations

import itertools
import json
import shutil
import tempfile
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from speech import vosk_gate
from speech.audio import RATE, Samples
from speech.endpoint import PAUSE_S, Turn, Watch, bursts
from speech.levels import FRAME_S as LEVEL_FRAME_S
from speech.live_graph import (
    EARLIER_WORD,
    ELSE_FRAME_NATS,
    ELSE_NATS,
    ELSE_WORD,
    QUIET_WORD,
    Graph,
    graph,
)
from speech.phones import PAUSE
from speech.vosk_gate import ListenerTrouble

MODEL: Final = Path(__file__).parent / "models" / "live"
FILES: Final = ("am/final.mdl", "conf/fbank.conf", "conf/model.conf")
WHAT: Final = "The live listener's model"
FRAME_S: Final = 0.03
"""Seconds in one frame of scores."""
EDGE_S: Final = 0.1
"""Seconds of silence put on both ends of a whole clip, so that a tight cut still has edges."""
READY: Final = 3
"""How many turns' graphs are kept, each with the model: about 14 MB."""
REACH_NATS: Final = 60.0
"""How far below the best free path a candidate is still told apart."""
WHOLE_S: Final = 0.35
"""Quiet that ends a turn once the word has been said whole, as it counts as right."""
OTHER_S: Final = 1.0
"""The same once something else has been said whole: a child who misread often tries again."""
GAP_S: Final = 0.25
"""A word with a quiet this long inside was said in pieces. The closure of a stop lasts 0.05 to
0.15 s (common knowledge, no source)."""
NOW_S: Final = 0.15
"""What was speech so short a time ago is speech now."""
STEP_S: Final = 0.06
"""How much sound is looked at together. Looking at levels costs more than the network does."""
GRAPH_SCALE: Final = 0.9
"""Vosk scales the graph's costs by this before it lists alternatives (its recognizer.cc)."""
EARLIER_FRAME_NATS: Final = GRAPH_SCALE * ELSE_FRAME_NATS
_WINDOW, _HOP, _SUBSAMPLING = 400, 160, 3


@dataclass(frozen=True)
class LiveScores:
    """What one turn says of its candidates. All log-likelihoods in nats.

    Attributes
    ----------
    loglik : dict of str to float
        Of each candidate's best alignment (Viterbi), as the whole of what was said.
    last : dict of str to float
        The same as the last attempt: anything before it, at a cost of ``EARLIER_FRAME_NATS`` for
        each frame, then a pause.
    garbage : float
        Of the best symbol in each frame: 'something else'. Nothing scores above it. No candidate
        is given less than ``garbage - REACH_NATS``, which says 'at most this'.
    silence : float
        That nobody spoke.
    frames : int
        Frames of 30 ms scored.
    """

    loglik: dict[str, float]
    last: dict[str, float]
    garbage: float
    silence: float
    frames: int


@dataclass(frozen=True)
class LiveState:
    """A turn as far as it has been heard.

    Attributes
    ----------
    turn : Turn
        Where speech began and ended so far, and whether the child has finished.
    hears : bool
        Somebody speaks now.
    partial : str
        The candidate that has just been completed, as it seems; ``""`` for none.
    pause_s : float
        Quiet that ends the turn, after what was said so far.
    """

    turn: Turn
    hears: bool
    partial: str
    pause_s: float

    @property
    def over(self) -> bool:
        """Whether the child has finished."""
        return self.turn.over


def frames_of(samples: int) -> int:
    """Frames of 30 ms that are scored in a number of samples at 16 kHz."""
    whole = max(0, 1 + (samples - _WINDOW) // _HOP)
    return -(-whole // _SUBSAMPLING)


class LiveListener:
    """Our phone-level model, to be given one turn's candidates after another.

    Attributes
    ----------
    folder : Path
        With ``am/final.mdl`` and ``conf/``.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._ready: dict[tuple[str, ...], tuple[Any, Graph]] = {}

    @classmethod
    def load(cls, folder: Path | None = None) -> LiveListener:
        """Look at a model's folder, the bundled one by default, and try it once.

        Raises
        ------
        ListenerTrouble
            It is missing, damaged, or a model of words, which cannot hear phones.
        """
        folder = folder or MODEL
        vosk_gate.whole(folder, FILES, WHAT)
        if (folder / "graph").exists():
            raise ListenerTrouble(
                "This model cannot listen to single words",
                f"{folder} knows whole words only, and no single sounds",
                "Name it for reading captions, and leave single words to the bundled model.",
            )
        listener = cls(folder)
        listener.score(np.zeros(RATE // 2, np.float32), ["AH"])
        return listener

    def turn(self, candidates: Sequence[str], expected: Collection[str] = ()) -> LiveTurn:
        """Get ready to hear one turn.

        It takes some hundredths of a second, and next to nothing for candidates of one of the last
        ``READY`` turns: so they may be made ready before the child speaks.

        Parameters
        ----------
        candidates : sequence of str
            Different ARPAbet strings such as ``"P AY N"``; ``|`` stands for a pause. The ways of
            sounding the word out should be among them: by these a turn is known not to be over.
        expected : collection of str
            Those of them that count as right.

        Raises
        ------
        ValueError
            If there is no candidate, one is empty or comes twice, or holds an unknown symbol.
        """
        wanted = tuple(candidates)
        if wanted not in self._ready:
            self._ready[wanted] = self._made(wanted)
        model, made = self._ready[wanted] = self._ready.pop(wanted)  # the newest is last
        while len(self._ready) > READY:
            del self._ready[next(iter(self._ready))]
        costs = dict(zip(candidates, made.costs, strict=True))
        return LiveTurn(model, costs, frozenset(expected))

    def score(self, samples: Samples, candidates: Sequence[str]) -> LiveScores:
        """Score the candidates on a whole clip (mono, float32, 16 kHz)."""
        turn = self.turn(candidates)
        turn.decode(np.pad(samples, round(EDGE_S * RATE)))
        return turn.finish()

    def _made(self, candidates: tuple[str, ...]) -> tuple[Any, Graph]:
        """The model with a turn's graph. Vosk reads a folder: it is written and removed again."""
        made = graph(candidates)
        with tempfile.TemporaryDirectory(prefix="wordhearth-") as name:
            folder = Path(name)
            for file in FILES:
                (folder / file).parent.mkdir(exist_ok=True)
                _lend(self.folder / file, folder / file)
            (folder / "graph" / "phones").mkdir(parents=True)
            (folder / "graph" / "HCLG.fst").write_bytes(made.fst)
            (folder / "graph" / "words.txt").write_text(made.words)
            return vosk_gate.model(folder, WHAT, source=self.folder), made


def _lend(file: Path, place: Path) -> None:
    """Make a file appear at a second place."""
    try:
        place.symlink_to(file.absolute())
    except OSError:  # Windows allows links to few
        shutil.copyfile(file, place)


class LiveTurn:
    """One turn as it is heard; made by ``LiveListener.turn``."""

    def __init__(self, model: Any, costs: dict[str, float], expected: frozenset[str]) -> None:
        self._candidates = tuple(costs)
        self._costs = costs
        self._expected = expected
        self._recogniser = vosk_gate.recogniser(model, RATE)
        self._recogniser.SetMaxAlternatives(2 * len(costs) + 2)
        self._watch = Watch()
        self._decoded = 0
        self._waiting: list[Samples] = []
        self._state = LiveState(Turn(None, None, 0.0, False), False, "", PAUSE_S)

    @property
    def samples(self) -> Samples:
        """What was heard so far, shape = (n_samples,)."""
        return np.concatenate([self._watch.samples, *self._waiting])

    def accept(self, samples: Samples) -> LiveState:
        """Hear the next samples (mono, float32, 16 kHz, any number).

        They are looked at together with the next ones until they last ``STEP_S``; meanwhile the
        state stays as it was.
        """
        self._waiting.append(samples)
        if sum(map(len, self._waiting)) >= STEP_S * RATE:
            self._look()
        return self._state

    def hear(self, samples: Samples) -> Turn:
        """Hear the next samples, as an ``endpoint.Watch`` does."""
        return self.accept(samples).turn

    def _look(self) -> None:
        samples = np.concatenate(self._waiting) if self._waiting else np.zeros(0, np.float32)
        self._waiting.clear()
        self.decode(samples)
        turn = self._watch.hear(samples)
        earlier, partial = self._partial()
        pause_s = self._pause_s(partial, earlier)
        over = turn.end_s is not None and turn.quiet_s >= pause_s - LEVEL_FRAME_S / 2
        self._state = LiveState(
            Turn(turn.start_s, turn.end_s, turn.quiet_s, over),
            hears=turn.end_s is not None and turn.quiet_s <= NOW_S,
            partial=partial,
            pause_s=pause_s,
        )

    def finish(self) -> LiveScores:
        """Score every candidate on what was heard. The turn takes no more samples after it."""
        if self._waiting:
            self._look()
        alternatives = json.loads(self._recogniser.FinalResult()).get("alternatives", [])
        found = {each["text"]: float(each["confidence"]) for each in alternatives}
        frames = frames_of(self._decoded)
        free = found.get(ELSE_WORD, 0.0)
        if ELSE_WORD in found:
            free += GRAPH_SCALE * (ELSE_NATS + ELSE_FRAME_NATS * frames)
        least = free - REACH_NATS

        def scores(before: str, cost: float) -> dict[str, float]:
            return {
                candidate: max(
                    found.get(f"{before}c{number}", -np.inf)
                    + GRAPH_SCALE * (cost + self._costs[candidate]),
                    least,
                )
                for number, candidate in enumerate(self._candidates)
            }

        return LiveScores(
            loglik=scores("", 0.0),
            last=scores(f"{EARLIER_WORD} ", ELSE_NATS),
            garbage=free,
            silence=max(found.get(QUIET_WORD, least), least),
            frames=frames,
        )

    def decode(self, samples: Samples) -> None:
        """Hear samples without watching for the end of the turn."""
        self._decoded += len(samples)
        whole = np.clip(np.round(samples * 32768.0), -32768, 32767).astype("<i2")
        self._recogniser.AcceptWaveform(whole.tobytes())

    def _partial(self) -> tuple[bool, str]:
        """Whether something came before a pause, and the candidate completed after it."""
        words = json.loads(self._recogniser.PartialResult()).get("partial", "").split()
        done = next((word for word in words if word[0] == "c"), "")
        return EARLIER_WORD in words, self._candidates[int(done[1:])] if done else ""

    def _pause_s(self, partial: str, earlier: bool) -> float:
        if not partial or PAUSE in partial.split():
            return PAUSE_S
        sounds = bursts(self._watch.levels)
        gaps = [later[0] - sooner[1] for sooner, later in itertools.pairwise(sounds)]
        if not earlier and max(gaps, default=0) * LEVEL_FRAME_S >= GAP_S:
            return PAUSE_S  # heard as one word, but there was quiet in it
        return WHOLE_S if partial in self._expected else OTHER_S
