"""``wordhearth class pupil``: the register."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from companion.commands import classroom, household
from companion.phonics.wordlists import WordListError, read_text
from companion.report.home_school import fingerprint
from companion.school import register
from companion.school.book import Book
from companion.school.register import Pupil
from speech.trouble import Trouble

NAME = "class pupil"
HELP = "the register: codes, and names that never leave the book"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what can be done with the register."""
    does = parser.add_subparsers(dest="does", metavar="WHAT", required=True)
    add = does.add_parser("add", help="draw codes for new pupils")
    add.add_argument("names", nargs="*", metavar="NAME", help="names, in quotes; optional")
    add.add_argument("--count", type=int, default=0, metavar="N", help="N codes without names")
    add.add_argument("--names-file", metavar="FILE", type=Path, help="a name a line")
    shown = does.add_parser("list", help="codes, names, and whether the family's key is known")
    shown.add_argument(
        "--names", action="store_true", help="names too, which may ask for the passphrase"
    )
    shown.add_argument("--json", action="store_true", help="one JSON object, without names")
    name = does.add_parser("name", help="write, change or take out a name")
    name.add_argument("code", type=classroom.code, metavar="CODE")
    name.add_argument("name", nargs="?", metavar="NAME", help="left out: the name is taken out")
    for word, line in (
        ("hide", "leave a pupil out of grid and groups; nothing is erased"),
        ("show", "show a hidden pupil again"),
        ("forget-key", "ask again about the key of the family's next summary"),
    ):
        one = does.add_parser(word, help=line)
        one.add_argument("code", type=classroom.code, metavar="CODE")
    for each in does.choices.values():
        classroom.add_book(each)


def run(args: argparse.Namespace) -> int:
    """Do it."""
    given = getattr(args, "names", None) or getattr(args, "names_file", None)
    names = args.does == "name" or bool(given)
    try:
        with classroom.opened(args, key=names or None) as book:
            return _do(args, book)
    except (Trouble, WordListError) as error:
        household.tell(error)
        return 1


def _do(args: argparse.Namespace, book: Book) -> int:
    now = household.now()
    match args.does:
        case "add":
            return _add(args, book)
        case "list":
            return _list(book, as_json=args.json)
        case "name":
            register.rename(book, args.code, args.name)
        case "hide":
            register.hide(book, args.code, now.date())
        case "show":
            register.hide(book, args.code, None)
        case "forget-key":
            register.forget_key(book, args.code)
            print("The next sealed summary under this code asks about its key again.")
    print(_line(register.one(book, args.code)))
    return 0


def _add(args: argparse.Namespace, book: Book) -> int:
    names: list[str | None] = [*args.names, *[None] * args.count]
    if args.names_file:
        text = read_text(args.names_file, str(args.names_file))
        names += [line.strip() for line in text.splitlines() if line.strip()]
    for name in names or [None]:
        print(_line(register.add(book, household.now(), name)))
    return 0


def _list(book: Book, as_json: bool) -> int:
    everyone = register.pupils(book, hidden=True)
    if as_json:
        print(json.dumps({"class": book.code, "pupils": [_record(each) for each in everyone]}))
        return 0
    for pupil in everyone:
        print(_line(pupil))
    if not everyone:
        print("There is nobody in the register yet: wordhearth class pupil add --count 30")
    return 0


def _line(pupil: Pupil) -> str:
    key = "no summary yet" if pupil.family_key is None else f"key {fingerprint(pupil.family_key)}"
    hidden = "" if pupil.hidden is None else f", hidden since {pupil.hidden}"
    return f"{pupil.code}  {pupil.name or '':30}  {key}{hidden}"


def _record(pupil: Pupil) -> dict[str, str | None]:
    return {
        "code": pupil.code,
        "added": pupil.added.isoformat(),
        "hidden": None if pupil.hidden is None else pupil.hidden.isoformat(),
        "key": None if pupil.family_key is None else fingerprint(pupil.family_key),
    }
