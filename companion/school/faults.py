"""What SQLite and the operating system say of a class book, in words a teacher can act on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from companion.school.trouble import BookBusy, BookDamaged, BookUnwritable

_PRIMARY = 0xFF  # the low byte of an extended result code (SQLite documentation, 'Result Codes')


def translated(error: sqlite3.Error | OSError, path: Path) -> Exception:
    """The error to raise for what was said of the book at `path`.

    A misuse of SQLite by this program comes back as it is: it is a fault to report, not to word.
    """
    if isinstance(error, OSError):
        return _unwritable(path, error.strerror or str(error))
    if isinstance(error, sqlite3.ProgrammingError | sqlite3.IntegrityError):
        return error
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & _PRIMARY
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return BookBusy(
            f"The class book {path} is in use",
            "another window or program is writing it",
            "Wait for it to end or close it, then try again. Nothing was changed.",
        )
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR):
        return damaged(path, f"the database reports: {error}")  # SQLITE_ERROR: no such table
    if code in (sqlite3.SQLITE_INTERNAL, sqlite3.SQLITE_MISUSE):
        return error
    return _unwritable(path, f"the database reports: {error}")


@contextmanager
def as_written_by_us(path: Path) -> Iterator[None]:
    """Turning rows into what they mean: a row that Wordhearth never wrote is damage.

    Raises
    ------
    BookDamaged
        In the place of what reading the row raised.
    """
    try:
        yield
    except (ValueError, TypeError, KeyError) as error:
        raise damaged(path, f"a row in it is not as it was written ({error})") from error


def damaged(path: Path, why: str) -> BookDamaged:
    """The error for a file that is no whole class book; nothing is moved or mended."""
    return BookDamaged(
        f"{path} is not a whole class book",
        why,
        "Put back the book from a backup, or name another with --book. The file is untouched.",
    )


def _unwritable(path: Path, why: str) -> BookUnwritable:
    return BookUnwritable(
        f"The class book {path} could not be written or read",
        why,
        "Check that you may write in its folder and that the disk has room, then try again. "
        "What was in the book before is untouched.",
    )
