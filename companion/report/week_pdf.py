"""The parent's week on one A4 page, to pin up or to take to school in a bag."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from reportlab.pdfbase.pdfmetrics import stringWidth

from companion.phonics.gpc import Gpc
from companion.record.weeks import Week
from companion.report import evidence
from companion.report.boxes import Box
from companion.report.overrules import in_words
from companion.report.paper import BOLD, INK, MM, REGULAR, SEA, Bold, Paper, Style, Text
from companion.report.parent_week import (
    TIPS_AT_ONCE,
    ParentWeek,
    Tip,
    no_tip_in_words,
    tip_in_words,
)
from companion.report.picture import Picture, Shape
from companion.report.trend import SPACING
from companion.report.week import STATES, SheetRow
from companion.report.week_text import span_in_words, summary
from companion.report.wording import CHANGE_WORDS, STATE_WORDS, gpc_words

_BAND = 46 * MM
"""Width of the pictures beside a tip."""


def week_pdf(found: ParentWeek, label: str) -> bytes:
    """The week as a PDF of one page.

    Parameters
    ----------
    found : ParentWeek
        The week.
    label : str
        The child's nickname or picture, for the heading.

    Returns
    -------
    bytes
        What does not fit is left out from the end: third and second tip first, then the figure of
        the weeks. The cautions never are.
    """
    for tips in range(min(TIPS_AT_ONCE, len(found.tips)), -1, -1):
        for weeks in (True, False):
            made = _page(found, label, tips, weeks)
            if made is not None:
                return made
    made = _page(found, label, 0, False, listed=False)
    assert made is not None, "days, figures and cautions always fit"
    return made


def _page(
    found: ParentWeek, label: str, tips: int, weeks: bool, listed: bool = True
) -> bytes | None:
    """The page with that much on it; None where it does not fit."""
    paper = Paper("A week of reading practice", "What one child read in one week, by sound.")
    body = paper.page(f"{label}: a week of reading", span_in_words(found.sheet.week))
    blocks: list[_Block] = [_days(found)]
    if found.sheet.turns:
        blocks.append(_line(Bold("Worth five minutes, with pencil and paper"), "heading"))
        blocks += [_tip(found, tip) for tip in found.tips[:tips]] or [_no_tip(found, tips)]
        if tips:
            blocks.append(_legend)
        if listed:
            blocks.append(
                _line(Bold("The sounds of this week: as written, of all readings"), "heading")
            )
            blocks += [_state(found, state) for state in STATES]
        if weeks:
            blocks.append(_line(Bold("The last eight weeks, words in each"), "heading"))
            blocks.append(_weeks(found))
        blocks.append(_line(in_words(found.overrules), "small"))
        blocks.append(_line(SPACING, "fine"))
    for block in blocks:
        left = block(paper, body)
        if left is None:
            return None
        body = left
    return paper.finish()


_Block = Callable[[Paper, Box], Box | None]
"""Draws itself at the top of a box and gives what is left; None where it does not fit."""


def _line(text: Text, style: Style) -> _Block:
    def draw(paper: Paper, box: Box) -> Box | None:
        gap = 3 * MM if style == "heading" else 1 * MM
        if paper.height_of(text, box.width, style) + gap > box.height:
            return None
        return paper.write(text, box.split_top(gap)[1], style)

    return draw


def _days(found: ParentWeek) -> _Block:
    def draw(paper: Paper, box: Box) -> Box | None:
        picture = evidence.days_picture(found.sheet.week, found.sheet.days)
        high = picture.height * 0.75
        band, rest = box.split_top(max(high, 16 * MM))
        _draw(paper, picture, band.left, band.top, 0.75)
        wide = picture.width * 0.75 + 6 * MM
        beside = Box(band.left + wide, band.bottom, band.width - wide, band.height)
        paper.write_fitting([(line, "text") for line in summary(found.sheet).splitlines()], beside)
        return rest

    return draw


def _tip(found: ParentWeek, tip: Tip) -> _Block:
    def draw(paper: Paper, box: Box) -> Box | None:
        texts: list[tuple[Text, Style]] = [
            ([Bold(f"{gpc_words(Gpc.parse(tip.row.gpc))}. " if tip.row else ""),
              Bold(tip.advice.name)], "text"),
            (tip_in_words(tip), "small"),
            *((f"{n}. {step}", "small") for n, step in enumerate(tip.advice.steps, start=1)),
        ]  # fmt: skip
        wide = box.width - _BAND - 4 * MM
        high = sum(paper.height_of(text, wide, style) for text, style in texts) + 2 * MM
        if high > box.height:
            return None
        band, rest = box.split_top(max(high, 22 * MM if tip.row else 0))
        beside = Box(band.left + _BAND + 4 * MM, band.bottom, wide, band.height)
        for text, style in texts:
            beside = paper.write(text, beside, style)
        if tip.row is not None:
            letters = evidence.grapheme_picture(tip.row.gpc.partition(" ")[0])
            _draw(paper, letters, band.left, band.top - 1 * MM, 0.7)
            picture = _readings(found, tip.row)
            scale = _BAND / picture.width
            _draw(paper, picture, band.left, band.top - letters.height * 0.7 - 2 * MM, scale)
        return rest

    return draw


def _legend(paper: Paper, box: Box) -> Box | None:
    """What the dots beside a tip mean."""
    band, rest = box.split_top(6 * MM)
    left, base = band.left, band.bottom + 1.5 * MM
    for mark, text in evidence.LEGEND:
        _draw(paper, evidence.legend_picture(mark), left, base + 8, 0.6)
        paper.canvas.setFont(REGULAR, 8)
        paper.canvas.drawString(left + 13, base, text)
        left += 24 + stringWidth(text, REGULAR, 8)
    return rest


def _no_tip(found: ParentWeek, tips: int) -> _Block:
    if found.tips and not tips:
        return _line("More slips than fit here: see the week's page on the computer.", "small")
    return _line(no_tip_in_words(found), "text")


def _state(found: ParentWeek, state: str) -> _Block:
    rows = [row for row in found.sheet.rows if row.state == state]

    def draw(paper: Paper, box: Box) -> Box | None:
        if not rows:
            return box
        listed = "; ".join(_row_in_words(row) for row in rows)
        return _line([Bold(f"{STATE_WORDS[state]}: "), listed], "small")(paper, box)

    return draw


def _row_in_words(row: SheetRow) -> str:
    name = gpc_words(Gpc.parse(row.gpc))
    if not row.readings:
        return f"{name}: could not tell"
    return f"{name} {row.as_written} of {row.readings}"


def _weeks(found: ParentWeek) -> _Block:
    def draw(paper: Paper, box: Box) -> Box | None:
        picture = evidence.weeks_picture(found.trend.weeks)
        scale = 0.62
        changes = [
            f"{gpc_words(Gpc.parse(each.gpc))}: {CHANGE_WORDS[each.change]}"
            for each in found.trend.gpcs
            if each.change in ("more", "less")
        ]
        high = picture.height * scale + 2 * MM
        if high > box.height:
            return None
        band, rest = box.split_top(high)
        _draw(paper, picture, band.left, band.top - 1 * MM, scale)
        wide = picture.width * scale + 5 * MM
        beside = Box(band.left + wide, band.bottom, band.width - wide, band.height)
        text = "; ".join(changes) or "No sound was read clearly more or less often as written."
        if paper.height_of(text, beside.width, "small") > beside.height:
            text = "Some sounds were read more or less often as written than before."
        paper.write(text, beside, "small")
        return rest

    return draw


def _readings(found: ParentWeek, row: SheetRow) -> Picture:
    if found.kept_singly:
        return evidence.readings_picture(found.sheet.week, found.marks.get(row.gpc, ()))
    return evidence.counts_picture(row.as_written, row.readings - row.as_written,
                                   row.could_not_tell)  # fmt: skip


def _draw(paper: Paper, picture: Picture, left: float, top: float, scale: float) -> None:
    """Draw a picture with its upper left corner at (left, top), `scale` points to its pixel."""
    canvas = paper.canvas
    canvas.saveState()
    canvas.translate(left, top)
    canvas.scale(scale, scale)
    canvas.setStrokeColor(INK)
    canvas.setFillColor(INK)
    canvas.setLineWidth(2)
    for shape in picture.shapes:
        _draw_shape(canvas, shape)
    canvas.restoreState()


def _draw_shape(canvas: Any, shape: Shape) -> None:
    x, y = shape.x, -shape.y
    match shape.kind:
        case "full":
            canvas.circle(x, y, shape.width / 2, stroke=0, fill=1)
        case "ring":
            canvas.circle(x, y, shape.width / 2 - 1, stroke=1, fill=0)
        case "query":
            _letters(canvas, REGULAR, shape.width * 1.25, x, y - shape.width * 0.45, "?")
        case "bar":
            canvas.rect(x, y - shape.height, shape.width, shape.height, stroke=0, fill=1)
        case "open bar":
            wide, high = max(shape.width - 2, 0), max(shape.height - 2, 0)
            canvas.rect(x + 1, y - 1 - high, wide, high, stroke=1, fill=0)
        case "line":
            canvas.setLineWidth(1)
            canvas.line(x, y, x + shape.width, y)
            canvas.setLineWidth(2)
        case "tie":
            _tie(canvas, shape)
        case _:
            font = BOLD if shape.kind == "strong label" else REGULAR
            _letters(canvas, font, shape.height, x, y, shape.text)


def _tie(canvas: Any, shape: Shape) -> None:
    """A quadratic curve as a cubic one: each control point two thirds of the way to its own."""
    x, y, end = shape.x, -shape.y, shape.x + shape.width
    low = y - 2 * shape.height * 2 / 3
    canvas.setStrokeColor(SEA)
    canvas.bezier(x, y, x + shape.width / 3, low, end - shape.width / 3, low, end, y)
    canvas.setStrokeColor(INK)


def _letters(canvas: Any, font: str, size: float, x: float, y: float, text: str) -> None:
    canvas.setFont(font, size)
    canvas.drawString(x - stringWidth(text, font, size) / 2, y, text)


def file_name(week: Week) -> str:
    """What the file is called: the week, and nothing of the child."""
    return f"reading-week-{week}.pdf"
