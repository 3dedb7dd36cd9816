"""``wordhearth class history``: one child's counts on a page, for a talk with the SENCo."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.commands import classroom, household
from companion.record.files import write_durably
from companion.school import evidence, register, teaching
from companion.school.history import history
from companion.school.history_page import history_pdf
from speech.trouble import Trouble

NAME = "class history"
HELP = "one child's counts on a page, for a talk with the SENCo"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument("code", type=classroom.code, metavar="CODE", help="the pupil's code")
    parser.add_argument("--out", required=True, metavar="FILE", type=Path, help="the PDF")
    parser.add_argument(
        "--with-name", action="store_true", help="print the name too; it needs the book's key"
    )
    classroom.add_week(parser, "this", "the last week that counts")
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Write the PDF."""
    try:
        until = classroom.week(args.week)
        with classroom.opened(args, key=args.with_name) as book:
            pupil = register.one(book, args.code)
            found = history(
                pupil.code, evidence.summaries(book, pupil=pupil.code),
                evidence.heard_in_class(book, pupil.code), teaching.order(book),
                teaching.taught_since(book), until,
            )  # fmt: skip
        write_durably(args.out, history_pdf(found, pupil.name if args.with_name else None))
    except Trouble as error:
        household.tell(error)
        return 1
    print(f"Facts and counts of {pupil.code}, one page: {args.out}")
    return 0
