"""The grid as CSV for the school's own records: codes and counts, no name, one row a cell.

RFC 4180 in UTF-8 with a byte-order mark, ISO dates, no cell that a spreadsheet runs as a formula
(`companion.report.plain_csv`). A GPC that is not taught and that nobody has heard has no row.
``trust_roll_up.sql`` beside this module adds the exports of many schools up in DuckDB.
"""

from __future__ import annotations

from collections.abc import Iterator

from companion.report import plain_csv
from companion.school.grid import Cell, Grid, GridRow

FORMAT = 1

COLUMNS = (
    "format_version",
    "class_code",
    "week_start",
    "pupil_code",
    "gpc",
    "place",
    "state",
    "state_before",
    "decided_by",
    "readings",
    "as_written",
    "slips",
    "could_not_tell",
    "days",
    "words",
    "overruled",
    "check_day",
    "check_words",
    "check_as_written",
    "days_practised",
)
"""``place`` counts the columns from 1; ``days_practised`` is empty where no summary came; the
counts are of the last six weeks."""

Field = str | int


def to_bytes(grid: Grid) -> bytes:
    """The grid as a file's bytes; the same grid makes the same bytes."""
    return plain_csv.to_bytes([COLUMNS, *_records(grid)])


def file_name(grid: Grid) -> str:
    """What the file is called: ``grid-7K3QXM-2026-W48.csv``."""
    return f"grid-{grid.class_code}-{grid.week}.csv"


def _records(grid: Grid) -> Iterator[tuple[Field, ...]]:
    for row in grid.rows:
        for place, cell in enumerate(row.cells, start=1):
            if cell.state != "not yet taught" or cell.decided_by != "nothing":
                yield _record(grid, row, place, cell)


def _record(grid: Grid, row: GridRow, place: int, cell: Cell) -> tuple[Field, ...]:
    heard, check = cell.heard, cell.check
    return (
        FORMAT,
        grid.class_code,
        grid.week.monday.isoformat(),
        row.child.code,
        str(cell.gpc),
        place,
        cell.state,
        cell.before,
        cell.decided_by,
        heard.readings,
        heard.as_written,
        heard.slipped,
        heard.could_not_tell,
        heard.days,
        heard.words,
        heard.overruled,
        "" if check is None else check.day.isoformat(),
        "" if check is None else check.words,
        "" if check is None else check.as_written,
        "" if row.days is None else row.days,
    )
