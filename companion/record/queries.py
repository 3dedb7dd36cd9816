"""What is asked of the log's tables, each question in one place. They write nothing."""

from __future__ import annotations

import sqlite3
from datetime import date

from companion.record import rows
from companion.record.turns import KeptTurn
from companion.record.weeks import Week

_TURN = "id, sitting, at, day, word, gpcs, overrule"


def turns(db: sqlite3.Connection, first: date | None, last: date | None) -> tuple[KeptTurn, ...]:
    """Turns from day `first` to day `last`, both included, in the order they were read."""
    span = ((first or date.min).isoformat(), (last or date.max).isoformat())
    tries = db.execute(
        f"SELECT {rows.TRY_COLUMNS} FROM try WHERE turn IN"
        " (SELECT id FROM turn WHERE day BETWEEN ? AND ?) ORDER BY turn, number",
        span,
    ).fetchall()
    found = db.execute(
        f"SELECT {_TURN} FROM turn WHERE day BETWEEN ? AND ? ORDER BY id", span
    ).fetchall()
    return rows.to_turns(found, tries)


def turn(db: sqlite3.Connection, number: int) -> KeptTurn | None:
    """One turn by its number; None where no single reading with it is kept."""
    found = db.execute(f"SELECT {_TURN} FROM turn WHERE id = ?", (number,)).fetchall()
    tries = db.execute(
        f"SELECT {rows.TRY_COLUMNS} FROM try WHERE turn = ? ORDER BY number", (number,)
    ).fetchall()
    return rows.to_turns(found, tries)[0] if found else None


def counted(db: sqlite3.Connection, first: date, last: date) -> tuple[KeptTurn, ...]:
    """Turns with what `tally` asks of them and no more, in the order they were read.

    Only the try that counts is read, without what was heard or how sure it was: that is less than
    half of the time.
    """
    found = db.execute(
        "SELECT id, day, word, gpcs, overrule, verdict, slip, gpc, evidence FROM turn"
        " LEFT JOIN try ON try.turn = id"
        " AND number = (SELECT max(number) FROM try WHERE try.turn = id)"
        " WHERE day BETWEEN ? AND ? ORDER BY id",
        (first.isoformat(), last.isoformat()),
    )
    return rows.to_counted(found)


def count(db: sqlite3.Connection, first: date, last: date) -> int:
    """How many turns there are from day `first` to day `last`."""
    span = (first.isoformat(), last.isoformat())
    found = db.execute("SELECT count(*) FROM turn WHERE day BETWEEN ? AND ?", span).fetchone()
    return int(found[0])


def moments(db: sqlite3.Connection, most: int) -> tuple[str, ...]:
    """`at` of some turns, the first and the last among them, at most `most`."""
    first, last = db.execute("SELECT min(id), max(id) FROM turn").fetchone()
    if first is None:
        return ()
    wanted = [first + (last - first) * n // max(1, most - 1) for n in range(most)]
    nearest = "SELECT at FROM turn WHERE id >= ? ORDER BY id LIMIT 1"
    found = (db.execute(nearest, (number,)).fetchone()[0] for number in wanted)
    return tuple(dict.fromkeys(found))


def past_weeks(db: sqlite3.Connection) -> tuple[Week, ...]:
    """The weeks of which only counts are kept, in order."""
    found = db.execute("SELECT week FROM past_week ORDER BY week")
    return tuple(Week.parse(week) for (week,) in found)


def weeks_read(db: sqlite3.Connection) -> tuple[Week, ...]:
    """The weeks with anything in them, in order.

    Days are found by stepping from one to the next along their index (SQLite documentation, 'WITH
    RECURSIVE'): ten years have 3,650 days in 200,000 readings.
    """
    days = db.execute(
        "WITH RECURSIVE step(day) AS (SELECT min(day) FROM turn UNION ALL"
        " SELECT (SELECT min(day) FROM turn WHERE day > step.day) FROM step"
        " WHERE step.day IS NOT NULL) SELECT day FROM step WHERE day IS NOT NULL"
    )
    found = {Week.of(date.fromisoformat(day)) for (day,) in days}
    return tuple(sorted(found.union(past_weeks(db))))


def span(db: sqlite3.Connection) -> tuple[Week, Week] | None:
    """The first and the last week with anything in them; None where there is nothing."""
    days = db.execute("SELECT min(day), max(day) FROM turn").fetchone()
    past = db.execute("SELECT min(week), max(week) FROM past_week").fetchone()
    found = [Week.of(date.fromisoformat(day)) for day in days if day]
    found += [Week.parse(week) for week in past if week]
    return (min(found), max(found)) if found else None


def weeks_before(db: sqlite3.Connection, before: date) -> list[Week]:
    """The weeks with single readings that ended before a day, in order."""
    days = db.execute("SELECT DISTINCT day FROM turn WHERE day < ?", (before.isoformat(),))
    weeks = {Week.of(date.fromisoformat(day)) for (day,) in days}
    return sorted(week for week in weeks if week.sunday < before)
