"""``wordhearth class hand-over``: a new passphrase, or new keys for a new teacher."""

from __future__ import annotations

import argparse

from companion.commands import classroom, household
from companion.record.home import data_home
from companion.report.home_school import fingerprint
from companion.school.handover import hand_over
from speech.trouble import Trouble

NAME = "class hand-over"
HELP = "a new passphrase, or new keys for a new teacher"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument(
        "--login", action="store_true", help="open by this computer's login from now on"
    )
    parser.add_argument(
        "--new-keys",
        action="store_true",
        help="also new class keys, where the old passphrase may be known to others; each family "
        "then needs a new family file, and unimported summaries can be opened no more",
    )
    parser.add_argument(
        "--lost",
        action="store_true",
        help="the passphrase is lost: new keys without it; names are taken out, counts stay",
    )
    parser.add_argument(
        "--new-passphrase-file",
        metavar="FILE",
        help="read the new passphrase from a file's first line instead of asking",
    )
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Lock the book anew."""
    try:
        with classroom.opened(args, key=not args.lost) as book:
            fresh = argparse.Namespace(
                **{**vars(args), "passphrase_file": args.new_passphrase_file}
            )
            done = hand_over(
                book,
                classroom.new_secret(fresh),
                new_keys=args.new_keys or args.lost,
                home=data_home(args.home),
            )
            print(
                f"The class book opens by {'this login' if args.login else 'the new passphrase'}."
            )
            if done.new_keys:
                print(f"The class's key is now {fingerprint(book.public_key)}.")
                print("Give each family a new file: wordhearth class family --out FOLDER --paper")
                print("Their program tells them that the key is new, and asks.")
            if done.names_lost:
                print(f"{done.names_lost} names could not be read any more and were taken out.")
    except Trouble as error:
        household.tell(error)
        return 1
    return 0
