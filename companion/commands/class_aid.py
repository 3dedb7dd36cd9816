"""``wordhearth class aid``: the teacher's own memory phrases, pictures and exception-word aids."""

from __future__ import annotations

import argparse

from companion.commands import classroom, household
from companion.phonics.gpc import TableError
from companion.school import teaching
from companion.school.book import Book
from companion.school.trouble import BadEntry
from speech.trouble import Trouble

NAME = "class aid"
HELP = "your own memory phrases, pictures and exception-word aids, which go home"

KINDS = ("phrase", "picture", "exception")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument("kind", nargs="?", choices=KINDS, help="what kind of aid; none: show all")
    parser.add_argument("subject", nargs="?", metavar="FOR", help="a GPC, or an exception word")
    parser.add_argument(
        "text", nargs="?", metavar="TEXT", help="one line; a picture is named in words"
    )
    parser.add_argument("--clear", action="store_true", help="take the aid out")
    classroom.add_book(parser)
    parser.epilog = (
        "Examples: wordhearth class aid phrase i-e 'nice kite on the pier'; "
        "wordhearth class aid exception said 'sea anchors in daylight'"
    )


def run(args: argparse.Namespace) -> int:
    """Set an aid if one is given, then show all."""
    try:
        with classroom.opened(args, key=False) as book:
            if args.kind:
                _set(args, book)
            _show(book)
    except (Trouble, TableError) as error:
        household.tell(error)
        return 1
    return 0


def _set(args: argparse.Namespace, book: Book) -> None:
    if args.subject is None or (args.text is None) != args.clear:
        raise BadEntry(
            "The aid was not changed",
            "it needs what it is for, and either its text or --clear",
            "Write it like: wordhearth class aid phrase i-e 'nice kite on the pier'.",
        )
    subjects = [args.subject]
    if args.kind != "exception":
        subjects = [str(gpc) for gpc in classroom.gpcs(subjects, teaching.order(book))]
    for subject in subjects:
        teaching.set_aid(book, args.kind, subject, None if args.clear else args.text)


def _show(book: Book) -> None:
    found = teaching.aids(book)
    lines = [f"phrase     {gpc}: {text}" for gpc, text in found.phrases.items()]
    lines += [f"picture    {gpc}: {text}" for gpc, text in found.pictures.items()]
    lines += [f"exception  {word}: {text}" for word, text in found.exceptions.items()]
    print("\n".join(lines) or "There are no aids yet.")
