"""The class grid: every child and every GPC taught, in one of four states, with the evidence.

Pure but for `class_grid`, which reads the class book. Nothing is ranked and no child is compared
with another: rows are in the order of the register.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from companion.phonics.gpc import Gpc, Order, table
from companion.record.weeks import Week
from companion.report.summary import Summary, SummaryRow
from companion.report.week import STATES
from companion.school import rates, register, teaching
from companion.school.book import Book
from companion.school.evidence import HeardInClass, heard_in_class, summaries
from companion.school.pooling import Told, added, age_weeks, checks_of, latest_accents, pool, told
from companion.school.states import CHECK_STANDS, WINDOW, Judged, Rule, judge

EMPTY = Told((), None, 0)

DECIDERS = ("home", "check", "nothing")
"""What a cell's state rests on."""


@dataclass(frozen=True)
class Child:
    """A row's child: the code, and the name where the book was opened with its key."""

    code: str
    name: str | None = None


@dataclass(frozen=True)
class Cell:
    """One child and one GPC.

    Attributes
    ----------
    gpc : Gpc
        Its column.
    state, before : str
        One of `companion.report.week.STATES`, now and as the week before ended.
    decided_by : str
        One of `DECIDERS`.
    need : float
        P(the child's true slip rate is above `companion.school.need.NEED`): for groups, never
        shown as a mark.
    heard : SummaryRow
        Home's counts over the last six weeks, summed.
    check : HeardInClass or None
        The teacher's latest check in these weeks.
    contradicted : bool
        The check stands, and home has since read otherwise: check again.
    """

    gpc: Gpc
    state: str
    before: str
    decided_by: str
    need: float
    heard: SummaryRow
    check: HeardInClass | None
    contradicted: bool

    @property
    def changed(self) -> bool:
        """Whether the state is another than a week ago."""
        return self.state != self.before


@dataclass(frozen=True)
class GridRow:
    """One child.

    Attributes
    ----------
    child : Child
        Who.
    days : int or None
        Days practised in the week; None where no summary came, which says nothing of the child.
    weeks : int
        Weeks of the last six with a summary.
    accents : tuple of str
        The accents chosen at home; empty where all count as right or nothing came.
    cells : tuple of Cell
        In the order of the columns.
    """

    child: Child
    days: int | None
    weeks: int
    accents: tuple[str, ...]
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Column:
    """One GPC: a word that shows its sound (or nothing), and whether it is taught."""

    gpc: Gpc
    exemplar: str
    taught: bool


@dataclass(frozen=True)
class Grid:
    """A class's grid as a week ends.

    Attributes
    ----------
    class_code : str
        The class.
    week : Week
        Which week.
    columns : tuple of Column
        In teaching order; first those up to the last one taught.
    rows : tuple of GridRow
        In the order of the register.
    left_out : tuple of Gpc
        Columns that a filter or the paper's width has left out.
    """

    class_code: str
    week: Week
    columns: tuple[Column, ...]
    rows: tuple[GridRow, ...]
    left_out: tuple[Gpc, ...] = ()

    def cell(self, pupil: str, gpc: Gpc) -> Cell:
        """One cell. Raises `KeyError` where the grid has none."""
        for row in self.rows:
            if row.child.code == pupil:
                for cell in row.cells:
                    if cell.gpc == gpc:
                        return cell
        raise KeyError(f"{pupil}, {gpc}")


@dataclass(frozen=True)
class Class:
    """What a grid is drawn from, besides what was heard.

    Attributes
    ----------
    code : str
        The class's code.
    children : tuple of Child
        In the order of the rows.
    order : Order
        The teaching order.
    taught, taught_before : frozenset of Gpc
        Taught as the week ends, and as the week before ended.
    """

    code: str
    children: tuple[Child, ...]
    order: Order
    taught: frozenset[Gpc]
    taught_before: frozenset[Gpc]


def class_grid(book: Book, week: Week) -> Grid:
    """The grid of a week from a class book; names only where it was opened with its key.

    Raises
    ------
    BookDamaged, BookBusy
        As the book.
    """
    last = Week.of(week.monday - timedelta(weeks=1))
    first = Week.of(week.monday - timedelta(weeks=WINDOW))
    of = Class(
        code=book.code,
        children=tuple(Child(pupil.code, pupil.name) for pupil in register.pupils(book)),
        order=teaching.order(book),
        taught=teaching.taught(book, week.sunday),
        taught_before=teaching.taught(book, last.sunday),
    )
    heard = [kept.summary for kept in summaries(book, since=first, until=week)]
    return grid(of, heard, heard_in_class(book), week)


def grid(
    of: Class, summaries: Sequence[Summary], checks: Sequence[HeardInClass], week: Week
) -> Grid:
    """Draw up the grid of a week.

    Parameters
    ----------
    of : Class
        Children, order and what is taught.
    summaries : sequence of Summary
        What families handed in; other classes' and other weeks' are passed over.
    checks : sequence of HeardInClass
        The teacher's own checks.
    week : Week
        The week that has ended.
    """
    own = [summary for summary in summaries if summary.class_code == of.code]
    now = told(own, checks, week)
    last = Week.of(week.monday - timedelta(weeks=1))
    then = told(own, checks, last)
    columns = _columns(of)
    keys = [(child.code, str(column.gpc)) for child in of.children for column in columns]
    after = _judged([now.get(key, EMPTY) for key in keys], columns, of.taught)
    before = _judged([then.get(key, EMPTY) for key in keys], columns, of.taught_before)
    accents = latest_accents(own, week)
    rows = []
    for n, child in enumerate(of.children):
        span = range(n * len(columns), (n + 1) * len(columns))
        cells = tuple(
            _cell(column, now.get(keys[at], EMPTY), after, before, at)
            for column, at in zip(columns, span, strict=True)
        )
        mine = [each for each in own if each.pupil == child.code]
        this = [each.days for each in mine if each.week == week]
        weeks = sum(0 <= age_weeks(each.week, week) < WINDOW for each in mine)
        rows.append(
            GridRow(child, this[0] if this else None, weeks, accents.get(child.code, ()), cells)
        )
    return Grid(of.code, week, columns, tuple(rows))


def _columns(of: Class) -> tuple[Column, ...]:
    places = [place for gpc in of.taught if (place := of.order.place(gpc)) is not None]
    shown = of.order.gpcs[: max(places, default=0)]
    return tuple(Column(gpc, _exemplar(gpc), gpc in of.taught) for gpc in shown)


def _exemplar(gpc: Gpc) -> str:
    row = table().by_gpc.get(gpc)
    return "" if row is None else row.exemplar


def _judged(cells: Sequence[Told], columns: Sequence[Column], taught: Collection[Gpc]) -> Judged:
    known = np.array([column.gpc in taught for column in columns], np.bool_)
    home = pool([cell.rows for cell in cells])
    checked = any(cell.check for cell in cells)
    return judge(
        home,
        pool([cell.since_check for cell in cells]) if checked else home,
        checks_of(cells),
        np.resize(known, len(cells)),
        Rule(rates.listener(), rates.ear()),
    )


def _cell(column: Column, found: Told, after: Judged, before: Judged, at: int) -> Cell:
    if found.check is not None and found.check_age <= CHECK_STANDS:
        decided_by = "check"
    else:
        decided_by = "home" if found.rows or found.check else "nothing"
    return Cell(
        gpc=column.gpc,
        state=STATES[after.state[at]],
        before=STATES[before.state[at]],
        decided_by=decided_by,
        need=float(after.need[at]),
        heard=added(found.rows),
        check=found.check,
        contradicted=bool(after.contradicted[at]),
    )


def counts(cells: Sequence[Cell]) -> Mapping[str, int]:
    """How many cells are in each state, in the order of `STATES`."""
    return {state: sum(cell.state == state for cell in cells) for state in STATES}
