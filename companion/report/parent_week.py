"""Everything a parent's week page says, put together once for page, paper and terminal.

`parent_week` is a pure function of what a log holds; `read` asks a log for it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from companion.phonics.gpc import Gpc, Order, table
from companion.record.log import Log
from companion.record.tally import Tally, tally
from companion.record.turns import KeptTurn
from companion.record.weeks import Week
from companion.report import evidence
from companion.report.advice import SOUNDED_OUT, Advice, advice
from companion.report.evidence import DayMarks
from companion.report.overrules import Overrules, overrules
from companion.report.trend import Trend, first_week, trend
from companion.report.week import SheetRow, WeekSheet, sheet
from companion.report.wording import SLIP_WORDS

TIPS_AT_ONCE = 3
"""A parent has ten minutes: the rest is there for whoever asks; common practice, no source."""
SOUNDED_OUT_MIN = 3
"""Fewer words sounded out and not joined in a week are not worth a mention; own choice."""


@dataclass(frozen=True)
class Tip:
    """A slip worth five minutes, and what to do about it.

    Attributes
    ----------
    row : SheetRow or None
        The GPC it fell in; None for what is about no GPC.
    kind : str
        The slip's kind, or ``sounded_out``.
    times : int
        How often this week.
    words : tuple of str
        The words it was heard in, while single readings are kept.
    advice : Advice
        What it means, and what to do.
    """

    row: SheetRow | None
    kind: str
    times: int
    words: tuple[str, ...]
    advice: Advice


@dataclass(frozen=True)
class ParentWeek:
    """One week for a parent.

    Attributes
    ----------
    sheet : WeekSheet
        The counts and the states.
    marks : dict of str to tuple of DayMarks
        Each GPC's readings day by day; empty for a week of which only counts are kept.
    tips : tuple of Tip
        Slips in GPCs to practise, the most frequent first.
    early : tuple of Tip
        Slips in GPCs of which nothing can be said yet.
    trend : Trend
        The week beside the child's own weeks before.
    overrules : Overrules
        The adult's corrections this week.
    corrected : dict of str to int
        Turns of each GPC's words that the adult had a say in; GPCs without any are left out.
    kept_singly : bool
        Whether the week's single readings are still kept.
    """

    sheet: WeekSheet
    marks: Mapping[str, tuple[DayMarks, ...]]
    tips: tuple[Tip, ...]
    early: tuple[Tip, ...]
    trend: Trend
    overrules: Overrules
    corrected: Mapping[str, int]
    kept_singly: bool


def read(
    log: Log, week: Week, order: Order | None = None, taught: frozenset[Gpc] | None = None
) -> ParentWeek:
    """A week of a log; parameters as `companion.report.week.week_sheet` has them."""
    counts = dict(log.weeks(first_week(week), week))
    turns = log.turns(week.monday, week.sunday)
    return parent_week(counts, turns, week, order or table().order(), taught)


def parent_week(
    counts: Mapping[Week, Tally],
    turns: Sequence[KeptTurn],
    week: Week,
    order: Order,
    taught: frozenset[Gpc] | None = None,
) -> ParentWeek:
    """Put a week together.

    Parameters
    ----------
    counts : mapping of Week to Tally
        The week's counts and those of the seven weeks before; a week without readings may be left
        out.
    turns : sequence of KeptTurn
        The week's single readings, if they are still kept.
    week, order, taught
        As for `companion.report.week.week_sheet`.
    """
    mine = counts.get(week, tally(()))
    found = sheet(mine, week, order, taught)
    tips = _tips(found, turns, "practise")
    joining = found.verdicts.get(SOUNDED_OUT, 0)
    if joining >= SOUNDED_OUT_MIN:
        tips.append(Tip(None, SOUNDED_OUT, joining, (), advice(SOUNDED_OUT)))
    return ParentWeek(
        sheet=found,
        marks=evidence.by_gpc(turns),
        tips=tuple(tips),
        early=tuple(_tips(found, turns, "not enough listened")),
        trend=trend(counts, week),
        overrules=overrules(turns),
        corrected={each.gpc: each.overruled for each in mine.gpcs if each.overruled},
        kept_singly=bool(turns),
    )


def tip_in_words(tip: Tip) -> str:
    """What was heard, in one line: how often, which slip, in which words."""
    times = "once" if tip.times == 1 else f"{tip.times} times"
    if tip.row is None:
        return f"Heard {times} this week."
    what = SLIP_WORDS.get(tip.kind, tip.kind.replace("_", " "))
    where = f", in {', '.join(tip.words)}" if tip.words else ""
    return f"Heard {times}: {what}{where}."


def no_tip_in_words(found: ParentWeek) -> str:
    """What is said where no GPC is to practise."""
    if found.early:
        return (
            "Too little has been read to say which sounds want practice. What slipped so far is "
            "listed, and needs nothing yet."
        )
    return "Nothing stands out this week. Reading together is always worth it."


def evidence_in_words(row: SheetRow, corrected: int = 0) -> str:
    """What a GPC's state rests on.

    ``12 readings on 3 days in 4 words: 9 as written, 3 with a slip. 1 more could not be told.``
    """
    parts = []
    if row.readings:
        slips = row.readings - row.as_written
        told = f"{row.as_written} as written" + (f", {slips} with a slip" if slips else "")
        parts.append(
            f"{many(row.readings, 'reading')} on {many(row.days, 'day')} "
            f"in {many(row.words, 'word')}: {told}."
        )
    if row.could_not_tell:
        more = " more" if row.readings else ""
        parts.append(f"{row.could_not_tell}{more} could not be told.")
    if corrected:
        parts.append(f"You had the last word on {corrected}.")
    return " ".join(parts)


def many(count: int, noun: str) -> str:
    """``1 day``, ``3 days``."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _tips(found: WeekSheet, turns: Sequence[KeptTurn], state: str) -> list[Tip]:
    words = _slipped_words(turns)
    tips = [
        Tip(row, kind, times, heard, advice(kind, row.gpc.partition(" ")[0], heard))
        for row in found.rows
        if row.state == state
        for kind, times in row.slips.items()
        if kind in SLIP_WORDS
        for heard in [words.get((row.gpc, kind), ())]
    ]
    return sorted(tips, key=lambda tip: -tip.times)  # stable: then in teaching order


def _slipped_words(turns: Sequence[KeptTurn]) -> dict[tuple[str, str], tuple[str, ...]]:
    """Words by the GPC and the kind of their slip, the most frequent first."""
    found: dict[tuple[str, str], Counter[str]] = {}
    for kept in turns:
        outcome = kept.turn.outcome
        if outcome is not None and outcome.slip is not None:
            for gpc in outcome.evidence:
                found.setdefault((gpc, outcome.slip), Counter())[kept.turn.word] += 1
    return {key: tuple(word for word, _ in each.most_common(4)) for key, each in found.items()}
