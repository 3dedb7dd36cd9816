"""Small pictures, drawn from a few shapes: the same ones on a page (SVG) and on paper (PDF).

A picture is told in words as well (`says`), and its shapes differ in form, never in colour alone.
Lengths are CSS pixels, origin at the upper left.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Literal

Kind = Literal["full", "ring", "query", "bar", "open bar", "line", "tie", "label", "strong label"]
"""``full`` and ``ring`` are circles and ``query`` a question mark, around (x, y), `width` across;
``bar`` and ``open bar`` are rectangles from their upper left corner, filled and outlined; ``line``
goes level from (x, y); ``tie`` is a curve from (x, y) that hangs `height` deep and ends level;
labels are centred on x, their base line at y, letters `height` high."""


@dataclass(frozen=True)
class Shape:
    """One shape of a picture; what the numbers mean is said at `Kind`."""

    kind: Kind
    x: float
    y: float
    width: float = 0.0
    height: float = 0.0
    text: str = ""


@dataclass(frozen=True)
class Picture:
    """A picture.

    Attributes
    ----------
    width, height : float
        CSS pixels at its natural size.
    shapes : tuple of Shape
        Drawn in this order.
    says : str
        The same for whoever does not see it; empty for a picture that repeats the text beside it.
    """

    width: float
    height: float
    shapes: tuple[Shape, ...]
    says: str


def to_svg(picture: Picture) -> str:
    """The picture as an SVG element to stand in a page; it takes the text's colour and letters."""
    size = f'width="{_n(picture.width)}" height="{_n(picture.height)}"'
    box = f'viewBox="0 0 {_n(picture.width)} {_n(picture.height)}"'
    told = (
        f'role="img" aria-label="{escape(picture.says)}"' if picture.says else "aria-hidden='true'"
    )
    inside = "".join(_svg(shape) for shape in picture.shapes)
    return f'<svg class="picture" {size} {box} {told} focusable="false">{inside}</svg>'


def _svg(shape: Shape) -> str:
    x, y, width, height = (_n(each) for each in (shape.x, shape.y, shape.width, shape.height))
    line = 'fill="none" stroke="currentColor" stroke-width="2"'
    match shape.kind:
        case "full":
            return f'<circle cx="{x}" cy="{y}" r="{_n(shape.width / 2)}" fill="currentColor"/>'
        case "ring":
            return f'<circle cx="{x}" cy="{y}" r="{_n(shape.width / 2 - 1)}" {line}/>'
        case "query":
            base = _n(shape.y + shape.width * 0.45)
            return _text(x, base, _n(shape.width * 1.25), "?", "400")
        case "bar":
            return f'<rect x="{x}" y="{y}" width="{width}" height="{height}" fill="currentColor"/>'
        case "open bar":
            left, top = _n(shape.x + 1), _n(shape.y + 1)
            wide, high = _n(max(shape.width - 2, 0)), _n(max(shape.height - 2, 0))
            return f'<rect x="{left}" y="{top}" width="{wide}" height="{high}" {line}/>'
        case "line":
            end = _n(shape.x + shape.width)
            thin = 'stroke="currentColor" stroke-width="1"'
            return f'<line x1="{x}" y1="{y}" x2="{end}" y2="{y}" {thin}/>'
        case "tie":
            middle, end = _n(shape.x + shape.width / 2), _n(shape.x + shape.width)
            low = _n(
                shape.y + 2 * shape.height
            )  # a quadratic curve hangs half as deep as its point
            return f'<path d="M{x} {y}Q{middle} {low} {end} {y}" {line}/>'
        case _:
            weight = "700" if shape.kind == "strong label" else "400"
            return _text(x, y, height, shape.text, weight)


def _text(x: str, y: str, size: str, text: str, weight: str) -> str:
    return (
        f'<text x="{x}" y="{y}" font-size="{size}" font-weight="{weight}" text-anchor="middle"'
        f' fill="currentColor">{escape(text)}</text>'
    )


def _n(number: float) -> str:
    return f"{number:.2f}".rstrip("0").rstrip(".")
