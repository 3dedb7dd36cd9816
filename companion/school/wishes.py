"""What groups are made from: who needs which GPC and how surely, the room there is, and moves."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from companion.phonics.gpc import Gpc, Order
from companion.school.trouble import SchoolTrouble

SIZES = (3, 6)
"""Fewest and most children in a group (common practice: about 4 to 6)."""

UNSURE = 0.5
"""What a child's weight is multiplied by where the evidence is not enough to list the GPC."""


class GroupsImpossible(SchoolTrouble):
    """The teacher's own moves contradict each other, or no group can hold them."""


@dataclass(frozen=True, order=True)
class Wish:
    """A child and a GPC that may need practice.

    Attributes
    ----------
    pupil : str
        The child's code.
    gpc : Gpc
        What may need practice.
    need : float
        P(need), from 0 to 1 (`companion.school.need`).
    sure : bool
        Whether the grid says *practise*. Where it does not, the child weighs less and a check is
        asked for.
    """

    pupil: str
    gpc: Gpc
    need: float
    sure: bool

    @property
    def weight(self) -> float:
        """How much a place is worth to the child, from 0 to 1; rises with `need`."""
        return self.need if self.sure else UNSURE * self.need


@dataclass(frozen=True)
class Room:
    """How many groups there can be.

    Attributes
    ----------
    adults : int
        Adults who can take a group at the same time, 1 or more.
    slots : int
        Times in the week, 1 or more. There are at most ``adults * slots`` groups.
    each : int
        The most groups one child is in: 1, or 2 where there are two slots or more. A child with
        more gaps than that needs catching up, not more time out of class.
    """

    adults: int = 1
    slots: int = 1
    each: int = 1

    def __post_init__(self) -> None:
        most = min(2, self.slots)
        if not (1 <= self.adults <= 6 and 1 <= self.slots <= 10 and 1 <= self.each <= most):
            raise GroupsImpossible(
                f"No groups for {self.adults} adults, {self.slots} slots and {self.each} a child",
                "there must be 1 to 6 adults and 1 to 10 slots, and a child can be in two groups "
                "at most, one a slot",
                "Change the numbers.",
            )


@dataclass(frozen=True, order=True)
class Move:
    """What the teacher has decided for a child and a GPC; the rest is solved around it.

    Attributes
    ----------
    pupil : str
        The child's code.
    gpc : Gpc
        What the group is for.
    slot, adult : int
        Which group, each from 1, where ``keep`` is true; 0 where it is false.
    keep : bool
        In that group whatever the evidence says, or (False) in no group for this GPC.
    """

    pupil: str
    gpc: Gpc
    slot: int
    adult: int
    keep: bool


@dataclass(frozen=True, order=True)
class Bay:
    """One group's place in the week that moves have fixed: slot and adult, each from 1."""

    slot: int
    adult: int
    gpc: Gpc


def shares(wishes: Collection[Wish], order: Order) -> dict[Gpc, float]:
    """How much a GPC counts: 1 for the earliest wished for, falling evenly to 1/2 for the last.

    A gap in an earlier GPC holds up more words, and later teaching builds on it.
    """
    gpcs = sorted({wish.gpc for wish in wishes}, key=lambda gpc: _place(gpc, order))
    steps = max(len(gpcs) - 1, 1)
    return {gpc: 1 - 0.5 * rank / steps for rank, gpc in enumerate(gpcs)}


def bays(moves: Sequence[Move], room: Room) -> dict[Bay, tuple[str, ...]]:
    """The groups that moves have fixed, each with its children.

    Raises
    ------
    GroupsImpossible
        A move outside the room; two GPCs for one adult at one time; a child twice in a slot, twice
        for a GPC, in and out of one, or in more groups than a child may be; over six in a group.
    """
    found: dict[Bay, list[str]] = {}
    for move in sorted(set(moves)):
        if move.keep:
            if not (1 <= move.slot <= room.slots and 1 <= move.adult <= room.adults):
                raise _refused(
                    f"{move.pupil} is to be in slot {move.slot} with adult {move.adult}",
                    f"there are {room.slots} slots and {room.adults} adults",
                )
            found.setdefault(Bay(move.slot, move.adult, move.gpc), []).append(move.pupil)
    _check_bays(found)
    _check_children(moves, room)
    return {bay: tuple(pupils) for bay, pupils in sorted(found.items())}


def _check_bays(found: dict[Bay, list[str]]) -> None:
    taken: dict[tuple[int, int], Gpc] = {}
    for bay, pupils in found.items():
        other = taken.setdefault((bay.slot, bay.adult), bay.gpc)
        if other != bay.gpc:
            raise _refused(
                f"adult {bay.adult} has {other} and {bay.gpc} in slot {bay.slot}",
                "one adult takes one group at a time",
            )
        if len(pupils) > SIZES[1]:
            raise _refused(
                f"{len(pupils)} children are held in the group for {bay.gpc} in slot {bay.slot}",
                f"a group has at most {SIZES[1]}",
            )


def _check_children(moves: Sequence[Move], room: Room) -> None:
    kept = sorted({move for move in moves if move.keep})
    out = {(move.pupil, move.gpc) for move in moves if not move.keep}
    slots: set[tuple[str, int]] = set()
    gpcs: set[tuple[str, Gpc]] = set()
    counts: dict[str, int] = {}
    for move in kept:
        counts[move.pupil] = counts.get(move.pupil, 0) + 1
        fault = None
        if (move.pupil, move.gpc) in out:
            fault = f"is to be in and out of a group for {move.gpc}"
        elif (move.pupil, move.slot) in slots:
            fault = f"is in two groups in slot {move.slot}"
        elif (move.pupil, move.gpc) in gpcs:
            fault = f"is in two groups for {move.gpc}"
        elif counts[move.pupil] > room.each:
            fault = f"is in {counts[move.pupil]} groups, and {room.each} a child were asked for"
        if fault:
            raise _refused(f"{move.pupil} {fault}", "the moves contradict each other")
        slots.add((move.pupil, move.slot))
        gpcs.add((move.pupil, move.gpc))


def _refused(what: str, why: str) -> GroupsImpossible:
    return GroupsImpossible(f"The groups were not solved: {what}", why, "Take one move back.")


def _place(gpc: Gpc, order: Order) -> tuple[int, Gpc]:
    return (order.place(gpc) or len(order.gpcs) + 1, gpc)
