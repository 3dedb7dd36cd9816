"""The picture of an evaluation, as SVG text: detection, calibration, and which vowels are confused.

Nothing is told by colour alone: curves differ by dashes, cells hold their share as a number.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from statistics import NormalDist
from typing import Final

import numpy as np

from speech.curves import Bin, Detection, calibration_error

INK, PAPER, SEA, PALE = "#22303a", "#fbf8f1", "#1f6f8b", "#c9c4b8"
PANEL: Final = 420
"""Side of a panel's plot, in pixels; margins come on top."""
LEFT, TOP = 80, 70
DET_TICKS: Final = (0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.4, 0.6)
"""Shares marked on both axes of the detection curve."""
DASHES: Final = ("", "7 4", "2 3", "9 3 2 3")
SMALL: Final = 0.03
"""Cells of the vowel matrix below this share of their row stay empty."""


def picture(
    curves: Mapping[str, Detection],
    bins: Sequence[Bin],
    confused: Mapping[tuple[str, str], int],
) -> str:
    """Draw three panels side by side.

    Parameters
    ----------
    curves : mapping of str to Detection
        Detectors by name, at most four, each drawn in the detection error tradeoff's axes.
    bins : sequence of Bin
        Reliability.
    confused : mapping of (str, str) to int
        How often each vowel said was heard as each.

    Returns
    -------
    str
        A whole SVG document with no link out of it but the SVG namespace.
    """
    step = PANEL + LEFT + 70
    panels = (_detection(curves), _reliability(bins), _vowels(confused))
    body = "".join(
        f'<g transform="translate({LEFT + number * step},{TOP})">{"".join(panel)}</g>'
        for number, panel in enumerate(panels)
    )
    width, height = 3 * step + 20, PANEL + TOP + 80
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" font-family="sans-serif" font-size="13" '
        f'fill="{INK}" role="img"><title>Evaluation: detection, calibration, vowels</title>'
        f'<rect width="{width}" height="{height}" fill="{PAPER}"/>{body}</svg>\n'
    )


def _detection(curves: Mapping[str, Detection]) -> Iterable[str]:
    """Detection error tradeoff: both axes by normal deviates (Martin et al., Eurospeech 1997)."""
    yield _title("Slips missed against false slips")
    low, high = (NormalDist().inv_cdf(share) for share in (DET_TICKS[0], DET_TICKS[-1]))

    def at(share: float) -> float:
        bounded = min(max(share, DET_TICKS[0]), DET_TICKS[-1])
        return (NormalDist().inv_cdf(bounded) - low) / (high - low) * PANEL

    yield from _axes([(at(tick), f"{tick:.1%}".replace(".0%", "%")) for tick in DET_TICKS])
    yield _labels("right readings flagged", "slips missed")
    yield _line([(0, PANEL), (PANEL, 0)], PALE, "")
    for number, (name, curve) in enumerate(curves.items()):
        x = [at(float(share)) for share in curve.false_slips]
        y = [PANEL - at(float(share)) for share in curve.missed]
        yield _line(list(zip(x, y, strict=True)), SEA if number == 0 else INK, DASHES[number])
        above = 20 + 20 * number
        yield _line([(PANEL - 235, above), (PANEL - 195, above)], SEA if number == 0 else INK,
                    DASHES[number])  # fmt: skip
        yield _text(PANEL - 189, above + 4, f"{name}, equal at {curve.equal_error:.1%}", 11)
    if not curves:
        yield _text(PANEL / 2, PANEL / 2, "no right readings and slips to compare", anchor="middle")


def _reliability(bins: Sequence[Bin]) -> Iterable[str]:
    error = calibration_error(bins)
    told = "no verdicts" if np.isnan(error) else f"expected calibration error {error:.3f}"
    yield _title(f"Reliability: {told}")
    yield from _axes([(share / 5 * PANEL, f"{share / 5:.0%}") for share in range(6)])
    yield _labels("probability of the likeliest truth", "how often it was the truth")
    yield _line([(0, PANEL), (PANEL, 0)], PALE, "")
    filled = [each for each in bins if each.count]
    places = [(each.confidence * PANEL, PANEL - each.right * PANEL) for each in filled]
    yield _line(places, SEA, "")
    for each, (x, y) in zip(filled, places, strict=True):
        yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{SEA}"/>'
        yield _text(x - 8, y - 8, f"{each.count}", 11, "end")


def _vowels(confused: Mapping[tuple[str, str], int]) -> Iterable[str]:
    yield _title("Vowels: said (rows) and heard (columns), % of row")
    said = sorted({vowel for vowel, _ in confused})
    heard = sorted({vowel for _, vowel in confused})
    if not said:
        return
    side = PANEL / max(len(said), len(heard))
    for row, vowel in enumerate(said):
        total = sum(confused.get((vowel, other), 0) for other in heard)
        yield _text(-8, (row + 0.65) * side, f"{vowel} {total}", 11, "end")
        for column, other in enumerate(heard):
            share = confused.get((vowel, other), 0) / total
            x, y = column * side, row * side
            yield (
                f'<rect x="{x:.1f}" y="{y:.1f}" width="{side:.1f}" height="{side:.1f}" '
                f'fill="{SEA}" fill-opacity="{share:.2f}" stroke="{PALE}" stroke-width="0.5"/>'
            )
            if share >= SMALL:
                ink = PAPER if share > 0.5 else INK
                yield _text(x + side / 2, y + 0.65 * side, f"{share * 100:.0f}", 10, "middle", ink)
    for column, other in enumerate(heard):
        yield _text((column + 0.5) * side, len(said) * side + 16, other, 11, "middle")


def _title(text: str) -> str:
    return f'<text x="0" y="-24" font-size="15" font-weight="bold">{escape(text)}</text>'


def _axes(ticks: Sequence[tuple[float, str]]) -> Iterable[str]:
    yield f'<rect width="{PANEL}" height="{PANEL}" fill="none" stroke="{INK}"/>'
    for place, name in ticks:
        yield _line([(place, PANEL), (place, PANEL + 5)], INK, "")
        yield _line([(-5, PANEL - place), (0, PANEL - place)], INK, "")
        yield _text(place, PANEL + 20, name, 11, "middle")
        yield _text(-9, PANEL - place + 4, name, 11, "end")


def _labels(below: str, beside: str) -> str:
    return _text(PANEL / 2, PANEL + 42, below, anchor="middle") + (
        f'<text transform="translate(-58,{PANEL / 2}) rotate(-90)" text-anchor="middle">'
        f"{escape(beside)}</text>"
    )


def _line(places: Sequence[tuple[float, float]], colour: str, dashes: str) -> str:
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="2"{dashed}/>'


def _text(
    x: float, y: float, text: str, size: int = 13, anchor: str = "start", ink: str = INK
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" '
        f'fill="{ink}">{escape(text)}</text>'
    )
