"""``wordhearth class family``: each pupil's family file, and the sheet of paper with it."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.commands import classroom, household
from companion.record.files import write_durably
from companion.report import family_file
from companion.report.home_school import fingerprint
from companion.school import family, register
from companion.school.book import Book
from companion.school.family_sheet import family_sheets_pdf, slip_of
from companion.school.trouble import BadEntry
from speech.trouble import Trouble

NAME = "class family"
HELP = "each pupil's family file, and the sheet of paper that goes with it"

SHEETS = "family-sheets.pdf"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument(
        "codes", nargs="*", type=classroom.code, metavar="CODE", help="default: every pupil shown"
    )
    parser.add_argument(
        "--out", required=True, metavar="FOLDER", type=Path, help="where the files are written"
    )
    parser.add_argument(
        "--paper", action="store_true", help=f"also {SHEETS}: a page for each family, with a square"
    )
    classroom.add_week(parser, "this", "the week whose list goes home")
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Write the files."""
    try:
        with classroom.opened(args, key=False) as book:
            return _write(args, book)
    except Trouble as error:
        household.tell(error)
        return 1


def _write(args: argparse.Namespace, book: Book) -> int:
    week = classroom.week(args.week)
    codes = args.codes or [pupil.code for pupil in register.pupils(book)]
    if not codes:
        raise BadEntry(
            "No family file was written",
            "there is nobody in the register",
            "Draw codes first: wordhearth class pupil add --count 30",
        )
    files = [family.family_file(book, code, week) for code in codes]
    for file in files:
        write_durably(args.out / family_file.file_name(file), family_file.to_text(file).encode())
    print(f"{len(files)} family files for {week} in {args.out}. No name is in them or on them.")
    if args.paper:
        write_durably(args.out / SHEETS, family_sheets_pdf([slip_of(file) for file in files]))
        print(f"A sheet for each family: {args.out / SHEETS}")
    print(f"Give each family its own. The class's key is {fingerprint(book.public_key)}.")
    return 0
