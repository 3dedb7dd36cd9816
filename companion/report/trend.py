"""A child's week beside the same child's own weeks before. Never beside another child's.

Weeks differ in their words: a week of new sounds looks worse than one of old ones, and practice
with gaps looks worse while it is done than the same words drilled in one go (`SPACING`). So nothing
is said of all words together, and of one GPC only where both spans hold enough readings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

from companion.record.tally import GpcCount, Tally
from companion.record.weeks import Week
from companion.report.exact import as_often_or_more

WEEKS = 8
"""The week shown and the seven before it: as long as single readings are kept."""
READINGS_MIN = 8
"""In the week shown and in all the weeks before it; the week sheet's own minimum."""
DOUBT = 0.05
"""One-sided level of Fisher's exact test, shared out among the GPCs compared so that one week's
page says 'more often' by chance one time in twenty, not one GPC in twenty (Dunn, 'Multiple
comparisons among means', 1961; from memory)."""

CHANGES = ("more", "less", "no clear change", "too few")

SPACING = (
    "Words that come back after a few days are harder than words drilled over and over in one go. "
    "So a good week can look worse than an easy one. In a study of 28 beginning readers, those who "
    "practised with gaps got 56% right while practising and 72% afterwards; those who practised "
    "all in one go, 74% and then 38%."
)
"""Read as an abstract, whose authors the copy did not name."""


@dataclass(frozen=True)
class WeekPoint:
    """One week: words tried, and days with any."""

    week: Week
    turns: int
    days: int


@dataclass(frozen=True)
class GpcPoint:
    """One GPC in one week: how many of its readings were as written."""

    week: Week
    as_written: int
    readings: int


@dataclass(frozen=True)
class GpcTrend:
    """One GPC over the weeks.

    Attributes
    ----------
    gpc : str
        As ``str(Gpc)``.
    points : tuple of GpcPoint
        `WEEKS` of them, the week shown last.
    before : (int, int)
        As written, and readings, of all the weeks before the one shown.
    change : str
        One of `CHANGES`: how often as written in the week shown, against before.
    """

    gpc: str
    points: tuple[GpcPoint, ...]
    before: tuple[int, int]
    change: str


@dataclass(frozen=True)
class Trend:
    """The week shown and the weeks before it, oldest first."""

    weeks: tuple[WeekPoint, ...]
    gpcs: tuple[GpcTrend, ...]


def first_week(week: Week) -> Week:
    """The oldest week that a trend up to `week` looks at."""
    return Week.of(week.monday - timedelta(weeks=WEEKS - 1))


def trend(counts: Mapping[Week, Tally], week: Week) -> Trend:
    """Lay a week beside the seven before it.

    Parameters
    ----------
    counts : mapping of Week to Tally
        The weeks with anything in them, as `Log.weeks` gives them.
    week : Week
        The week shown.

    Returns
    -------
    Trend
        Of the GPCs read in the week shown, in alphabetical order.
    """
    first = first_week(week).monday
    weeks = [Week.of(first + timedelta(weeks=n)) for n in range(WEEKS)]
    by_gpc = {
        each: {count.gpc: count for count in counts[each].gpcs} for each in weeks if each in counts
    }
    rows = {
        gpc: tuple(_point(each, by_gpc.get(each, {}).get(gpc)) for each in weeks)
        for gpc, count in sorted(by_gpc.get(week, {}).items())
        if count.readings
    }
    compared = sum(_enough(points) for points in rows.values())
    return Trend(
        weeks=tuple(
            WeekPoint(each, counts[each].turns, len(counts[each].days))
            if each in counts
            else WeekPoint(each, 0, 0)
            for each in weeks
        ),
        gpcs=tuple(
            GpcTrend(gpc, points, _before(points), _change(points, DOUBT / max(1, compared)))
            for gpc, points in rows.items()
        ),
    )


def _point(week: Week, count: GpcCount | None) -> GpcPoint:
    return GpcPoint(week, count.as_written, count.readings) if count else GpcPoint(week, 0, 0)


def _before(points: tuple[GpcPoint, ...]) -> tuple[int, int]:
    return sum(each.as_written for each in points[:-1]), sum(each.readings for each in points[:-1])


def _enough(points: tuple[GpcPoint, ...]) -> bool:
    return points[-1].readings >= READINGS_MIN and _before(points)[1] >= READINGS_MIN


def _change(points: tuple[GpcPoint, ...], doubt: float) -> str:
    if not _enough(points):
        return "too few"
    k, n = points[-1].as_written, points[-1].readings
    k_before, n_before = _before(points)
    if as_often_or_more(k, n, k_before, n_before) < doubt:
        return "more"
    if as_often_or_more(n - k, n, n_before - k_before, n_before) < doubt:
        return "less"
    return "no clear change"
