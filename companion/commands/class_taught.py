"""``wordhearth class taught``: what has been taught so far, and since when."""

from __future__ import annotations

import argparse
import json
from datetime import date

from companion.commands import classroom, household
from companion.phonics.decodable import named
from companion.phonics.gpc import TableError
from companion.school import teaching
from companion.school.book import Book
from speech.trouble import Trouble

NAME = "class taught"
HELP = "what has been taught so far, and since when"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument(
        "gpcs", nargs="*", metavar="GPC", help="taught now, such as i-e or 'ow /OW/'"
    )
    parser.add_argument("--up-to", metavar="GPC", help="this one and all before it in the order")
    parser.add_argument(
        "--not-yet", action="append", default=[], metavar="GPC", help="take back; may be repeated"
    )
    parser.add_argument(
        "--on", type=_day, metavar="DATE", help="the day, such as 2026-11-23 (default: today)"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Mark what is given, then show."""
    try:
        with classroom.opened(args, key=False) as book:
            _change(args, book)
            _show(book, as_json=args.json)
    except (Trouble, TableError) as error:
        household.tell(error)
        return 1
    return 0


def _change(args: argparse.Namespace, book: Book) -> None:
    order = teaching.order(book)
    found = list(classroom.gpcs(args.gpcs, order))
    if args.up_to:
        found += order.gpcs[: len(order.up_to(named(args.up_to, order)[-1]))]
    back = classroom.gpcs(args.not_yet, order)
    if back:
        teaching.untaught(book, back)
    if found:
        teaching.teach(book, found, args.on or household.now().date())


def _show(book: Book, as_json: bool) -> None:
    taught = teaching.taught_since(book)
    order = teaching.order(book)
    following = [gpc for gpc in order.gpcs if gpc not in taught]
    if as_json:
        days = {str(gpc): day.isoformat() for gpc, day in taught.items()}
        print(json.dumps({"taught": days, "next": [str(gpc) for gpc in following]}))
        return
    by_day: dict[date, list[str]] = {}
    for gpc, day in taught.items():
        by_day.setdefault(day, []).append(str(gpc))
    for day, gpcs in sorted(by_day.items()):
        print(f"{day}  {', '.join(gpcs)}")
    if not taught:
        print("Nothing is marked as taught yet: wordhearth class taught --up-to u-e")
    if following:
        print(f"Next in the order: {', '.join(map(str, following[:5]))}")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a date like 2026-11-23") from None
