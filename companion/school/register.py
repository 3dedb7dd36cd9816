"""The register: pupils by code, and, if the teacher wants, names that never leave the book.

A name is encrypted (`companion.school.lock`), shown only where the book was opened with its key,
and in no file, export or log. Each pupil's entry also holds the family's public signing key, once
one has been accepted.
"""

from __future__ import annotations

import sqlite3
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from companion.record import codes
from companion.school.book import Book
from companion.school.faults import as_written_by_us
from companion.school.lock import BookKey
from companion.school.trouble import BadEntry, UnknownPupil

NAME_MAX = 60
"""Characters in the longest name."""
PUPILS_MAX = 500
"""Pupils in the largest book: a year group, not a school."""


@dataclass(frozen=True)
class Pupil:
    """One line of the register.

    Attributes
    ----------
    code : str
        The pupil's code.
    name : str or None
        As the teacher entered it; None where none was, or the book is open without its key.
    added : date
        When the code was made.
    hidden : date or None
        Since when the pupil is left out of grid and groups (away, moved); None while shown.
    family_key : bytes or None
        The family's Ed25519 public key, 32 bytes, once accepted.
    key_since : date or None
        When it was accepted.
    """

    code: str
    name: str | None = field(repr=False)
    added: date
    hidden: date | None
    family_key: bytes | None
    key_since: date | None


def add(book: Book, now: datetime, name: str | None = None) -> Pupil:
    """Draw a code for a new pupil; a name needs the book's key.

    Raises
    ------
    BadEntry
        A name that is too long or holds control characters, or a full register.
    BookLocked
        A name, and no key.
    """
    sealed: bytes | None = None
    with book.change() as db:
        taken = {code for (code,) in db.execute("SELECT code FROM pupil")}
        if len(taken) >= PUPILS_MAX:
            raise BadEntry(
                "No pupil was added",
                f"a class book holds at most {PUPILS_MAX}",
                "Start another book for another class.",
            )
        code = next(each for each in iter(codes.draw, "") if each not in taken)
        if name is not None:
            sealed = _sealed(book, code, name)
        db.execute(
            "INSERT INTO pupil (code, name, added) VALUES (?, ?, ?)",
            (code, sealed, now.date().isoformat()),
        )
    return one(book, code)


def pupils(book: Book, *, hidden: bool = False) -> tuple[Pupil, ...]:
    """The register: by name where names can be read (nameless last), then by code.

    Parameters
    ----------
    book : Book
        Any.
    hidden : bool
        Whether hidden pupils are given too.
    """
    with book.read() as db:
        rows = db.execute(f"SELECT {_COLUMNS} FROM pupil").fetchall()
    found = [_pupil(book, row) for row in rows]
    shown = [each for each in found if hidden or each.hidden is None]
    return tuple(
        sorted(shown, key=lambda each: (each.name is None, (each.name or "").casefold(), each.code))
    )


def one(book: Book, code: str) -> Pupil:
    """One pupil, by code as `companion.record.codes.read` gives it.

    Raises
    ------
    UnknownPupil
        The register has no such code.
    """
    with book.read() as db:
        row = db.execute(f"SELECT {_COLUMNS} FROM pupil WHERE code = ?", (code,)).fetchone()
    if row is None:
        raise unknown(code)
    return _pupil(book, row)


def rename(book: Book, code: str, name: str | None) -> None:
    """Write, change or (None) take out a name; errors as `add` and `one`."""
    with book.change() as db:
        sealed = None if name is None else _sealed(book, code, name)
        _update(db, code, "name", sealed)


def hide(book: Book, code: str, since: date | None) -> None:
    """Leave a pupil out of grid and groups from a day on, or (None) show the pupil again.

    What was handed in stays, and more may still be imported.
    """
    with book.change() as db:
        _update(db, code, "hidden", None if since is None else since.isoformat())


def forget_key(book: Book, code: str) -> None:
    """Forget a family's key, so that the next summary's key is asked about like a first one."""
    with book.change() as db:
        _update(db, code, "key_since", None)
        _update(db, code, "family_key", None)


def keep_key(db: sqlite3.Connection, code: str, key: bytes, day: date) -> None:
    """Keep a family's public key from a day on, inside a transaction (`Book.change`)."""
    _update(db, code, "family_key", key)
    _update(db, code, "key_since", day.isoformat())


def names(book: Book) -> dict[str, str]:
    """Code to name, of pupils who have one; errors as `Book.needs_key` and `BookKey.decrypt`."""
    book.needs_key()
    everyone = pupils(book, hidden=True)
    return {each.code: each.name for each in everyone if each.name is not None}


def reseal(db: sqlite3.Connection, key: BookKey, known: Mapping[str, str]) -> int:
    """Encrypt names under another key, inside a transaction; how many others were taken out."""
    before = {code for (code,) in db.execute("SELECT code FROM pupil WHERE name IS NOT NULL")}
    for code in before:
        name = known.get(code)
        _update(db, code, "name", name and key.encrypt(name.encode(), _what(code)))
    return len(before - known.keys())


def unknown(code: str) -> UnknownPupil:
    """The error for a code that the register does not have."""
    return UnknownPupil(
        f"There is no pupil {code} in this class book",
        "the register has no such code",
        "See the codes with: wordhearth class pupil list",
    )


_COLUMNS = "code, name, added, hidden, family_key, key_since"


def _pupil(
    book: Book, row: tuple[str, bytes | None, str, str | None, bytes | None, str | None]
) -> Pupil:
    code, sealed, added, hidden, key, since = row
    name = None
    if sealed is not None and book.key is not None:
        name = book.key.decrypt(sealed, _what(code)).decode()
    with as_written_by_us(book.path):
        return Pupil(
            code=code,
            name=name,
            added=date.fromisoformat(added),
            hidden=None if hidden is None else date.fromisoformat(hidden),
            family_key=key,
            key_since=None if since is None else date.fromisoformat(since),
        )


def _sealed(book: Book, code: str, name: str) -> bytes:
    plain = unicodedata.normalize("NFC", " ".join(name.split()))
    strange = [each for each in plain if unicodedata.category(each).startswith("C")]
    if not plain or len(plain) > NAME_MAX or strange:
        raise BadEntry(
            "This name was not taken",
            f"a name is 1 to {NAME_MAX} characters that can be seen",
            "Shorten it, or leave it out: the code is enough.",
        )
    return book.needs_key().encrypt(plain.encode(), _what(code))


def _what(code: str) -> str:
    return f"name of pupil {code}"


def _update(db: sqlite3.Connection, code: str, column: str, value: str | bytes | None) -> None:
    done = db.execute(f"UPDATE pupil SET {column} = ? WHERE code = ?", (value, code))
    if done.rowcount == 0:
        raise unknown(code)
