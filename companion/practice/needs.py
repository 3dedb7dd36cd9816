"""What a sitting should serve: for each GPC, how much it is wanted and in how many words."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from math import ceil

from companion.phonics.gpc import Gpc
from companion.practice.due import WAITS_DAYS, Standing
from companion.practice.teaching import Teaching

NEWEST = 5
"""GPCs taught last (a week's, at one a day) that are not taken to be known until they were read."""

BEFORE, LAST, SHARE_KNOWN = 2, 4, 0.75
"""Readings without which nothing is known, the last ones that tell, and the share of them that must
be as written: one slip in many is no gap (common practice, no source)."""

SLIPS_MEANT = 2
"""Slips among the last readings of a known GPC from which it is worked on: one may be chance, or
the listener's; it only brings the GPC back the next day."""

TODAY, SLIP, DUE, UNHEARD_NEW, UNHEARD = 4.0, 5.0, 3.0, 3.0, 2.5
"""How much a GPC is wanted, by why: the last is of the newest one that was never read, and less
the earlier it was taught. Our own; see `tests/simulate_choosing.py`."""

LATE, LATE_MOST = 0.2, 6
"""How much more a due GPC is wanted for each wait that it is late, and up to how many waits: what
was to come back in a day presses sooner than what was to come back in a fortnight."""

WORDS_BY_STEP = (3, 3, 2, 1, 1)
"""Words for a due GPC: three on three days make the week sheet's eight readings."""

SURE, SURE_READING, SURE_WORDS = 4.0, 0.8, 4
"""How much a GPC is wanted that this week's readings do not yet say enough of, how much more for
each of those readings, so that one is finished before another is begun, and in how many words."""

RECENT = 15
"""GPCs taught last (three weeks', at one a day) of which there should be evidence enough; older
ones gather theirs in passing, and need more only once they slipped."""

WORDS_TODAY_KNOWN = 5
"""Words with today's GPC once it is known; before that, as many as may be new."""


@dataclass(frozen=True)
class Need:
    """How much a GPC is wanted (the more the larger), in how many words, and why."""

    weight: float
    words: int
    why: str


def known(teaching: Teaching, standings: Mapping[str, Standing]) -> frozenset[Gpc]:
    """The GPCs a child may be counted on to read: three in four lately as written.

    One of the newest is not known until it was read twice. One taught before them counts as read
    well twice before the first reading here: a child is not new to reading because this program is
    new to the child.
    """
    newest = teaching.gpcs[len(teaching.gpcs) - min(NEWEST, len(teaching.gpcs) // 4) :]
    fresh = {*newest, *teaching.today}
    found = set()
    for gpc in teaching.gpcs:
        standing = standings.get(str(gpc))
        lately = standing.lately[-LAST:] if standing is not None else ()
        well = sum(lately) + (0 if gpc in fresh else BEFORE)
        heard = len(lately) + (0 if gpc in fresh else BEFORE)
        if heard >= BEFORE and well >= SHARE_KNOWN * heard:
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
        standing = standings.get(str(gpc))
        if standing is None:
            late = place / len(teaching.gpcs)
            need: Need | None = (
                Need(UNHEARD * late, 1, "unheard")
                if gpc in sure
                else Need(UNHEARD_NEW, 2, "unheard")
            )
        else:
            recent = place > len(teaching.gpcs) - RECENT
            need = _need(standing, day, recent, meant(gpc, standing, sure))
        if gpc in teaching.today:
            words = WORDS_TODAY_KNOWN if gpc in sure else new_most
            if standing is not None and standing.week.enough and gpc in sure:
                words = WORDS_BY_STEP[2]
            weight = max(TODAY, need.weight if need else 0.0)
            need = Need(weight, ceil(words / len(teaching.today)), "today")
        if need is not None:
            found[gpc] = need
    return found


def meant(gpc: Gpc, standing: Standing, sure: Collection[Gpc]) -> bool:
    """Whether a live slip is one to work on."""
    return bool(standing.live) and (gpc not in sure or standing.slips >= SLIPS_MEANT)


def _need(standing: Standing, day: date, recent: bool, worked_on: bool) -> Need | None:
    begun = (recent or worked_on) and standing.week.readings > 0
    if begun and not standing.shown:
        weight = SURE + SURE_READING * standing.week.readings
        return Need(weight, SURE_WORDS, "slip" if worked_on else "sure")
    if worked_on:
        return Need(SLIP, SURE_WORDS, "slip")
    if standing.due > day:
        return None
    waits = (day - standing.due).days / WAITS_DAYS[standing.step]
    weight = DUE + LATE * min(waits, LATE_MOST)
    words = 1 if standing.live else WORDS_BY_STEP[standing.step]
    return Need(weight, words, "slip" if standing.live else "due")
