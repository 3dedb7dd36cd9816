"""One child's history for a conversation at school: facts and counts, and no judgement on them.

Pure: it counts what families handed in and what the teacher heard. It names no cause and no
condition, compares a child only with the same child's earlier weeks, and takes a week without a
summary for what it is: nothing known.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from companion.phonics.gpc import Gpc, Order
from companion.record.weeks import Week
from companion.report.summary import SummaryRow
from companion.school.evidence import HeardInClass, KeptSummary

LATELY = 6
"""Weeks set apart from those before: half a term, as groups are (common practice)."""


@dataclass(frozen=True)
class Count:
    """Readings of some weeks: how many, and how many of them as written."""

    readings: int
    as_written: int


@dataclass(frozen=True)
class HistoryRow:
    """One GPC.

    Attributes
    ----------
    gpc : Gpc
        The GPC.
    taught : date or None
        Since when; None where it is not taught yet.
    before, lately : Count
        Readings at home in the last six weeks (`LATELY`), and in all weeks before.
    slips : tuple of (str, int)
        Kinds of slip with their number, the commonest first.
    could_not_tell : int
        Turns nobody could judge.
    checks : tuple of HeardInClass
        The teacher's own checks, the latest first.
    """

    gpc: Gpc
    taught: date | None
    before: Count
    lately: Count
    slips: tuple[tuple[str, int], ...]
    could_not_tell: int
    checks: tuple[HeardInClass, ...]


@dataclass(frozen=True)
class HistoryWeek:
    """A week with a summary: days practised, words read, and turns an adult had a say in."""

    week: Week
    days: int
    words: int
    overruled: int


@dataclass(frozen=True)
class History:
    """What is known of one pupil from the first summary or check to `until`.

    Attributes
    ----------
    pupil : str
        The code.
    until : Week
        The last week that counts.
    weeks : tuple of HistoryWeek
        Those with a summary, in order.
    rows : tuple of HistoryRow
        GPCs with a reading or a check, in teaching order.
    accents : tuple of str
        Home accents that were chosen; empty where every accent counted as right.
    """

    pupil: str
    until: Week
    weeks: tuple[HistoryWeek, ...]
    rows: tuple[HistoryRow, ...]
    accents: tuple[str, ...]


def history(
    pupil: str,
    kept: Iterable[KeptSummary],
    heard: Iterable[HeardInClass],
    order: Order,
    taught: Mapping[Gpc, date],
    until: Week,
) -> History:
    """Count what is known of a pupil.

    Parameters
    ----------
    pupil : str
        The code; summaries and checks of others are left out.
    kept, heard : iterable
        As `companion.school.evidence` reads them.
    order : Order
        The class's teaching order.
    taught : mapping of Gpc to date
        Since when each was taught.
    until : Week
        Later weeks are left out.
    """
    own = sorted(
        (each.summary for each in kept if each.summary.pupil == pupil),
        key=lambda each: each.week,
    )
    own = [each for each in own if each.week <= until]
    checks = [each for each in heard if each.pupil == pupil and each.day <= until.sunday]
    since = Week.of(until.monday - timedelta(weeks=LATELY - 1))
    old: dict[str, list[SummaryRow]] = {}
    new: dict[str, list[SummaryRow]] = {}
    for summary in own:
        for row in summary.rows:
            (new if summary.week >= since else old).setdefault(row.gpc, []).append(row)
    names = {*old, *new, *(each.gpc for each in checks)}
    gpcs = sorted(map(Gpc.parse, names), key=lambda gpc: (order.place(gpc) or 10**6, gpc))
    rows = (
        _row(gpc, taught.get(gpc), old.get(str(gpc), []), new.get(str(gpc), []), checks)
        for gpc in gpcs
    )
    return History(
        pupil,
        until,
        tuple(HistoryWeek(each.week, each.days, each.words, each.overruled) for each in own),
        tuple(rows),
        tuple(sorted({accent for each in own for accent in each.accents})),
    )


def _row(
    gpc: Gpc,
    taught: date | None,
    old: Sequence[SummaryRow],
    new: Sequence[SummaryRow],
    checks: Sequence[HeardInClass],
) -> HistoryRow:
    kinds: Counter[str] = Counter()
    for row in (*old, *new):
        kinds.update(row.slips)
    return HistoryRow(
        gpc,
        taught,
        _count(old),
        _count(new),
        tuple(sorted(kinds.items(), key=lambda each: (-each[1], each[0]))),
        sum(row.could_not_tell for row in (*old, *new)),
        tuple(sorted((c for c in checks if c.gpc == str(gpc)), key=lambda c: c.day, reverse=True)),
    )


def _count(rows: Sequence[SummaryRow]) -> Count:
    return Count(sum(row.readings for row in rows), sum(row.as_written for row in rows))
