"""``wordhearth hand-in``: make a week's summary to hand to the school."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

from companion.commands import household
from companion.record.consent import HandInPermit
from companion.record.files import write_durably
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.trouble import LogTrouble
from companion.record.weeks import Week
from companion.report import home_school, summary_csv
from companion.report.summary import Summary
from companion.report.trouble import NothingToHandIn
from companion.report.wording import VERDICT_WORDS
from speech.trouble import Trouble

NAME = "hand-in"
HELP = "make a week's summary to hand to the school, sealed for the class teacher"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        "Makes a file with one line for each sound of a week: how often it was read, and how.\n"
        "No name, no sound, no word that was read. Only the class teacher can open it. You hand\n"
        "it over yourself, as the school asks you to: nothing is sent."
    )
    parser.add_argument(
        "--week",
        default="this",
        metavar="WEEK",
        help="this, last, or an ISO week such as 2026-W48 (default: this)",
    )
    parser.add_argument(
        "--out",
        default=Path(),
        metavar="FOLDER",
        type=Path,
        help="where it is written (default: here)",
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--show", action="store_true", help="show what would be in it; make nothing")
    what.add_argument(
        "--csv",
        action="store_true",
        help="a plain table instead, where the school must have one: anybody can read it",
    )
    household.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Make the file, or show."""
    try:
        week = _week(args.week)
        return _hand_in(args, household.folder(args), week)
    except Trouble as error:
        household.tell(error)
        return 1


def _hand_in(args: argparse.Namespace, folder: ChildFolder, week: Week) -> int:
    now = household.now()
    permit = HandInPermit(folder)
    found = home_school.joined(folder)
    if found is None:
        raise home_school.not_joined()
    if not folder.log.exists():
        raise LogTrouble(
            f"There is no log for '{folder.label}' yet",
            f"nothing has been kept in {folder.path}",
            "Practise first (wordhearth practise).",
        )
    with Log.open(folder.log) as log:
        if args.show:
            print("\n".join(_lines(home_school.prepare(log, found, week, now))))
            return 0
        make = home_school.make_csv if args.csv else home_school.make_sealed
        made = make(permit, log, week, now)
    path = args.out / made.name
    write_durably(path, made.data)
    print("\n".join(_lines(made.summary)))
    print(f"\nWritten: {path} ({len(made.data):,} bytes)")
    if args.csv:
        print(f"{summary_csv.OPEN_TO_ALL}.")
    else:
        print("Sealed: only the class teacher can open it.")
        print(f"Your key, if the teacher asks: {home_school.fingerprint(made.family_key)}")
    print("Hand it over as the school asks you to. Nothing has been sent.")
    return 0


def _lines(summary: Summary) -> Iterator[str]:
    yield f"What the school is told of {summary.pupil} for {summary.week}:"
    words = ", ".join(
        f"{summary.verdicts[name]} {said}"
        for name, said in VERDICT_WORDS.items()
        if name in summary.verdicts
    )
    yield f"  {summary.words} words on {summary.days} days: {words or 'none'}"
    yield f"  {summary.overruled} corrected by you, {summary.left_out} left out"
    yield f"  {'Sound':14}{'readings':>9}{'as written':>11}{'slips':>6}{'unsure':>7}{'days':>5}"
    for row in summary.rows:
        yield (
            f"  {row.gpc:14}{row.readings:9}{row.as_written:11}{row.slipped:6}"
            f"{row.could_not_tell:7}{row.days:5}"
        )


def _week(text: str) -> Week:
    today = household.now().date()
    if text in ("this", "last"):
        return Week.of(today - timedelta(days=7 * (text == "last")))
    try:
        return Week.parse(text)
    except ValueError as error:
        raise NothingToHandIn(
            f"{text!r} is not a week",
            str(error),
            "Write: this, last, or a week such as 2026-W48.",
        ) from error
