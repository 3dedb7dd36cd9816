"""The class book's tables, one version after another.

The settings of each connection are those of the log (`companion.record.schema.settings`): a commit
is on disk when it returns, a deleted row is overwritten, and nothing lands in a temporary file.

What is encrypted: ``book.private_key`` and ``pupil.name`` (XChaCha20-Poly1305 under a random
key that is itself locked by the passphrase, see `companion.school.lock`). What is not: everything
else, which holds codes and counts and no name, so that the grid can be drawn, and the book mended,
without the key. Keep the file where the school keeps its registers all the same.
"""

from __future__ import annotations

MIGRATIONS: tuple[str, ...] = (
    # 1: the book, what is taught, the register, what families handed in, groups, teacher's checks
    """
    CREATE TABLE book (
        id INTEGER PRIMARY KEY CHECK (id = 1),
        class_code TEXT NOT NULL,
        made TEXT NOT NULL,
        lock TEXT NOT NULL,
        public_key BLOB NOT NULL,
        private_key BLOB NOT NULL,
        accent TEXT,
        csv_taken INTEGER NOT NULL DEFAULT 0 CHECK (csv_taken IN (0, 1))
    ) STRICT;
    CREATE TABLE ordering (
        place INTEGER PRIMARY KEY CHECK (place >= 1),
        gpc TEXT NOT NULL UNIQUE
    ) STRICT;
    CREATE TABLE taught (
        gpc TEXT PRIMARY KEY,
        since TEXT NOT NULL
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE aid (
        kind TEXT NOT NULL CHECK (kind IN ('phrase', 'picture', 'exception')),
        subject TEXT NOT NULL,
        text TEXT NOT NULL,
        PRIMARY KEY (kind, subject)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE weekly_list (
        week TEXT NOT NULL,
        number INTEGER NOT NULL CHECK (number >= 0),
        text TEXT NOT NULL,
        PRIMARY KEY (week, number)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE pupil (
        code TEXT PRIMARY KEY,
        name BLOB,
        added TEXT NOT NULL,
        hidden TEXT,
        family_key BLOB,
        key_since TEXT
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE summary (
        pupil TEXT NOT NULL REFERENCES pupil(code) ON DELETE CASCADE,
        week TEXT NOT NULL,
        source TEXT NOT NULL CHECK (source IN ('sealed', 'csv')),
        family_key BLOB,
        number INTEGER NOT NULL,
        made_at TEXT NOT NULL,
        imported_at TEXT NOT NULL,
        accents TEXT NOT NULL,
        days INTEGER NOT NULL,
        verdicts TEXT NOT NULL,
        left_out INTEGER NOT NULL,
        overruled INTEGER NOT NULL,
        PRIMARY KEY (pupil, week)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX summary_by_week ON summary (week);
    CREATE TABLE summary_row (
        pupil TEXT NOT NULL,
        week TEXT NOT NULL,
        gpc TEXT NOT NULL,
        as_written INTEGER NOT NULL,
        slips TEXT NOT NULL,
        could_not_tell INTEGER NOT NULL,
        sounded_out INTEGER NOT NULL,
        other INTEGER NOT NULL,
        days INTEGER NOT NULL,
        words INTEGER NOT NULL,
        words_lately INTEGER NOT NULL,
        overruled INTEGER NOT NULL,
        PRIMARY KEY (pupil, week, gpc),
        FOREIGN KEY (pupil, week) REFERENCES summary(pupil, week) ON DELETE CASCADE
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE heard_in_class (
        pupil TEXT NOT NULL REFERENCES pupil(code) ON DELETE CASCADE,
        gpc TEXT NOT NULL,
        day TEXT NOT NULL,
        words INTEGER NOT NULL CHECK (words >= 1),
        as_written INTEGER NOT NULL CHECK (as_written BETWEEN 0 AND words),
        how TEXT NOT NULL CHECK (how IN ('ear', 'listener')),
        PRIMARY KEY (pupil, gpc, day)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE week_group (
        week TEXT NOT NULL,
        number INTEGER NOT NULL CHECK (number >= 1),
        slot INTEGER NOT NULL CHECK (slot >= 1),
        adult INTEGER NOT NULL CHECK (adult >= 1),
        gpc TEXT NOT NULL,
        locked INTEGER NOT NULL DEFAULT 0 CHECK (locked IN (0, 1)),
        detail TEXT NOT NULL,
        PRIMARY KEY (week, number)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE week_place (
        week TEXT NOT NULL,
        pupil TEXT NOT NULL REFERENCES pupil(code) ON DELETE CASCADE,
        number INTEGER NOT NULL CHECK (number >= 0),
        gpc TEXT NOT NULL,
        locked INTEGER NOT NULL DEFAULT 0 CHECK (locked IN (0, 1, 2)),
        detail TEXT NOT NULL,
        PRIMARY KEY (week, pupil, number, gpc)
    ) STRICT, WITHOUT ROWID;
    """,
)
"""SQL that takes a book from version n to n + 1; ``user_version`` counts those done.

``lock`` is JSON (`companion.school.lock.Lock`). ``weekly_list.number`` and ``week_place.number``
are a group's number in its week; 0 is the whole class, and a place 0 is the keep-up list. A place's
``locked`` is 1 where the teacher said 'keep in this group' and 2 for 'keep out of it'.
``detail`` is JSON of the groups' own making (reason, check words, caption).
"""

APPLICATION_ID = 0x57484342
"""``WHCB``: what a class book says it is in SQLite's header, so that no other file is taken."""

VERSION = len(MIGRATIONS)
