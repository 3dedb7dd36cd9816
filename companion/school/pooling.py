"""Families' weeks and the teacher's checks, gathered into the counts that the rule judges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from companion.record.weeks import Week
from companion.report.summary import Summary, SummaryRow
from companion.school.evidence import HeardInClass
from companion.school.states import KEEP, WINDOW, Checks, Pool

NOTHING = SummaryRow("", 0, {}, 0, 0, 0, 0, 0, 0, 0)


@dataclass(frozen=True)
class Told:
    """What is known of one child and one GPC as a week ends.

    Attributes
    ----------
    rows : tuple of (int, SummaryRow)
        Home's counts with their age in weeks (0 is the week itself), latest first, none older
        than `companion.school.states.WINDOW` weeks.
    check : HeardInClass or None
        The teacher's latest check within the same weeks.
    check_age : int
        Its age in weeks; 0 where there is none.
    """

    rows: tuple[tuple[int, SummaryRow], ...]
    check: HeardInClass | None
    check_age: int

    @property
    def since_check(self) -> tuple[tuple[int, SummaryRow], ...]:
        """Rows of the weeks after the check's; all of them where there is none."""
        if self.check is None:
            return self.rows
        return tuple(row for row in self.rows if row[0] < self.check_age)


def told(
    summaries: Sequence[Summary], checks: Sequence[HeardInClass], week: Week
) -> dict[tuple[str, str], Told]:
    """Gather by pupil and ``str(Gpc)``.

    Parameters
    ----------
    summaries : sequence of Summary
        Any; those after `week`, or too old, are passed over.
    checks : sequence of HeardInClass
        Likewise.
    week : Week
        The week that the grid is of.
    """
    rows: dict[tuple[str, str], list[tuple[int, SummaryRow]]] = {}
    for summary in summaries:
        age = age_weeks(summary.week, week)
        if 0 <= age < WINDOW:
            for row in summary.rows:
                rows.setdefault((summary.pupil, row.gpc), []).append((age, row))
    latest: dict[tuple[str, str], HeardInClass] = {}
    for check in sorted(checks, key=lambda each: each.day):
        if 0 <= age_weeks(Week.of(check.day), week) < WINDOW:
            latest[check.pupil, check.gpc] = check
    found = {}
    for key in rows.keys() | latest.keys():
        seen = latest.get(key)
        found[key] = Told(
            tuple(sorted(rows.get(key, ()), key=lambda row: row[0])),
            seen,
            0 if seen is None else age_weeks(Week.of(seen.day), week),
        )
    return found


def age_weeks(of: Week, at: Week) -> int:
    """Whole weeks from one week to a later one; negative where it is earlier."""
    return (at.monday - of.monday).days // 7


def added(rows: Sequence[tuple[int, SummaryRow]]) -> SummaryRow:
    """Plain sums over weeks; of different words at least as many as any of the counts proves."""
    if not rows:
        return NOTHING
    slips: dict[str, int] = {}
    right = unsure = sounded = other = days = words = overruled = most = 0
    for _, row in rows:
        right += row.as_written
        unsure += row.could_not_tell
        sounded += row.sounded_out
        other += row.other
        days += row.days
        words += row.words
        overruled += row.overruled
        most = max(most, row.words)
        for kind, count in row.slips.items():
            slips[kind] = slips.get(kind, 0) + count
    latest = rows[0][1]
    most = max(most, min(latest.words_lately, words))
    return SummaryRow(
        latest.gpc, right, dict(sorted(slips.items())), unsure, sounded, other, days, most,
        max(most, latest.words_lately), overruled,
    )  # fmt: skip


def pool(cells: Sequence[Sequence[tuple[int, SummaryRow]]]) -> Pool:
    """The counts of some cells; arrays of shape ``(cells,)``."""
    weighed = np.zeros((2, len(cells)))
    plain = np.zeros((4, len(cells)), np.int64)
    for n, rows in enumerate(cells):
        if rows:
            total = added(rows)
            plain[:, n] = total.readings, total.slipped, total.days, total.words
            weighed[0, n] = sum(KEEP**age * row.as_written for age, row in rows)
            weighed[1, n] = sum(KEEP**age * row.slipped for age, row in rows)
    return Pool(*weighed, *plain)


def checks_of(cells: Sequence[Told]) -> Checks:
    """The checks of some cells; arrays of shape ``(cells,)``."""
    found = [cell.check for cell in cells]
    return Checks(
        words=np.array([0 if each is None else each.words for each in found], np.int64),
        slips=np.array(
            [0 if each is None else each.words - each.as_written for each in found], np.int64
        ),
        by_ear=np.array([each is None or each.how == "ear" for each in found], np.bool_),
        age=np.array([cell.check_age for cell in cells], np.int64),
    )


def latest_accents(summaries: Sequence[Summary], week: Week) -> Mapping[str, tuple[str, ...]]:
    """The accents each home chose, by its latest summary within the weeks that count."""
    found: dict[str, tuple[str, ...]] = {}
    for summary in sorted(summaries, key=lambda each: each.week):
        if 0 <= age_weeks(summary.week, week) < WINDOW:
            found[summary.pupil] = summary.accents
    return found
