"""A simulated class of 30 for a year: how often its grid is right, whom its groups hold or miss.

``python tests/simulate_class_year.py [--classes 24] [--world usual] [--seed 1000] [--choose]``

Everything about children is invented (`class_world`); the listener's error rates are the measured
ones. Each Friday the families' summaries are taken in, the teacher hears ten checks that the grid
asks for, and next week's groups are made: two adults, three slots, one group a child. A group helps
those who were in it, and each of them is heard reading its six check words when it has met.

The same children are also grouped by last week's raw percentage (every GPC with more than 20% slips
of any readings), by the same solver, and by chance (the groups' own places dealt to children at
random).

Prints shares with 95% intervals, from 1,000 resamplings of whole classes: the children of one class
share its words and its teacher. ``--choose`` prints precision by threshold instead, on seeds of its
own (from 0), which is how the thresholds in `companion.school.states` were chosen.
"""

from __future__ import annotations

import argparse
import multiprocessing
from collections.abc import Sequence
from datetime import timedelta
from functools import partial

import numpy as np
from class_world import CHILDREN, GPCS, WEEKS, ClassYear, HeardWeek, taught_gpcs, worlds
from numpy.typing import NDArray
from rich.console import Console
from rich.progress import track
from rich.table import Table

from companion.report.summary import Summary
from companion.report.week import DAYS_MIN, READINGS_MIN, SLIPS_MIN, WORDS_MIN
from companion.school.asking import LIKELY, asks, wishes_of
from companion.school.evidence import HeardInClass
from companion.school.grid import Child, Class, Grid, grid
from companion.school.groups import Grouping, group
from companion.school.need import NEED, probability
from companion.school.pooling import age_weeks
from companion.school.rates import listener
from companion.school.states import KEEP, WINDOW, Pool
from companion.school.wishes import Room, Wish

ROOM = Room(adults=2, slots=3, each=1)
BLOCKS = ((0, 6), (6, 13), (13, 20), (20, 26), (26, 33), (33, 39))
RAW_FROM = 0.2
RESAMPLED = 1000

SHARES = {
    "grid": {
        "listed for practice, and needing it": ("listed right", "listed"),
        "  the same, home's evidence alone": ("home listed right", "home listed"),
        "  still needing it a week later": ("listed right later", "listed"),
        "secure, and needing nothing": ("secure right", "secure"),
        "needs that are listed (recall)": ("listed right", "needs"),
        "  needs of more than 1 slip in 3": ("clear listed", "clear needs"),
        "  needs listed by home's evidence alone": ("home listed right", "needs"),
        "  of needs heard often enough at home": ("heard listed", "heard needs"),
        "taught cells with a state": ("decided", "cells"),
    },
    "groups": {
        "places of children who do not need them": ("wrong places", "places"),
        "children with a need and in no group for one": ("missed children", "needy children"),
        "needs in a group": ("needs placed", "needs"),
    },
}
WAYS = ("groups", "raw", "chance")

Counts = dict[str, NDArray[np.int64]]


def main() -> None:
    """Run the classes and print one table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--classes", type=int, default=24)
    parser.add_argument("--world", choices=sorted(worlds()), default="usual")
    parser.add_argument("--seed", type=int, default=1000)
    parser.add_argument("--choose", action="store_true")
    parser.add_argument("--jobs", type=int, default=2)
    args = parser.parse_args()
    first = 0 if args.choose else args.seed
    live = partial(home_alone if args.choose else one_class, args.world)
    with multiprocessing.Pool(args.jobs) as workers:
        running = workers.imap(live, range(first, first + args.classes))
        years = list(track(running, total=args.classes, description="classes"))
    console = Console(width=152)
    if args.choose:
        _print_choice(console, np.concatenate(years))
    else:
        console.print(_table(years, args.world))


def one_class(world: str, seed: int) -> Counts:
    """A year of one class: counts by week, each of shape ``(WEEKS,)``."""
    year = ClassYear(worlds()[world], seed)
    chance = np.random.default_rng(seed + 10**6)
    counts: Counts = {}
    heard: list[Summary] = []
    checks: list[HeardInClass] = []
    grouped = None
    before: tuple[Grid, HeardWeek] | None = None
    for number in range(WEEKS):
        week = year.step(grouped)
        if grouped is not None:
            members = np.argwhere(grouped)
            checks += [_heard(year, week, year.pupils[n], year.order.gpcs[g]) for n, g in members]
        if before is not None:
            _count_later(counts, number - 1, before[0], week)
        heard = [each for each in heard if age_weeks(each.week, week.week) < WINDOW]
        heard += week.summaries
        alone = _grid(year, week, heard, [])
        drawn = _grid(year, week, heard, checks) if checks else alone
        checks += [_heard(year, week, ask.pupil, ask.gpc) for ask in asks(drawn)]
        drawn = _grid(year, week, heard, checks)
        made = group(wishes_of(drawn), year.order, ROOM)
        grouped = _members(year, made)
        _count_states(counts, number, alone, drawn, week)
        _count_groups(counts, number, "groups", grouped, week)
        _count_groups(counts, number, "raw", _members(year, _raw(year, week)), week)
        _count_groups(counts, number, "chance", _shuffled(grouped, chance), week)
        before = (drawn, week)
    return counts


def home_alone(world: str, seed: int) -> NDArray[np.float64]:
    """A year without checks: each cell that home alone could list or call secure.

    Each child's earliest likely need is worked on in a group of the next week.

    Returns
    -------
    ndarray
        Rows ``(P(need), 1 where it is needed)``.
    """
    year = ClassYear(worlds()[world], seed)
    weeks: list[dict[str, NDArray[np.int64]]] = []
    found = []
    grouped = None
    for _ in range(WEEKS):
        week = year.step(grouped)
        weeks = [*weeks, week.counts][-WINDOW:]
        pool = _pool(weeks)
        enough = (pool.readings >= READINGS_MIN) & (pool.days >= DAYS_MIN)
        enough &= (pool.words >= WORDS_MIN) & week.taught
        need = probability(pool.slipped[enough], pool.as_written[enough], listener())
        grouped = np.zeros(enough.shape, np.bool_)
        grouped[enough] = need >= LIKELY
        grouped &= grouped.cumsum(axis=1) == 1
        # what the minimum of three slips keeps off the list is no need that could be listed
        need = np.where((pool.slips[enough] < SLIPS_MIN) & (need >= 0.5), np.nan, need)
        found.append(np.stack([need, week.slip_rate[enough] > NEED], axis=1))
    cells = np.concatenate(found)
    return cells[np.isfinite(cells[:, 0])]


def _pool(weeks: Sequence[dict[str, NDArray[np.int64]]]) -> Pool:
    """The counts of some weeks, the last one newest, as `companion.school.pooling` adds them."""
    kept = KEEP ** np.arange(len(weeks))[::-1][:, None, None]
    each = {name: np.stack([week[name] for week in weeks]) for name in weeks[0]}
    right, slip, words = each["right"], each["slip"], each["words"]
    last = np.take_along_axis(
        each["lately"], _last(right + slip > 0)[None], axis=0
    )[0]  # fmt: skip
    return Pool(
        (right * kept).sum(0),
        (slip * kept).sum(0),
        (right + slip).sum(0),
        slip.sum(0),
        each["days"].sum(0),
        np.maximum(words.max(0), np.minimum(last, words.sum(0))),
    )


def _last(read: NDArray[np.bool_]) -> NDArray[np.int64]:
    """The newest week in which each cell was read, shape ``(CHILDREN, GPCS)``."""
    return len(read) - 1 - np.argmax(read[::-1], axis=0)


def _grid(
    year: ClassYear, week: HeardWeek, heard: Sequence[Summary], checks: Sequence[HeardInClass]
) -> Grid:
    taught = taught_gpcs(year.order, week.taught)
    children = tuple(Child(pupil) for pupil in year.pupils)
    return grid(Class(year.code, children, year.order, taught, taught), heard, checks, week.week)


def _heard(year: ClassYear, week: HeardWeek, pupil: str, gpc: object) -> HeardInClass:
    at = year.pupils.index(pupil), [str(each) for each in year.order.gpcs].index(str(gpc))
    words, right = year.hear(*at)
    return HeardInClass(pupil, str(gpc), week.week.monday + timedelta(days=4), words, right, "ear")


def _members(year: ClassYear, made: Grouping) -> NDArray[np.bool_]:
    found = np.zeros((CHILDREN, GPCS), np.bool_)
    for each in made.groups:
        for pupil in each.pupils:
            found[year.pupils.index(pupil), year.order.gpcs.index(each.gpc)] = True
    return found


def _raw(year: ClassYear, week: HeardWeek) -> Grouping:
    """Groups by last week's percentage: no minimum, no doubt."""
    by_name = {str(gpc): gpc for gpc in year.order.gpcs}
    wishes = [
        Wish(summary.pupil, by_name[row.gpc], row.slipped / row.readings, True)
        for summary in week.summaries
        for row in summary.rows
        if row.readings and row.slipped / row.readings > RAW_FROM
    ]
    return group(wishes, year.order, ROOM)


def _shuffled(grouped: NDArray[np.bool_], chance: np.random.Generator) -> NDArray[np.bool_]:
    """The same groups, their places dealt to children at random."""
    return grouped[chance.permutation(CHILDREN)]


# -- counting --------------------------------------------------------------------------------


def _add(counts: Counts, name: str, number: int, count: object) -> None:
    counts.setdefault(name, np.zeros(WEEKS, np.int64))[number] += int(np.sum(count))


def _states(drawn: Grid) -> NDArray[np.str_]:
    found = np.full((CHILDREN, GPCS), "not yet taught", dtype="U24")
    for n, row in enumerate(drawn.rows):
        found[n, : len(row.cells)] = [cell.state for cell in row.cells]
    return found


def _count_states(counts: Counts, number: int, alone: Grid, drawn: Grid, week: HeardWeek) -> None:
    states, home = _states(drawn), _states(alone)
    taught = np.broadcast_to(week.taught, states.shape)
    needs = (week.slip_rate > NEED) & taught
    clear = (week.slip_rate > 1 / 3) & taught
    enough = np.zeros(states.shape, np.bool_)
    for n, row in enumerate(alone.rows):
        enough[n, : len(row.cells)] = [cell.heard.readings >= READINGS_MIN for cell in row.cells]
    listed, secure = states == "practise", states == "secure"
    for name, found in {
        "cells": taught,
        "decided": (listed | secure) & taught,
        "listed": listed,
        "listed right": listed & needs,
        "home listed": home == "practise",
        "home listed right": (home == "practise") & needs,
        "secure": secure,
        "secure right": secure & ~needs,
        "needs": needs,
        "clear needs": clear,
        "clear listed": clear & listed,
        "heard needs": needs & enough,
        "heard listed": needs & enough & listed,
    }.items():
        _add(counts, name, number, found)


def _count_later(counts: Counts, number: int, drawn: Grid, week: HeardWeek) -> None:
    listed = _states(drawn) == "practise"
    _add(counts, "listed right later", number, listed & (week.slip_rate > NEED))


def _count_groups(
    counts: Counts, number: int, way: str, grouped: NDArray[np.bool_], week: HeardWeek
) -> None:
    needs = (week.slip_rate > NEED) & np.broadcast_to(week.taught, grouped.shape)
    needy = needs.any(axis=1)
    for name, found in {
        "places": grouped,
        "wrong places": grouped & ~needs,
        "needs": needs,
        "needs placed": grouped & needs,
        "needy children": needy,
        "missed children": needy & ~(grouped & needs).any(axis=1),
    }.items():
        _add(counts, f"{way}: {name}", number, found)


# -- printing --------------------------------------------------------------------------------


def _share(
    years: Sequence[Counts], top: str, whole: str, block: tuple[int, int]
) -> tuple[float, float, float]:
    """Share with its interval, from resampling classes."""
    pairs = np.array(
        [[year[name][slice(*block)].sum() for name in (top, whole)] for year in years], float
    )
    draws = np.random.default_rng(7).integers(0, len(pairs), (RESAMPLED, len(pairs)))
    sums = pairs[draws].sum(axis=1)
    with np.errstate(invalid="ignore"):
        shares = sums[:, 0] / sums[:, 1]
    low, high = np.nanpercentile(shares, [2.5, 97.5])
    return float(pairs[:, 0].sum() / max(pairs[:, 1].sum(), 1)), float(low), float(high)


def _table(years: Sequence[Counts], world: str) -> Table:
    table = Table(title=f"{len(years)} classes, world '{world}': % (95% interval)")
    table.add_column("", no_wrap=True)
    for low, high in (*BLOCKS, (0, WEEKS)):
        table.add_column(f"weeks {low + 1}-{high}", justify="right", no_wrap=True)
    rows = [(name, top, whole) for name, (top, whole) in SHARES["grid"].items()]
    rows += [
        (f"{way}: {name}", f"{way}: {top}", f"{way}: {whole}")
        for name, (top, whole) in SHARES["groups"].items()
        for way in WAYS
    ]
    for name, top, whole in rows:
        cells = []
        for block in (*BLOCKS, (0, WEEKS)):
            if name == "  still needing it a week later" and block[1] == WEEKS:
                block = (block[0], WEEKS - 1)
            share, low, high = _share(years, top, whole, block)
            cells.append(f"{100 * share:.1f} ({100 * low:.0f}-{100 * high:.0f})")
        table.add_row(name, *cells)
    listed = sum(int(year["listed"].sum()) for year in years) / len(years) / WEEKS
    places = sum(int(year["groups: places"].sum()) for year in years) / len(years) / WEEKS
    needs = sum(int(year["needs"].sum()) for year in years) / len(years) / WEEKS
    table.caption = (
        f"a class and week: {needs:.0f} needs, {listed:.1f} listed, {places:.1f} places in groups"
    )
    return table


def _print_choice(console: Console, cells: NDArray[np.float64]) -> None:
    table = Table(title="home's evidence alone: what each threshold would give")
    for name in ("P(need)", "cells", "right", "of needs that could be listed"):
        table.add_column(name, justify="right")
    need, truly = cells[:, 0], cells[:, 1] > 0
    for least in (0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.92, 0.94, 0.96, 0.98):
        found = need >= least
        table.add_row(
            f">= {least}", str(found.sum()), f"{100 * truly[found].mean():.2f}%",
            f"{100 * (found & truly).sum() / truly.sum():.1f}%",
        )  # fmt: skip
    for most in (0.02, 0.05, 0.1, 0.15, 0.2, 0.3):
        found = need <= most
        table.add_row(
            f"<= {most}", str(found.sum()), f"{100 * (~truly[found]).mean():.2f}%",
            f"{100 * (found & ~truly).sum() / (~truly).sum():.1f}%",
        )  # fmt: skip
    console.print(table)


if __name__ == "__main__":
    main()
