"""What the readings look like: one dot for each, on the day it was read. Pure; draws pictures.

A full dot is a reading as written, a ring a slip, and a question mark one that nobody could tell.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from companion.record.turns import KeptTurn
from companion.record.weeks import Week
from companion.report.picture import Kind, Picture, Shape
from companion.report.trend import GpcPoint, WeekPoint

DOT = 10.0
_STEP = 13.0
_HIGH = 4
"""Dots in a day's column before the next column begins."""
_ACROSS = 3
_STRIP = 12
"""Marks in a row at most: of more readings than that, their shares."""
_DAY = 3 * _STEP + 6
_LABEL = 13.0

_DAYS = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")
_MARK: Mapping[str, Kind] = {"as_written": "full", "slip": "ring", "unsure": "query"}

LEGEND: tuple[tuple[str, str], ...] = (
    ("as_written", "a reading as written"),
    ("slip", "a reading with a slip"),
    ("unsure", "could not tell"),
)
"""What each mark means, in the order shown."""


@dataclass(frozen=True)
class DayMarks:
    """One GPC's turns of one day, in the order they were read.

    Attributes
    ----------
    day : date
        The day.
    marks : tuple of str
        ``as_written``, ``slip`` or ``unsure`` for each turn that says something of the GPC.
    """

    day: date
    marks: tuple[str, ...]


def by_gpc(turns: Iterable[KeptTurn]) -> dict[str, tuple[DayMarks, ...]]:
    """The marks of each GPC, day by day.

    They are the turns that `companion.record.tally` counts: as written, slips and could not tell.
    """
    found: dict[str, dict[date, list[str]]] = {}
    for kept in turns:
        outcome = kept.turn.outcome
        if outcome is None:
            continue
        if outcome.verdict == "unsure":
            gpcs, mark = kept.turn.gpcs, "unsure"
        else:
            gpcs, mark = outcome.evidence, "as_written" if outcome.slip is None else "slip"
        for gpc in dict.fromkeys(gpcs):
            found.setdefault(gpc, {}).setdefault(kept.day, []).append(mark)
    return {
        gpc: tuple(DayMarks(day, tuple(marks)) for day, marks in sorted(days.items()))
        for gpc, days in found.items()
    }


def readings_picture(week: Week, days: Sequence[DayMarks]) -> Picture:
    """A column for each day of the week, with its readings stacked up in it."""
    by_day = {each.day: each.marks for each in days}
    floor = _HIGH * _STEP + 4
    shapes = [Shape("line", 0, floor + 2, 7 * _DAY)]
    for number in range(7):
        left = number * _DAY
        marks = by_day.get(week.monday + timedelta(days=number), ())
        middle = left + _DAY / 2
        across = min(-(-len(marks) // _HIGH), _ACROSS)
        shapes += _stack(marks, middle - (across * _STEP - (_STEP - DOT)) / 2, floor)
        shapes.append(Shape("label", middle, floor + 5 + _LABEL, height=_LABEL, text=_DAYS[number]))
    return Picture(7 * _DAY, floor + _LABEL + 10, tuple(shapes), _readings_in_words(days))


def counts_picture(as_written: int, slips: int, unsure: int) -> Picture:
    """The readings of a week whose days are no longer kept, in rows of twenty."""
    marks = ["as_written"] * as_written + ["slip"] * slips + ["unsure"] * unsure
    shown = marks[:60]
    shapes = [
        Shape(_MARK[mark], 7 + n % 20 * _STEP, 7 + n // 20 * _STEP, DOT)
        for n, mark in enumerate(shown)
    ]
    rows = max(1, -(-len(shown) // 20))
    height = rows * _STEP + 4
    if len(marks) > len(shown):
        text = f"and {len(marks) - len(shown)} more"
        shapes.append(Shape("label", 60, height + _LABEL, height=_LABEL, text=text))
        height += _LABEL + 5
    says = _in_words(as_written, slips, unsure)
    return Picture(20 * _STEP + 4, height, tuple(shapes), f"{says[:1].upper()}{says[1:]}.")


def strip_picture(as_written: int, slips: int, unsure: int) -> Picture:
    """The same in one short row; a text beside it says the numbers."""
    marks = ["as_written"] * as_written + ["slip"] * slips + ["unsure"] * unsure
    shown = marks if len(marks) <= _STRIP else _fewer(as_written, slips, unsure)
    shapes = tuple(Shape(_MARK[mark], 6 + n * 11, 7, 8.5) for n, mark in enumerate(shown))
    return Picture(max(len(shown), 1) * 11 + 1, 14, shapes, "")


def _fewer(*counts: int) -> list[str]:
    """Twelve marks in the shares of many; one at least of each that there is."""
    wanted = [count * _STRIP / sum(counts) for count in counts]
    given = [max(1, int(share)) if share else 0 for share in wanted]
    while sum(given) < _STRIP:
        given[max(range(3), key=lambda n: wanted[n] - given[n])] += 1
    while sum(given) > _STRIP:
        most = max(range(3), key=lambda n: (given[n] > 1, given[n] - wanted[n]))
        given[most] -= 1
    return [mark for mark, count in zip(_MARK, given, strict=True) for _ in range(count)]


def days_picture(week: Week, days: Sequence[date]) -> Picture:
    """The seven days of a week: a full circle for each with a reading, else a thin line."""
    shapes: list[Shape] = []
    for number in range(7):
        x = number * 44 + 22.0
        if week.monday + timedelta(days=number) in days:
            shapes.append(Shape("full", x, 16, 26))
        else:
            shapes.append(Shape("line", x - 8, 16, 16))
        shapes.append(Shape("label", x, 46, height=15, text=_DAYS[number]))
    names = [f"{day:%A}" for day in days]
    return Picture(308, 52, tuple(shapes), f"Days: {', '.join(names)}." if names else "No day.")


def weeks_picture(points: Sequence[WeekPoint]) -> Picture:
    """Words read in each week, as bars; the week shown is the last."""
    most = max((point.turns for point in points), default=0)
    columns = [(point.week, float(point.turns), 0.0) for point in points]
    told = [
        f"week of {_short(point.week)}: {point.turns} words on {point.days} days"
        for point in points
        if point.turns
    ]
    return _bars(columns, most, [str(point.turns) for point in points], "; ".join(told))


def gpc_picture(points: Sequence[GpcPoint]) -> Picture:
    """A GPC's readings in each week: as written below (full), slips above (outlined)."""
    most = max((point.readings for point in points), default=0)
    columns = [
        (point.week, float(point.as_written), float(point.readings - point.as_written))
        for point in points
    ]
    told = [
        f"week of {_short(point.week)}: {point.as_written} of {point.readings} as written"
        for point in points
        if point.readings
    ]
    labels = [f"{point.as_written}/{point.readings}" for point in points]
    return _bars(columns, most, labels, "; ".join(told))


def grapheme_picture(grapheme: str, size: float = 40.0) -> Picture:
    """The letters of a grapheme, a split digraph with its gap and the line that joins it."""
    first, dash, last = grapheme.partition("-")
    wide = size * 0.72
    if not dash:
        across = wide * len(grapheme) + 8
        letters = [Shape("strong label", across / 2, size, height=size, text=grapheme)]
        return Picture(across, size * 1.45, tuple(letters), "")
    ends = (wide / 2 + 4, wide * 2.5 + 4)
    shapes = (
        Shape("strong label", ends[0], size, height=size, text=first),
        Shape("strong label", ends[1], size, height=size, text=last),
        Shape("tie", ends[0], size * 1.12, ends[1] - ends[0], size * 0.22),
    )
    return Picture(wide * 3 + 8, size * 1.45, shapes, "")


def legend_picture(mark: str) -> Picture:
    """One mark by itself, for the line that says what it means."""
    return Picture(16, 16, (Shape(_MARK[mark], 8, 8, DOT + 2),), "")


def _stack(marks: Sequence[str], left: float, floor: float) -> list[Shape]:
    most = _HIGH * _ACROSS
    shown = marks if len(marks) <= most else marks[: most - 1]
    shapes = [
        Shape(
            _MARK[mark],
            left + DOT / 2 + n // _HIGH * _STEP,
            floor - DOT / 2 - 1 - n % _HIGH * _STEP,
            DOT,
        )
        for n, mark in enumerate(shown)
    ]
    if len(shown) < len(marks):
        x, y = left + DOT / 2 + 2 * _STEP, floor - (_HIGH - 1) * _STEP - 1
        shapes.append(Shape("label", x, y, height=11, text=f"+{len(marks) - len(shown)}"))
    return shapes


def _readings_in_words(days: Sequence[DayMarks]) -> str:
    told = []
    for each in days:
        counts = [each.marks.count(mark) for mark in _MARK]
        told.append(f"{each.day:%A}: {_in_words(*counts)}")
    return "; ".join(told) + "." if told else "No reading."


def _in_words(as_written: int, slips: int, unsure: int) -> str:
    parts = [
        text
        for count, text in (
            (as_written, f"{as_written} as written"),
            (slips, f"{slips} with a slip"),
            (unsure, f"{unsure} could not tell"),
        )
        if count
    ]
    return ", ".join(parts) or "none"


def _bars(
    columns: Sequence[tuple[Week, float, float]], most: int, labels: Sequence[str], says: str
) -> Picture:
    """Bars of full and outlined height side by side, a figure above and the week's Monday below."""
    step, wide, high, top = 62.0, 30.0, 56.0, 18.0
    unit = high / most if most else 0.0
    floor = top + high
    shapes = [Shape("line", 0, floor, step * len(columns))]
    for number, ((week, full, outlined), label) in enumerate(zip(columns, labels, strict=True)):
        middle = number * step + step / 2
        tall, above = full * unit, outlined * unit
        if tall:
            shapes.append(Shape("bar", middle - wide / 2, floor - tall, wide, tall))
        if above:
            shapes.append(Shape("open bar", middle - wide / 2, floor - tall - above, wide, above))
        if full or outlined:
            y = floor - tall - above - 4
            shapes.append(Shape("label", middle, y, height=13, text=label))
        kind: Kind = "strong label" if number == len(columns) - 1 else "label"
        shapes.append(Shape(kind, middle, floor + 17, height=13, text=_short(week)))
    return Picture(
        step * len(columns), floor + 24, tuple(shapes), f"{says}." if says else "Nothing."
    )


def _short(week: Week) -> str:
    return f"{week.monday.day} {week.monday:%b}"
