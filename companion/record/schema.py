"""The log's tables, one version after another, and the settings every connection has.

A rollback journal, not a write-ahead log: one writer commits one turn every few seconds, so there
is no speed to gain; a committed turn is then in one file, which can be copied, and wholly erased,
as it stands; and ``synchronous=EXTRA`` makes a commit outlast a power cut that follows at once
(SQLite documentation, 'PRAGMA Statements', synchronous: EXTRA also syncs the folder after the
journal is unlinked).
"""

from __future__ import annotations

import sqlite3

MIGRATIONS: tuple[str, ...] = (
    # 1: sittings, turns and tries; weekly counts for what has passed its eight weeks
    """
    CREATE TABLE sitting (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        started TEXT NOT NULL,
        day TEXT NOT NULL,
        list_name TEXT NOT NULL,
        accent TEXT,
        ended TEXT
    ) STRICT;
    CREATE TABLE turn (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        sitting INTEGER NOT NULL REFERENCES sitting(id) ON DELETE CASCADE,
        at TEXT NOT NULL,
        day TEXT NOT NULL,
        word TEXT NOT NULL,
        gpcs TEXT NOT NULL,
        overrule TEXT CHECK (overrule IN ('as_written', 'not', 'skip'))
    ) STRICT;
    CREATE INDEX turn_by_day ON turn (day);
    CREATE INDEX turn_by_sitting ON turn (sitting);
    CREATE TABLE try (
        turn INTEGER NOT NULL REFERENCES turn(id) ON DELETE CASCADE,
        number INTEGER NOT NULL CHECK (number >= 1),
        verdict TEXT NOT NULL CHECK (verdict IN
            ('as_written', 'slip', 'other_word', 'sounded_out', 'silent', 'unsure')),
        slip TEXT,
        gpc TEXT,
        heard TEXT NOT NULL,
        place_start INTEGER,
        place_end INTEGER,
        unit INTEGER,
        p TEXT NOT NULL,
        p_slip TEXT NOT NULL,
        ms REAL NOT NULL,
        evidence TEXT NOT NULL,
        PRIMARY KEY (turn, number)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE past_week (
        week TEXT PRIMARY KEY,
        counts TEXT NOT NULL
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE past_gpc (
        week TEXT NOT NULL REFERENCES past_week(week) ON DELETE CASCADE,
        gpc TEXT NOT NULL,
        counts TEXT NOT NULL,
        PRIMARY KEY (week, gpc)
    ) STRICT, WITHOUT ROWID;
    """,
)
"""SQL that takes a log from version n to n + 1; ``user_version`` counts those done."""

VERSION = len(MIGRATIONS)


def settings(db: sqlite3.Connection) -> None:
    """Set what SQLite forgets between connections."""
    db.execute("PRAGMA foreign_keys = ON")
    db.execute("PRAGMA secure_delete = ON")  # deleted rows are overwritten with zeros
    db.execute("PRAGMA synchronous = EXTRA")
    db.execute("PRAGMA temp_store = MEMORY")  # no word of a child's in a temporary file


def version(db: sqlite3.Connection) -> int:
    """How many migrations the log has seen."""
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def migrate(db: sqlite3.Connection) -> None:
    """Bring the log to `VERSION`, all steps or none.

    The version is read again inside the transaction: another program may have got there first.
    """
    if version(db) == VERSION:
        return
    db.execute("BEGIN IMMEDIATE")
    try:
        for script in MIGRATIONS[version(db) :]:
            for statement in script.split(";\n"):
                if statement.strip():
                    db.execute(statement)
        db.execute(f"PRAGMA user_version = {VERSION}")
    except BaseException:
        db.execute("ROLLBACK")
        raise
    db.execute("COMMIT")
