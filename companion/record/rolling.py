"""What goes out of a log: a week's single readings into counts, or everything."""

from __future__ import annotations

import sqlite3

from companion.record import queries, rows
from companion.record.tally import joined, tally
from companion.record.weeks import Week

SPARE_PAGES_MIN = 64
"""Fewer free pages (of 4 KiB) are soon used again, and not worth writing the file anew."""


def roll_up_week(db: sqlite3.Connection, week: Week) -> int:
    """Turn one week's single readings into counts, inside a transaction; how many there were."""
    turns = queries.counted(db, week.monday, week.sunday)
    counts, past = tally(turns), rows.read_past(db, week)
    rows.write_past(db, week, counts if past is None else joined(past, counts))
    span = (week.monday.isoformat(), week.sunday.isoformat())
    db.execute("DELETE FROM turn WHERE day BETWEEN ? AND ?", span)
    db.execute(
        "DELETE FROM sitting WHERE day <= ?"
        " AND NOT EXISTS (SELECT 1 FROM turn WHERE turn.sitting = sitting.id)",
        (week.sunday.isoformat(),),
    )
    return len(turns)


def clear(db: sqlite3.Connection) -> int:
    """Delete every row, inside a transaction; how many turns there were."""
    count = int(db.execute("SELECT count(*) FROM turn").fetchone()[0])
    for table in ("try", "turn", "sitting", "past_gpc", "past_week", "sqlite_sequence"):
        db.execute(f"DELETE FROM {table}")
    return count


def has_much_to_spare(db: sqlite3.Connection) -> bool:
    """Whether a quarter of the file or more is free pages, which deleting has left."""
    free = int(db.execute("PRAGMA freelist_count").fetchone()[0])
    pages = int(db.execute("PRAGMA page_count").fetchone()[0])
    return free >= SPARE_PAGES_MIN and 4 * free >= pages
