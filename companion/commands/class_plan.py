"""``wordhearth class plan``: next week's lists, for the whole class and its groups."""

from __future__ import annotations

import argparse
import json

from companion.commands import classroom, household
from companion.phonics import wordlists
from companion.phonics.gpc import Gpc, TableError
from companion.phonics.listmaker import ListMakerError
from companion.school import planning, teaching
from companion.school.book import Book
from companion.school.trouble import BadEntry
from companion.school.week_plan import PlannedList, WeekPlan
from speech.trouble import Trouble

NAME = "class plan"
HELP = "next week's lists, for the whole class and its groups"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument(
        "gpc", nargs="?", metavar="GPC", help="for the whole class (default: the newest taught)"
    )
    classroom.add_week(parser, "next", "the week the lists are for")
    parser.add_argument(
        "--count", type=int, default=12, metavar="N", help="words in each list (default: 12)"
    )
    parser.add_argument(
        "--keep",
        action="store_true",
        help="make them the week's lists, in place of those it has; they then go home",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    classroom.add_book(parser)
    parser.epilog = (
        "Groups of that week get a list each. Then: wordhearth class cards --week next --out "
        "cards.pdf, and wordhearth class sheet --week next --out practice.pdf"
    )


def run(args: argparse.Namespace) -> int:
    """Make the lists, show them, and keep them if asked to."""
    try:
        week = classroom.week(args.week)
        with classroom.opened(args, key=False) as book:
            groups = planning.groups(book, week)
            targets = _targets(book, args.gpc)
            made = planning.plan(book, week, targets, groups, args.count)
            if args.keep:
                planning.keep(book, made, list(groups))
    except (Trouble, TableError, ListMakerError) as error:
        household.tell(error)
        return 1
    print(_json(made) if args.json else _text(made, kept=args.keep), end="")
    return 0


def _targets(book: Book, text: str | None) -> tuple[Gpc, ...]:
    if text:
        return classroom.gpcs([text], teaching.order(book))
    newest = planning.newest(book)
    if not newest:
        raise BadEntry(
            "No list was made",
            "nothing is marked as taught",
            "Say first what has been taught: wordhearth class taught",
        )
    return newest


def _text(made: WeekPlan, *, kept: bool) -> str:
    parts = []
    for each in made.lists:
        notes = [f"{made.week}, {each.whom}", *each.made.notes, _measured(each)]
        parts.append(wordlists.to_text(each.made.words, notes))
    end = f"# Kept as the lists of {made.week}.\n" if kept else "# Not kept: add --keep.\n"
    return "\n".join([*parts, end])


def _measured(each: PlannedList) -> str:
    found = each.measured
    if not found.broken:
        return f"all {found.words} words can be read by what is taught"
    names = ", ".join(f"{one.word} ({one.gap.why})" for one in found.broken)
    return f"{found.decodable} of {found.words} words can be read by what is taught; not: {names}"


def _json(made: WeekPlan) -> str:
    record = {
        "week": str(made.week),
        "lists": [
            {
                "for": each.whom,
                "target": str(each.made.words.target),
                "words": list(each.made.words.words),
                "made_up": list(each.made.words.pseudo),
                "caption": each.made.words.caption,
                "check_words": list(each.check_words),
                "decodable": each.measured.share,
                "notes": list(each.made.notes),
            }
            for each in made.lists
        ],
    }
    return json.dumps(record, ensure_ascii=False) + "\n"
