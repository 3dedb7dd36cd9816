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


def add_arguments(parser: argparse.ArgumentParser, option: str, default: str | None) -> None:
    """Add `option` (the newest GPC taught), --order, --exceptions and --home."""
    shown = "" if default is None else f" (default: {default})"
    parser.add_argument(
        option,
        metavar="GPC",
        default=default,
        required=default is None,
        help=f"the newest GPC taught, such as i-e or 'ow /OW/'{shown}",
    )
    parser.add_argument(
        "--order", metavar="FILE", type=Path, help="your school's teaching order, a GPC a line"
    )
    parser.add_argument(
        "--exceptions",
        metavar="FILE",
        type=Path,
        help="exception words taught, a word a line (default: those usual by then)",
    )
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
