"""A sitting that was cut off: the program was killed, or the computer lost power or slept.

Every turn of it is in the log, and its end is not. On the same day it may go on; otherwise it is
closed at the time of its last turn, which is when the child last read.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from companion.record.consent import LogPermit
from companion.record.log import Log
from companion.record.turns import KeptTurn, Sitting


@dataclass(frozen=True)
class CutOff:
    """A sitting without an end.

    Attributes
    ----------
    number : int
        In the log.
    words : tuple of str
        Those that were read, in order.
    list_name : str
        Of which list.
    before : int
        How many sittings began earlier that day: the plan's seed.
    """

    number: int
    words: tuple[str, ...]
    list_name: str
    before: int


def find(log: Log, now: datetime) -> CutOff | None:
    """The day's latest sitting, where it has no end and a word of it was read."""
    today = [each for each in log.sittings() if each.day == now.date()]
    if not today or today[-1].ended is not None:
        return None
    last = today[-1]
    turns = [each for each in log.turns(last.day, last.day) if each.sitting == last.id]
    if not turns:
        return None
    words = tuple(each.turn.word for each in turns)
    return CutOff(last.id, words, last.list_name, len(today) - 1)


def close(log: Log, permit: LogPermit, leave: int | None = None) -> int:
    """Close every sitting without an end, at its last turn or else at its start.

    Parameters
    ----------
    log : Log
        The child's.
    permit : LogPermit
        The child's.
    leave : int, optional
        A sitting to leave open: it goes on.

    Returns
    -------
    int
        How many were closed.
    """
    found = [each for each in log.sittings() if each.ended is None and each.id != leave]
    for each in found:
        turns = log.turns(each.day, None)
        log.end_sitting(permit, each.id, _last(each, turns))
    return len(found)


def _last(sitting: Sitting, turns: Sequence[KeptTurn]) -> datetime:
    own = [each.at for each in turns if each.sitting == sitting.id]
    return max(own, default=sitting.started)


def left_over(planned: Sequence[str], read: Sequence[str]) -> tuple[int, ...]:
    """Places of the planned words that were not read yet, in order: pure."""
    gone = Counter(read)
    places = []
    for place, word in enumerate(planned):
        if gone[word]:
            gone[word] -= 1
        else:
            places.append(place)
    return tuple(places)
