"""The phone scorer: how likely each candidate phone string is, given what was heard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import onnxruntime
from numpy.typing import NDArray

from speech.audio import RATE
from speech.features import log_mel
from speech.phones import BLANK_INDEX, INDEX, PAUSE, SYMBOLS, encode
from speech.trouble import Trouble

MODEL = Path(__file__).parent / "models" / "phone_scorer.onnx"
EDGE_S = 0.1
"""Seconds of silence put on both ends of a clip, so that a tight cut still has edges."""
FRAME_S = 0.02
"""Seconds in one frame of scores."""


class ModelTrouble(Trouble):
    """The model's file is missing, damaged or not a phone network."""


@dataclass(frozen=True)
class Scores:
    """What one clip says of its candidates. All log-likelihoods in nats.

    Attributes
    ----------
    loglik : dict of str to float
        CTC log-likelihood of each candidate phone string.
    free : float
        Log-likelihood of the best free phone string: 'something else'.
    free_phones : str
        That string, pauses written as ``|``; empty when nothing was said.
    silence : float
        Log-likelihood that nothing was said.
    frames : int
        Frames of 20 ms scored.
    """

    loglik: dict[str, float]
    free: float
    free_phones: str
    silence: float
    frames: int


@dataclass(frozen=True)
class Hearing:
    """A clip after one pass of the networks; scoring it again costs no listening.

    Log-likelihoods are means over the networks. What is freely heard is what the first hears.

    Attributes
    ----------
    frame_scores : ndarray, shape (networks, frames, 41), float32
        Log-probability of each of ``phones.SYMBOLS`` in each frame of 20 ms.
    """

    frame_scores: NDArray[np.float32]

    @property
    def frames(self) -> int:
        """Frames of 20 ms."""
        return int(self.frame_scores.shape[1])

    @property
    def silence(self) -> float:
        """Log-likelihood that nothing was said: blank in every frame."""
        blank = self.frame_scores[..., BLANK_INDEX].sum(axis=1, dtype=np.float64)
        return float(blank.mean())

    @cached_property
    def freely(self) -> NDArray[np.float64]:
        """Log-likelihood of the best symbol of every frame before each, shape (frames + 1,)."""
        best = self.frame_scores.max(axis=2).mean(axis=0, dtype=np.float64)
        return np.concatenate([[0.0], best.cumsum()])

    @cached_property
    def free_path(self) -> tuple[tuple[str, int], ...]:
        """Symbols of the best free path, each with the frame where it begins."""
        best = self.frame_scores[0].argmax(axis=1)
        changed = np.flatnonzero(np.diff(best, prepend=-1))
        return tuple((SYMBOLS[best[at]], int(at)) for at in changed if best[at] != BLANK_INDEX)

    @property
    def free_phones(self) -> str:
        """The best free phone string, outer pauses dropped."""
        return " ".join(symbol for symbol, _ in self.free_path).strip(f"{PAUSE} ")

    @property
    def restarts(self) -> tuple[int, ...]:
        """Frames just after each pause inside the clip: where a new attempt may start."""
        inner = [i for i, (symbol, _) in enumerate(self.free_path) if symbol != PAUSE]
        if not inner:
            return ()
        pausing = np.append(self.frame_scores[0].argmax(axis=1) == INDEX[PAUSE], False)
        return tuple(
            at + int(np.argmin(pausing[at:]))
            for i, (symbol, at) in enumerate(self.free_path)
            if symbol == PAUSE and inner[0] < i < inner[-1]
        )

    def log_likelihoods(
        self, candidates: Sequence[str], first: int = 0, last: int | None = None
    ) -> NDArray[np.float64]:
        """CTC log-likelihood of each candidate on frames ``first`` to ``last``.

        Parameters
        ----------
        candidates : sequence of str
            ARPAbet strings such as ``"P AY N"``; ``|`` stands for a pause.
        first, last : int
            The frames to explain, as in a slice; the whole clip by default.

        Returns
        -------
        ndarray, shape (len(candidates),), float64
            Nats; ``-inf`` where a candidate has more symbols than the frames can hold.

        Raises
        ------
        ValueError
            If a candidate is empty or holds an unknown symbol.

        References
        ----------
        Graves et al. 2006, *Connectionist Temporal Classification*, equations 6-8.
        """
        labels = [encode(candidate) for candidate in candidates]
        each = [ctc_log_likelihoods(scores[first:last], labels) for scores in self.frame_scores]
        return np.asarray(np.mean(each, axis=0))


def ctc_log_likelihoods(
    frame_scores: NDArray[np.floating], labels: Sequence[Sequence[int]]
) -> NDArray[np.float64]:
    """CTC forward algorithm over all label strings at once.

    Parameters
    ----------
    frame_scores : ndarray, shape (frames, symbols)
        Log-probabilities, blank first.
    labels : sequence of sequences of int
        Symbol numbers, none of them the blank, none empty.

    Returns
    -------
    ndarray, shape (len(labels),), float64
    """
    if not labels:
        return np.zeros(0)
    if any(not label for label in labels):
        raise ValueError("An empty phone string cannot be scored: silence has a score of its own.")
    longest = max(map(len, labels))
    # States of one string: blank, s1, blank, s2, ... blank. Shape (strings, 2 * longest + 1).
    states = np.full((len(labels), 2 * longest + 1), BLANK_INDEX)
    for row, label in enumerate(labels):
        states[row, 1 : 2 * len(label) : 2] = label
    may_skip = np.zeros(states.shape, bool)
    may_skip[:, 2:] = (states[:, 2:] != BLANK_INDEX) & (states[:, 2:] != states[:, :-2])
    skip_cost = np.where(may_skip, 0.0, -np.inf)
    emitted = frame_scores.astype(np.float64)[:, states]  # (frames, strings, states)
    impossible = np.full((len(labels), 2), -np.inf)
    alpha = np.full(states.shape, -np.inf)
    alpha[:, 0] = 0.0  # before the first frame: only the first two states can be entered
    for frame, scores in enumerate(emitted):
        if frame == 0:
            alpha[:, 0], alpha[:, 1] = scores[:, 0], scores[:, 1]
            continue
        padded = np.hstack([impossible, alpha])
        alpha = scores + np.logaddexp(
            np.logaddexp(alpha, padded[:, 1:-1]), padded[:, :-2] + skip_cost
        )
    ends = 2 * np.array([len(label) for label in labels])
    rows = np.arange(len(labels))
    return np.asarray(np.logaddexp(alpha[rows, ends], alpha[rows, ends - 1]))


class PhoneScorer:
    """The networks behind ``Hearing``, run by onnxruntime on one thread.

    Attributes
    ----------
    session : onnxruntime.InferenceSession
        Input ``mel`` (1, 80, frames) float32; output (networks, frames / 2, 41) log-probabilities.
    """

    def __init__(self, session: onnxruntime.InferenceSession) -> None:
        self.session = session

    @classmethod
    def load(cls, path: Path | None = None) -> PhoneScorer:
        """Open a model file, the bundled one by default.

        Raises
        ------
        ModelTrouble
            If the file is missing, damaged, or has not the inputs and outputs of a phone network.
        """
        path = path or MODEL
        again = "Install Wordhearth again, or name another model file."
        if not path.is_file():
            raise ModelTrouble(
                f"The phone model {path.name} is not there", f"no file at {path}", again
            )
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.log_severity_level = 4
        try:
            session = onnxruntime.InferenceSession(
                path.read_bytes(), options, providers=["CPUExecutionProvider"]
            )
        except Exception as error:  # onnxruntime raises many kinds with no common base
            raise ModelTrouble(
                f"The phone model {path.name} cannot be opened",
                f"it is damaged or is not an ONNX model ({type(error).__name__})",
                again,
            ) from error
        given, made = session.get_inputs()[0], session.get_outputs()[0]
        if given.name != "mel" or list(made.shape)[2:] != [len(SYMBOLS)]:
            raise ModelTrouble(
                f"The model {path.name} is not a phone network",
                f"it makes {made.shape} of {given.name!r} where (networks, frames, "
                f"{len(SYMBOLS)}) of 'mel' is expected",
                again,
            )
        return cls(session)

    def hear(self, samples: NDArray[np.float32]) -> Hearing:
        """Run the network once.

        Parameters
        ----------
        samples : ndarray, shape (n,), float32
            Mono, 16 kHz, -1..1.
        """
        mel = log_mel(np.pad(samples, int(EDGE_S * RATE)))
        mel = mel[:, : mel.shape[1] // 2 * 2]
        (scores,) = self.session.run(None, {"mel": mel[None]})
        return Hearing(scores)

    def score(self, samples: NDArray[np.float32], candidates: Sequence[str]) -> Scores:
        """Score every candidate, the best free string and silence, in one pass."""
        hearing = self.hear(samples)
        free = hearing.free_phones
        logliks = hearing.log_likelihoods([*candidates, *([free] if free else [])])
        return Scores(
            loglik=dict(zip(candidates, logliks.tolist(), strict=False)),
            free=float(logliks[-1]) if free else hearing.silence,
            free_phones=free,
            silence=hearing.silence,
            frames=hearing.frames,
        )
