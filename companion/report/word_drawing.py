"""A word drawn large on paper, with its sound buttons beneath."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from reportlab.pdfbase.pdfmetrics import stringWidth

from companion.phonics.units import Split
from companion.report.paper import INK, MM, REGULAR, SEA, Box, Paper, load_fonts
from companion.report.sound_buttons import KIND_WORDS, Kind, Mark, marks

ASCENT, DESCENT = 0.80, 0.25
"""Above and below the base line, in parts of the letters' size: the tallest and the deepest of
Andika's small letters and capitals (f 0.791, p 0.239), measured in the font file."""
BUTTONS = 0.36
"""How much further down the buttons reach."""
X_HEIGHT = 0.498
"""Height of Andika's x in parts of the size, measured in the font file."""

LARGEST = 150.0
"""Points; a word of three letters would otherwise fill a page."""

_CENTRE = 0.37
"""From the base line down to the middle of a dot, a bar or a wave."""
_DEEP = 0.56
"""From the base line down to the lowest part of a tie."""
_OVERHANG = 0.12
"""How far a letter such as j or y may reach over its own width."""
_DOT, _LINE = 0.05, 0.055
"""Radius of a dot, and thickness of a line."""


def fitting_size(words: Iterable[str], box: Box, *, buttons: bool = True) -> float:
    """The largest letter size, in points, at which each of `words` alone fits in `box`."""
    load_fonts()
    widest = max((stringWidth(word, REGULAR, 1.0) + 2 * _OVERHANG for word in words), default=0.0)
    high = ASCENT + DESCENT + (BUTTONS if buttons else 0.0)
    return min(LARGEST, box.height / high, box.width / widest if widest else LARGEST)


def draw_word(
    paper: Paper, word: Split | str, box: Box, *, buttons: bool = True, size: float | None = None
) -> None:
    """Draw a word in the middle of `box`.

    Parameters
    ----------
    paper : Paper
        A paper with a page begun.
    word : Split or str
        The word as it is to be written, capitals too; a plain text gets no buttons.
    box : Box
        Where it stands; the buttons stay inside as well.
    buttons : bool
        Whether sound buttons are drawn. Room for them is kept either way only if `size` is given.
    size : float, optional
        Letter size in points, at most `fitting_size`; without it, as large as fits.
    """
    text = word if isinstance(word, str) else word.word
    size = size or fitting_size([text], box, buttons=buttons)
    canvas = paper.canvas
    below = DESCENT + (BUTTONS if buttons else 0.0)
    base = box.bottom + (box.height - (ASCENT + below) * size) / 2 + below * size
    left = box.left + (box.width - stringWidth(text, REGULAR, size)) / 2
    canvas.setFillColor(INK)
    canvas.setFont(REGULAR, size)
    canvas.drawString(left, base, text)
    if buttons and not isinstance(word, str):
        _draw_marks(canvas, word, left, base, size)


def draw_key(paper: Paper, box: Box, kinds: Iterable[Kind] = tuple(KIND_WORDS)) -> Box:
    """Draw what each button means, one line each in small letters; gives what is left below."""
    size, high = 26.0, 5.5 * MM
    for kind in kinds:
        line, box = box.split_top(high)
        middle = line.bottom + line.height / 2
        ends = (line.left + 2 * MM, line.left + 8 * MM)
        centre = (ends[0] + ends[1]) / 2
        if kind == "dot":
            ends = (centre - 1, centre + 1)
        base = middle + (_CENTRE if kind != "tie" else (_CENTRE + _DEEP) / 2 - 0.02) * size
        _draw_shape(paper.canvas, kind, ends, base, size)
        words = Box(line.left + 11 * MM, line.bottom - 2, line.width - 11 * MM, line.height + 2)
        paper.write(KIND_WORDS[kind], words, "small")
    return box


def _draw_marks(canvas: Any, split: Split, left: float, base: float, size: float) -> None:
    word = split.word
    starts = [stringWidth(word[:n], REGULAR, size) for n in range(len(word) + 1)]
    for mark in marks(split):
        _draw_shape(canvas, mark.kind, _ends(mark, starts, left), base, size)


def _ends(mark: Mark, starts: list[float], left: float) -> tuple[float, float]:
    """Where a mark begins and ends, left to right."""
    first, last = mark.letters[0], mark.letters[-1]
    if mark.kind == "tie":
        return (
            left + (starts[first] + starts[first + 1]) / 2,
            left + (starts[last] + starts[last + 1]) / 2,
        )
    return left + starts[first], left + starts[last + 1]


def _draw_shape(
    canvas: Any, kind: Kind, ends: tuple[float, float], base: float, size: float
) -> None:
    start, end = ends
    level = base - _CENTRE * size
    inset = min(0.09 * size, (end - start) / 6)
    canvas.saveState()
    canvas.setFillColor(INK)
    canvas.setStrokeColor(SEA if kind == "tie" else INK)
    canvas.setLineWidth(_LINE * size)
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    if kind == "dot":
        canvas.circle((start + end) / 2, level, _DOT * size, stroke=0, fill=1)
    elif kind == "bar":
        canvas.line(start + inset, level, end - inset, level)
    elif kind == "tie":
        _draw_tie(canvas, ends, base, size)
    else:
        _draw_wave(canvas, start + inset, end - inset, level, size)
    canvas.restoreState()


def _draw_tie(canvas: Any, ends: tuple[float, float], base: float, size: float) -> None:
    """A trough from under one letter to under the other, deeper than the button between."""
    start, end = ends
    high, deep = base - 0.30 * size, base - (_DEEP - _LINE / 2) * size
    turn = min(0.14 * size, (end - start) / 2)
    path = canvas.beginPath()
    path.moveTo(start, high)
    path.lineTo(start, deep + turn)
    path.curveTo(start, deep + turn * 0.45, start + turn * 0.45, deep, start + turn, deep)
    path.lineTo(end - turn, deep)
    path.curveTo(end - turn * 0.45, deep, end, deep + turn * 0.45, end, deep + turn)
    path.lineTo(end, high)
    canvas.drawPath(path, stroke=1, fill=0)


def _draw_wave(canvas: Any, start: float, end: float, level: float, size: float) -> None:
    """Hills and dales, one and a half for each letter's width or so."""
    number = max(round((end - start) / (0.22 * size)), 1)
    step, high = (end - start) / number, 0.05 * size
    path = canvas.beginPath()
    path.moveTo(start, level)
    for n in range(number):
        x = start + n * step
        way = high if n % 2 == 0 else -high
        path.curveTo(
            x + step / 3, level + 2 * way, x + 2 * step / 3, level + 2 * way, x + step, level
        )
    canvas.drawPath(path, stroke=1, fill=0)
