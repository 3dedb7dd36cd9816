"""``wordhearth class sheet``: the practice sheet of a week's list, for home."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.commands import classroom, household
from companion.phonics.wordlists import WordList
from companion.record.files import write_durably
from companion.school import planning, teaching
from companion.school.book import Book
from companion.school.practice_sheet import PracticeSheet, practice_sheet_pdf
from companion.school.trouble import BadEntry
from speech.trouble import Trouble

NAME = "class sheet"
HELP = "the practice sheet of a week's list, for home"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    add_list(parser)
    parser.add_argument("--out", required=True, metavar="FILE", type=Path, help="the PDF")
    classroom.add_book(parser)


def add_list(parser: argparse.ArgumentParser) -> None:
    """Add --week and --group: which list."""
    classroom.add_week(parser, "this", "the week whose list it is")
    parser.add_argument(
        "--group", type=int, default=teaching.WHOLE_CLASS, metavar="N",
        help="that week's group N instead of the whole class",
    )  # fmt: skip


def the_list(args: argparse.Namespace, book: Book) -> WordList:
    """The list that the arguments name.

    Raises
    ------
    BadEntry
        There is none.
    """
    week = classroom.week(args.week)
    words = planning.lists(book, week).get(max(0, args.group))
    if words is None:
        raise BadEntry(
            f"There is nothing to print for {week}",
            "that week has no list yet" + (f" for group {args.group}" if args.group else ""),
            "Make one: wordhearth class plan --keep, or wordhearth class list FILE.",
        )
    return words


def run(args: argparse.Namespace) -> int:
    """Write the PDF."""
    try:
        with classroom.opened(args, key=False) as book:
            words = the_list(args, book)
            aids = teaching.aids(book)
        sheet = PracticeSheet(
            classroom.week(args.week), words, f"Group {args.group}" if args.group > 0 else "",
            aids.phrases.get(words.target) if words.target else None, aids.exceptions,
        )  # fmt: skip
        write_durably(args.out, practice_sheet_pdf(sheet))
    except Trouble as error:
        household.tell(error)
        return 1
    print(f"A practice sheet, one page: {args.out}")
    return 0
