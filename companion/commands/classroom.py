"""What the class commands share: which book, how it is opened, which week, which pupil."""

from __future__ import annotations

import argparse
import getpass
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

from companion.commands import household
from companion.phonics.decodable import named
from companion.phonics.gpc import Gpc, Order
from companion.record import codes
from companion.record.home import data_home
from companion.record.trouble import BadCode
from companion.record.weeks import Week
from companion.school import lock
from companion.school.book import Book, default_path
from companion.school.lock import BookKey, Login, Passphrase, Secret
from companion.school.register import Pupil
from companion.school.trouble import BadEntry, BookLocked

PASSPHRASE_BYTES_MAX = 4096


def add_book(parser: argparse.ArgumentParser) -> None:
    """Add --book, --passphrase-file and --home."""
    add_place(parser)
    parser.add_argument(
        "--passphrase-file",
        metavar="FILE",
        help="read the passphrase from a file's first line instead of asking; - for a pipe",
    )


def add_place(parser: argparse.ArgumentParser) -> None:
    """Add --book and --home."""
    parser.add_argument(
        "--book",
        metavar="FILE",
        type=Path,
        help="the class book (default: class-book.db where this user's data is kept)",
    )
    parser.add_argument(
        "--home",
        metavar="FOLDER",
        help="where the book and the login's key are kept (default: this user's data folder)",
    )


def add_week(parser: argparse.ArgumentParser, default: str, what: str) -> None:
    """Add --week."""
    parser.add_argument(
        "--week",
        default=default,
        metavar="WEEK",
        help=f"{what}: last, this, next, or an ISO week such as 2026-W48 (default: {default})",
    )


def book_path(args: argparse.Namespace) -> Path:
    """The book that the arguments name."""
    return args.book.expanduser() if args.book else default_path(args.home)


@contextmanager
def opened(args: argparse.Namespace, *, key: bool | None = None) -> Iterator[Book]:
    """The class book, open.

    Parameters
    ----------
    args : argparse.Namespace
        With what `add_book` adds.
    key : bool or None
        True: with its key, asking for a passphrase. False: without. None: with it where that
        needs no question (a login, or a passphrase file).

    Raises
    ------
    BookLocked
        The passphrase does not fit, or there is nobody to ask.
    """
    path = book_path(args)
    with Book.open(path) as book:
        if key or (key is None and _unasked(args, book)):
            book.key = unlock(args, book)
        yield book


def unlock(args: argparse.Namespace, book: Book) -> BookKey:
    """The key of an open book, asking for the passphrase where it has one."""
    if book.lock.way == "login":
        return lock.unlock(book.lock, Login(data_home(args.home)))
    return lock.unlock(book.lock, Passphrase(_passphrase(args, "Passphrase of the class book: ")))


def new_secret(args: argparse.Namespace) -> Secret:
    """What shall open a book from now on: the login, or a passphrase typed twice."""
    if args.login:
        return Login(data_home(args.home))
    first = _passphrase(args, "New passphrase, three or four words: ")
    if args.passphrase_file is None and getpass.getpass("The same again: ") != first:
        raise BadEntry(
            "The passphrases were not the same", "one of the two was miswritten", "Try again."
        )
    return Passphrase(first)


def week(text: str) -> Week:
    """A week as a teacher writes it.

    Raises
    ------
    BadEntry
        Another word.
    """
    today = household.now().date()
    near = {"last": -7, "this": 0, "next": 7}
    if text in near:
        return Week.of(today + timedelta(days=near[text]))
    try:
        return Week.parse(text)
    except ValueError as error:
        raise BadEntry(
            f"{text!r} is not a week",
            str(error),
            "Write: last, this, next, or a week such as 2026-W48.",
        ) from error


def gpcs(texts: list[str], order: Order) -> tuple[Gpc, ...]:
    """The GPCs a teacher names; a grapheme alone means the values taught together."""
    return tuple(dict.fromkeys(gpc for text in texts for gpc in named(text, order)))


def code(text: str) -> str:
    """A pupil's code as typed, for argparse."""
    try:
        return codes.read(text)
    except BadCode as error:
        raise argparse.ArgumentTypeError(str(error)) from error


def called(pupil: Pupil) -> str:
    """A pupil on the teacher's screen: code, and name where it can be read."""
    return f"{pupil.code}  {pupil.name}" if pupil.name else pupil.code


def yes(question: str) -> bool:
    """Ask; only a typed y or yes is a yes."""
    try:
        return input(f"{question} [y/N] ").strip().lower() in ("y", "yes")
    except EOFError:
        return False


def _unasked(args: argparse.Namespace, book: Book) -> bool:
    return book.lock.way == "login" or args.passphrase_file is not None


def _passphrase(args: argparse.Namespace, question: str) -> str:
    if args.passphrase_file == "-":
        return sys.stdin.readline(PASSPHRASE_BYTES_MAX)
    if args.passphrase_file is not None:
        try:
            with Path(args.passphrase_file).open(encoding="utf-8") as file:
                return file.readline(PASSPHRASE_BYTES_MAX)
        except (OSError, UnicodeDecodeError) as error:
            raise BadEntry(
                f"The passphrase file {args.passphrase_file} cannot be read",
                str(error),
                "Check the name, or leave the option out to be asked.",
            ) from error
    if not sys.stdin.isatty():
        raise BookLocked(
            "The class book needs its passphrase",
            "there is nobody to ask: this is no terminal",
            "Run it in a terminal, or give --passphrase-file.",
        )
    return getpass.getpass(question)
