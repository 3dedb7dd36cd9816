"""What a grid asks for: places in groups, and checks of a minute where evidence is not enough."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, zip_longest

from companion.phonics.gpc import Gpc
from companion.report.week import READINGS_MIN
from companion.school.grid import Cell, Grid, GridRow
from companion.school.wishes import Wish

LIKELY = 0.6
"""P(need) from which a child whose GPC is not listed may still fill a group, at a lower weight."""
SLIPS_SEEN = 2
"""Slips needed for that: one may be the listener's own."""

ASKS = 10
"""Checks proposed for a week: ten minutes (common practice, no source)."""
ASKS_EACH = 2
"""Checks of one child in a week."""


@dataclass(frozen=True)
class Ask:
    """A check worth a minute of the teacher's: whom to hear read which GPC, and why."""

    pupil: str
    gpc: Gpc
    why: str


def wishes_of(grid: Grid) -> tuple[Wish, ...]:
    """Who may need a group: every cell listed for practice, and those that likely will be."""
    return tuple(
        Wish(row.child.code, cell.gpc, cell.need, cell.state == "practise")
        for row in grid.rows
        for cell in row.cells
        if cell.state == "practise" or _likely(cell)
    )


def asks(grid: Grid, most: int = ASKS) -> tuple[Ask, ...]:
    """The checks that would tell most, for the teacher to choose from.

    By turns: cells with evidence that is not enough or that contradicts a check, the likeliest
    need first; and cells nobody has heard, those of children of whom no summary came first (a
    home without the tool must not be overlooked), then the GPC most often listed in the class.

    Parameters
    ----------
    grid : Grid
        The week's, whole.
    most : int
        How many.
    """
    unsure = [(row, cell, _unsure(cell)) for row in grid.rows for cell in row.cells]
    doubtful = sorted(
        ((row, cell, why) for row, cell, why in unsure if why),
        key=lambda found: (not found[1].contradicted, -found[1].need),
    )
    shares = _listed_shares(grid)
    unheard = sorted(
        (
            (row, cell, _unheard(row))
            for row in grid.rows
            for cell in row.cells
            if cell.state == "not enough listened"
            and cell.check is None
            and cell.heard.readings < READINGS_MIN
            and not _unsure(cell)
        ),
        key=lambda found: (found[0].weeks > 0, -shares[found[1].gpc]),
    )
    return _by_turns(doubtful, unheard, most)


def _likely(cell: Cell) -> bool:
    slips = cell.heard.slipped
    if cell.check is not None:
        slips += cell.check.words - cell.check.as_written
    return cell.state == "not enough listened" and slips >= SLIPS_SEEN and cell.need >= LIKELY


def _unsure(cell: Cell) -> str:
    if cell.contradicted:
        return "home has read otherwise since your check"
    if _likely(cell):
        return f"{cell.heard.slipped} slips at home in {cell.heard.readings} readings: not enough"
    return ""


def _unheard(row: GridRow) -> str:
    if row.weeks == 0:
        return "nothing has come from home, which says nothing of the child"
    return "hardly read at home"


def _listed_shares(grid: Grid) -> Mapping[Gpc, float]:
    """Share of the class listed for each GPC, of those with a state, drawn a little to a half."""
    shares = {}
    for n, column in enumerate(grid.columns):
        states = [row.cells[n].state for row in grid.rows]
        listed, secure = states.count("practise"), states.count("secure")
        shares[column.gpc] = (listed + 1) / (listed + secure + 2)
    return shares


Found = tuple[GridRow, Cell, str]


def _by_turns(one: Sequence[Found], other: Sequence[Found], most: int) -> tuple[Ask, ...]:
    chosen: list[Ask] = []
    pupils: dict[str, int] = {}
    for found in chain.from_iterable(zip_longest(one, other)):
        if found is None or len(chosen) >= most:
            continue
        row, cell, why = found
        if pupils.get(row.child.code, 0) < ASKS_EACH:
            pupils[row.child.code] = pupils.get(row.child.code, 0) + 1
            chosen.append(Ask(row.child.code, cell.gpc, why))
    return tuple(chosen)
