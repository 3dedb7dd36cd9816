"""A child's history on one page of A4, for a conversation with the SENCo: facts and counts."""

from __future__ import annotations

from bisect import bisect_left
from datetime import date

from companion.report.paper import MM, Bold, Box, Paper, Text
from companion.report.wording import SLIP_WORDS, gpc_words
from companion.school.history import LATELY, Count, History, HistoryRow

WEEKS_SHOWN = 8
"""The latest weeks that get a column of their own; the sums before them count all."""

_HEAD: list[Text] = [
    "Letters and sound",
    "Taught",
    "Before",
    "Lately",
    "Unsure",
    "Slips",
    "In class",
]
_WIDTHS = (3.0, 1.4, 1.4, 1.4, 1.2, 6.6, 2.6)


def history_pdf(found: History, name: str | None = None) -> bytes:
    """Print a history: one page, however much is known.

    Parameters
    ----------
    found : History
        Of one pupil.
    name : str or None
        The pupil's name, printed only where the teacher asks for it; it is not put into the
        file's own description.

    Returns
    -------
    bytes
        A PDF of one A4 page.
    """
    paper = Paper(f"What was heard, {found.pupil}", "Counts of readings, for a talk at school.")
    whom = f"{name} · {found.pupil}" if name else found.pupil
    last = found.until.sunday
    body = paper.page(f"What was heard: {whom}", f"Up to {_day(last)}. Facts and counts only.")
    body = _home(paper, found, body)
    body = body.split_top(3 * MM)[1]
    _by_gpc(paper, found, body)
    return paper.finish()


def _home(paper: Paper, found: History, body: Box) -> Box:
    body = paper.write([Bold("Practice at home")], body, "heading")
    if not found.weeks:
        return paper.write("No summary was handed in. That says nothing about the child.", body)
    days = sum(each.days for each in found.weeks)
    words = sum(each.words for each in found.weeks)
    overruled = sum(each.overruled for each in found.weeks)
    lines = [
        f"{_many(len(found.weeks), 'week')} with a summary, {_many(days, 'day')} of practice, "
        f"{_many(words, 'word')} read. A week without a summary is not known, and is no gap.",
        f"At home an adult had the last word on {overruled} of the {words}."
        + (f" Accent chosen at home: {', '.join(found.accents)}." if found.accents else ""),
    ]
    for line in lines:
        body = paper.write(line, body, "small")
    shown = found.weeks[-WEEKS_SHOWN:]
    rows: list[list[Text]] = [
        ["Week from", *(f"{each.week.monday.day} {each.week.monday:%b}" for each in shown)],
        ["Days", *(str(each.days) for each in shown)],
        ["Words", *(str(each.words) for each in shown)],
    ]
    widths = [2.0, *(1.0 for _ in shown), *(1.0 for _ in range(WEEKS_SHOWN - len(shown)))]
    padded = [[*row, *("" for _ in range(WEEKS_SHOWN - len(shown)))] for row in rows]
    return paper.table(padded, widths, body.split_top(1 * MM)[1])


def _by_gpc(paper: Paper, found: History, body: Box) -> None:
    body = paper.write([Bold("Letters and sounds")], body, "heading")
    body = paper.write(
        f"As written, of all readings: before, and in the last {LATELY} weeks. "
        "In class: the teacher's own check.",
        body,
        "small",
    )
    told = [row for row in found.rows if row.slips or row.checks or row.could_not_tell]
    plain = [row for row in found.rows if row not in told]
    by_weight = sorted(told, key=lambda row: (-_weight(row), found.rows.index(row)))

    def sorted_out(number: int) -> tuple[list[list[Text]], list[str]]:
        """The table with so many rows, and the lines below it."""
        shown = sorted(by_weight[:number], key=found.rows.index)
        rest = sorted(by_weight[number:], key=found.rows.index)
        return [_HEAD, *map(_cells, shown)], _ends(rest, plain)

    def too_high(number: int) -> bool:
        cells, ends = sorted_out(number)
        lines = sum(paper.height_of(end, body.width, "fine") for end in ends)
        return paper.table_height(cells, _WIDTHS, body.width, "fine") + lines > body.height

    fitting = bisect_left(range(1, len(told) + 1), True, key=too_high)
    cells, ends = sorted_out(fitting)
    if fitting:
        body = paper.table(cells, _WIDTHS, body, "fine")
    for end in ends or ["Nothing was read yet."] * (not fitting):
        body = paper.write(end, body, "fine")


def _ends(rest: list[HistoryRow], plain: list[HistoryRow]) -> list[str]:
    """What has no row of its own, in a line each."""
    lines = []
    if rest:
        lines.append(f"With less to tell than those above: {_names(rest)}.")
    if plain:
        lines.append(f"As written at every reading: {_names(plain)}.")
    return lines


def _cells(row: HistoryRow) -> list[Text]:
    return [
        [Bold(gpc_words(row.gpc))],
        _short(row.taught) if row.taught else "not yet",
        _share(row.before),
        _share(row.lately),
        str(row.could_not_tell or "–"),
        _slips(row),
        _check(row),
    ]


def _slips(row: HistoryRow) -> str:
    """The commonest kind in words, without its example, and how many others."""
    named = [
        f"{SLIP_WORDS.get(kind, 'kind not given').partition(' (')[0]}: {number}"
        for kind, number in row.slips[:1]
    ]
    others = sum(number for _, number in row.slips[1:])
    return "; ".join([*named, *([f"others: {others}"] if others else [])]) or "–"


def _check(row: HistoryRow) -> str:
    if not row.checks:
        return "–"
    last = row.checks[0]
    how = "" if last.how == "ear" else " (listener)"
    return f"{last.as_written} of {last.words}, {_short(last.day)}{how}"


def _weight(row: HistoryRow) -> int:
    missed = sum(each.words - each.as_written for each in row.checks)
    return sum(number for _, number in row.slips) + 3 * missed + row.could_not_tell


def _share(count: Count) -> str:
    return f"{count.as_written} of {count.readings}" if count.readings else "–"


def _names(rows: list[HistoryRow]) -> str:
    return ", ".join(gpc_words(row.gpc) for row in rows)


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _short(day: date) -> str:
    return f"{day.day} {day:%b}"


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
