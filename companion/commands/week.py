"""``wordhearth week``: the week sheet."""

from __future__ import annotations

import argparse
import json
import sys
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

from rich.console import Console

from companion.commands import household
from companion.phonics.decodable import named
from companion.phonics.gpc import Gpc, Order, TableError, load_order
from companion.record import clips
from companion.record.consent import LogPermit
from companion.record.files import write_durably
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.trouble import LogReadOnly, LogTrouble, RecordTrouble
from companion.record.turns import OVERRULES, KeptTurn
from companion.record.weeks import Week
from companion.report import parent_week, parent_week_text, readings, week_text
from companion.report.overrules import in_words, overrules
from companion.report.parent_week import ParentWeek
from companion.report.taught import at_home
from companion.report.week import WeekSheet, to_json, week_sheet
from companion.report.week_pdf import week_pdf

NAME = "week"
HELP = "the week sheet: which sounds are secure and which need practice"

UNDO = "undo"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        "For each grapheme and its sound: readings, how many as written, slips by kind, how\n"
        "many could not be told, on how many days and in how many words, and one of four states:\n"
        "practise, not enough listened, secure, not yet taught. Practise and secure are said only\n"
        "after 8 readings on 3 days in 4 words; practise only after 3 slips as well."
    )
    parser.epilog = (
        "examples:\n"
        "  wordhearth week                          this week\n"
        "  wordhearth week --week last              the week before\n"
        "  wordhearth week --week 2026-W48 --json   one week, for another program\n"
        '  wordhearth week --taught-up-to "i-e"     later sounds are not yet taught\n'
        "  wordhearth week --advice                 what to do about the slips, off screen\n"
        "  wordhearth week --trend                  beside the child's own weeks before\n"
        "  wordhearth week --pdf week.pdf           one A4 page to print\n"
        "  wordhearth week --readings               each reading of the week, with its number\n"
        "  wordhearth week --correct 12 as_written  your ear outranks the program's\n"
    )
    parser.add_argument(
        "--week",
        default="this",
        metavar="WEEK",
        help="this, last, or an ISO week such as 2026-W48 (default: this)",
    )
    parser.add_argument(
        "--taught-up-to",
        metavar="GPC",
        help='the last grapheme taught so far, such as "i-e" or "ow /OW/" (default: as the school '
        "or the household has said, else all)",
    )
    parser.add_argument(
        "--order", metavar="FILE", type=Path, help="your school's teaching order, a GPC a line"
    )
    parser.add_argument("--json", action="store_true", help="print JSON instead of the sheet")
    parser.add_argument(
        "--advice", action="store_true", help="print what to do about the slips of the week"
    )
    parser.add_argument(
        "--trend", action="store_true", help="print the week beside the child's own weeks before"
    )
    parser.add_argument(
        "--pdf", metavar="FILE", type=Path, help="write the week as one A4 page to print"
    )
    parser.add_argument(
        "--readings", action="store_true", help="print each reading that is kept of the week"
    )
    parser.add_argument(
        "--correct",
        nargs=2,
        metavar=("NUMBER", "MARK"),
        help="say how a reading was: as_written, not (not as written), skip (leave it out), or "
        "undo; then print the sheet",
    )
    household.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    try:
        folder = household.folder(args)
        week = _week(args.week)
        order, taught = _taught(args, folder)
        with _log(folder) as log:
            if args.correct:
                _correct(log, folder, *args.correct)
            if args.readings:
                turns = log.turns(week.monday, week.sunday)
                sounds = clips.by_try(folder.clips, household.now().date())
                _print_readings(turns, sounds, as_json=args.json)
            elif args.advice or args.trend or args.pdf:
                _print_more(parent_week.read(log, week, order, taught), folder, args)
            else:
                _print_sheet(week_sheet(log, week, order, taught), args)
    except (RecordTrouble, TableError) as error:
        household.tell(error)
        return 1
    return 0


def _print_sheet(found: WeekSheet, args: argparse.Namespace) -> None:
    console = Console(highlight=False)
    if args.json:
        print(json.dumps(to_json(found), ensure_ascii=False, indent=2))
    elif console.is_terminal:
        console.print(week_text.render(found, args.child), width=min(console.width, 80))
    else:
        print(week_text.to_text(found, args.child), end="")


def _print_more(found: ParentWeek, folder: ChildFolder, args: argparse.Namespace) -> None:
    if args.pdf:
        write_durably(args.pdf, week_pdf(found, folder.label))
        print(f"Written: {args.pdf}", file=sys.stderr)
    if args.json and (args.advice or args.trend):
        print(json.dumps(parent_week_text.to_json(found), ensure_ascii=False, indent=2))
        return
    texts = [parent_week_text.advice_text(found)] if args.advice else []
    texts += [parent_week_text.trend_text(found)] if args.trend else []
    print("\n".join(texts), end="")


def _print_readings(
    turns: Sequence[KeptTurn], sounds: Mapping[tuple[int, int], Path], as_json: bool
) -> None:
    if as_json:
        print(json.dumps(readings.to_json(turns), ensure_ascii=False, indent=2))
    else:
        print(readings.to_text(turns, sounds), end="")
        if turns:
            print("\n".join(textwrap.wrap(in_words(overrules(turns)), 80)))


@contextmanager
def _log(folder: ChildFolder) -> Iterator[Log]:
    if not folder.log.exists():
        raise LogTrouble(
            f"There is no log for '{folder.label}' yet",
            f"nothing has been kept in {folder.path}",
            "Agree to keep a log (wordhearth consent), then practise (wordhearth practise). "
            "If another label or place was used, name it with --child or --home.",
        )
    with Log.open(folder.log) as log:
        try:
            household.tidy_aloud(folder, log)
        except LogReadOnly as error:
            household.tell(error)  # old readings stay until it can be; the sheet is the same
        yield log


def _correct(log: Log, folder: ChildFolder, number: str, mark: str) -> None:
    if mark not in (*OVERRULES, UNDO):
        raise RecordTrouble(
            f"{mark!r} is not a mark",
            "a reading can be corrected to one of four only",
            f"Write one of: {', '.join(OVERRULES)}, {UNDO}.",
        )
    try:
        log.overrule(LogPermit(folder), int(number), None if mark == UNDO else mark)
    except (ValueError, KeyError) as error:
        raise RecordTrouble(
            f"There is no reading {number}",
            "no single reading with that number is kept",
            "See the numbers with: wordhearth week --readings (--week last for the week before).",
        ) from error


def _week(text: str) -> Week:
    today = household.now().date()
    if text == "this":
        return Week.of(today)
    if text == "last":
        return Week.of(today - timedelta(days=7))
    try:
        return Week.parse(text)
    except ValueError as error:
        raise RecordTrouble(
            f"{text!r} is not a week",
            str(error),
            "Write: this, last, or a week such as 2026-W48.",
        ) from error


def _taught(args: argparse.Namespace, folder: ChildFolder) -> tuple[Order, frozenset[Gpc] | None]:
    """The order, and what is taught: as the arguments say, else as this home has been told."""
    order, taught = at_home(folder)
    if args.order:
        order = load_order(args.order)
    if args.taught_up_to:
        taught = order.up_to(named(args.taught_up_to, order)[-1])
    return order, taught
