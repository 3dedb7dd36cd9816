"""SQLite's errors in words a family can act on, and the setting aside of a damaged log."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from companion.record.files import unwritable
from companion.record.trouble import (
    LogCorrupt,
    LogDisk,
    LogLocked,
    LogReadOnly,
    LogTrouble,
)

_PRIMARY = 0xFF  # the low byte of an extended result code (SQLite documentation, 'Result Codes')


def translated(error: sqlite3.Error, path: Path) -> LogTrouble | sqlite3.Error:
    """The error to raise for what SQLite said of the log at `path`.

    A misuse of SQLite by this program comes back as it is: it is a fault to report, not to word.
    """
    if isinstance(error, sqlite3.ProgrammingError | sqlite3.IntegrityError):
        return error
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & _PRIMARY
    why = f"the database reports: {error}"
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return LogLocked(
            f"The log {path} is in use",
            "another window or program has it open and is writing",
            "Close the other one, or wait for it to end, then try again. "
            "What was kept before is untouched.",
        )
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return LogReadOnly(
            f"The log {path} cannot be written",
            f"the file, its folder or its disk may not be changed ({why})",
            "Check who owns the folder and that the disk is not write-protected, "
            "or choose another place with --home. What was kept before is untouched.",
        )
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return LogCorrupt(f"The log {path} is damaged", why, "")
    if code in (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_NOMEM):
        return LogDisk(
            f"The log {path} could not be written or read",
            f"the disk is full or failing ({why})",
            "Free some space or mend the disk, then try again. "
            "Every turn committed before is kept; the last one is not.",
        )
    return LogTrouble(
        f"The log {path} could not be used",
        why,
        "Close other programs that use it and try again. What was kept before is untouched.",
    )


def set_aside(path: Path, why: str) -> LogCorrupt:
    """Move a damaged log out of the way, whole, and say where it is.

    Its journal goes first: left behind, it would be played into the next log of that name.

    Raises
    ------
    HomeUnwritable
        The folder does not let it be renamed; the file is where it was.
    """
    number = 1
    while (aside := path.with_name(f"{path.stem}-damaged-{number}{path.suffix}")).exists():
        number += 1
    try:
        journal = path.with_name(path.name + "-journal")
        if journal.exists():
            journal.rename(aside.with_name(aside.name + "-journal"))
        path.rename(aside)
    except OSError as error:
        raise unwritable(path, error) from error
    return LogCorrupt(
        f"The log {path} is damaged and has been set aside",
        why,
        f"It is kept, unchanged, as {aside}: copy it somewhere safe if you want it looked at. "
        "Run the same command again to go on with a fresh log. "
        "The damaged file is erased with everything else by: wordhearth consent --withdraw",
    )
