"""``wordhearth class erase``: erase a pupil, a year or the whole book, with proof."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from pathlib import Path

from companion.commands import classroom, household
from companion.record.files import write_durably
from companion.record.home import data_home
from companion.school import erasing
from companion.school.erasing import BEYOND_REACH, Erased
from companion.school.trouble import BadEntry
from speech.trouble import Trouble

NAME = "class erase"
HELP = "erase a pupil, a year or the whole book, with proof"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument(
        "--pupil", type=classroom.code, metavar="CODE", help="all that is kept of one"
    )
    what.add_argument(
        "--year",
        action="store_true",
        help="every pupil and group; order, aids, lists and what is taught stay; new class code "
        "and keys, so that old sealed files can never be opened again",
    )
    what.add_argument("--whole-book", action="store_true", help="the file itself")
    parser.add_argument(
        "--confirm", metavar="CLASS", help="the class's code, instead of being asked for it"
    )
    parser.add_argument(
        "--proof", type=Path, metavar="FILE", help="also write the proof as JSON, without codes"
    )
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Ask, erase, prove."""
    try:
        with classroom.opened(args, key=args.year or None) as book:
            _confirm(args, book.code)
            now = household.now()
            if args.pupil:
                done = erasing.erase_pupil(book, args.pupil, now)
            elif args.year:
                done = erasing.erase_year(book, now)
        if args.whole_book:
            files = erasing.erase_book(classroom.book_path(args), data_home(args.home))
            print(f"Erased the class book: {files} files overwritten and removed. {BEYOND_REACH}")
        else:
            _prove(done, args.proof)
    except Trouble as error:
        household.tell(error)
        return 1
    return 0


def _confirm(args: argparse.Namespace, code: str) -> None:
    said = args.confirm
    if said is None:
        try:
            said = input(f"This cannot be undone. To go on, write the class's code ({code}): ")
        except EOFError:
            said = ""
    if said.strip().upper() != code:
        raise BadEntry(
            "Nothing was erased", "the class's code was not written", "Say the same again."
        )


def _prove(done: Erased, file: Path | None) -> None:
    print(
        f"Erased: {done.pupils} pupils, {done.summaries} weekly summaries, {done.checks} checks, "
        f"{done.places} places in groups."
    )
    when = f"{done.at:%d %B %Y %H:%M}"
    print(
        f"Proof: all {done.file_bytes:,} bytes of the book were searched at {when} for the "
        f"{done.marks} codes, keys and names that went; {done.left} were found. "
        f"SHA-256 of the file searched: {done.sha256}"
    )
    print(BEYOND_REACH)
    if file is not None:
        record = {**asdict(done), "at": done.at.isoformat(), "not_reached": BEYOND_REACH}
        write_durably(file, (json.dumps(record, indent=2) + "\n").encode())
