"""``wordhearth class order``: the teaching order."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.commands import classroom, household
from companion.phonics.gpc import TableError, load_order
from companion.school import teaching
from speech.trouble import Trouble

NAME = "class order"
HELP = "the teaching order: the default, or your school's own"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    which = parser.add_mutually_exclusive_group()
    which.add_argument("file", nargs="?", metavar="FILE", type=Path, help="a GPC a line")
    which.add_argument("--default", action="store_true", help="go back to the default order")
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Set the order if one is given, then print it as such a file."""
    try:
        with classroom.opened(args, key=False) as book:
            if args.file or args.default:
                teaching.set_order(book, None if args.default else load_order(args.file))
            taught = teaching.taught(book)
            for gpc in teaching.order(book).gpcs:
                print(f"{gpc}{'   # taught' if gpc in taught else ''}")
    except (Trouble, TableError) as error:
        household.tell(error)
        return 1
    return 0
