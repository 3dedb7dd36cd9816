"""The microphone of a sitting: open only while somebody has the page before them."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from types import TracebackType
from typing import Self

from companion.pages.stage import Stage
from companion.practice.listening import listen, open_microphone
from companion.record.consent import PractisePermit
from speech.audio import Samples, Utterance
from speech.capture import Microphone
from speech.endpoint import bursts
from speech.levels import frame_levels, loudness, remarks
from speech.live import LiveTurn

UNWATCHED_S = 3.0
"""No tab for so long, which a page that is being reloaded does not need, and listening ends."""
SLEPT_S = 30.0
"""A gap of the clock this long while sound should have come: the computer slept."""


class WatchedEar:
    """An ear that gives out when an answer is pressed, nobody watches, or the computer slept.

    Parameters
    ----------
    microphone : Microphone
        Open.
    stage : Stage
        Whose answers and watchers count.
    clock : callable
        Seconds of the wall clock, which goes on while the computer sleeps.
    """

    def __init__(
        self, microphone: Microphone, stage: Stage, clock: Callable[[], float] = time.time
    ) -> None:
        self._microphone = microphone
        self._stage = stage
        self._clock = clock
        self.left_alone = False

    @property
    def lost_pieces(self) -> int:
        """As the microphone counts them."""
        return self._microphone.lost_pieces

    @lost_pieces.setter
    def lost_pieces(self, count: int) -> None:
        self._microphone.lost_pieces = count

    def pieces(self) -> Iterator[Samples]:
        """Yield sound until there is a reason to stop listening."""
        last = self._clock()
        for piece in self._microphone.pieces():
            now = self._clock()
            if self._stage.unwatched_s > UNWATCHED_S or now - last > SLEPT_S:
                self.left_alone = True
                return
            last = now
            if self._stage.pressed.is_set():
                return
            yield piece


class Listening:
    """One microphone for a sitting, closed in its rests and opened again after them."""

    def __init__(self, permit: PractisePermit, stage: Stage) -> None:
        self._permit = permit
        self._stage = stage
        self._microphone: Microphone | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def open(self) -> None:
        """Open the microphone, unless it is open.

        Raises
        ------
        EarMissing
            There is none, or it would not start.
        ConsentMissing
            The consent has been taken back.
        """
        if self._microphone is None:
            microphone = open_microphone(self._permit)
            microphone.__enter__()
            self._microphone = microphone

    def close(self) -> None:
        """Close it; harmless where it is closed."""
        microphone, self._microphone = self._microphone, None
        if microphone is not None:
            microphone.__exit__(None, None, None)

    def hear(self, live: LiveTurn | None) -> tuple[Utterance, bool]:
        """Hear one try; and whether listening ended because nobody was there.

        Parameters
        ----------
        live : LiveTurn or None
            The live listener's turn for the word, which says when it is over; without one, a
            pause that is long enough for every word does.

        Raises
        ------
        EarMissing, EarLost
            The microphone cannot be used; it has been closed.
        ConsentMissing
            The consent has been taken back.
        """
        try:
            self.open()
            assert self._microphone is not None, "open() opens it or raises"
            ear = WatchedEar(self._microphone, self._stage)
            return listen(self._permit, ear, self._stage.level, live), ear.left_alone
        except BaseException:
            self.close()
            raise


def nothing_said(utterance: Utterance) -> bool:
    """Whether no speech was found in what was heard."""
    return not bursts(frame_levels(utterance.samples))


def muted(utterance: Utterance) -> bool:
    """Whether the microphone gave nothing at all, as one that is switched off does."""
    samples = utterance.samples
    return len(samples) > utterance.rate // 100 and remarks(loudness(samples)) == ("muted",)
