"""Looking at a grid: its marks, filters, what fits on one sheet, and what changed in the week."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from companion.phonics.gpc import Gpc
from companion.school.grid import Cell, Grid, GridRow

SHEET_COLUMNS = 40
"""Columns of one A4 page on its side, 5 mm each, beside the children's codes."""


NEWEST = 3
"""Columns lately taught that stay although nobody has read them yet."""


@dataclass(frozen=True)
class Mark:
    """How a state is shown: a shape, a letter where shapes cannot be printed, and its meaning."""

    symbol: str
    letter: str
    meaning: str


MARKS: dict[str, Mark] = {
    "practise": Mark("■", "P", "practise: slips enough to be worth some minutes"),
    "not enough listened": Mark("?", "?", "not enough listened: nothing can be said yet"),
    "secure": Mark("○", "S", "secure: read as written, often enough"),
    "not yet taught": Mark("–", "-", "not yet taught"),
}
"""State to mark. Filled, hollow, a sign and a dash: told apart without colour, and in print."""


@dataclass(frozen=True)
class Change:
    """A state that is another than a week ago."""

    pupil: str
    gpc: Gpc
    before: str
    now: str


def changes(grid: Grid) -> tuple[Change, ...]:
    """What is new since last week, by row and column.

    A state that only faded, because old readings count less, is no news of the child.
    """
    return tuple(
        Change(row.child.code, cell.gpc, cell.before, cell.state)
        for row in grid.rows
        for cell in row.cells
        if is_news(cell)
    )


def is_news(cell: Cell) -> bool:
    """Whether a cell has come to be listed or secure since last week."""
    return cell.changed and cell.state in ("practise", "secure")


def filtered(
    grid: Grid,
    *,
    pupils: Collection[str] | None = None,
    gpcs: Collection[Gpc] | None = None,
    states: Collection[str] | None = None,
    changed: bool = False,
) -> Grid:
    """The part of a grid that is asked for.

    Parameters
    ----------
    grid : Grid
        Any.
    pupils, gpcs : collection, optional
        Only these rows, only these columns.
    states : collection of str, optional
        Only rows and columns with a cell in one of these states.
    changed : bool
        Only rows and columns with a cell that changed since last week.
    """

    def asked(cell: Cell) -> bool:
        return (states is None or cell.state in states) and (not changed or is_news(cell))

    rows = [row for row in grid.rows if pupils is None or row.child.code in pupils]
    columns = [n for n, column in enumerate(grid.columns) if gpcs is None or column.gpc in gpcs]
    if states is not None or changed:
        rows = [row for row in rows if any(asked(row.cells[n]) for n in columns)]
        columns = [n for n in columns if any(asked(row.cells[n]) for row in rows)]
    return _cut(grid, rows, columns)


def fitting(grid: Grid, columns: int = SHEET_COLUMNS) -> Grid:
    """A grid that fits one sheet, its columns in teaching order as before.

    Left out are columns that nobody has read, but for the newest (`NEWEST`), and then as far as
    needed those where all who have read are secure, and the earliest.

    Parameters
    ----------
    grid : Grid
        Any.
    columns : int
        The most columns that fit.
    """
    span = range(len(grid.columns))
    interest = [_interest([row.cells[n] for row in grid.rows]) for n in span]
    newest = [n for n in span if grid.columns[n].taught][-NEWEST:]
    worth = sorted(
        (n for n in span if interest[n] or n in newest),
        key=lambda n: (interest[n], n),
        reverse=True,
    )
    return _cut(grid, grid.rows, sorted(worth[:columns]))


def _interest(cells: Collection[Cell]) -> int:
    heard = [cell for cell in cells if cell.decided_by != "nothing"]
    if not heard:
        return 0
    return 1 if all(cell.state == "secure" for cell in heard) else 2


def _cut(grid: Grid, rows: Collection[GridRow], columns: Collection[int]) -> Grid:
    kept = set(columns)
    gone = [column.gpc for n, column in enumerate(grid.columns) if n not in kept]
    return replace(
        grid,
        columns=tuple(grid.columns[n] for n in columns),
        rows=tuple(replace(row, cells=tuple(row.cells[n] for n in columns)) for row in rows),
        left_out=(*grid.left_out, *gone),
    )
