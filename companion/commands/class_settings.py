"""``wordhearth class settings``: the class's code and key, accent, and whether CSV is taken."""

from __future__ import annotations

import argparse

from companion.commands import classroom, household
from companion.phonics.accents import ACCENTS
from companion.report.home_school import fingerprint
from companion.school import register, teaching
from speech.trouble import Trouble

NAME = "class settings"
HELP = "the class's code and key, accent, and whether plain CSV is taken"

EVERY = "all"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument(
        "--accent", choices=(*ACCENTS, EVERY), help="the accent homes start with; all: every one"
    )
    parser.add_argument(
        "--csv",
        choices=("yes", "no"),
        help="whether plain CSV summaries are taken, which anybody can read and could have made",
    )
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Change what is given, then show."""
    try:
        with classroom.opened(args, key=False) as book:
            if args.accent:
                teaching.set_accent(book, None if args.accent == EVERY else args.accent)
            if args.csv:
                teaching.set_csv_taken(book, args.csv == "yes")
            everyone = register.pupils(book, hidden=True)
            shown = sum(pupil.hidden is None for pupil in everyone)
            print(f"Class       {book.code}, in {book.path}")
            print(f"Key         {fingerprint(book.public_key)}")
            print(f"Opened by   {'this login' if book.lock.way == 'login' else 'a passphrase'}")
            print(f"Pupils      {shown} shown, {len(everyone) - shown} hidden")
            print(f"Accent      {teaching.accent(book) or 'every accent counts as right'}")
            print(f"Plain CSV   {'taken' if teaching.csv_taken(book) else 'not taken'}")
            print(
                f"Taught      {len(teaching.taught(book))} of {len(teaching.order(book).gpcs)} GPCs"
            )
    except Trouble as error:
        household.tell(error)
        return 1
    return 0
