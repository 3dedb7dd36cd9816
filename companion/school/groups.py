"""Next week's groups: 3 to 6 children who share a gap, and for everyone else the reason why not.

Pure: the same wishes, room and moves give the same groups. `companion.school.group_model` states
what is maximised and solves it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from companion.phonics.gpc import Gpc, Order
from companion.school.group_model import Solved, Task, solve
from companion.school.wishes import SIZES, Bay, Move, Room, Wish, bays, shares


@dataclass(frozen=True)
class Group:
    """One group of the week.

    Attributes
    ----------
    number : int
        From 1, by slot, then adult.
    slot, adult : int
        When and with whom, each from 1.
    gpc : Gpc
        What it is for.
    pupils : tuple of str
        Three to six codes, in alphabetical order.
    held : tuple of str
        Those that the teacher's moves hold there.
    check_first : tuple of str
        Those the grid does not list for practice: hear them read the check words first.
    why : str
        What the group is for and why these children, in a sentence.
    """

    number: int
    slot: int
    adult: int
    gpc: Gpc
    pupils: tuple[str, ...]
    held: tuple[str, ...]
    check_first: tuple[str, ...]
    why: str


@dataclass(frozen=True, order=True)
class KeepUp:
    """A listed gap that no group takes this week: a few minutes a day instead.

    Attributes
    ----------
    pupil : str
        The child's code.
    gpc : Gpc
        The gap.
    why : str
        Why the child is in no group for it, as the end of a sentence.
    """

    pupil: str
    gpc: Gpc
    why: str


@dataclass(frozen=True)
class Grouping:
    """The week's groups.

    Attributes
    ----------
    groups : tuple of Group
        By number.
    keep_up : tuple of KeepUp
        Every child and GPC listed for practice that is in no group.
    value, bound : float
        The objective, and what no other grouping could pass.
    """

    groups: tuple[Group, ...]
    keep_up: tuple[KeepUp, ...]
    value: float
    bound: float

    @property
    def gap(self) -> float:
        """How far the best grouping can at most be above this one, as a share of it."""
        return max(0.0, self.bound - self.value) / self.bound if self.bound > 0 else 0.0


def group(
    wishes: Collection[Wish], order: Order, room: Room, moves: Sequence[Move] = ()
) -> Grouping:
    """Form the groups.

    Parameters
    ----------
    wishes : collection of Wish
        One for each child and GPC that may need practice.
    order : Order
        The teaching order.
    room : Room
        Adults, slots, and groups a child.
    moves : sequence of Move
        What the teacher has decided; all else is solved around it.

    Raises
    ------
    GroupsImpossible
        Moves that contradict each other, or a held group that cannot reach three children.
    """
    counts = shares(wishes, order)
    fixed = bays(moves, room)
    out = {(move.pupil, move.gpc) for move in moves if not move.keep}
    values = {
        (wish.pupil, wish.gpc): wish.weight * counts[wish.gpc]
        for wish in wishes
        if (wish.pupil, wish.gpc) not in out
    }
    for bay, pupils in fixed.items():
        for pupil in pupils:
            values.setdefault((pupil, bay.gpc), 0.0)
    solved = solve(Task(values, fixed, room))
    sure = {(wish.pupil, wish.gpc) for wish in wishes if wish.sure}
    groups = tuple(
        _group(number, bay, pupils, fixed.get(bay, ()), sure, wishes, order)
        for number, (bay, pupils) in enumerate(solved.groups.items(), start=1)
    )
    left = _left(sure, solved, out, room, order)
    return Grouping(groups, left, solved.value, solved.bound)


def _group(
    number: int,
    bay: Bay,
    pupils: tuple[str, ...],
    held: tuple[str, ...],
    sure: set[tuple[str, Gpc]],
    wishes: Collection[Wish],
    order: Order,
) -> Group:
    listed = [pupil for pupil in pupils if (pupil, bay.gpc) in sure]
    first = {pupil: _first(pupil, wishes, order) for pupil in listed}
    earliest = sum(gpc == bay.gpc for gpc in first.values())
    check_first = tuple(each for each in pupils if each not in listed and each not in held)
    parts = [f"{_children(len(listed))} of {len(pupils)} listed for {bay.gpc}"]
    if earliest:
        parts.append(f"the earliest gap for {earliest} of them")
    if check_first:
        parts.append(f"{_children(len(check_first))} to be heard first")
    if held:
        parts.append(f"{_children(len(held))} held here by you")
    return Group(
        number, bay.slot, bay.adult, bay.gpc, tuple(sorted(pupils)), tuple(sorted(held)),
        check_first, "; ".join(parts),
    )  # fmt: skip


def _first(pupil: str, wishes: Collection[Wish], order: Order) -> Gpc:
    own = [wish.gpc for wish in wishes if wish.pupil == pupil and wish.sure]
    return min(own, key=lambda gpc: (order.place(gpc) or len(order.gpcs) + 1, gpc))


def _left(
    sure: set[tuple[str, Gpc]],
    solved: Solved,
    out: set[tuple[str, Gpc]],
    room: Room,
    order: Order,
) -> tuple[KeepUp, ...]:
    inside: dict[str, list[Bay]] = {}
    for bay, pupils in solved.groups.items():
        for pupil in pupils:
            inside.setdefault(pupil, []).append(bay)
    full = len(solved.groups) >= room.adults * room.slots
    sharing: dict[Gpc, int] = {}
    for _, gpc in sure - out:
        sharing[gpc] = sharing.get(gpc, 0) + 1
    found = []
    for pupil, gpc in sure:
        own = inside.get(pupil, [])
        if any(bay.gpc == gpc for bay in own):
            continue
        theirs = [bay for bay in solved.groups if bay.gpc == gpc]
        if (pupil, gpc) in out:
            why = "you kept this child out of a group for it"
        elif len(own) >= room.each:
            others = " and ".join(str(bay.gpc) for bay in own)
            why = f"already in a group for {others}, and {room.each} a week was asked for"
        elif sharing[gpc] < SIZES[0] and not theirs:
            why = f"only {_children(sharing[gpc])} listed for it, and a group needs {SIZES[0]}"
        elif theirs and all(len(solved.groups[bay]) == SIZES[1] for bay in theirs):
            why = "its groups are full at six"
        elif theirs and all(any(bay.slot == mine.slot for mine in own) for bay in theirs):
            why = "its group meets while the child is in another"
        elif full:
            why = "every adult and slot is taken by gaps that weigh more"
        else:
            why = f"too few others with this gap are free to make {SIZES[0]}"
        found.append(KeepUp(pupil, gpc, why))
    last = len(order.gpcs) + 1
    return tuple(sorted(found, key=lambda each: (each.pupil, order.place(each.gpc) or last, each)))


def _children(count: int) -> str:
    return "1 child" if count == 1 else f"{count} children"
