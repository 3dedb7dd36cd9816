"""``wordhearth class cards``: word cards of a week's list, to cut out."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.commands import class_sheet, classroom, household
from companion.record.files import write_durably
from companion.school.cards import CARDS_A_SHEET, cards_of_list, cards_pdf
from speech.trouble import Trouble

NAME = "class cards"
HELP = "word cards of a week's list, to cut out"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    class_sheet.add_list(parser)
    parser.add_argument(
        "--buttons",
        choices=("below", "back", "none"),
        default="below",
        help="sound buttons below the word, on the back (print on both sides, turn along the long "
        "edge), or none (default: below)",
    )
    parser.add_argument("--out", required=True, metavar="FILE", type=Path, help="the PDF")
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Write the PDF."""
    try:
        with classroom.opened(args, key=False) as book:
            words = class_sheet.the_list(args, book)
        write_durably(args.out, cards_pdf(cards_of_list(words), words.title, args.buttons))
    except Trouble as error:
        household.tell(error)
        return 1
    sheets = -(-len(words.words) // CARDS_A_SHEET)
    print(f"{len(words.words)} cards on {sheets} sheets of A4: {args.out}")
    return 0
