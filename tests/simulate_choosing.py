"""How soon a week sheet says something of a GPC, and how often it errs, by how words are chosen.

``python tests/simulate_choosing.py``: simulated children (`simulated_children.py`, with its
sources and guesses) are taught a GPC a day from ay to u-e, practise at home on most days for six
weeks, and are heard by a listener with the measured error rates of `companion/school/rates.json`.
The same children, days, lessons and chances meet three ways of choosing thirteen words: the
program's plan, words at random among those decodable, and words with the newest GPC alone. One
table comes out: shares with the 95% interval of a bootstrap over children.

The weights in `companion/practice/needs.py` and `choosing.py` were looked at with ``--seed 1``;
the figures that are printed elsewhere are those of the default seed, which nothing was chosen on.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import takewhile
from random import Random

import numpy as np
from rich.console import Console
from rich.progress import track
from rich.table import Table
from simulated_children import PRACTISES, Child, date_of, school_days, teach, turn

from companion.phonics.decodable import exception_words
from companion.phonics.gpc import Gpc, table
from companion.practice.choosing import pool
from companion.practice.due import HISTORY_DAYS
from companion.practice.plan import plan
from companion.practice.teaching import Teaching
from companion.record.tally import tally
from companion.record.weeks import Week
from companion.report.week import FALSE_SLIPS, SLIPS_SECURE, state
from companion.school.rates import Rates, listener

FIRST, LAST = "ay /EY/", "u-e /Y UW/"
WEEKS = 6
LATER_DAYS = 14
"""After the last sitting, with nothing in between: what is left then is what was learnt."""
WORDS = 13
"""Words read in a sitting of fourteen; its exception word is left out here."""
RESAMPLES = 1000
COMMON = 8
CLOSE = 1 / 5
"""A GPC that slips this often is not one to be called secure, though the rule allows for more."""


@dataclass
class Said:
    """What one child's sheets came to: lists of what was so or not, each to be a share."""

    days_to_state: list[float] = field(default_factory=list)
    by_week: dict[int, list[bool]] = field(default_factory=lambda: {1: [], 2: [], 3: []})
    secure_wrong: list[bool] = field(default_factory=list)
    secure_close: list[bool] = field(default_factory=list)
    practise_wrong: list[bool] = field(default_factory=list)
    weak_found: list[bool] = field(default_factory=list)
    read_well: list[bool] = field(default_factory=list)
    later_new: list[float] = field(default_factory=list)
    later_gap: list[float] = field(default_factory=list)
    one_word_most: list[float] = field(default_factory=list)


Chooser = Callable[[Child, Teaching, int, Random], list[str]]


def by_plan(child: Child, taught: Teaching, day: int, rng: Random) -> list[str]:
    """The program's own choice."""
    at = date_of(day)
    history = [each for each in child.history if (at - each.day).days <= HISTORY_DAYS]
    return [each.word for each in plan(history, taught, at).words if each.why != "exception"]


def at_random(child: Child, taught: Teaching, day: int, rng: Random) -> list[str]:
    """Any words that can be decoded."""
    return [each.word for each in rng.sample(pool(taught), WORDS)]


def newest_only(child: Child, taught: Teaching, day: int, rng: Random) -> list[str]:
    """Words with the newest GPC, then with the one before it."""
    words = list(pool(taught))
    rng.shuffle(words)
    words.sort(key=lambda each: -max(taught.gpcs.index(gpc) for gpc in each.gpcs))
    return [each.word for each in words[:WORDS]]


CHOOSERS: dict[str, Chooser] = {
    "by plan": by_plan,
    "at random": at_random,
    "newest only": newest_only,
}


def live(seed: str, choose: Chooser, gpcs: Sequence[Gpc], start: int, ear: Rates) -> Said:
    """Six weeks of one child under one way of choosing."""
    before, block = gpcs[:start], gpcs[start:]
    child = Child.born(seed, before, block, common(tuple(gpcs)))
    school = school_days(WEEKS * 5)
    lessons = school[: len(block)]
    rng = Random(f"{seed} words")
    at_home = [Random(f"{seed} days {day}").random() < PRACTISES for day in range(WEEKS * 7)]
    said = Said()
    taught_on = dict(zip(block, lessons, strict=True))
    first_state: dict[Gpc, int] = {}
    truth: dict[Gpc, list[float]] = {gpc: [] for gpc in gpcs}
    for day in range(WEEKS * 7):
        teach(child, block, school, day)
        so_far = gpcs[: start + sum(lesson <= day for lesson in lessons)]
        for gpc in so_far:
            truth[gpc].append(1 - child.chance(gpc, day))
        if at_home[day]:
            teaching = taught_now(so_far)
            for word in choose(child, teaching, day, rng):
                turn(child, word, day, date_of(day), day, ear)
            for gpc in states(child, so_far, day):
                first_state.setdefault(gpc, day)
        if day % 7 == 6:
            judge_sheet(said, child, so_far, day, truth)
            truth = {gpc: [] for gpc in gpcs}
    for gpc, lesson in taught_on.items():
        waited = first_state.get(gpc, 999) - lesson
        said.days_to_state.append(waited)
        for weeks, reached in said.by_week.items():
            if lesson + weeks * 7 <= WEEKS * 7:
                reached.append(waited < weeks * 7)
    end = WEEKS * 7 - 1 + LATER_DAYS
    said.later_new = [child.chance(gpc, end) for gpc in block]
    said.later_gap = [child.chance(gpc, end) for gpc in child.gaps]
    said.read_well = child.read_well
    said.one_word_most = [float(most_of_one_word(child))]
    return said


@cache
def common(gpcs: tuple[Gpc, ...]) -> frozenset[Gpc]:
    """The GPCs that at least `COMMON` known words have: of others no week could say anything."""
    times = Counter(gpc for word in pool(taught_now(gpcs)) for gpc in word.gpcs)
    return frozenset(gpc for gpc, words in times.items() if words >= COMMON)


def taught_now(gpcs: Sequence[Gpc]) -> Teaching:
    """The teaching on a day: all taught so far, the last of it today's."""
    return Teaching(tuple(gpcs), (gpcs[-1],), exception_words(gpcs))


def states(child: Child, gpcs: Sequence[Gpc], day: int) -> dict[Gpc, str]:
    """What the sheet of this week says by the evening of a day, where it says something."""
    monday = Week.of(date_of(day)).monday
    week = takewhile(lambda each: each.day >= monday, reversed(child.history))
    counts = {count.gpc: count for count in tally(week).gpcs}
    found = {gpc: state(counts[str(gpc)], taught=True) for gpc in gpcs if str(gpc) in counts}
    return {gpc: said for gpc, said in found.items() if said in ("secure", "practise")}


def judge_sheet(
    said: Said, child: Child, gpcs: Sequence[Gpc], day: int, truth: dict[Gpc, list[float]]
) -> None:
    """Hold a Sunday's sheet against how often each GPC truly slipped that week, before practice."""
    sheet = states(child, gpcs, day)
    for gpc in gpcs:
        slips = statistics.fmean(truth[gpc])
        match sheet.get(gpc):
            case "secure":
                said.secure_wrong.append(slips > SLIPS_SECURE)
                said.secure_close.append(slips > CLOSE)
            case "practise":
                said.practise_wrong.append(slips < FALSE_SLIPS)
        if slips > SLIPS_SECURE:
            said.weak_found.append(sheet.get(gpc) == "practise")


def most_of_one_word(child: Child) -> int:
    """How often the word read oftenest in one week was read in it."""
    times = Counter((Week.of(each.day), each.turn.word) for each in child.history)
    return max(times.values(), default=0)


Column = Callable[[Said], Sequence[float]]

ROWS: dict[str, Column] = {
    "a state within 1 week of its lesson": lambda said: said.by_week[1],
    "within 2 weeks": lambda said: said.by_week[2],
    "within 3 weeks": lambda said: said.by_week[3],
    f"'secure', and it truly slipped over 1 in {1 / SLIPS_SECURE:.0f}": lambda s: s.secure_wrong,
    f"'secure', and it truly slipped over 1 in {1 / CLOSE:.0f}": lambda said: said.secure_close,
    f"'practise', and it slipped under 1 in {1 / FALSE_SLIPS:.0f}": lambda s: s.practise_wrong,
    f"slipped over 1 in {1 / SLIPS_SECURE:.0f}: called 'practise'": lambda s: s.weak_found,
    "words read as written at the first try": lambda said: said.read_well,
    f"chance {LATER_DAYS} days later, GPCs of these weeks": lambda said: said.later_new,
    f"chance {LATER_DAYS} days later, gaps from before": lambda said: said.later_gap,
}


def share(children: Sequence[Said], column: Column, rng: np.random.Generator) -> str:
    """A share over all children with its bootstrap interval and how many it is of."""
    sums = np.array([[sum(column(each)), len(column(each))] for each in children], dtype=float)
    if not sums[:, 1].sum():
        return "none"
    drawn = sums[rng.integers(len(sums), size=(RESAMPLES, len(sums)))].sum(axis=1)
    drawn = drawn[drawn[:, 1] > 0]
    low, high = np.percentile(drawn[:, 0] / drawn[:, 1], [2.5, 97.5])
    whole = sums[:, 0].sum() / sums[:, 1].sum()
    return f"{whole:.1%} ({low:.1%} to {high:.1%}) of {sums[:, 1].sum():.0f}"


def days(children: Sequence[Said]) -> str:
    """Median days from a lesson to the first state, where one was reached."""
    waited = [day for each in children for day in each.days_to_state if day <= WEEKS * 7]
    return f"{statistics.median(waited):.0f} of {len(waited)}" if waited else "none"


def report(found: dict[str, list[Said]], seed: int) -> Table:
    """The table."""
    children = len(next(iter(found.values())))
    shown = Table(title=f"{children} simulated children, {WEEKS} weeks, seed {seed}")
    shown.add_column("")
    for name in found:
        shown.add_column(name)
    shown.add_row("median days from lesson to a state, where reached", *map(days, found.values()))
    for name, column in ROWS.items():
        rng = np.random.default_rng(seed)
        shown.add_row(name, *(share(each, column, rng) for each in found.values()))
    most = (max(said.one_word_most[0] for said in each) for each in found.values())
    shown.add_row("most readings of one word in a week", *(f"{each:.0f}" for each in most))
    return shown


def main() -> None:
    """Run every way of choosing on the same children, and print one table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--children", type=int, default=50)
    parser.add_argument("--seed", type=int, default=2026)
    args = parser.parse_args()
    order = table().order()
    start = order.gpcs.index(Gpc.parse(FIRST))
    gpcs = order.gpcs[: order.gpcs.index(Gpc.parse(LAST)) + 1]
    began = time.monotonic()
    found: dict[str, list[Said]] = {name: [] for name in CHOOSERS}
    console = Console(width=150)
    for number in track(range(args.children), "simulated children", console=Console(stderr=True)):
        for name, choose in CHOOSERS.items():
            said = live(f"{args.seed} {number}", choose, gpcs, start, listener())
            found[name].append(said)
    console.print(report(found, args.seed))
    console.print(f"listener: {listener()}; {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
