"""Keeping no longer than was said: single readings for 8 weeks, clips for 7 days."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from companion.record import clips
from companion.record.home import ChildFolder
from companion.record.log import Log

READINGS_KEPT_WEEKS = 8


@dataclass(frozen=True)
class Tidied:
    """What had outlived its time: turns rolled up into weekly counts, and clips erased."""

    turns: int
    clips: int


def tidy(
    folder: ChildFolder,
    log: Log | None,
    today: date,
    told: Callable[[int, int], None] | None = None,
) -> Tidied:
    """Roll up readings of weeks that ended more than 8 weeks ago, and erase clips of over 7 days.

    Parameters
    ----------
    folder : ChildFolder
        The child.
    log : Log or None
        The child's log where there is one.
    today : date
        The family's date.
    told : callable, optional
        Called with the readings rolled up so far and all there are, as `Log.roll_up` calls it:
        years of them take some seconds.
    """
    erased = clips.erase_old(folder.clips, today)
    oldest = today - timedelta(weeks=READINGS_KEPT_WEEKS)
    return Tidied(0 if log is None else log.roll_up(oldest, told), erased)
