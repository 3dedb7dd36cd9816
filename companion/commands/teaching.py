"""What the teacher's commands share: the sounds taught, the order, and corrected splits."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.phonics.decodable import Taught, named
from companion.phonics.gpc import Order, load_order, table
from companion.phonics.own_words import Corrections, load_corrections
from companion.phonics.wordlists import parse, read_text
from companion.record.home import HOME_VARIABLE, data_home

CORRECTIONS = "splits.csv"
"""File of the data home that holds the splits a teacher has corrected."""


NEWEST = "u-e"
"""The newest GPC taught where a command is not told: the last of the split digraphs."""


def add_taught(parser: argparse.ArgumentParser) -> None:
    """Add --taught, the newest GPC taught."""
    parser.add_argument(
        "--taught",
        metavar="GPC",
        default=NEWEST,
        help=f"the newest GPC taught, such as i-e or 'ow /OW/' (default: {NEWEST})",
    )


def add_school(parser: argparse.ArgumentParser) -> None:
    """Add --order, --exceptions and --home: what a school has of its own."""
    parser.add_argument(
        "--order", metavar="FILE", type=Path, help="your school's teaching order, a GPC a line"
    )
    parser.add_argument(
        "--exceptions",
        metavar="FILE",
        type=Path,
        help="exception words taught, a word a line (default: those usual by then)",
    )
    add_home(parser)


def add_home(parser: argparse.ArgumentParser) -> None:
    """Add --home, where corrected splits are kept."""
    parser.add_argument(
        "--home",
        metavar="FOLDER",
        help="where your corrected splits are kept (default: this user's data folder, or what "
        f"the variable {HOME_VARIABLE} names)",
    )


def taught_by(args: argparse.Namespace, newest: str) -> tuple[Taught, Order]:
    """What has been taught once `newest` has, by the order and exception words given.

    Raises
    ------
    TableError, WordListError
        A file or a GPC that cannot be used.
    """
    order = load_order(args.order) if args.order else table().order()
    words = None
    if args.exceptions:
        words = parse(read_text(args.exceptions, str(args.exceptions)), args.exceptions.name).words
    return Taught.up_to(named(newest, order)[-1], order, words), order


def corrections_file(args: argparse.Namespace) -> Path:
    """Where the corrected splits are kept."""
    return data_home(args.home) / CORRECTIONS


def corrections(args: argparse.Namespace) -> Corrections:
    """The corrected splits; none when there is no file yet.

    Raises
    ------
    WordListError
        A line of the file that cannot be used.
    """
    return load_corrections(corrections_file(args))
