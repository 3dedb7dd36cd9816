"""``wordhearth class groups``: next week's groups by shared gap, your moves kept."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import replace

from companion.commands import classroom, household
from companion.phonics.gpc import Gpc, TableError
from companion.phonics.listmaker import ListMakerError
from companion.record import codes
from companion.record.trouble import RecordTrouble
from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS
from companion.school import planning, register, teaching
from companion.school.book import Book
from companion.school.grid_json import groups_json
from companion.school.groups_kept import KeptGroups, load, regroup
from companion.school.trouble import BadEntry
from companion.school.wishes import Move, Room
from speech.trouble import Trouble

NAME = "class groups"
HELP = "next week's groups of 3 to 6 by shared gap; what you decide is kept"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        "Shows a week's groups. With --form, or with any move, they are made (again) from the\n"
        "grid of the week before: 3 to 6 children who share a gap, earlier GPCs first, as many\n"
        "groups as there are adults and slots. Whoever is left stands on the keep-up list, with\n"
        "the reason."
    )
    classroom.add_week(parser, "next", "the week in which they meet")
    parser.add_argument("--form", action="store_true", help="make them anew; moves stay")
    parser.add_argument("--adults", type=int, metavar="N", help="adults with a group at a time")
    parser.add_argument("--slots", type=int, metavar="N", help="times in the week")
    parser.add_argument("--each", type=int, metavar="N", help="most groups one child is in: 1 or 2")
    parser.add_argument(
        "--hold", nargs=4, action="append", default=[], metavar=("CODE", "GPC", "SLOT", "ADULT"),
        help="this child is in that group, whatever the evidence",
    )  # fmt: skip
    parser.add_argument(
        "--keep-out", nargs=2, action="append", default=[], metavar=("CODE", "GPC"),
        help="this child is in no group for that GPC",
    )  # fmt: skip
    parser.add_argument(
        "--free", action="append", default=[], metavar="CODE", help="take back moves of a child"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    classroom.add_book(parser)
    parser.epilog = (
        "examples:\n"
        "  wordhearth class groups --form --adults 2 --slots 3\n"
        "  wordhearth class groups --hold 7K3QFY i-e 1 2     in slot 1 with adult 2\n"
        "  wordhearth class groups --keep-out 7K3QFY o-e\n"
        "Then a list for each: wordhearth class plan --keep"
    )


def run(args: argparse.Namespace) -> int:
    """Form the groups if asked to, and show them."""
    try:
        week = classroom.week(args.week)
        with classroom.opened(args, key=False) as book:
            if _changes(args):
                before = load(book, week)
                room = _room(args, before)
                regroup(book, week, room, _moves(args, book, before))
                planning.drop_stale(book, week)
            kept = load(book, week)
            captions = _captions(book, week, kept)
    except (Trouble, TableError, ListMakerError) as error:
        household.tell(error)
        return 1
    if args.json:
        print(json.dumps(None if kept is None else groups_json(str(week), kept), indent=2))
    elif kept is None and _changes(args):
        print(f"No groups for {week}: no child is listed for practice, as far as is known.")
    elif kept is None:
        print(f"There are no groups for {week} yet: wordhearth class groups --form")
    else:
        print(_text(week, kept, captions), end="")
    return 0


def _changes(args: argparse.Namespace) -> bool:
    sized = (args.adults, args.slots, args.each) != (None, None, None)
    return bool(args.form or sized or args.hold or args.keep_out or args.free)


def _room(args: argparse.Namespace, before: KeptGroups | None) -> Room:
    old = Room() if before is None else before.room
    given = {"adults": args.adults, "slots": args.slots, "each": args.each}
    return replace(old, **{name: count for name, count in given.items() if count is not None})


def _moves(args: argparse.Namespace, book: Book, before: KeptGroups | None) -> tuple[Move, ...]:
    moves = list(() if before is None else before.moves)
    free = {_pupil(book, text) for text in args.free}
    moves = [move for move in moves if move.pupil not in free]
    fresh = [
        Move(_pupil(book, code), _gpc(book, gpc), _number(slot), _number(adult), True)
        for code, gpc, slot, adult in args.hold
    ]
    fresh += [Move(_pupil(book, code), _gpc(book, gpc), 0, 0, False) for code, gpc in args.keep_out]
    about = {(move.pupil, move.gpc) for move in fresh}
    return (*(move for move in moves if (move.pupil, move.gpc) not in about), *fresh)


def _pupil(book: Book, text: str) -> str:
    try:
        return register.one(book, codes.read(text)).code
    except RecordTrouble as error:
        raise BadEntry(error.what, error.why, error.mend) from error


def _gpc(book: Book, text: str) -> Gpc:
    found = classroom.gpcs([text], teaching.order(book))
    if len(found) > 1:
        raise BadEntry(
            f"{text!r} stands for {len(found)} GPCs",
            "a group is for one",
            f"Write one of: {', '.join(map(repr, map(str, found)))}.",
        )
    return found[0]


def _number(text: str) -> int:
    if not text.isdecimal():
        raise BadEntry(
            f"{text!r} is no number", "a slot and an adult are counted from 1", "Write a number."
        )
    return int(text)


def _captions(book: Book, week: Week, kept: KeptGroups | None) -> dict[int, str]:
    found = {}
    for group in () if kept is None else kept.groups:
        words = teaching.weekly_list(book, week, group.number)
        if words is not None:
            caption = f"; caption: {words.caption}" if words.caption else ""
            found[group.number] = f"{' '.join(words.words)}{caption}"
    return found


def _text(week: Week, kept: KeptGroups, lists: dict[int, str]) -> str:
    room = kept.room
    lines = [
        f"Groups for {week}: {room.adults} at a time, {room.slots} in the week, at most "
        f"{room.each} a child"
    ]
    for group in kept.groups:
        lines += [
            "",
            f"Group {group.number}: {group.gpc}, slot {group.slot}, adult {group.adult}",
            f"  {_named(group.pupils, group.held, group.check_first)}",
            f"  Why: {group.why}.",
        ]
        if kept.check_words.get(group.number):
            lines.append(f"  Hear when it has met: {' '.join(kept.check_words[group.number])}")
        if group.number in lists:
            lines.append(f"  List: {lists[group.number]}")
    if kept.keep_up:
        lines += ["", "Keep up, a few minutes a day:"]
        lines += [f"  {left.pupil}  {left.gpc}: {left.why}" for left in kept.keep_up]
    if any(group.check_first for group in kept.groups):
        lines += ["", "?  not listed yet: hear the check words first (wordhearth class check)"]
    best = "no other grouping is worth more" if kept.gap < 1e-6 else (
        f"no other grouping is worth more than {100 * kept.gap:.1f}% more"
    )  # fmt: skip
    lines += ["", f"By the weights that were set, {best}.", "", "Please keep in mind"]
    return "\n".join([*lines, *(f" - {caution}" for caution in CAUTIONS)]) + "\n"


def _named(pupils: Sequence[str], held: Sequence[str], check_first: Sequence[str]) -> str:
    return "  ".join(
        pupil + (" (held)" if pupil in held else "") + (" ?" if pupil in check_first else "")
        for pupil in pupils
    )
