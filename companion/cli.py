"""The console command: one table of commands, each imported only when it runs."""

from __future__ import annotations

import argparse
import importlib
import keyword
import sys
from collections.abc import Mapping, Sequence

COMMANDS: dict[str, str] = {
    "demo": "hear bundled clips judged from end to end: no microphone needed",
    "consent": "say yes or no to each thing the program may do; see, change or withdraw it",
    "microphone": "check the microphone in five seconds: level, noise, clipping, delay",
    "after-me": "two minutes of words to say after the computer, to know this child's vowels",
    "practise": "a sitting: read a word list aloud and have each word heard",
    "week": "the week sheet: which sounds are secure and which need practice",
    "export": "everything that is kept of a child, in one ZIP",
    "judge": "judge recordings listed in a manifest; keeps nothing",
    "split": "split words into graphemes and show their GPCs",
    "words": "split your own words, see what is untaught, and correct a split",
    "list": "make a decodable list for a GPC",
    "decodable": "check how much of a text the taught sounds can decode",
    "join": "load what the school sent home: the child's code, this week's list and sounds",
    "hand-in": "make a week's summary to hand to the school, sealed for the class teacher",
    "class": "the teacher's class book: register, lists, families' summaries, what they come to",
}
"""Command name to the line shown in ``wordhearth --help``, in the order shown."""

PAGES = "pages"
"""The module that runs when no command is given."""
PORT_MAX = 65_535


def _parser(arguments: Sequence[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="wordhearth",
        description="An offline companion that hears a child read a decodable word list. "
        "Without a command it opens its pages in your browser, on this computer only.",
        epilog="Start with: wordhearth demo. Each command explains itself with --help.",
    )
    if not set(arguments) & COMMANDS.keys():
        _add_pages_arguments(parser)
    _add_commands(parser, COMMANDS, arguments, "")
    return parser


def _add_commands(
    parser: argparse.ArgumentParser, table: Mapping[str, str], arguments: Sequence[str], before: str
) -> None:
    """Add a table of commands, and the arguments of the one that is called for.

    A command may have commands of its own: its module then has a table ``COMMANDS`` too, and
    theirs are modules named after both, as ``class_taught`` is for ``class taught``.
    """
    selected = next((word for word in arguments if word in table), None)
    commands = parser.add_subparsers(dest=f"{before}command", metavar="COMMAND")
    for name, line in table.items():
        command = commands.add_parser(name, help=line, description=line)
        if name == selected:
            module = importlib.import_module(f"companion.commands.{_module(before + name)}")
            command.set_defaults(run=module.run)
            module.add_arguments(command)
            if hasattr(module, "COMMANDS"):
                rest = arguments[arguments.index(name) + 1 :]
                _add_commands(command, module.COMMANDS, rest, f"{name}_")


def _module(name: str) -> str:
    """The module of a command: hyphens, and words that Python keeps for itself, need another."""
    return name.replace("-", "_") + "_" * keyword.iskeyword(name)


def _add_pages_arguments(parser: argparse.ArgumentParser) -> None:
    """What the program takes when no command is given; here, so that --help loads no pages."""
    pages = parser.add_argument_group("without a command")
    pages.add_argument(
        "--no-browser",
        dest="browser",
        action="store_false",
        help="only print the address; open no browser",
    )
    pages.add_argument(
        "--port",
        type=_port,
        default=0,
        metavar="NUMBER",
        help="where on this computer the pages are served (default: any free port)",
    )
    pages.add_argument(
        "--home",
        metavar="FOLDER",
        help="where everything is kept (default: this user's data folder)",
    )


def _port(text: str) -> int:
    if not text.isdecimal() or not 0 <= int(text) <= PORT_MAX:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number from 0 to {PORT_MAX}")
    return int(text)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments after the program's name; ``sys.argv[1:]`` when omitted.

    Returns
    -------
    int
        0 done, 1 done in part or refused with a message, 2 wrong usage, 130 stopped by Ctrl-C.
    """
    arguments = list(sys.argv[1:] if argv is None else argv)
    args = _parser(arguments).parse_args(arguments)
    if args.command is None:
        args.run = importlib.import_module(f"companion.commands.{PAGES}").run
    try:
        return int(args.run(args))
    except KeyboardInterrupt:
        print("\nStopped. Everything already marked is kept.", file=sys.stderr)
        return 130
