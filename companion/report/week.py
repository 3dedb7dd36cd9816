"""The week sheet: for each GPC met in a week, what was heard and what may be said of it.

`sheet` is a pure function of counts; `week_sheet` reads them from a log.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from companion.phonics.gpc import Gpc, Order, table
from companion.record.log import Log
from companion.record.tally import GpcCount, Tally
from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS
from companion.report.exact import at_least, at_most

STATES = ("practise", "not enough listened", "secure", "not yet taught")
"""In the order they are shown."""

READINGS_MIN = 8
DAYS_MIN = 3
WORDS_MIN = 4
SLIPS_MIN = 3
"""No state is given on less: children read the same word differently within days
(Steenbeek-Planting, van Bon and Schreuder, 'Instability of children's reading errors', Written
Language & Literacy 20(2), 2017; title from memory). The numbers are this project's own choice."""

FALSE_SLIPS = 0.05
"""Share of good readings the listener may mark as slips. It is held to no more, so slips that this
share would explain by chance are not the child's."""
SLIPS_SECURE = 1 / 3
"""A GPC is secure when a child who slips this often would hardly have read so well."""
DOUBT = 0.05
"""One-sided level of both exact binomial tests."""

FORMAT = 1


@dataclass(frozen=True)
class SheetRow:
    """One GPC of the week.

    Attributes
    ----------
    gpc : str
        As ``str(Gpc)``.
    exemplar : str
        A word that shows its sound; empty for a GPC outside the table.
    readings : int
        Turns that were evidence for it: ``as_written`` plus all slips.
    as_written : int
        Readings as written.
    slips : dict of str to int
        Slips by kind.
    could_not_tell : int
        Turns of its words that nobody could judge, counted apart.
    days, words : int
        Different days and different words among the readings.
    slipped_words : tuple of str
        The words that slipped, while single readings are kept.
    state : str
        One of `STATES`.
    """

    gpc: str
    exemplar: str
    readings: int
    as_written: int
    slips: Mapping[str, int]
    could_not_tell: int
    days: int
    words: int
    slipped_words: tuple[str, ...]
    state: str


@dataclass(frozen=True)
class WeekSheet:
    """One week of one child.

    Attributes
    ----------
    week : Week
        The ISO week.
    turns : int
        Words shown and tried.
    verdicts : dict of str to int
        Turns by what they count as, after the adult's word; with ``left_out`` they make `turns`.
    left_out, overruled : int
        Turns the adult left out, and turns the adult had a say in.
    days : tuple of date
        Days with a turn.
    rows : tuple of SheetRow
        By state as in `STATES`, then in teaching order.
    """

    week: Week
    turns: int
    verdicts: Mapping[str, int]
    left_out: int
    overruled: int
    days: tuple[date, ...]
    rows: tuple[SheetRow, ...]


def week_sheet(
    log: Log, week: Week, order: Order | None = None, taught: frozenset[Gpc] | None = None
) -> WeekSheet:
    """Read a week from a log.

    Parameters
    ----------
    log : Log
        The child's.
    week : Week
        Any week, past ones too: their counts outlast the single readings.
    order : Order, optional
        The teaching order; the table's own when left out.
    taught : frozenset of Gpc, optional
        The GPCs taught so far; all of the order when left out.
    """
    return sheet(log.week(week), week, order or table().order(), taught)


def sheet(
    counts: Tally, week: Week, order: Order, taught: frozenset[Gpc] | None = None
) -> WeekSheet:
    """The sheet of some counts; parameters as in `week_sheet`."""
    known = frozenset(order.gpcs) if taught is None else taught
    met = (count for count in counts.gpcs if count.readings or count.could_not_tell)
    rows = [_row(count, known) for count in met]
    rows.sort(key=lambda row: (STATES.index(row.state), _place(row.gpc, order), row.gpc))
    return WeekSheet(
        week=week,
        turns=counts.turns,
        verdicts=counts.verdicts,
        left_out=counts.left_out,
        overruled=counts.overruled,
        days=counts.days,
        rows=tuple(rows),
    )


def state(count: GpcCount, taught: bool) -> str:
    """What may be said of a GPC on its counts.

    Parameters
    ----------
    count : GpcCount
        One GPC's counts.
    taught : bool
        Whether it has been taught.

    Returns
    -------
    str
        One of `STATES`. 'Practise' and 'secure' both need at least 8 readings on 3 days in 4
        words. 'Practise' further needs 3 slips, and more of them than the listener's own
        mistakes would often make: P(X >= slips | readings, 0.05) < 0.05. 'Secure' needs so few
        that a child who slips one time in three would seldom do as well:
        P(X <= slips | readings, 1/3) < 0.05. X is binomial [1]_; both tests are exact. The second
        is the same as asking that the exact 95% one-sided upper bound [2]_ of the share of slips
        be below one third, so 8 good readings of 8 are enough, and 12 of 13, and 16 of 18.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 2012, 1.3.6.6.18, 'Binomial
       Distribution' (from memory).
    .. [2] Clopper and Pearson, 'The use of confidence or fiducial limits illustrated in the case
       of the binomial', Biometrika 26, 1934 (from memory).
    """
    if not taught:
        return "not yet taught"
    if count.readings < READINGS_MIN or count.days < DAYS_MIN or count.words < WORDS_MIN:
        return "not enough listened"
    if count.slipped >= SLIPS_MIN and at_least(count.slipped, count.readings, FALSE_SLIPS) < DOUBT:
        return "practise"
    if at_most(count.slipped, count.readings, SLIPS_SECURE) < DOUBT:
        return "secure"
    return "not enough listened"


def to_json(found: WeekSheet) -> dict[str, Any]:
    """The sheet as what ``json.dumps`` takes, cautions included."""
    return {
        "format": FORMAT,
        "week": str(found.week),
        "first_day": found.week.monday.isoformat(),
        "last_day": found.week.sunday.isoformat(),
        "turns": found.turns,
        "verdicts": dict(found.verdicts),
        "left_out": found.left_out,
        "overruled": found.overruled,
        "days": [day.isoformat() for day in found.days],
        "rows": [asdict(row) for row in found.rows],
        "cautions": list(CAUTIONS),
    }


def _row(count: GpcCount, taught: frozenset[Gpc]) -> SheetRow:
    gpc = Gpc.parse(count.gpc)
    row = table().by_gpc.get(gpc)
    return SheetRow(
        gpc=count.gpc,
        exemplar="" if row is None else row.exemplar,
        readings=count.readings,
        as_written=count.as_written,
        slips=dict(count.slips),
        could_not_tell=count.could_not_tell,
        days=count.days,
        words=count.words,
        slipped_words=count.slipped_words,
        state=state(count, gpc in taught),
    )


def _place(gpc: str, order: Order) -> int:
    return order.place(Gpc.parse(gpc)) or len(order.gpcs) + 1
