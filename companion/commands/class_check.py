"""``wordhearth class check``: six words for a GPC, and what you heard, which outranks home."""

from __future__ import annotations

import argparse
from datetime import date

from companion.commands import classroom, household
from companion.phonics.gpc import Gpc, TableError
from companion.phonics.listmaker import ListMakerError
from companion.record.weeks import Week
from companion.school import planning, register, teaching
from companion.school.book import Book
from companion.school.evidence import HOW
from companion.school.teacher_check import note, words_for
from companion.school.trouble import BadEntry
from speech.trouble import Trouble

NAME = "class check"
HELP = "six words for a GPC, and what you heard, which outranks home's evidence"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        "Shows six words for one child and one GPC, made-up ones last. Hear them read, in about a\n"
        "minute, then say how many were read as written. Your check outranks what home handed in."
    )
    parser.add_argument("code", type=classroom.code, metavar="CODE", help="the pupil's code")
    parser.add_argument("gpc", metavar="GPC", help="what is checked, such as i-e or 'ow /OW/'")
    parser.add_argument(
        "--read", type=int, metavar="N", help="how many were read as written: keep the check"
    )
    parser.add_argument(
        "--of", type=int, metavar="N", help="how many words were shown (default: the six)"
    )
    parser.add_argument("--how", choices=HOW, default=HOW[0], help="by ear (default) or listener")
    parser.add_argument(
        "--day", type=date.fromisoformat, metavar="YYYY-MM-DD", help="when (default: today)"
    )
    parser.add_argument(
        "--seed", type=int, default=0, metavar="N", help="another number gives other words"
    )
    classroom.add_book(parser)
    parser.epilog = (
        "examples:\n"
        "  wordhearth class check 7K3QFY i-e            the words\n"
        "  wordhearth class check 7K3QFY i-e --read 2   two of them were read as written\n"
    )


def run(args: argparse.Namespace) -> int:
    """Show the words, or keep what was heard."""
    try:
        with classroom.opened(args, key=False) as book:
            register.one(book, args.code)
            gpc = _gpc(args.gpc, book)
            today = household.now().date()
            words = _words(args, book, gpc, today)
            if args.read is None:
                print(f"{args.code}, {gpc}: hear these read, one at a time")
                print("\n".join(f"  {word}" for word in words))
                print("Then: wordhearth class check CODE GPC --read N")
                return 0
            shown = len(words) if args.of is None else args.of
            note(book, args.code, gpc, args.day or today, shown, args.read, args.how)
    except (Trouble, TableError, ListMakerError) as error:
        household.tell(error)
        return 1
    print(f"Kept: {args.code} read {args.read} of {shown} as written for {gpc}.")
    return 0


def _gpc(text: str, book: Book) -> Gpc:
    found = classroom.gpcs([text], teaching.order(book))
    if len(found) > 1:
        raise BadEntry(
            f"{text!r} stands for {len(found)} GPCs",
            "a check is of one: children may know one sound of a grapheme and not the other",
            f"Write one of: {', '.join(map(repr, map(str, found)))}.",
        )
    return found[0]


def _words(args: argparse.Namespace, book: Book, gpc: Gpc, today: date) -> tuple[str, ...]:
    week = Week.of(today)
    seed = args.seed or week.monday.toordinal()
    known = {word for found in planning.lists(book, week).values() for word in found.words}
    return words_for(
        gpc, planning.taught_by(book, week), teaching.order(book), seed=seed, avoid=known
    )
