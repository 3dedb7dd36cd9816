"""Who can open the book: a new passphrase, and new keys for a new teacher or a lost passphrase.

A new lock leaves the class's key pair as it is: families notice nothing. New keys are for when the
old passphrase may be known to somebody who should no longer read summaries, or to nobody at all:
every home then needs a new family file, and says so by itself when it loads one. Summaries sealed
to the old key and not imported yet can be opened no more.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nacl.public import PrivateKey

from companion.school import lock, register
from companion.school.book import Book
from companion.school.lock import BookKey, Secret


@dataclass(frozen=True)
class HandedOver:
    """What a hand-over did.

    Attributes
    ----------
    key : BookKey
        What opens the book from now on.
    new_keys : bool
        Whether the class has a new key pair, so that each home needs a new family file.
    names_lost : int
        Names that nobody can read any more, taken out of the register.
    """

    key: BookKey
    new_keys: bool
    names_lost: int


def hand_over(
    book: Book,
    secret: Secret,
    *,
    new_keys: bool,
    home: Path | None = None,
    passes: int = lock.PASSES,
    memory_bytes: int = lock.MEMORY_BYTES,
) -> HandedOver:
    """Lock the book anew.

    Parameters
    ----------
    book : Book
        Opened with its key; without, where the passphrase is lost: then `new_keys` must be set.
    secret : Passphrase or Login
        What shall open it from now on.
    new_keys : bool
        Whether the class gets a new key pair too. The book's own key is drawn anew as well, and
        names are encrypted again, so that the old passphrase and an old copy of the book's lock
        open nothing that is written from now on.
    home : Path, optional
        Where a login's old key file lies; the user's data home when omitted.
    passes, memory_bytes : int
        See `companion.school.lock`.

    Raises
    ------
    BookLocked
        The book is open without its key, and `new_keys` is not set.
    BadPassphrase, BookBusy, BookUnwritable, HomeUnwritable
        Nothing was changed.
    """
    old = book.lock
    if new_keys:
        names = register.names(book) if book.key else {}
        locked, key = lock.make(secret, passes, memory_bytes)
        private = PrivateKey.generate()
    else:
        names = None
        locked, key = lock.relock(book.needs_key(), secret, passes, memory_bytes)
        private = book.private_key()
    with book.change() as db:
        book.relock(locked, private, key)
        lost = 0 if names is None else register.reseal(db, key, names)
    book.key = key
    book.vacuum()
    lock.forget(old, home)
    return HandedOver(key, new_keys, lost)
