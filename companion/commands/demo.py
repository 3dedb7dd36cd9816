"""``wordhearth demo``: a week of bundled clips, heard and judged for real, in a temporary log."""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from rich.console import Console

import fixtures_audio
from companion.commands import household
from companion.phonics.gpc import table
from companion.phonics.reading import Reading, reading
from companion.practice.sitting import Keeping, Sitting, Step
from companion.practice.turn import judge
from companion.practice.verdicts import Judgement
from companion.record import consent
from companion.record.consent import LogPermit
from companion.record.home import child_folder
from companion.record.log import Log
from companion.record.weeks import Week
from companion.report import week_text
from companion.report.week import week_sheet
from speech import audio
from speech.scorer import PhoneScorer
from speech.trouble import Trouble

NAME = "demo"
HELP = "hear bundled clips judged from end to end: no microphone needed"

CLIPS = Path(fixtures_audio.__file__).parent
DAYS = 4
WORDS_A_DAY = 14
FAMILY = "puffin"
"""The reader of the story: a child of Saltmarrow Primary who chose a puffin for a name."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.description = (
        "Plays four evenings of a reader at Saltmarrow Primary from bundled recordings "
        "(computer voices, and children from an open corpus), judges each with the real "
        "listener, keeps them in a temporary log that is thrown away, and prints the week sheet. "
        "Needs no microphone, speaker, voice or network."
    )
    parser.add_argument(
        "--words", type=int, default=WORDS_A_DAY, metavar="N", help="words an evening (default: 14)"
    )


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    console = Console(highlight=False)
    try:
        rows = _rows()
        scorer = PhoneScorer.load()
    except Trouble as error:
        household.tell(error)
        return 1
    with tempfile.TemporaryDirectory(prefix="wordhearth-demo-") as home:
        return _week(rows, max(1, args.words), scorer, home, console)


def _rows() -> list[dict[str, Any]]:
    """Clips of the five split digraphs and their short partners, dealt over the evenings."""
    lines = (CLIPS / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    rows = [json.loads(line) for line in lines]
    return [row for row in rows if row["truth"] in ("as_written", "slip", "sounded_out")]


def _week(
    rows: Sequence[dict[str, Any]], count: int, scorer: PhoneScorer, home: str, console: Console
) -> int:
    folder = child_folder(FAMILY, home)
    friday = _last_friday(household.now())
    consent.give(folder, ("practise", "keep_log"), friday - timedelta(days=5))
    agreed = 0
    total = 0
    with Log.open(folder.log) as log:
        for day in range(DAYS):
            evening = friday - timedelta(days=DAYS - 1 - day)
            mine = rows[day::DAYS][:count]
            console.print(f"\n{evening:%A}: {FAMILY} reads {len(mine)} words")
            readings = [reading(row["word"], row.get("phones")) for row in mine]
            sitting = Sitting("demo", readings, Keeping(log, LogPermit(folder)), evening)
            for row, ready in zip(mine, readings, strict=True):
                judgement = _turn(sitting, row, ready, scorer, evening)
                total += 1
                agreed += judgement.verdict == row["truth"]
                console.print(_line(row, ready, judgement), soft_wrap=True)
            sitting.close(evening)
        console.print()
        week = Week.of(friday.date())
        console.print(week_text.render(week_sheet(log, week, table().order()), FAMILY))
    console.print(
        f"\n{agreed} of {total} verdicts are what was truly said; the bundled truths are in "
        "fixtures_audio/manifest.jsonl. The log was temporary and is gone.\n"
        "Next: wordhearth consent, then wordhearth practise."
    )
    return 0


def _last_friday(now: datetime) -> datetime:
    at_five = now.replace(hour=17, minute=0, second=0, microsecond=0)
    return at_five - timedelta(days=(at_five.weekday() - 4) % 7 or 7)


def _turn(
    sitting: Sitting, row: dict[str, Any], ready: Reading, scorer: PhoneScorer, when: datetime
) -> Judgement:
    """One try, committed; a second try would need a second recording."""
    utterance = audio.read(CLIPS / row["audio"], row.get("start"), row.get("end"))
    judgement = judge(utterance.samples, ready, scorer)
    if sitting.hear(judgement, when, utterance) is not Step.NEXT:
        sitting.decide(None, when)
    return judgement


def _line(row: dict[str, Any], ready: Reading, judgement: Judgement) -> str:
    verdict = judgement.verdict.replace("_", " ")
    if judgement.slip:
        verdict = f"slip: {judgement.slip.replace('_', ' ')}, {judgement.gpc}"
    split = " · ".join(unit.grapheme for unit in ready.splits[0].units)
    heard = judgement.heard or "nothing"
    share = judgement.p[judgement.verdict]
    return f"  {split:18s} heard {heard:22s} {verdict} ({share:.0%}, {judgement.ms:.0f} ms)"
