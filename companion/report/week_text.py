"""The week sheet for a terminal: 80 columns, and the same meaning without colour."""

from __future__ import annotations

from io import StringIO

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS
from companion.report.week import STATES, SheetRow, WeekSheet
from companion.report.wording import SLIP_WORDS, VERDICT_WORDS

WIDTH = 80

_STATE_LINES = {
    "practise": "Practise: slips enough, on days and in words enough, to be worth some minutes",
    "not enough listened": "Not enough listened: nothing can be said yet",
    "secure": "Secure: read as written, on days and in words enough",
    "not yet taught": "Not yet taught: met in words, but not expected yet",
}


def to_text(found: WeekSheet, label: str | None = None) -> str:
    """The sheet as plain text of at most 80 columns."""
    console = Console(file=StringIO(), width=WIDTH, color_system=None, highlight=False)
    with console.capture() as capture:
        console.print(render(found, label))
    return "\n".join(line.rstrip() for line in capture.get().splitlines()) + "\n"


def render(found: WeekSheet, label: str | None = None) -> RenderableType:
    """The sheet for a rich console; `label` is the child's nickname or picture."""
    parts: list[RenderableType] = [_heading(found, label), Text(summary(found))]
    for state in STATES:
        rows = [row for row in found.rows if row.state == state]
        if rows:
            parts += [Text(), Text(_STATE_LINES[state], style="bold"), _table(rows)]
        if state != "not yet taught":
            parts += [Padding(line, (0, 0, 0, 4)) for row in rows for line in _slip_lines(row)]
    parts += [Text(), Text("Please keep in mind", style="bold")]
    parts += [_bullet(caution) for caution in CAUTIONS]
    return Group(*parts)


def span_in_words(week: Week) -> str:
    """``Monday 23 November to Sunday 29 November 2026``."""
    first, last = week.monday, week.sunday
    return f"Monday {first.day} {first:%B} to Sunday {last.day} {last:%B %Y}"


def _heading(found: WeekSheet, label: str | None) -> Text:
    child = f" · {label}" if label else ""
    return Text(f"Week sheet {found.week}{child}\n{span_in_words(found.week)}", style="bold")


def summary(found: WeekSheet) -> str:
    """Days and words of the week, and how they were read: a line each."""
    if not found.turns:
        return "Nothing was read in this week."
    days = ", ".join(f"{day:%a} {day.day}" for day in found.days)
    counted = [
        f"{found.verdicts[name]} {words}"
        for name, words in VERDICT_WORDS.items()
        if found.verdicts.get(name)
    ]
    if found.left_out:
        counted.append(f"{found.left_out} left out by an adult")
    lines = [
        f"Practised on {_many(len(found.days), 'day')}: {days}",
        f"{_many(found.turns, 'word')} read: {', '.join(counted)}",
    ]
    if found.overruled:
        lines.append(f"An adult had the last word on {found.overruled} of them.")
    return "\n".join(lines)


def _table(rows: list[SheetRow]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
    table.add_column("  Letters and sound", min_width=24, no_wrap=True)
    for heading in ("Readings", "As written", "Slips", "Unsure", "Days", "Words"):
        table.add_column(heading, justify="right")
    for row in rows:
        numbers = (
            row.readings,
            row.as_written,
            row.readings - row.as_written,
            row.could_not_tell,
            row.days,
            row.words,
        )
        table.add_row(f"  {_name(row)}", *map(str, numbers))
    return table


def _name(row: SheetRow) -> str:
    grapheme, _, sound = row.gpc.partition(" ")
    return f"{grapheme} as in {row.exemplar}" if row.exemplar else f"{grapheme} {sound}"


def _slip_lines(row: SheetRow) -> list[Text]:
    grapheme = row.gpc.partition(" ")[0]
    lines = [
        Text(f"{grapheme}: {SLIP_WORDS.get(kind, kind.replace('_', ' '))}: {_many(count, 'time')}")
        for kind, count in row.slips.items()
    ]
    if row.slipped_words:
        lines.append(Text(f"{grapheme}: slips in {', '.join(row.slipped_words)}"))
    return lines


def _bullet(text: str) -> Table:
    table = Table.grid(padding=(0, 1, 0, 0))
    table.add_row(" -", text)
    return table


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
