"""What a sitting should serve: for each GPC, how much it is wanted and in how many words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from math import ceil

from companion.phonics.gpc import Gpc
from companion.practice.due import Standing
from companion.practice.teaching import Teaching

NEWEST = 5
"""GPCs taught last (a week's, at one a day) that are not taken to be known until they were read."""

TODAY, SLIP, DUE, UNHEARD_NEW, UNHEARD = 4.0, 5.0, 3.0, 2.0, 1.0
"""How much a GPC is wanted, by why: the last is of the newest one that was never read, and less
the earlier it was taught. Our own; see `tests/simulate_choosing.py`."""

STEP = 0.4
"""How much less a due GPC is wanted for each clean return it has earned."""

OVERDUE, OVERDUE_DAYS = 0.1, 7
"""How much more for each day it is late, and up to how many days."""

WORDS_BY_STEP = (3, 3, 2, 1, 1)
"""Words for a due GPC: three on three days make the week sheet's eight readings."""

WORDS_TODAY_KNOWN = 5
"""Words with today's GPC once it is known; before that, as many as may be new."""


@dataclass(frozen=True)
class Need:
    """How much a GPC is wanted (the more the larger), in how many words, and why."""

    weight: float
    words: int
    why: str


def known(teaching: Teaching, standings: Mapping[str, Standing]) -> frozenset[Gpc]:
    """The GPCs a child may be counted on to read.

    One that was read is known by `Standing.known`; one that never was, if it was taught before the
    newest few: a child is not new to reading because this program is new to the child.
    """
    newest = teaching.gpcs[len(teaching.gpcs) - min(NEWEST, len(teaching.gpcs) // 4) :]
    fresh = {*newest, *teaching.today}
    found = set()
    for gpc in teaching.gpcs:
        standing = standings.get(str(gpc))
        if standing.known if standing is not None else gpc not in fresh:
            found.add(gpc)
    return frozenset(found)


def needs(
    teaching: Teaching, standings: Mapping[str, Standing], day: date, new_most: int
) -> dict[Gpc, Need]:
    """What is wanted of each GPC on a day, in teaching order; those not wanted are left out.

    Parameters
    ----------
    teaching : Teaching
        What has been taught.
    standings : dict of str to Standing
        By ``str(Gpc)``.
    day : date
        The sitting's.
    new_most : int
        Words that may hold a GPC not yet known.
    """
    sure = known(teaching, standings)
    found = {}
    for place, gpc in enumerate(teaching.gpcs, start=1):
        late = place / len(teaching.gpcs)
        need = _need(standings.get(str(gpc)), day, gpc in sure, new_most, late)
        if gpc in teaching.today:
            standing = standings.get(str(gpc))
            words = WORDS_TODAY_KNOWN if gpc in sure else new_most
            if standing is not None and standing.week.enough and gpc in sure:
                words = WORDS_BY_STEP[2]
            weight = max(TODAY, need.weight if need else 0.0)
            need = Need(weight, ceil(words / len(teaching.today)), "today")
        if need is not None:
            found[gpc] = need
    return found


def _need(
    standing: Standing | None, day: date, sure: bool, new_most: int, taught_late: float
) -> Need | None:
    if standing is None:
        return Need(UNHEARD * taught_late, 1, "known") if sure else Need(UNHEARD_NEW, 2, "due")
    if standing.live:
        return Need(SLIP, new_most, "slip")
    if standing.due > day:
        return None
    late = min((day - standing.due).days, OVERDUE_DAYS)
    weight = DUE - STEP * standing.step + OVERDUE * late
    return Need(weight, WORDS_BY_STEP[standing.step], "due")
