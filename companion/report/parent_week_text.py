"""What a parent's week page says beyond the sheet, for a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from companion.phonics.gpc import Gpc
from companion.report.overrules import in_words
from companion.report.parent_week import (
    TIPS_AT_ONCE,
    ParentWeek,
    Tip,
    no_tip_in_words,
    tip_in_words,
)
from companion.report.trend import SPACING, GpcTrend
from companion.report.wording import CHANGE_WORDS, gpc_words

WIDTH = 80
_BAR = 30


def advice_text(found: ParentWeek) -> str:
    """What to do about the slips of the week, five minutes each, without a computer."""
    if not found.tips:
        lines = [_wrapped(no_tip_in_words(found))]
    else:
        lines = ["Worth five minutes each, with pencil and paper"]
        for tip in found.tips[:TIPS_AT_ONCE]:
            lines += ["", *_tip(tip)]
        if rest := found.tips[TIPS_AT_ONCE:]:
            lines += ["", "Less often:"]
            lines += [_wrapped(f"{_name(tip)}: {tip_in_words(tip)}", "  ") for tip in rest]
    if found.early:
        lines += ["", "Seen, and too early to say anything of:"]
        lines += [_wrapped(f"{_name(tip)}: {tip_in_words(tip)}", "  ") for tip in found.early]
    return "\n".join([*lines, "", _wrapped(in_words(found.overrules))]) + "\n"


def trend_text(found: ParentWeek) -> str:
    """The week beside the child's own weeks before."""
    most = max(point.turns for point in found.trend.weeks)
    lines = ["Words read in each week"]
    for point in found.trend.weeks:
        bar = "#" * (-(-point.turns * _BAR // most) if most else 0)
        days = f"{point.turns} on {point.days} day{'' if point.days == 1 else 's'}"
        lines.append(f"  {point.week.monday:%d %b}  {bar:{_BAR}}  {days if point.turns else '-'}")
    told = [each for each in found.trend.gpcs if each.change != "too few"]
    lines += ["", "Beside the child's own weeks before, by sound"]
    lines += [_wrapped(_change(each), "  ") for each in told]
    if not told:
        lines.append("  Too few readings so far to compare.")
    return "\n".join([*lines, "", _wrapped(SPACING)]) + "\n"


def to_json(found: ParentWeek) -> dict[str, Any]:
    """Both as what ``json.dumps`` takes."""
    return {
        "week": str(found.sheet.week),
        "advice": [_plain(tip) for tip in found.tips],
        "too_early": [_plain(tip) for tip in found.early],
        "weeks": [
            {"week": str(point.week), "words": point.turns, "days": point.days}
            for point in found.trend.weeks
        ],
        "sounds": [
            {
                "gpc": each.gpc,
                "change": each.change,
                "as_written": each.points[-1].as_written,
                "readings": each.points[-1].readings,
                "as_written_before": each.before[0],
                "readings_before": each.before[1],
            }
            for each in found.trend.gpcs
        ],
        "overrules": {**asdict(found.overrules), "false_alarms": found.overrules.rate},
    }


def _tip(tip: Tip) -> Sequence[str]:
    return [
        f"{_name(tip)}: {tip.advice.name}",
        _wrapped(tip_in_words(tip), "  "),
        _wrapped(tip.advice.meaning, "  "),
        *(_wrapped(f"{n}. {step}", "  ", "     ") for n, step in enumerate(tip.advice.steps, 1)),
        _wrapped(f"From: {tip.advice.source}", "  "),
    ]


def _name(tip: Tip) -> str:
    return "All words" if tip.row is None else gpc_words(Gpc.parse(tip.row.gpc))


def _change(each: GpcTrend) -> str:
    now, (before, readings) = each.points[-1], each.before
    return (
        f"{gpc_words(Gpc.parse(each.gpc))}: {now.as_written} of {now.readings} as written, before "
        f"{before} of {readings}: {CHANGE_WORDS[each.change]}"
    )


def _plain(tip: Tip) -> dict[str, Any]:
    return {
        "gpc": None if tip.row is None else tip.row.gpc,
        "kind": tip.kind,
        "times": tip.times,
        "words": list(tip.words),
        "name": tip.advice.name,
        "meaning": tip.advice.meaning,
        "steps": list(tip.advice.steps),
        "source": tip.advice.source,
    }


def _wrapped(text: str, indent: str = "", further: str | None = None) -> str:
    after = indent if further is None else further
    return textwrap.fill(text, WIDTH, initial_indent=indent, subsequent_indent=after)
