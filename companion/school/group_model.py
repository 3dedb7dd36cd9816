"""The groups' integer programme, solved by HiGHS through SciPy.

For child :math:`i` and GPC :math:`g` let :math:`w_{ig}` be the wish's weight (P(need), halved where
the evidence is not enough to list the GPC), :math:`q_g` from 1 (earliest GPC wished for) to 1/2
(latest), :math:`u_i = \\max_g w_{ig} q_g`. Chosen are :math:`p_{ig}` (the child has a place in a
group for the GPC), :math:`f_i` (the child has a place at all) and :math:`n_g` (groups for it):

.. math:: \\max \\sum_{i,g} w_{ig} q_g p_{ig} + \\tfrac12 \\sum_i u_i f_i
          - \\tfrac1{100} \\sum_g n_g

subject to

- :math:`3 n_g \\le \\sum_i p_{ig} \\le 6 n_g`, so that each GPC's children make groups of 3 to 6;
- :math:`\\sum_g n_g \\le` adults times slots;
- a child is in at most `each` groups, never in two of one slot nor in two for one GPC;
- moves: their :math:`p_{ig}` are 1 (in the group they name) or 0.

So a place is worth what it is needed; a child's first place is worth half as much again as its
best one; earlier GPCs come first; and no group is opened that adds nothing. A first programme
leaves the slots out: its bound holds for every timetable. Where a child may be in one group only,
any timetable carries its answer. Otherwise the groups are laid into slots so that those which share
children do not meet, a second programme places the children again within that timetable, and
where the bound is still far, the groups of a slot, then of two, are made anew beside the others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from companion.phonics.gpc import Gpc
from companion.school.programme import Impossible, Programme
from companion.school.wishes import SIZES, Bay, GroupsImpossible, Room

FIRST = 0.5
"""A child's first place counts this much more of its best one."""
OPENING = 0.01
"""What opening a group costs: less than any child's place is worth."""
GAP = 0.005
"""Relative gap at which HiGHS may stop, in each programme."""

ENOUGH, PAIRS = 0.01, 4
"""Slots, then pairs of slots, are made anew while the bound is farther than this share; and how
many pairs at most."""

Cell = tuple[str, Gpc]


@dataclass(frozen=True)
class Task:
    """What is to be solved.

    Attributes
    ----------
    values : dict of (str, Gpc) to float
        Worth of a place, :math:`w_{ig} q_g`; those kept out are not in it, those kept in are (0
        where there is no wish).
    fixed : dict of Bay to tuple of str
        Groups that moves have fixed, with the children held in them.
    room : Room
        Adults, slots, and groups a child.
    """

    values: Mapping[Cell, float]
    fixed: Mapping[Bay, tuple[str, ...]]
    room: Room


@dataclass(frozen=True)
class Solved:
    """Children by group, the objective's value, and a bound that no grouping can pass."""

    groups: Mapping[Bay, tuple[str, ...]]
    value: float
    bound: float


def solve(task: Task) -> Solved:
    """Solve a task; the same task gives the same answer.

    Raises
    ------
    GroupsImpossible
        A group held by moves cannot reach three children.
    """
    room = task.room
    free = room.adults * room.slots - len(task.fixed)
    laid, bound = _programme(task, [_Lane(0, free)], task.fixed)
    timetable = _timetable(task, laid)
    if room.each == 1:
        groups = _dealt(laid, timetable)
    else:
        laid, _ = _programme(task, _lanes(task, timetable), task.fixed)
        groups = _improved(task, _dealt(laid, timetable), bound)
    groups = dict(sorted(groups.items()))
    return Solved(groups, value(task, groups), bound)


def value(task: Task, groups: Mapping[Bay, Sequence[str]]) -> float:
    """The objective of some groups."""
    placed = [(pupil, bay.gpc) for bay, pupils in groups.items() for pupil in pupils]
    best = _best(task.values)
    total = sum(task.values.get(cell, 0.0) for cell in placed)
    total += FIRST * sum(best.get(pupil, 0.0) for pupil in {pupil for pupil, _ in placed})
    return total - OPENING * len(groups)


def _best(values: Mapping[Cell, float]) -> dict[str, float]:
    best: dict[str, float] = {}
    for (pupil, _), worth in values.items():
        best[pupil] = max(best.get(pupil, 0.0), worth)
    return best


# -- programmes ------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Lane:
    """Groups yet to be made in one slot (0 is all slots at once): how many, and for which GPCs."""

    slot: int
    groups: int
    only: tuple[Gpc, ...] | None = None


@dataclass(frozen=True)
class _Laid:
    """An answer: groups and children by slot and GPC, and the children of groups that are fixed."""

    made: Mapping[tuple[int, Gpc], tuple[int, tuple[str, ...]]]
    fixed: Mapping[Bay, tuple[str, ...]]


def _programme(
    task: Task,
    lanes: Sequence[_Lane],
    fixed: Mapping[Bay, tuple[str, ...]],
    frozen: Mapping[Bay, tuple[str, ...]] | None = None,
) -> tuple[_Laid, float]:
    """Fill lanes and fixed groups beside groups frozen as they are; also gives the bound."""
    frozen = frozen or {}
    programme = Programme()
    by_gpc: dict[Gpc, list[str]] = {}
    for pupil, gpc in sorted(task.values):
        by_gpc.setdefault(gpc, []).append(pupil)
    places: dict[tuple[int, Gpc], dict[str, int]] = {}
    opened: dict[tuple[int, Gpc], int] = {}
    for lane in lanes:
        for gpc in sorted(by_gpc if lane.only is None else set(lane.only)):
            pupils = by_gpc[gpc]
            most = lane.groups if lane.only is None else lane.only.count(gpc)
            columns = {pupil: programme.flow(task.values[pupil, gpc]) for pupil in pupils}
            places[lane.slot, gpc] = columns
            opened[lane.slot, gpc] = programme.column(-OPENING, min(most, len(pupils) // SIZES[0]))
            _sized(programme, list(columns.values()), opened[lane.slot, gpc])
        own = [(column, 1.0) for (slot, _), column in opened.items() if slot == lane.slot]
        programme.row(own, 0, lane.groups)
    inside: dict[Bay, dict[str, int]] = {}
    for bay, held in [*fixed.items(), *frozen.items()]:
        pupils = by_gpc[bay.gpc] if bay in fixed else list(held)
        columns = {pupil: programme.flow(task.values[pupil, bay.gpc]) for pupil in pupils}
        inside[bay] = columns
        programme.row([(column, 1) for column in columns.values()], *SIZES)
        programme.row([(columns[pupil], 1) for pupil in held], len(held), len(held))
    everywhere = [((slot, gpc), columns) for (slot, gpc), columns in places.items()]
    everywhere += [((bay.slot, bay.gpc), columns) for bay, columns in inside.items()]
    _limited(programme, everywhere, task)
    try:
        found, bound = programme.solve(GAP)
    except Impossible as error:
        raise GroupsImpossible(
            "The groups were not solved",
            "a group that is held by moves cannot reach three children, or the children held "
            "leave no room",
            "Move another child into it, or take a move back.",
        ) from error
    made = {
        at: (int(found[opened[at]]), tuple(p for p, column in columns.items() if found[column]))
        for at, columns in places.items()
        if found[opened[at]]
    }
    chosen = {
        bay: tuple(pupil for pupil, column in columns.items() if found[column])
        for bay, columns in inside.items()
    }
    return _Laid(made, chosen), bound - OPENING * len(inside)


def _sized(programme: Programme, columns: Sequence[int], opened: int) -> None:
    """Groups of 3 to 6, as many as `opened`, and none where it is 0."""
    terms = [(column, 1.0) for column in columns]
    programme.row([*terms, (opened, -SIZES[1])], -np.inf, 0)
    programme.row([*terms, (opened, -SIZES[0])], 0, np.inf)
    for column in columns:
        programme.row([(column, 1), (opened, -1)], -np.inf, 0)


def _limited(
    programme: Programme,
    everywhere: Sequence[tuple[tuple[int, Gpc], Mapping[str, int]]],
    task: Task,
) -> None:
    """A child once a slot, once for a GPC, `each` in all; and the worth of a place at all."""
    by_slot: dict[tuple[str, int], list[tuple[int, float]]] = {}
    by_cell: dict[Cell, list[tuple[int, float]]] = {}
    by_pupil: dict[str, list[tuple[int, float]]] = {}
    for (slot, gpc), columns in everywhere:
        for pupil, column in columns.items():
            if slot:
                by_slot.setdefault((pupil, slot), []).append((column, 1.0))
            by_cell.setdefault((pupil, gpc), []).append((column, 1.0))
            by_pupil.setdefault(pupil, []).append((column, 1.0))
    for terms in (*by_slot.values(), *by_cell.values()):
        if len(terms) > 1:
            programme.row(terms, 0, 1)
    best = _best(task.values)
    for pupil, terms in by_pupil.items():
        programme.row(terms, 0, task.room.each)
        if task.room.each == 1:  # any place is the first
            for column, _ in terms:
                programme.add_worth(column, FIRST * best[pupil])
            continue
        first = programme.column(FIRST * best[pupil], whole=False)
        programme.row([*((column, -factor) for column, factor in terms), (first, 1)], -np.inf, 0)


# -- timetable -------------------------------------------------------------------------------


def _timetable(task: Task, laid: _Laid) -> list[Bay]:
    """Lay groups made without slots into slots, so that those which share children do not meet.

    Groups of many children first, each into the slot where it clashes least, the earliest of
    these; then pairs are swapped for as long as that makes fewer children clash.
    """
    room, by_bay = task.room, laid.fixed
    copies = [
        (gpc, pupils) for (_, gpc), (count, pupils) in laid.made.items() for _ in range(count)
    ]
    copies.sort(key=lambda copy: -len(copy[1]))
    gpcs = [bay.gpc for bay in by_bay] + [gpc for gpc, _ in copies]
    shared = _shared(gpcs, [*by_bay.values(), *(pupils for _, pupils in copies)])
    slots = [bay.slot for bay in by_bay]
    for at in range(len(slots), len(gpcs)):
        clashes = [
            (sum(shared[at, other] for other, its in enumerate(slots) if its == slot), slot)
            for slot in range(1, room.slots + 1)
            if slots.count(slot) < room.adults
        ]
        slots.append(min(clashes)[1])
    slots = _untangled(shared, np.array(slots, np.int64), len(by_bay))
    return _with_adults(list(zip(gpcs, slots, strict=True))[len(by_bay) :], list(by_bay))


def _with_adults(placed: Sequence[tuple[Gpc, int]], bays: Sequence[Bay]) -> list[Bay]:
    """Groups, by GPC and slot, each with the first adult that is free then; and those of `bays`."""
    found = list(bays)
    for gpc, slot in placed:
        busy = {bay.adult for bay in found if bay.slot == slot}
        found.append(Bay(slot, next(n for n in range(1, len(busy) + 2) if n not in busy), gpc))
    return sorted(found)


def _lanes(task: Task, timetable: Sequence[Bay]) -> list[_Lane]:
    """A lane for each slot, for what the timetable has there besides fixed groups."""
    by_slot: dict[int, list[Gpc]] = {}
    for bay in timetable:
        if bay not in task.fixed:
            by_slot.setdefault(bay.slot, []).append(bay.gpc)
    return [_Lane(slot, len(gpcs), tuple(gpcs)) for slot, gpcs in sorted(by_slot.items())]


def _shared(gpcs: Sequence[Gpc], children: Sequence[Sequence[str]]) -> NDArray[np.int64]:
    """Children that two groups share, shape ``(groups, groups)``; groups for one GPC share none."""
    sets = [frozenset(pupils) for pupils in children]
    return np.array(
        [
            [
                0 if one == other else len(mine & theirs)
                for other, theirs in zip(gpcs, sets, strict=True)
            ]
            for one, mine in zip(gpcs, sets, strict=True)
        ],
        np.int64,
    ).reshape(len(gpcs), len(gpcs))


def _untangled(shared: NDArray[np.int64], slots: NDArray[np.int64], fixed: int) -> list[int]:
    """Swap the slots of two groups, the best pair each time; the first `fixed` stay."""
    while len(slots) > fixed:
        together = slots[:, None] == slots[None, :]
        # clashes of group a, were it in the slot of group b
        there = shared @ together
        now = np.diagonal(there)
        gain = now[:, None] + now[None, :] - there - there.T + 2 * shared * ~together
        gain = np.where(together, 0, gain)
        gain[:fixed], gain[:, :fixed] = 0, 0
        one, other = np.unravel_index(int(gain.argmax()), gain.shape)
        if gain[one, other] <= 0:
            break
        slots[[one, other]] = slots[[other, one]]
    return [int(slot) for slot in slots]


def _dealt(laid: _Laid, timetable: Sequence[Bay]) -> dict[Bay, tuple[str, ...]]:
    """Deal each GPC's children evenly onto its groups; a group nobody is dealt to is not made."""
    groups = dict(laid.fixed)
    for (slot, gpc), (count, pupils) in laid.made.items():
        own = [
            bay
            for bay in timetable
            if bay.gpc == gpc and bay not in laid.fixed and slot in (0, bay.slot)
        ]
        for place, bay in enumerate(own[:count]):
            groups[bay] = pupils[place::count]
    return groups


def _improved(
    task: Task, groups: dict[Bay, tuple[str, ...]], bound: float
) -> dict[Bay, tuple[str, ...]]:
    """Make the groups of one slot, then of two, anew with all others frozen, while that helps."""
    room = task.room
    slots = range(1, room.slots + 1)
    for pair in [*combinations(slots, 1), *list(combinations(slots, 2))[:PAIRS]]:
        if value(task, groups) >= bound * (1 - ENOUGH):
            break
        fixed = {bay: pupils for bay, pupils in task.fixed.items() if bay.slot in pair}
        frozen = {bay: pupils for bay, pupils in groups.items() if bay.slot not in pair}
        lanes = [_Lane(slot, room.adults - sum(bay.slot == slot for bay in fixed)) for slot in pair]
        laid, _ = _programme(task, lanes, fixed, frozen)
        placed = [(gpc, slot) for (slot, gpc), (n, _) in laid.made.items() for _ in range(n)]
        tried = _dealt(laid, _with_adults(placed, list(laid.fixed)))
        if value(task, tried) > value(task, groups):
            groups = tried
    return groups
