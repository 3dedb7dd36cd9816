"""The plan of ``wordhearth practise``: made from the log and what is taught, and shown."""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from rich.console import Console
from rich.text import Text

from companion.commands import household, teaching
from companion.phonics.wordlists import load
from companion.practice import part_words
from companion.practice.choosing import WHY, WHY_WORDS, Shown
from companion.practice.due import HISTORY_DAYS
from companion.practice.ending import OffScreen
from companion.practice.plan import Apply, Meet, Part, Plan, Practise, Revisit, SightWord, plan
from companion.practice.teaching import TODAY, Teaching, up_to
from companion.record import consent, today
from companion.record.consent import LogPermit, PractisePermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import KeptTurn
from companion.report import home_school

NAMES = {
    "revisit": "Read again",
    "meet": "Meet",
    "practise": "Practise",
    "exception": "An exception word",
    "apply": "Read to a grown-up",
    "off screen": "Away from the screen",
}
"""The parts of a sitting, for the adult."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add --today, --week-list, --plan and --why."""
    parser.add_argument(
        "--today",
        metavar="GPC",
        help="the newest sound taught, such as i-e or 'ow /OW/'; kept until you say another "
        f"(default: {TODAY})",
    )
    parser.add_argument(
        "--week-list",
        metavar="NAME",
        help="the teacher's list of this week, to be practised as a part of the planned sitting",
    )
    parser.add_argument(
        "--plan", action="store_true", help="show the plan of the next sitting, and do no more"
    )
    parser.add_argument(
        "--why",
        action="store_true",
        help="show the plan, why each word is in it, and how words are chosen",
    )


def taught(args: argparse.Namespace, folder: ChildFolder) -> Teaching:
    """What has been taught: by --today, else as the school sent it, else as it was set before.

    Raises
    ------
    WordListError
        The week's list or the corrected splits cannot be used.
    TableError
        The order holds no such GPC.
    TodayUnreadable, FamilyUnreadable
        What was set or sent before cannot be read.
    """
    words = load(args.week_list) if args.week_list else None
    own = teaching.corrections(args)
    sent = None if args.today else home_school.joined(folder)
    if sent is not None:
        school = home_school.teaching(sent)
        return replace(school, words=words or school.words, corrections=own)
    newest = args.today or today.read(folder) or TODAY
    return up_to(newest, words=words, corrections=own)


def keep_today(args: argparse.Namespace, permit: PractisePermit) -> None:
    """Keep what --today said for the sittings to come."""
    if args.today:
        today.keep(permit, args.today)


def planned(folder: ChildFolder, taught: Teaching, day: date) -> Plan:
    """The plan of the next sitting, by the readings kept so far.

    Raises
    ------
    PlanImpossible
        Too few words can be read by what is taught.
    LogTrouble
        The log cannot be read.
    """
    history, begun = _history(folder, day)
    return plan(history, taught, day, seed=begun)


def _history(folder: ChildFolder, day: date) -> tuple[tuple[KeptTurn, ...], int]:
    """The turns of late, and how many sittings the day has had; nothing where nothing is kept."""
    if not consent.read(folder).holds(LogPermit.choice) or not folder.log.exists():
        return (), 0
    with Log.open(folder.log) as log:
        begun = sum(sitting.day == day for sitting in log.sittings())
        return log.turns(day - timedelta(days=HISTORY_DAYS), day), begun


def preview(args: argparse.Namespace, folder: ChildFolder) -> None:
    """Print the plan of the next sitting; nothing is kept or listened to."""
    found = planned(folder, taught(args, folder), household.now().date())
    if args.json:
        print(json.dumps(as_json(found) | ({"why": WHY} if args.why else {}), ensure_ascii=False))
        return
    console = Console(highlight=False)
    wide = not console.is_terminal
    console.print(Text(_heading(found), "bold"), soft_wrap=wide)
    for part in found.parts:
        console.print(_part(part, args.why), soft_wrap=wide)
    if args.why:
        console.print(Text(f"\n{WHY}"), soft_wrap=wide)


def _heading(found: Plan) -> str:
    return f"{found.title}: {len(found.words)} words, about {found.about_minutes} minutes"


def _part(part: Part, why: bool) -> Text:
    text = Text(f"\n{NAMES[part.name]}\n", "bold")
    match part:
        case Revisit() | Practise() if why:
            lines = [f"{each.word:<12} {_reason(each)}" for each in part.words]
        case Revisit() | Practise():
            lines = ["  ".join(each.word for each in part.words)]
        case Apply():
            lines = [part.caption]
        case OffScreen():
            lines = [part.line]
        case _:
            lines = part_words.lines(part)
    text.append("\n".join(f"  {line}" for line in lines), "not bold")
    return text


def _reason(shown: Shown) -> str:
    return WHY_WORDS[shown.why] + (f" ({shown.gpc.grapheme})" if shown.gpc else "")


def as_json(found: Plan) -> dict[str, Any]:
    """A plan as what ``json.dumps`` takes."""
    return {
        "name": found.name,
        "title": found.title,
        "about_minutes": found.about_minutes,
        "parts": [part_json(part) for part in found.parts],
        "pairs": [list(pair) for pair in found.pairs],
    }


def part_json(part: Part) -> dict[str, Any]:
    """One part of a plan, with its name."""
    return {"part": part.name, **_inside(part)}


def _inside(part: Part) -> dict[str, Any]:
    match part:
        case Revisit() | Practise():
            return {"words": [_word_json(each) for each in part.words]}
        case Meet():
            aid = part.aid
            return {
                "gpcs": [str(gpc) for gpc in part.gpcs],
                "exemplars": list(part.exemplars),
                "phrase": aid.phrase if aid else None,
                "picture": aid.picture if aid else None,
            }
        case SightWord():
            return {**_word_json(part.word), "hard": list(part.hard), "aid": part.aid}
        case Apply():
            return {"caption": part.caption}
        case OffScreen():
            return {"how": part.how, "word": part.word, "line": part.line}


def _word_json(shown: Shown) -> dict[str, Any]:
    gpc = None if shown.gpc is None else str(shown.gpc)
    return {"word": shown.word, "why": shown.why, "gpc": gpc, "made_up": shown.pseudo}
