"""The class book: one SQLite file, kept at school, that only the teacher opens.

`Book.start` makes one, `unlock` turns a passphrase or login into a `BookKey` (slow, on purpose),
and `Book.open` opens it with that key, or without one: then codes and counts can be read and lists
written, but no name is shown and no summary can be opened.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from nacl.public import PrivateKey

from companion.record import codes
from companion.record.home import data_home
from companion.record.schema import settings
from companion.school import lock, schema
from companion.school.faults import damaged, translated
from companion.school.lock import BookKey, Lock, Secret
from companion.school.trouble import BookExists, BookLocked, BookMissing, BookTooNew

WAIT_S = 5.0
"""Seconds to wait for another program to finish with the book before saying it is busy."""
FILE = "class-book.db"
_PRIVATE = "private key"


def default_path(home: str | Path | None = None) -> Path:
    """Where a book is when no other place is named: ``class-book.db`` in the data home."""
    return data_home(home) / FILE


def unlock(path: Path, secret: Secret) -> BookKey:
    """The key of the book at `path`; takes a good part of a second for a passphrase.

    Raises
    ------
    BookLocked
        It does not fit.
    BookMissing, BookDamaged, BookTooNew
        As `Book.open`.
    """
    with Book.open(path) as book:
        return lock.unlock(book.lock, secret)


class Book:
    """An open class book. Close it, or use it in a ``with`` statement; one thread at a time.

    Attributes
    ----------
    path : Path
        The file.
    key : BookKey or None
        None where it was opened without.
    """

    def __init__(self, path: Path, db: sqlite3.Connection, key: BookKey | None) -> None:
        self.path = path
        self.key = key
        self._db = db

    @classmethod
    def start(
        cls,
        path: Path,
        secret: Secret,
        now: datetime,
        passes: int = lock.PASSES,
        memory_bytes: int = lock.MEMORY_BYTES,
    ) -> Book:
        """Make a new book, with a new class code and new keys, and open it.

        Parameters
        ----------
        path : Path
            The file; its folder is made (readable by this user only) when missing.
        secret : Passphrase or Login
            What shall open it.
        now : datetime
            Aware.
        passes, memory_bytes : int
            Argon2id's cost, see `companion.school.lock`.

        Raises
        ------
        BookExists
            Something is there already.
        BadPassphrase, BookUnwritable, HomeUnwritable
            Nothing was made.
        """
        if path.exists() or path.is_symlink():
            raise BookExists(
                f"No class book was started at {path}",
                "there is a file of that name already",
                "Open it with 'wordhearth class list', or name another place with --book.",
            )
        locked, key = lock.make(secret, passes, memory_bytes)
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        except OSError as error:
            raise translated(error, path) from error
        try:
            book = cls(path, _connect(path, WAIT_S), key)
            with book._gate():
                settings(book._db)
                book._migrate()
            book._write_first(locked, key, now)
        except BaseException:
            for left in (path, path.with_name(path.name + "-journal")):
                with suppress(OSError):
                    left.unlink()
            raise
        return book

    @classmethod
    def open(cls, path: Path, key: BookKey | None = None, wait_s: float = WAIT_S) -> Book:
        """Open a book and check that it is whole.

        Raises
        ------
        BookMissing
            Nothing there: a book is only made by `start`.
        BookDamaged, BookTooNew, BookBusy, BookUnwritable
            See `companion.school.trouble`; the file is left as it is.
        """
        if not path.is_file():
            raise BookMissing(
                f"There is no class book at {path}",
                "no file of that name was found",
                "Start one with 'wordhearth class start', or name the place with --book.",
            )
        book = cls(path, _connect(path, wait_s), key)
        try:
            with book._gate():
                book._prepare()
        except BaseException:
            book.close()
            raise
        return book

    def close(self) -> None:
        """Let go of the file. Closing twice is harmless."""
        self._db.close()

    def __enter__(self) -> Book:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # -- what every part of the school uses ------------------------------------------------

    @contextmanager
    def change(self, kind: str = "IMMEDIATE") -> Iterator[sqlite3.Connection]:
        """A transaction: all of it is on disk when this ends without an error, or none of it."""
        with self._gate():
            self._db.execute(f"BEGIN {kind}")
            try:
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    @contextmanager
    def read(self) -> Iterator[sqlite3.Connection]:
        """Several reads of the same moment; joins a transaction that is open."""
        with self._gate():
            if self._db.in_transaction:
                yield self._db
                return
            self._db.execute("BEGIN")
            try:
                yield self._db
            finally:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")

    def vacuum(self) -> None:
        """Write the file anew without its free pages; not inside a transaction."""
        with self._gate():
            self._db.execute("VACUUM")

    @property
    def code(self) -> str:
        """The class's code."""
        return str(self._cell("class_code"))

    @property
    def public_key(self) -> bytes:
        """The class's X25519 public key, 32 bytes."""
        return bytes(self._cell("public_key"))

    @property
    def lock(self) -> Lock:
        """What the book keeps of its lock."""
        try:
            return Lock.from_json(self._cell("lock"))
        except ValueError as error:
            raise damaged(self.path, str(error)) from error

    def needs_key(self) -> BookKey:
        """The key.

        Raises
        ------
        BookLocked
            The book was opened without.
        """
        if self.key is None:
            raise BookLocked(
                "The class book is open without its key",
                "names and sealed summaries need the passphrase or the login",
                "Open it with the passphrase and try again.",
            )
        return self.key

    def private_key(self) -> PrivateKey:
        """The key that opens families' summaries; errors as `needs_key`."""
        return PrivateKey(self.needs_key().decrypt(self._cell("private_key"), _PRIVATE))

    def relock(self, locked: Lock, private: PrivateKey, key: BookKey) -> None:
        """Put another lock and key pair in the place of the present ones, inside a `change`."""
        self._db.execute(
            "UPDATE book SET lock = ?, public_key = ?, private_key = ?",
            (locked.to_json(), bytes(private.public_key), key.encrypt(bytes(private), _PRIVATE)),
        )

    def new_code(self) -> None:
        """Draw another class code, inside a `change`."""
        self._db.execute("UPDATE book SET class_code = ?", (codes.draw(),))

    # -- the file itself -------------------------------------------------------------------

    def _cell(self, column: str) -> Any:
        with self._gate():
            row = self._db.execute(f"SELECT {column} FROM book").fetchone()
        if row is None:
            raise damaged(self.path, "its first page is empty")
        return row[0]

    def _write_first(self, locked: Lock, key: BookKey, now: datetime) -> None:
        if now.utcoffset() is None:
            raise ValueError("a class book needs a time with its offset from UTC")
        private = PrivateKey.generate()
        with self.change() as db:
            db.execute(
                "INSERT INTO book (id, class_code, made, lock, public_key, private_key)"
                " VALUES (1, ?, ?, ?, ?, ?)",
                (
                    codes.draw(),
                    now.isoformat(timespec="seconds"),
                    locked.to_json(),
                    bytes(private.public_key),
                    key.encrypt(bytes(private), _PRIVATE),
                ),
            )

    def _prepare(self) -> None:
        settings(self._db)
        self._db.execute("PRAGMA trusted_schema = OFF")  # a book may come from elsewhere
        if self._pragma("application_id") != schema.APPLICATION_ID:
            raise damaged(self.path, "it is a database of some other kind")
        if self._pragma("user_version") > schema.VERSION:
            raise BookTooNew(
                f"The class book {self.path} was written by a later version of Wordhearth",
                "this version does not know all that it holds",
                "Install the later version here too. The book is untouched.",
            )
        fault = self._db.execute("PRAGMA quick_check(1)").fetchone()[0]
        if fault != "ok":
            raise damaged(self.path, f"the database's own check reports: {fault}")
        self._migrate()

    def _pragma(self, name: str) -> int:
        return int(self._db.execute(f"PRAGMA {name}").fetchone()[0])

    def _migrate(self) -> None:
        if self._pragma("user_version") == schema.VERSION:
            return
        self._db.execute("BEGIN IMMEDIATE")
        try:
            for script in schema.MIGRATIONS[self._pragma("user_version") :]:
                for statement in script.split(";\n"):
                    if statement.strip():
                        self._db.execute(statement)
            self._db.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
            self._db.execute(f"PRAGMA user_version = {schema.VERSION}")
        except BaseException:
            self._db.execute("ROLLBACK")
            raise
        self._db.execute("COMMIT")

    @contextmanager
    def _gate(self) -> Iterator[None]:
        """The one place where SQLite's errors become ours."""
        try:
            yield
        except sqlite3.Error as error:
            raise translated(error, self.path) from error
        except UnicodeDecodeError as error:  # a text that is none, in a row or in the schema
            raise damaged(self.path, f"it holds a text that is none ({error.reason})") from error


def _connect(path: Path, wait_s: float) -> sqlite3.Connection:
    try:
        return sqlite3.connect(path, timeout=wait_s, isolation_level=None)
    except sqlite3.Error as error:
        raise translated(error, path) from error
