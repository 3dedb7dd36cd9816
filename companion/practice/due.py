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

LATELY = 8
"""Readings of late by which it is told whether a GPC is known."""

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
    lately : tuple of bool
        Its last readings, eight at most: whether each was as written.
    live : tuple of str
        Kinds of slip not yet followed by `CLEAN_DAYS` clean days, the newest first.
    week : WeekSoFar
        Of this week.
    shown : bool
        Whether a week had evidence enough to say something of it.
    """

    step: int
    due: date
    lately: tuple[bool, ...]
    live: tuple[str, ...] = ()
    week: WeekSoFar = field(default_factory=WeekSoFar)
    shown: bool = False

    @property
    def slips(self) -> int:
        """Slips among its last readings."""
        return len(self.lately) - sum(self.lately)


@dataclass(frozen=True)
class _Read:
    """One reading of one GPC or word: the word, and the slip if it was one, even if put right."""

    day: date
    word: str
    slip: str | None


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
        By ``str(Gpc)``. A GPC that only turns nobody could judge had is not among them. A slip
        put right at the second try counts here as a slip: it was not known at first sight.
    """
    reads: dict[str, list[_Read]] = {}
    for each in history:
        outcome = each.turn.outcome
        if outcome is None or each.day > day:
            continue
        first = each.turn.tries[0]
        for gpc in outcome.evidence:
            put_right = each.turn.overrule is None and first.gpc == gpc
            slip = outcome.slip or (first.slip if put_right else None)
            reads.setdefault(gpc, []).append(_Read(each.day, each.turn.word, slip))
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
        reads.setdefault(word, []).append(_Read(each.day, word, slip))
    return {word: _standing(found, day) for word, found in reads.items()}


def _standing(reads: Sequence[_Read], day: date) -> Standing:
    by_day: dict[date, list[_Read]] = {}
    for read in reads:
        by_day.setdefault(read.day, []).append(read)
    step, clean, due = -1, 0, date.min
    live: tuple[str, ...] = ()
    for at, found in sorted(by_day.items()):
        slips = [read.slip for read in reversed(found) if read.slip is not None]
        if slips:
            step, clean, due = 0, 0, at + timedelta(days=WAITS_DAYS[0])
            live = tuple(dict.fromkeys([*slips, *live]))
            continue
        clean += 1
        live = () if clean >= CLEAN_DAYS else live
        if at >= due:
            step = min(step + 1, len(WAITS_DAYS) - 1)
            due = at + timedelta(days=WAITS_DAYS[step])
    weeks: dict[Week, list[_Read]] = {}
    for read in reads:
        weeks.setdefault(Week.of(read.day), []).append(read)
    return Standing(
        step,
        due,
        lately=tuple(read.slip is None for read in reads[-LATELY:]),
        live=live,
        week=_so_far(weeks.get(Week.of(day), [])),
        shown=any(_so_far(week).enough for week in weeks.values()),
    )


def _so_far(reads: Sequence[_Read]) -> WeekSoFar:
    days, words = {read.day for read in reads}, {read.word for read in reads}
    return WeekSoFar(len(reads), len(days), len(words))
