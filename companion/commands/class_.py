"""``wordhearth class``: the teacher's class book."""

from __future__ import annotations

import argparse
import importlib

from companion.commands import classroom

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
    "grid": "each child and GPC in one of four states, with its evidence",
    "check": "six words for a GPC, and what you heard, which outranks home's evidence",
    "groups": "next week's groups of 3 to 6 by shared gap; what you decide is kept",
    "plan": "next week's lists, for the whole class and its groups",
    "cards": "word cards of a week's list, to cut out",
    "sheet": "the practice sheet of a week's list, for home",
    "history": "one child's counts on a page, for a talk with the SENCo",
    "import": "take in families' summaries: first a preview, then all at once",
    "erase": "erase a pupil, a year or the whole book, with proof",
    "hand-over": "a new passphrase, or new keys for a new teacher",
}
"""Each is a module of its own: ``class_taught`` for ``class taught``."""


PORT_MAX = 65_535
PAGES = "companion.commands.class_pages"
"""The module that runs when no further word is given."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What the pages take, and where to begin."""
    parser.add_argument(
        "--no-browser", dest="browser", action="store_false", help="only print the pages' address"
    )
    parser.add_argument(
        "--port", type=_port, default=0, metavar="NUMBER",
        help="where on this computer the pages are served (default: any free port)",
    )  # fmt: skip
    classroom.add_place(parser)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = HELP[0].upper() + HELP[1:] + ".\n\nWithout a further word it opens the "
    parser.description += "class pages in your browser, on this computer only."
    parser.epilog = (
        "examples:\n"
        "  wordhearth class start --pupils 30 --taught u-e   a book with thirty codes\n"
        "  wordhearth class                                  the same and all else, in pages\n"
        "  wordhearth class plan i-e --keep                  next week's lists\n"
        "  wordhearth class family --out slips --paper       a file and a sheet for each\n"
        "  wordhearth class import summaries                 a folder that families filled\n"
    )


def run(args: argparse.Namespace) -> int:
    """Without a further word: the pages, loaded only now."""
    return int(importlib.import_module(PAGES).run(args))


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) > PORT_MAX:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from 0 to {PORT_MAX}")
    return int(text)
