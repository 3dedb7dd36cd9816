"""``wordhearth join``: load what the school sent home."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from companion.commands import household
from companion.record.consent import PractisePermit
from companion.report import home_school
from companion.report.family_file import TEXT_MAX
from companion.report.family_lines import FamilyFile
from companion.report.trouble import OtherKind
from speech.trouble import Trouble

NAME = "join"
HELP = "load what the school sent home: the child's code, this week's list and sounds"

PIPE = "-"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument(
        "file",
        metavar="FILE",
        help="the school's file; - to paste the text of the square on the sheet",
    )
    parser.add_argument(
        "--new-key",
        action="store_true",
        help="the school has said that its key is new; otherwise another key is refused",
    )
    household.add_arguments(parser)
    parser.epilog = "Examples: wordhearth join 7K3QFY-2026-W48.family; wordhearth join -"


def run(args: argparse.Namespace) -> int:
    """Load it and say what is in it."""
    try:
        permit = PractisePermit(household.folder(args))
        found = home_school.join(permit, _text(args.file), new_key=args.new_key)
    except Trouble as error:
        household.tell(error)
        return 1
    print(_said(found))
    return 0


def _text(name: str) -> str:
    if name == PIPE:
        if sys.stdin.isatty():
            print("Paste the text of the square, then an empty line:", file=sys.stderr)
            return "".join(iter(sys.stdin.readline, "\n"))
        return sys.stdin.read(TEXT_MAX + 1)
    try:
        with Path(name).open(encoding="utf-8") as file:
            return file.read(TEXT_MAX + 1)
    except (OSError, UnicodeDecodeError) as error:
        raise OtherKind(
            f"{name} cannot be read as a family file",
            getattr(error, "strerror", None) or "it is not plain text",
            "Take the file that the school gave you, which ends in .family.",
        ) from error


def _said(found: FamilyFile) -> str:
    words = "no list" if found.words is None else f"{len(found.words.words)} words"
    aids = len(found.phrases) + len(found.pictures) + len(found.exceptions)
    lines = [
        f"Joined class {found.class_code} under the code {found.pupil}.",
        f"  For {found.week}: {words}, {len(found.taught)} sounds taught, {aids} aids.",
        f"  The class's key: {home_school.fingerprint(found.public_key)}",
        "Nothing goes to school unless you make a summary and hand it over: wordhearth hand-in.",
    ]
    return "\n".join(lines)
