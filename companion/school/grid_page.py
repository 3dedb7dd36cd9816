"""The class grid on paper: one page of A4, black and white, with codes and no names."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Any

from reportlab.pdfbase.pdfmetrics import stringWidth

from companion.report.paper import BOLD, INK, MM, REGULAR, RULE, Bold, Box, Paper, Text
from companion.report.wording import gpc_words
from companion.school.grid import Cell, Column, Grid, GridRow
from companion.school.grid_view import MARKS, changes, filtered, fitting

ROWS_A_PAGE = 36
"""Children on one page; a larger class goes on to the next."""

NEWEST = 5
"""Columns taught last, shown even where nobody has read them yet."""
NAMED = 24
"""Columns left out that are named; of more, only the number is told."""

UPRIGHT = 26
"""Columns up to which the page stands upright, with taller rows."""

_CODE, _DAYS = 17 * MM, 8 * MM
_HEAD = 17 * MM
_WIDEST, _HIGHEST = 9 * MM, 5.2 * MM


def grid_pdf(grid: Grid) -> bytes:
    """Print a grid.

    Parameters
    ----------
    grid : Grid
        Whole, or filtered; columns beyond those that fit are left out by
        `companion.school.grid_view.fitting` and named below.

    Returns
    -------
    bytes
        A PDF: one page for up to 36 children. Marks are shapes, and letters that are read out.
    """
    shown = fitting(told(grid))
    monday = shown.week.monday
    paper = Paper(
        f"Class grid, {shown.week}",
        "States by child and GPC; no names.",
        on_its_side=len(shown.columns) > UPRIGHT,
    )
    starts = range(0, max(len(shown.rows), 1), ROWS_A_PAGE)
    for start in starts:
        body = paper.page(
            f"Class {shown.class_code}",
            f"Week from Monday {monday.day} {monday:%B %Y}. Nothing here is ranked.",
        )
        body = _key(paper, shown, body)
        _table(paper, shown, shown.rows[start : start + ROWS_A_PAGE], body)
    return paper.finish()


def told(grid: Grid) -> Grid:
    """A grid with the columns that somebody has been heard in, and those taught last."""
    heard = {cell.gpc for row in grid.rows for cell in row.cells if cell.decided_by != "nothing"}
    newest = {column.gpc for column in grid.columns[-NEWEST:]}
    return filtered(grid, gpcs=heard | newest)


def _key(paper: Paper, grid: Grid, body: Box) -> Box:
    """What the marks mean, and what is not on the page; at the foot of the body."""
    words: list[Text] = [
        "Days: days practised this week; – where no summary came, which says nothing of the child. "
        "A dot beside a mark: another than a week ago. A line under it: by your own check."
    ]
    if grid.left_out:
        names = ", ".join(gpc_words(gpc) for gpc in grid.left_out)
        those = names if len(grid.left_out) <= NAMED else f"{len(grid.left_out)} letters and sounds"
        words.append(f"Not on this page (not taught, not read, or secure for all): {those}.")
    keys = 5 * MM * ceil(len(MARKS) / 2)
    high = sum(paper.height_of(each, body.width, "fine") for each in words) + keys
    body, foot = body.split_bottom(high)
    strip, foot = foot.split_top(keys)
    places = [cell for row in strip.rows(ceil(len(MARKS) / 2)) for cell in row.columns(2)]
    for (state, mark), place in zip(MARKS.items(), places, strict=False):
        _mark(paper.canvas, state, place.left + 2 * MM, place.bottom + place.height / 2, 3 * MM)
        at = Box(place.left + 6 * MM, place.bottom, place.width - 6 * MM, place.height)
        paper.write(mark.meaning, at, "fine")
    for each in words:
        foot = paper.write(each, foot, "fine")
    return body


def _table(paper: Paper, grid: Grid, rows: Sequence[GridRow], body: Box) -> None:
    columns = grid.columns
    changed = {(each.pupil, each.gpc) for each in changes(grid)}
    if not columns or not rows:
        nobody = "nobody is in the register" if columns else "nothing is marked as taught"
        paper.write(f"There is no grid yet: {nobody}.", body)
        return
    width = min((body.width - _CODE - _DAYS) / len(columns), _WIDEST)
    high = min((body.height - _HEAD) / len(rows), _HIGHEST)
    right = body.left + _CODE + _DAYS + width * len(columns)
    top = body.top - _HEAD
    _heads(paper, columns, body, width)
    canvas = paper.canvas
    for n, row in enumerate(rows):
        y = top - (n + 1) * high
        _line(canvas, body.left, y, right, y, 0.3 if (n + 1) % 5 else 0.9)
        canvas.setFillColor(INK)
        canvas.setFont(BOLD, min(8.5, high * 0.72))
        canvas.drawString(body.left + 1, y + high * 0.28, row.child.code)
        canvas.setFont(REGULAR, min(8.5, high * 0.72))
        days = "–" if row.days is None else str(row.days)
        canvas.drawCentredString(body.left + _CODE + _DAYS / 2, y + high * 0.28, days)
        for place, cell in enumerate(row.cells):
            x = body.left + _CODE + _DAYS + (place + 0.5) * width
            new = (row.child.code, cell.gpc) in changed
            _cell(canvas, cell, x, y + high / 2, min(width, high) * 0.62, new=new)
    for place in range(len(columns) + 1):
        if place % 5 == 0 or place == len(columns):
            x = body.left + _CODE + _DAYS + place * width
            _line(canvas, x, top - len(rows) * high, x, body.top, 0.9 if place % 5 == 0 else 0.3)


def _heads(paper: Paper, columns: Sequence[Column], body: Box, width: float) -> None:
    """Each column's word on end, with its grapheme above it."""
    canvas = paper.canvas
    top = body.top
    head = Box(body.left, top - _HEAD, _CODE + _DAYS, _HEAD)
    paper.write([Bold("Child")], Box(head.left, head.bottom - 1, _CODE, 12), "fine")
    paper.write(
        [Bold("Days")], Box(head.left + _CODE, head.bottom - 1, _DAYS, 12), "fine", "centre"
    )
    for place, column in enumerate(columns):
        x = body.left + _CODE + _DAYS + (place + 0.5) * width
        name = column.gpc.grapheme
        size = min(8.0, 8.0 * (width - 1) / max(stringWidth(name, BOLD, 8.0), 1))
        canvas.setFillColor(INK)
        canvas.setFont(BOLD, size)
        canvas.drawCentredString(x, top - 9, name)
        canvas.saveState()
        canvas.translate(x + 2, top - _HEAD + 2)
        canvas.rotate(90)
        canvas.setFont(REGULAR, 6.5)
        canvas.drawString(0, 0, column.exemplar)
        canvas.restoreState()
    right = body.left + _CODE + _DAYS + width * len(columns)
    _line(canvas, body.left, top - _HEAD, right, top - _HEAD, 0.9)


def _cell(canvas: Any, cell: Cell, x: float, y: float, size: float, *, new: bool) -> None:
    """A mark with its letter, which is not seen but read out and found."""
    letter = canvas.beginText(x - size / 4, y - size / 3)
    letter.setFont(REGULAR, size)
    letter.setTextRenderMode(3)
    letter.textOut(MARKS[cell.state].letter)
    letter.setTextRenderMode(0)
    canvas.drawText(letter)
    _mark(canvas, cell.state, x, y, size)
    canvas.setFillColor(INK)
    if new:
        canvas.circle(x + size * 0.72, y + size * 0.5, 0.9, stroke=0, fill=1)
    if cell.decided_by == "check":
        _line(canvas, x - size / 2, y - size * 0.68, x + size / 2, y - size * 0.68, 0.9)


def _mark(canvas: Any, state: str, x: float, y: float, size: float) -> None:
    """A filled square, a query, a ring or a dash: told apart in black and white."""
    canvas.saveState()
    canvas.setFillColor(INK)
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(max(size * 0.1, 0.6))
    if state == "practise":
        canvas.rect(x - size / 2, y - size / 2, size, size, stroke=0, fill=1)
    elif state == "secure":
        canvas.circle(x, y, size / 2 * 0.9, stroke=1, fill=0)
    elif state == "not enough listened":
        canvas.setFont(REGULAR, size * 1.1)
        canvas.setFillColor(INK)
        query = canvas.beginPath()
        query.moveTo(x - size * 0.22, y + size * 0.22)
        query.curveTo(
            x - size * 0.2, y + size * 0.6, x + size * 0.3, y + size * 0.55, x + size * 0.22,
            y + size * 0.2,
        )  # fmt: skip
        query.curveTo(x + size * 0.18, y, x, y + size * 0.05, x, y - size * 0.2)
        canvas.drawPath(query, stroke=1, fill=0)
        canvas.circle(x, y - size * 0.42, max(size * 0.06, 0.5), stroke=0, fill=1)
    else:
        canvas.line(x - size * 0.25, y, x + size * 0.25, y)
    canvas.restoreState()


def _line(canvas: Any, x: float, y: float, to_x: float, to_y: float, width: float) -> None:
    canvas.saveState()
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(width)
    canvas.line(x, y, to_x, to_y)
    canvas.restoreState()
