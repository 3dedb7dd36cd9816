"""``wordhearth class``: the teacher's class book."""

from __future__ import annotations

import argparse

NAME = "class"
HELP = "the teacher's class book: register, lists, families' summaries, what they come to"

COMMANDS: dict[str, str] = {
    "start": "make a class book, opened by a passphrase or by this computer's login",
    "settings": "the class's code and key, accent, and whether plain CSV is taken",
    "pupil": "the register: codes, and names that never leave the book",
    "taught": "what has been taught so far, and since when",
    "order": "the teaching order: the default, or your school's own",
    "list": "a week's words for the whole class or a group",
    "aid": "your own memory phrases, pictures and exception-word aids, which go home",
    "family": "each pupil's family file, and the sheet of paper that goes with it",
    "import": "take in families' summaries: first a preview, then all at once",
    "erase": "erase a pupil, a year or the whole book, with proof",
    "hand-over": "a new passphrase, or new keys for a new teacher",
}
"""Each is a module of its own: ``class_taught`` for ``class taught``."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Say where to begin."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = (
        "examples:\n"
        "  wordhearth class start --pupils 30 --taught u-e   a book with thirty codes\n"
        "  wordhearth class list i-e --week next             next week's list\n"
        "  wordhearth class family --out slips --paper       a file and a sheet for each\n"
        "  wordhearth class import summaries                 a folder that families filled\n"
    )
    parser.set_defaults(parser=parser)


def run(args: argparse.Namespace) -> int:
    """Without a further word: say which there are."""
    args.parser.print_help()
    return 2
