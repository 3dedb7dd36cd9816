"""Erasing what the book holds of pupils, and showing that it is gone.

Rows are overwritten as they are deleted (``secure_delete``), the file is written anew without its
free pages, and then every byte of it is searched for what was erased. At the end of the year the
class gets a new code and new keys as well: sealed summaries that still lie in a mailbox or on a
memory stick can then be opened by nobody. What no program reaches, and the proof says so: backups
and copies of the book, and older copies of a block that a disk keeps to itself.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from nacl.public import PrivateKey

from companion.record.files import erase
from companion.school import lock, register
from companion.school.book import Book
from companion.school.faults import damaged

BEYOND_REACH = (
    "Not reached: backups and other copies of the book, what a disk keeps to itself, and what was "
    "printed or exported. Erase those as your school's policy says."
)


@dataclass(frozen=True)
class Erased:
    """What was erased, and the proof.

    Attributes
    ----------
    at : datetime
        When, aware.
    pupils, summaries, checks, places : int
        Rows of the register, weekly summaries, teacher's checks and places in groups that went.
    marks : int
        How many different codes, keys and encrypted names were then looked for in the file.
    left : int
        How many of them were found: 0.
    file_bytes : int
        Size of the file that was searched.
    sha256 : str
        Of that file, in hexadecimal.
    """

    at: datetime
    pupils: int
    summaries: int
    checks: int
    places: int
    marks: int
    left: int
    file_bytes: int
    sha256: str


def erase_pupil(book: Book, code: str, now: datetime) -> Erased:
    """Erase one pupil: register, summaries, checks, places in groups.

    Raises
    ------
    UnknownPupil
        The register has no such code.
    BookDamaged
        Something of it is still in the file; nothing else can be said of it.
    """
    register.one(book, code)
    return _erase(book, (code,), now)


def erase_year(book: Book, now: datetime) -> Erased:
    """Erase every pupil, and all groups; draw a new class code and new keys.

    Order, aids, what is taught and the lists stay: nothing in them is about a child.

    Raises
    ------
    BookLocked
        The book is open without its key.
    BookDamaged
        As `erase_pupil`.
    """
    key, locked = book.needs_key(), book.lock
    everyone = tuple(pupil.code for pupil in register.pupils(book, hidden=True))
    done = _erase(book, everyone, now)
    with book.change() as db:
        db.execute("DELETE FROM week_group")
        book.relock(locked, PrivateKey.generate(), key)
        book.new_code()
    book.vacuum()
    return done


def erase_book(path: Path, home: Path | None = None) -> int:
    """Overwrite and remove a whole book, its journal and its login key; how many files went.

    Raises
    ------
    BookMissing, BookDamaged, BookTooNew
        There is no book there: nothing else is erased in its place.
    """
    with Book.open(path) as book:
        locked = book.lock
    files = [path, *(path.with_name(path.name + end) for end in ("-journal", "-wal", "-shm"))]
    return sum(erase(each) for each in files) + lock.forget(locked, home)


def _erase(book: Book, codes: tuple[str, ...], now: datetime) -> Erased:
    counts = {"summary": 0, "heard_in_class": 0, "week_place": 0}
    marks: set[bytes] = set()
    with book.change() as db:
        for code in codes:
            row = db.execute(
                "SELECT name, family_key FROM pupil WHERE code = ?", (code,)
            ).fetchone()
            marks |= {code.encode(), *(part for part in row if part)}
            for table in counts:
                counts[table] += db.execute(
                    f"DELETE FROM {table} WHERE pupil = ?", (code,)
                ).rowcount
            db.execute("DELETE FROM pupil WHERE code = ?", (code,))
    book.vacuum()
    data = book.path.read_bytes()
    left = sum(mark in data for mark in marks)
    if left:
        raise damaged(book.path, f"{left} of what was erased can still be found in the file")
    return Erased(
        at=now,
        pupils=len(codes),
        summaries=counts["summary"],
        checks=counts["heard_in_class"],
        places=counts["week_place"],
        marks=len(marks),
        left=left,
        file_bytes=len(data),
        sha256=hashlib.sha256(data).hexdigest(),
    )
