"""A sitting: one go at a list, word by word, each turn committed before the next word is shown.

It holds no microphone, screen or clock: whoever runs it (terminal or page) shows `Sitting.word`,
brings what was heard, and passes the time in.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from types import FrameType

from companion.phonics.reading import Reading
from companion.practice.verdicts import Judgement
from companion.record import clips
from companion.record.consent import ClipPermit, LogPermit
from companion.record.log import Log
from companion.record.turns import Try, Turn
from speech.audio import Utterance

TRIES_MAX = 2


class Step(Enum):
    """What comes after a try."""

    AGAIN = "again"
    ASK_ADULT = "ask adult"
    NEXT = "next"


@dataclass(frozen=True)
class Keeping:
    """Where turns go, and the consent to it.

    Attributes
    ----------
    log : Log
        The child's, open.
    permit : LogPermit
        The child's.
    clips : ClipPermit or None
        Present where the sound of each try is kept too.
    """

    log: Log
    permit: LogPermit
    clips: ClipPermit | None = None


@dataclass(frozen=True)
class Done:
    """One finished turn.

    Attributes
    ----------
    reading : Reading
        The word.
    turn : Turn
        Its tries and what the adult said.
    number : int or None
        Its number in the log; None where nothing is kept.
    """

    reading: Reading
    turn: Turn
    number: int | None


def after(tries: Sequence[Judgement]) -> Step:
    """What comes after the tries made so far: pure.

    A word read as written is done; any other has a second try; then the adult is asked where the
    listener could not tell, and nobody else.
    """
    last = tries[-1].verdict
    if last == "as_written":
        return Step.NEXT
    if len(tries) < TRIES_MAX:
        return Step.AGAIN
    return Step.ASK_ADULT if last == "unsure" else Step.NEXT


class Sitting:
    """One go at a list.

    Parameters
    ----------
    list_name : str
        The list's name, for the log.
    readings : sequence of Reading
        The words, in order.
    keeping : Keeping or None
        None practises without keeping anything.
    now : datetime
        Aware, in the family's time zone.
    accent : str or None
        The accent whose values count as right, for the log.
    goes_on : int, optional
        Number of the sitting in the log that was cut off and now goes on with these words.

    Raises
    ------
    LogTrouble
        The log cannot be written: said here, before the child reads.
    """

    def __init__(
        self,
        list_name: str,
        readings: Sequence[Reading],
        keeping: Keeping | None,
        now: datetime,
        accent: str | None = None,
        goes_on: int | None = None,
    ) -> None:
        self._readings = tuple(readings)
        self._keeping = keeping
        self._place = 0
        self._tries: tuple[Judgement, ...] = ()
        self._sounds: tuple[Utterance | None, ...] = ()
        self._done: tuple[Done, ...] = ()
        self._closed = False
        self.number: int | None = None if keeping is None else goes_on
        if keeping is not None and goes_on is None:
            self.number = keeping.log.start_sitting(keeping.permit, list_name, accent, now)

    @property
    def word(self) -> Reading | None:
        """The word to show; None when the list is finished."""
        return self._readings[self._place] if self._place < len(self._readings) else None

    @property
    def place(self) -> tuple[int, int]:
        """Number of the word shown, from 1, and how many there are."""
        return min(self._place + 1, len(self._readings)), len(self._readings)

    @property
    def tries(self) -> tuple[Judgement, ...]:
        """The tries made at the word shown."""
        return self._tries

    @property
    def done(self) -> tuple[Done, ...]:
        """The finished turns, in order."""
        return self._done

    def hear(self, judgement: Judgement, now: datetime, sound: Utterance | None = None) -> Step:
        """Take one try; the turn is committed at once when it is the last.

        Parameters
        ----------
        judgement : Judgement
            Of the word shown.
        now : datetime
            Aware.
        sound : Utterance, optional
            What was heard; kept only where clips were chosen, and dropped otherwise.

        Returns
        -------
        Step
            Show the word again, ask the adult and then call `decide`, or go on to the next.
        """
        reading = self._shown()
        if judgement.word != reading.word:
            raise ValueError(f"a judgement of {judgement.word!r} came for {reading.word!r}")
        self._tries += (judgement,)
        chosen = self._keeping is not None and self._keeping.clips is not None
        self._sounds += (sound if chosen else None,)
        step = after(self._tries)
        if step is Step.NEXT:
            self.decide(None, now)
        return step

    def decide(self, said: str | None, now: datetime) -> Done:
        """End the turn with what the adult said of it, or None, and commit it.

        Raises
        ------
        LogTrouble
            The turn is not kept and is still the one shown; all earlier ones are kept.
        """
        turn = as_kept(self._shown(), self._tries, said)
        with _interrupts_held():
            done = Done(self._shown(), turn, self._commit(turn, now))
            sounds = self._sounds
            self._done += (done,)
            self._place += 1
            self._tries, self._sounds = (), ()
            self._keep_sounds(done.number, sounds, now)
        return done

    def pass_by(self) -> None:
        """Go on to the next word without a try; nothing is kept of this one."""
        self._shown()
        if self._tries:
            raise ValueError("a word that has been tried is ended with decide()")
        self._place += 1

    def close(self, now: datetime) -> None:
        """End the sitting, at the list's end or in the middle; tries already heard are kept."""
        if self._closed:
            return
        if self._tries:
            self.decide(None, now)
        if self._keeping is not None and self.number is not None:
            self._keeping.log.end_sitting(self._keeping.permit, self.number, now)
        self._closed = True

    def _shown(self) -> Reading:
        if self._closed or self.word is None:
            raise ValueError("the sitting is over")
        return self.word

    def _commit(self, turn: Turn, now: datetime) -> int | None:
        if self._keeping is None or self.number is None:
            return None
        return self._keeping.log.add_turn(self._keeping.permit, self.number, turn, now)

    def _keep_sounds(
        self, turn: int | None, sounds: Sequence[Utterance | None], now: datetime
    ) -> None:
        if self._keeping is None or self._keeping.clips is None or turn is None:
            return
        for number, sound in enumerate(sounds, start=1):
            if sound is not None:
                clips.keep(self._keeping.clips, turn, number, sound, now)


def as_kept(reading: Reading, tries: Sequence[Judgement], said: str | None = None) -> Turn:
    """A turn as the log keeps it."""
    return Turn(
        word=reading.word,
        gpcs=tuple(str(gpc) for gpc in reading.splits[0].gpcs),
        tries=tuple(
            Try(
                verdict=each.verdict,
                slip=each.slip,
                gpc=each.gpc,
                heard=each.heard,
                place=each.place,
                unit=each.unit,
                p=each.p,
                p_slip=each.p_slip,
                ms=each.ms,
                evidence=each.evidence,
            )
            for each in tries
        ),
        overrule=said,
    )


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Let Ctrl-C wait until a turn is both on disk and counted, so that it is never kept twice."""
    if threading.current_thread() is not threading.main_thread():
        yield  # signals reach the main thread only
        return
    caught: list[int] = []

    def note(number: int, _frame: FrameType | None) -> None:
        caught.append(number)

    before = signal.signal(signal.SIGINT, note)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if caught:
        raise KeyboardInterrupt
