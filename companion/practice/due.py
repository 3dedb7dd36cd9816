"""When each GPC, and each exception word, comes back. Pure: turns and a day in, standings out.

A GPC returns 1, 2, 4, 7 and 14 days after it was first read, each clean return earning the next
wait; a day with a slip sends it back to the first wait (section 'Repetition' of the sources in
`companion.practice.choosing`: widening waits are common practice; the numbers are our own).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from companion.record.turns import KeptTurn
from companion.record.weeks import Week

WAITS_DAYS = (1, 2, 4, 7, 14)
"""Days until a GPC returns: after its first reading, then after each clean return in turn."""

HISTORY_DAYS = 56
"""Days of turns that are looked at, which is how long single readings are kept."""

CLEAN_DAYS = 2
"""Days read without a slip after which a slip is no longer live: one good day may be chance
(children read the same word differently within days; Steenbeek-Planting, van Bon and Schreuder,
Written Language & Literacy 20(2), 2017; title from memory)."""

READINGS_KNOWN = 2
"""Readings as written, with no live slip, from which a GPC counts as known."""

READINGS_WANTED, DAYS_WANTED, WORDS_WANTED = 8, 3, 4
"""What the week sheet needs before it says anything of a GPC; a test holds the two together."""


@dataclass(frozen=True)
class WeekSoFar:
    """Readings of one GPC in the week of a sitting, before it.

    Attributes
    ----------
    readings : int
        Turns that were evidence for it.
    days, words : int
        Different days and words among them.
    """

    readings: int = 0
    days: int = 0
    words: int = 0

    @property
    def enough(self) -> bool:
        """Whether the week sheet would say something of it."""
        return (
            self.readings >= READINGS_WANTED
            and self.days >= DAYS_WANTED
            and self.words >= WORDS_WANTED
        )


@dataclass(frozen=True)
class Standing:
    """How one GPC or exception word stands before a sitting.

    Attributes
    ----------
    step : int
        Clean returns earned, 0 to 4: the place of its wait in `WAITS_DAYS`.
    due : date
        The day it returns.
    good : int
        Readings as written since the last slip.
    live : tuple of str
        Kinds of slip not yet followed by `CLEAN_DAYS` clean days, the newest first.
    week : WeekSoFar
        Of this week.
    """

    step: int
    due: date
    good: int
    live: tuple[str, ...] = ()
    week: WeekSoFar = field(default_factory=WeekSoFar)

    @property
    def known(self) -> bool:
        """Whether it may be counted on: read as written, and no slip is live."""
        return not self.live and self.good >= READINGS_KNOWN


@dataclass(frozen=True)
class _Read:
    """One reading of one GPC or word: the word, the slip if it was one, and how it was reached."""

    day: date
    word: str
    slip: str | None
    first_try: bool


def gpc_standings(history: Iterable[KeptTurn], day: date) -> dict[str, Standing]:
    """How every GPC with a reading stands before a sitting.

    Parameters
    ----------
    history : iterable of KeptTurn
        In the order they were read; those after `day` are left out.
    day : date
        The sitting's.

    Returns
    -------
    dict of str to Standing
        By ``str(Gpc)``. A GPC that only turns nobody could judge had is not among them.
    """
    reads: dict[str, list[_Read]] = {}
    for each in history:
        outcome = each.turn.outcome
        if outcome is None or each.day > day:
            continue
        once = len(each.turn.tries) == 1
        for gpc in outcome.evidence:
            read = _Read(each.day, each.turn.word, outcome.slip, once)
            reads.setdefault(gpc, []).append(read)
    return {gpc: _standing(found, day) for gpc, found in reads.items()}


def word_standings(
    history: Iterable[KeptTurn], words: frozenset[str], day: date
) -> dict[str, Standing]:
    """How each of `words` (small letters) that was read stands: as `gpc_standings`, by the word.

    Any outcome but as written counts as a slip of the word, save what nobody could tell.
    """
    reads: dict[str, list[_Read]] = {}
    for each in history:
        outcome, word = each.turn.outcome, each.turn.word.lower()
        if outcome is None or outcome.verdict == "unsure" or each.day > day or word not in words:
            continue
        slip = None if outcome.verdict == "as_written" else outcome.verdict
        reads.setdefault(word, []).append(_Read(each.day, word, slip, len(each.turn.tries) == 1))
    return {word: _standing(found, day) for word, found in reads.items()}


def _standing(reads: Sequence[_Read], day: date) -> Standing:
    by_day: dict[date, list[_Read]] = {}
    for read in reads:
        by_day.setdefault(read.day, []).append(read)
    step, good, clean = -1, 0, 0
    due = date.min
    live: tuple[str, ...] = ()
    for at, found in sorted(by_day.items()):
        slips = [read.slip for read in reversed(found) if read.slip is not None]
        if slips:
            step, good, clean, due = 0, 0, 0, at + timedelta(days=WAITS_DAYS[0])
            live = tuple(dict.fromkeys([*slips, *live]))
            continue
        good += len(found)
        clean += 1
        live = () if clean >= CLEAN_DAYS else live
        if at >= due:
            # put right only at the second try: it comes back after the same wait
            earned = step < 0 or any(read.first_try for read in found)
            step = min(step + earned, len(WAITS_DAYS) - 1)
            due = at + timedelta(days=WAITS_DAYS[max(step, 0)])
    return Standing(step, due, good, live, _evidence(reads, day))


def _evidence(reads: Sequence[_Read], day: date) -> WeekSoFar:
    monday = Week.of(day).monday
    here = [read for read in reads if read.day >= monday]
    return WeekSoFar(len(here), len({read.day for read in here}), len({read.word for read in here}))
