"""The grid on a page: states by child and GPC, filters, changes, and a cell's evidence."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

from starlette.datastructures import QueryParams
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import render
from companion.pages.school_desk import Desk, WeekChoice, desk_of, shown, week_asked
from companion.pages.school_list import number_of
from companion.pages.school_register import download, pdf
from companion.phonics.gpc import Gpc
from companion.record.weeks import Week
from companion.report.week import STATES
from companion.report.wording import SLIP_WORDS, gpc_words
from companion.school import evidence, register, teaching
from companion.school.book import Book
from companion.school.grid import Cell, Child, Class, Grid, GridRow, class_grid, grid
from companion.school.grid_csv import file_name, to_bytes
from companion.school.grid_page import grid_pdf, told
from companion.school.grid_view import MARKS, changes, filtered
from companion.school.states import WINDOW

DECIDED_WORDS = {
    "check": "your own check in class",
    "home": "what was read at home",
    "nothing": "nothing yet",
}
WEEKS_BACK = 12
"""Past weeks that can be chosen."""


@dataclass(frozen=True)
class _Column:
    """A column's head, and the place of its GPC in the order."""

    words: str
    grapheme: str
    exemplar: str
    place: int


@dataclass(frozen=True)
class _Cell:
    """A mark: its shape's name, what it says to who cannot see it, and whether it is new."""

    place: int
    state: str
    label: str
    new: bool
    checked: bool
    again: bool


@dataclass(frozen=True)
class _Row:
    """A child's row."""

    code: str
    name: str
    days: int | None
    cells: tuple[_Cell, ...]


def whole(request: Request, book: Book) -> Response:
    """The grid, by the filters of the query."""
    desk = desk_of(request)
    week = week_asked(request, desk.week)
    every = whole_grid(desk, book, week)
    part = _asked(every, request.query_params)
    places = {gpc: n for n, gpc in enumerate(teaching.order(book).gpcs, start=1)}
    return render(
        request, "school_grid.html", week=WeekChoice(week), weeks=_weeks(desk),
        columns=[
            _Column(gpc_words(c.gpc), c.gpc.grapheme, c.exemplar, places[c.gpc])
            for c in part.columns
        ],
        rows=[_row(row, every, places) for row in part.rows],
        every=len(every.rows),
        taught=len(every.columns), marks=MARKS, states=STATES, left_out=len(part.left_out),
        chosen={key: request.query_params.get(key, "") for key in ("show", "state", "changed")},
        changes=[
            (_name(every, each.pupil), gpc_words(each.gpc), each.before, each.now)
            for each in changes(every)
        ],
        query=str(request.query_params),
    )  # fmt: skip


def cell(request: Request, book: Book) -> Response:
    """The evidence behind one cell."""
    desk = desk_of(request)
    week = week_asked(request, desk.week)
    pupil = register.one(book, request.path_params["code"])
    gpcs = teaching.order(book).gpcs
    place = number_of(request.path_params["place"])
    if not 1 <= place <= len(gpcs):
        raise HTTPException(404)
    gpc = gpcs[place - 1]
    row = _one_row(book, week, Child(pupil.code, pupil.name))
    found = next((each for each in row.cells if each.gpc == gpc), None)
    if found is None:
        raise HTTPException(404)
    weeks = evidence.summaries(
        book, since=Week.of(week.monday - timedelta(weeks=WINDOW - 1)), until=week,
        pupil=pupil.code,
    )  # fmt: skip
    return render(
        request, "school_cell.html", pupil=pupil, row=row, cell=found, words=gpc_words(gpc),
        place=place, week=WeekChoice(week), mark=MARKS[found.state],
        decided=DECIDED_WORDS[found.decided_by], window=WINDOW,
        slips=[
            (SLIP_WORDS.get(kind, "a slip of a kind not given"), count)
            for kind, count in found.heard.slips.items()
        ],
        weeks=[
            (kept.summary.week.monday, each)
            for kept in reversed(weeks)
            for each in kept.summary.rows
            if each.gpc == str(gpc)
        ],
        checks=[
            each for each in evidence.heard_in_class(book, pupil.code) if each.gpc == str(gpc)
        ],
    )  # fmt: skip


def printed(request: Request, book: Book) -> Response:
    """The grid on one page of A4; by the same filters."""
    desk = desk_of(request)
    week = week_asked(request, desk.week)
    part = _asked(whole_grid(desk, book, week), request.query_params)
    return pdf(grid_pdf(part), f"grid-{week}.pdf")


def table(request: Request, book: Book) -> Response:
    """The whole grid as CSV: codes and counts."""
    desk = desk_of(request)
    week = week_asked(request, desk.week)
    every = whole_grid(desk, book, week)
    return download(to_bytes(every), file_name(every), "text/csv; charset=utf-8")


def whole_grid(desk: Desk, book: Book, week: Week) -> Grid:
    """The grid of a week; worked out once for as long as the book stays as it is."""
    return desk.kept(book, ("grid", str(week)), lambda: class_grid(book, week))


def _one_row(book: Book, week: Week, child: Child) -> GridRow:
    """One child's row, without working out the others'."""
    last = Week.of(week.monday - timedelta(weeks=1))
    first = Week.of(week.monday - timedelta(weeks=WINDOW))
    of = Class(
        book.code, (child,), teaching.order(book), teaching.taught(book, week.sunday),
        teaching.taught(book, last.sunday),
    )  # fmt: skip
    kept = evidence.summaries(book, since=first, until=week, pupil=child.code)
    heard = evidence.heard_in_class(book, child.code)
    return grid(of, [each.summary for each in kept], heard, week).rows[0]


def _asked(every: Grid, query: QueryParams) -> Grid:
    """The part of the grid that the filters ask for."""
    state = query.get("state", "")
    show = query.get("show", "")
    part = every if show == "all" or state or query.get("changed") else told(every)
    if show.startswith("gpc "):
        part = filtered(every, gpcs=[g.gpc for g in every.columns if str(g.gpc) == show[4:]])
    if state in STATES:
        part = filtered(part, states=[state])
    if query.get("changed") == "yes":
        part = filtered(part, changed=True)
    return part


def _row(row: GridRow, every: Grid, places: dict[Gpc, int]) -> _Row:
    new = {(each.pupil, each.gpc) for each in changes(replace(every, rows=(row,)))}
    name = row.child.name or row.child.code
    cells = tuple(
        _Cell(
            places[each.gpc], each.state.replace(" ", "-"),
            _label(name, each, new=(row.child.code, each.gpc) in new),
            (row.child.code, each.gpc) in new, each.decided_by == "check", each.contradicted,
        )
        for each in row.cells
    )  # fmt: skip
    return _Row(row.child.code, row.child.name or "", row.days, cells)


def _label(name: str, cell: Cell, *, new: bool) -> str:
    said = [f"{name}, {gpc_words(cell.gpc)}: {cell.state}"]
    if new:
        said.append(f"last week {cell.before}")
    if cell.decided_by == "check":
        said.append("by your own check")
    if cell.contradicted:
        said.append("home has read otherwise since")
    return "; ".join(said)


def _name(every: Grid, code: str) -> str:
    return next((r.child.name or code for r in every.rows if r.child.code == code), code)


def _weeks(desk: Desk) -> list[WeekChoice]:
    return [
        WeekChoice(Week.of(desk.week.monday - timedelta(weeks=back))) for back in range(WEEKS_BACK)
    ]


ROUTES = [
    Route("/class/grid", shown(whole)),
    Route("/class/grid.pdf", shown(printed)),
    Route("/class/grid.csv", shown(table)),
    Route("/class/grid/{code}/{place}", shown(cell)),
]
