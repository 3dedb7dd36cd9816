"""The class grid for a terminal: as wide as it is, and the same meaning without colour."""

from __future__ import annotations

from collections.abc import Sequence
from io import StringIO

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from companion.report.cautions import CAUTIONS
from companion.report.week import STATES
from companion.report.wording import SLIP_WORDS
from companion.school.grid import Cell, Column, Grid, counts
from companion.school.grid_view import MARKS, changes, is_news

WIDTH = 80
_CELL = 5
"""Characters of a column: a mark with its flags, and a blank."""
_BEFORE = 14
"""Characters before the columns: code, days, blanks."""


def to_text(grid: Grid, width: int = WIDTH, *, symbols: bool = True) -> str:
    """The grid as plain text.

    Parameters
    ----------
    grid : Grid
        Any, filtered or not.
    width : int
        Characters in a line, 40 or more; columns that do not fit go beneath.
    symbols : bool
        Shapes; letters where the terminal's encoding has none.
    """
    console = Console(file=StringIO(), width=width, color_system=None, highlight=False)
    with console.capture() as capture:
        console.print(render(grid, width, symbols=symbols))
    return "\n".join(line.rstrip() for line in capture.get().splitlines()) + "\n"


def render(grid: Grid, width: int = WIDTH, *, symbols: bool = True) -> RenderableType:
    """The grid for a rich console; parameters as in `to_text`."""
    span = max(1, (width - _BEFORE) // _CELL)
    parts: list[RenderableType] = [_heading(grid), Text()]
    for at in range(0, len(grid.columns), span):
        parts += [_block(grid, range(at, min(at + span, len(grid.columns))), symbols), Text()]
    parts += [Text(line) for line in _key(symbols)]
    parts += [Text(), *_changed(grid)]
    if grid.left_out:
        named = ", ".join(str(gpc) for gpc in grid.left_out)
        parts += [Text(), Text(f"Not shown ({len(grid.left_out)}): {named}")]
    parts += [Text(), Text("Please keep in mind", style="bold")]
    parts += [_bullet(caution) for caution in CAUTIONS]
    return Group(*parts)


def evidence_lines(cell: Cell, accents: Sequence[str] = ()) -> tuple[str, ...]:
    """What a cell rests on, in sentences for the teacher.

    Parameters
    ----------
    cell : Cell
        Any.
    accents : sequence of str
        The home's, as the row gives them.
    """
    heard, check = cell.heard, cell.check
    lines = []
    if check is not None:
        way = "by ear" if check.how == "ear" else "with the listener"
        lines.append(
            f"You heard {check.as_written} of {check.words} as written {way} on {check.day:%d %B}."
        )
    if cell.contradicted:
        lines.append("Home has read otherwise since: worth hearing again.")
    if heard.readings:
        lines.append(
            f"At home in six weeks: {_many(heard.readings, 'reading')} on "
            f"{_many(heard.days, 'day')} in {_many(heard.words, 'word')}, "
            f"{heard.as_written} as written, {_many(heard.slipped, 'slip')}."
        )
        lines += [
            f"{SLIP_WORDS.get(kind, kind.replace('_', ' '))}: {_many(count, 'time')}"
            for kind, count in heard.slips.items()
        ]
    else:
        lines.append("Nothing read at home in six weeks, which says nothing of the child.")
    if heard.could_not_tell:
        lines.append(f"The listener could not tell {_many(heard.could_not_tell, 'time')}.")
    if heard.overruled:
        lines.append(f"An adult at home had the last word {_many(heard.overruled, 'time')}.")
    if accents:
        lines.append(f"Accent chosen at home: {', '.join(accents)}.")
    return tuple(lines)


def _heading(grid: Grid) -> Text:
    first, last = grid.week.monday, grid.week.sunday
    taught = sum(column.taught for column in grid.columns)
    return Text(
        f"Class grid {grid.week} · class {grid.class_code}\n"
        f"Week of Monday {first.day} {first:%B} to Sunday {last.day} {last:%B %Y}\n"
        f"{_many(len(grid.rows), 'child', 'children')}, {taught} GPCs shown",
        style="bold",
    )


def _block(grid: Grid, span: range, symbols: bool) -> Table:
    table = Table(box=None, padding=0, pad_edge=False, header_style="bold")
    graphemes = [column.gpc.grapheme for column in grid.columns]
    table.add_column("Child\n", width=8, no_wrap=True)
    table.add_column("Days\n", width=_BEFORE - 8, no_wrap=True)
    for n in span:
        twice = graphemes.count(graphemes[n]) > 1
        table.add_column(_head(grid.columns[n], twice), width=_CELL, no_wrap=True)
    for row in grid.rows:
        days = "–" if row.days is None else str(row.days)
        marks = (_mark(row.cells[n], symbols) for n in span)
        table.add_row(row.child.code, days if symbols else days.replace("–", "-"), *marks)
    return table


def _head(column: Column, twice: bool) -> str:
    """The grapheme; beneath it, where another column has the same, a word with its sound."""
    grapheme = column.gpc.grapheme[: _CELL - 1]
    return f"{grapheme}\n{column.exemplar[: _CELL - 1]}" if twice else f"{grapheme}\n"


def _mark(cell: Cell, symbols: bool) -> str:
    mark = MARKS[cell.state]
    flags = "c" if cell.decided_by == "check" else ""
    flags += "!" if cell.contradicted else ""
    flags += "*" if is_news(cell) else ""
    return (mark.symbol if symbols else mark.letter) + flags


def _key(symbols: bool) -> list[str]:
    marks = [MARKS[state] for state in STATES]
    return [
        *(f"{mark.symbol if symbols else mark.letter}  {mark.meaning}" for mark in marks),
        "c  from your own check   !  home reads otherwise since   *  new since last week",
        "Days: practised this week; a dash: no summary came, which is no gap of the child's",
    ]


def _changed(grid: Grid) -> list[Text]:
    found = changes(grid)
    total = counts([cell for row in grid.rows for cell in row.cells])
    lines = [Text(", ".join(f"{number} {state}" for state, number in total.items() if number))]
    if found:
        lines.append(Text("New since last week", style="bold"))
    lines += [Text(f"{each.pupil}  {each.gpc}: {each.before} -> {each.now}") for each in found]
    return lines


def _bullet(text: str) -> Table:
    table = Table.grid(padding=(0, 1, 0, 0))
    table.add_row(" -", text)
    return table


def _many(count: int, noun: str, plural: str = "") -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {plural or noun + 's'}"
