"""``wordhearth class start``: make a class book."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.commands import classroom, household
from companion.phonics.accents import ACCENTS
from companion.phonics.decodable import named
from companion.phonics.gpc import TableError, load_order, table
from companion.report.home_school import fingerprint
from companion.school import register, teaching
from companion.school.book import Book
from speech.trouble import Trouble

NAME = "class start"
HELP = "make a class book, opened by a passphrase or by this computer's login"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument(
        "--login",
        action="store_true",
        help="no passphrase: whoever is logged in here as you can open it, nobody with a copy can",
    )
    parser.add_argument("--pupils", type=int, default=0, metavar="N", help="draw so many codes")
    parser.add_argument(
        "--accent", choices=ACCENTS, help="the accent most homes have (default: all count)"
    )
    parser.add_argument("--order", metavar="FILE", type=Path, help="your school's teaching order")
    parser.add_argument("--taught", metavar="GPC", help="the newest GPC taught so far, such as u-e")
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Make the book."""
    now = household.now()
    try:
        order = load_order(args.order) if args.order else None
        newest = named(args.taught, order or table().order())[-1] if args.taught else None
        with Book.start(classroom.book_path(args), classroom.new_secret(args), now) as book:
            teaching.set_order(book, order)
            teaching.set_accent(book, args.accent)
            if newest is not None:
                places = teaching.order(book)
                teaching.teach(book, places.gpcs[: len(places.up_to(newest))], now.date())
            pupils = [register.add(book, now) for _ in range(args.pupils)]
            print(f"Class {book.code}, in {book.path}. Its key is {fingerprint(book.public_key)}.")
            for pupil in pupils:
                print(f"  {pupil.code}")
    except (Trouble, TableError) as error:
        household.tell(error)
        return 1
    print(
        "Names are optional and stay in the book (wordhearth class pupil name CODE NAME); who has "
        "which code can as well be kept on paper. Keep a backup of the book where registers are "
        "kept" + ("." if args.login else ", and the passphrase somewhere else: nobody can find it.")
    )
    return 0
