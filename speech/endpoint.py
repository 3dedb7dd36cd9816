"""Where speech starts and ends, and whether the child has finished: arithmetic on frame levels.

`look` is the only decision. The microphone calls it on the levels heard so far, a file on all of
its levels; both therefore agree, frame by frame.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from speech.audio import RATE, Samples, Utterance
from speech.levels import FRAME, FRAME_S, Levels, frame_levels

# Every figure below was chosen with fixtures_audio/measure_endpoint.py, whose table is in
# fixtures_audio/README.md.
PAUSE_S: Final = 1.5
"""Quiet after the last sound that ends a turn. Children sounding out leave up to about 1.2 s."""
FLOOR_QUANTILE: Final = 0.1
"""The floor of the room is the level that a tenth of the frames lie below."""
STIR_QUANTILE: Final = 0.4
"""How far this quantile lies above the floor tells how much the room stirs: a fan hardly, voices
in the background by 10 dB."""
STIR_FACTOR: Final = 2.5
RISE_DB: Final = (9.0, 22.0)
"""Speech stands `STIR_FACTOR` times the stir above the floor, within these bounds."""
REACH_DB: Final = 38.0
"""Nothing this far below the loudest frame is speech: it is breath, echo or a far-off voice."""
HEADROOM_DB: Final = 6.0
"""What comes this near to the loudest frame is speech, however much the room stirs."""
QUIETEST_ROOM_DBFS: Final = -80.0
"""In either band. A floor lower than this is a gated microphone, not a room."""
QUIETEST_SPEECH_DBFS: Final = -62.0
"""In either band. Anything quieter is no voice near the microphone."""
SHORTEST_S: Final = 0.05
"""A lone sound shorter than this, with nothing near it, is a click."""
NEAR_S: Final = 0.35
"""A short burst this near to speech belongs to it: the release of a final t or k."""
MARGIN_S: Final = 0.25
"""Kept on both sides when a turn is cut out."""
SHORT_S: Final = 1.5
"""A clip no longer than this is not trimmed: cut so tight, it may hold no room to measure."""


@dataclass(frozen=True)
class Turn:
    """What is known of a turn.

    Attributes
    ----------
    start_s, end_s : float or None
        Seconds from the first frame; None while nothing has been said.
    quiet_s : float
        Since the end of the last sound, or since the first frame.
    over : bool
        Something was said, and after it a pause long enough to end the turn.

    """

    start_s: float | None
    end_s: float | None
    quiet_s: float
    over: bool


def look(levels: Levels, pause_s: float = PAUSE_S) -> Turn:
    """Find the speech in frame levels and decide whether the turn is over.

    Parameters
    ----------
    levels : ndarray, shape = (n_frames, 2), dBFS
        As `frame_levels` gives them, from the moment of listening until now.
    pause_s : float
        Quiet that ends the turn. A listener that already knows that the whole word was said may
        ask for less.

    """
    heard_s = len(levels) * FRAME_S
    found = bursts(levels)
    if not found:
        return Turn(None, None, heard_s, False)
    start, end = found[0][0] * FRAME_S, found[-1][1] * FRAME_S
    return Turn(start, end, heard_s - end, heard_s - end >= pause_s - FRAME_S / 2)


def _thresholds(levels: Levels) -> Levels:
    """Level in each band that separates speech from the room, shape = (2,), dBFS."""
    ordered = np.sort(levels, axis=0)
    low, stirred = (_quantile(ordered, share) for share in (FLOOR_QUANTILE, STIR_QUANTILE))
    floor = np.maximum(low, QUIETEST_ROOM_DBFS)
    loudest = levels.max()
    least, most = RISE_DB
    risen = floor + np.clip(STIR_FACTOR * (stirred - low), least, most)
    risen = np.maximum(np.minimum(risen, loudest - HEADROOM_DB), floor + least)
    return np.asarray(np.maximum(risen, max(loudest - REACH_DB, QUIETEST_SPEECH_DBFS)))


def _quantile(ordered: Levels, share: float) -> Levels:
    """`np.quantile` of sorted levels, which takes a third of a millisecond a call."""
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return np.asarray(ordered[below] + (ordered[above] - ordered[below]) * (place - below))


def bursts(levels: Levels) -> list[tuple[int, int]]:
    """Runs of frames that are speech: (first, one after the last) of each, in order."""
    if not len(levels):
        return []
    speech = (_smooth(levels) > _thresholds(levels)).any(axis=1)
    loud = np.concatenate(([False], speech, [False]))
    edges = np.flatnonzero(np.diff(loud.astype(np.int8)))
    runs = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    shortest, near = SHORTEST_S / FRAME_S, NEAR_S / FRAME_S
    long = [run for run in runs if run[1] - run[0] >= shortest]
    return [
        (a, b)
        for a, b in runs
        if b - a >= shortest or any(a - end <= near and start - b <= near for start, end in long)
    ]


def _smooth(levels: Levels) -> Levels:
    """Median of three frames: a click of one frame vanishes, edges stay where they are."""
    around = np.concatenate((levels[:1], levels, levels[-1:]))
    before, here, after = around[:-2], around[1:-1], around[2:]
    low, high = np.minimum(before, here), np.maximum(before, here)
    return np.asarray(np.maximum(low, np.minimum(high, after)))


def trim(utterance: Utterance) -> Utterance:
    """Cut away the silence before and after speech, keeping `MARGIN_S` of it.

    An utterance of at most `SHORT_S`, or with no speech in it, comes back whole: deciding that it
    is silent is the listener's part.
    """
    if utterance.duration_s <= SHORT_S:
        return utterance
    return cut(utterance.samples, look(frame_levels(utterance.samples)))


def cut(samples: Samples, turn: Turn) -> Utterance:
    """Take a turn, with `MARGIN_S` around it, out of the samples its levels came from."""
    if turn.start_s is None or turn.end_s is None:
        return Utterance(samples)
    first = max(0, round((turn.start_s - MARGIN_S) * RATE))
    last = min(len(samples), round((turn.end_s + MARGIN_S) * RATE))
    return Utterance(samples[first:last].copy())


class Watch:
    """Levels and samples of one turn as they arrive.

    Feed it with `hear`; the answer is the same however the stream is cut into pieces, and the
    same as `look` on the whole.
    """

    def __init__(self, pause_s: float = PAUSE_S) -> None:
        self.pause_s = pause_s
        self._pieces: list[Samples] = []
        self._levels: list[Levels] = []
        self._part = np.zeros(0, np.float32)

    def hear(self, samples: Samples) -> Turn:
        """Take in the next samples (mono, float32, 16 kHz, any number) and look again."""
        self._pieces.append(samples)
        self._part = np.concatenate((self._part, samples))
        whole = len(self._part) // FRAME * FRAME
        if whole:
            self._levels.append(frame_levels(self._part[:whole]))
            self._part = self._part[whole:]
        return look(self.levels, self.pause_s)

    @property
    def levels(self) -> Levels:
        """Levels so far, shape = (n_frames, 2), dBFS."""
        return np.concatenate(self._levels) if self._levels else np.zeros((0, 2))

    @property
    def samples(self) -> Samples:
        """Samples so far, shape = (n_samples,)."""
        return np.concatenate(self._pieces) if self._pieces else np.zeros(0, np.float32)
