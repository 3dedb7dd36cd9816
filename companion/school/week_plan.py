"""Next week's lists: one for the whole class and one for each group, and how decodable they are.

Pure: the same week, targets, taught sounds and past lists give the same plan.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from companion.phonics.decodable import Decodability, Splitter, Taught, check
from companion.phonics.gpc import Gpc, Order
from companion.phonics.listmaker import ListMakerError, MadeList, make
from companion.phonics.split import split
from companion.record.weeks import Week

CHECK_WORDS = 6
"""Words heard in class, by ear, for one GPC: about a minute (common practice, no source)."""

TARGET_SHARE = 1 / 3
"""Words with the target that a list should have, of all its words, before older words come back."""

WHOLE_CLASS = "Whole class"


@dataclass(frozen=True)
class Wanted:
    """A list to be made: for whom (a heading for paper and page), and for which GPC or values."""

    whom: str
    targets: tuple[Gpc, ...]


@dataclass(frozen=True)
class PlannedList:
    """A list of the plan.

    Attributes
    ----------
    whom : str
        As it was wanted.
    made : MadeList
        The words, why each is there, and what could not be had.
    measured : Decodability
        Its words and caption, measured against what will have been taught.
    check_words : tuple of str
        Up to six of its words that hold the target, for the teacher's check by ear.
    """

    whom: str
    made: MadeList
    measured: Decodability
    check_words: tuple[str, ...]


@dataclass(frozen=True)
class WeekPlan:
    """A week's lists, the whole class's first."""

    week: Week
    lists: tuple[PlannedList, ...]


def plan_week(
    week: Week,
    wanted: Sequence[Wanted],
    taught: Taught,
    order: Order,
    *,
    recent: Collection[str] = (),
    count: int = 12,
    splitter: Splitter = split,
) -> WeekPlan:
    """Make a week's lists.

    Parameters
    ----------
    week : Week
        The week they are for; it also chooses among the lists possible.
    wanted : sequence of Wanted
        In the order in which they are to be shown.
    taught : Taught
        What will have been taught in that week; must hold every target.
    order : Order
        The class's teaching order.
    recent : collection of str
        Words and captions of recent weeks' lists, used again only where nothing else is left.
    count : int
        Words in each list, 6 to 40.
    splitter : callable
        Gives a word's readings: `split`, or one that knows a teacher's corrections.

    Raises
    ------
    ListMakerError
        A target is not taught, or even with last weeks' words too few are decodable.
    """
    lists: list[PlannedList] = []
    used: set[str] = set()
    for place, one in enumerate(wanted):
        seed = week.monday.toordinal() // 7 * 100 + place
        made = _made(one, taught, order, (used, set(recent)), count, seed, splitter)
        used |= {*made.words.words, *([made.words.caption] if made.words.caption else [])}
        made = replace(
            made, words=replace(made.words, name=f"{made.words.name.rpartition('-')[0]}-{week}")
        )
        lists.append(_planned(one, made, taught, splitter))
    return WeekPlan(week, tuple(lists))


def _made(
    one: Wanted,
    taught: Taught,
    order: Order,
    avoid: tuple[set[str], set[str]],
    count: int,
    seed: int,
    splitter: Splitter,
) -> MadeList:
    """A list without words of this week's others and of recent weeks, as far as that goes.

    Where too few words hold the target (e-e has few at all), they come back rather than be
    replaced by words without it.
    """
    this_week, recent = avoid
    best: MadeList | None = None
    refusal: ListMakerError | None = None
    for kept_out, note in (
        (this_week | recent, ""),
        (this_week, "Some words come back from recent weeks: too few others are left."),
        (set[str](), "Some words are in another list of this week too: too few others are left."),
    ):
        try:
            made = make(
                one.targets, taught, order, count=count, seed=seed, recent=kept_out,
                splitter=splitter,
            )  # fmt: skip
        except ListMakerError as error:
            refusal = error
            continue
        if best is None or len(_holding(made)) > len(_holding(best)):
            best = replace(made, notes=(*made.notes, note)) if note else made
        if len(_holding(best)) >= count * TARGET_SHARE:
            return best
    if best is None:
        assert refusal is not None, "each try either makes a list or is refused"
        raise refusal
    return best


def _holding(made: MadeList) -> list[str]:
    """The words of a list that hold its target."""
    return [each.word for each in made.why if each.role == "target"]


def _planned(one: Wanted, made: MadeList, taught: Taught, splitter: Splitter) -> PlannedList:
    text = "\n".join([*made.words.words, made.words.caption or ""])
    holding = [each.word for each in made.why if each.role == "target"]
    return PlannedList(one.whom, made, check(text, taught, splitter), tuple(holding[:CHECK_WORDS]))
