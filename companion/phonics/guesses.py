"""A misreading before it is weighed, and how to write one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from companion.phonics.positions import fits
from companion.phonics.split import Split

Phones = tuple[str, ...]

Found = Iterator[tuple[str, Phones, float, bool]]
"""Kind, what the unit is said as, factor on the kind's prior, and whether it must be kept."""


@dataclass(frozen=True, slots=True)
class Guess:
    """A slip before weighing: what is said, for which unit, with a factor on its kind's prior."""

    kind: str
    unit: int
    phones: Phones
    factor: float
    kept: bool = False


def replaced(said: Sequence[Phones], number: int, phones: Phones) -> Phones:
    """The word with one unit said otherwise, its r kept if it had one."""
    own = said[number]
    keeps_r = own[-1:] == ("R",) and len(own) > 1 and phones[-1:] != ("R",)
    tail = ("R",) if keeps_r else ()
    parts = [*said[:number], (*phones, *tail), *said[number + 1 :]]
    return tuple(phone for part in parts for phone in part)


def stands(split: Split, number: int, position: str) -> bool:
    """Whether a unit stands where a row's position rule lets its grapheme stand."""
    letters = split.units[number].letters
    return fits(position, split.word.lower(), letters[0], letters[-1] + 1)
