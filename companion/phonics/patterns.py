"""The GPC table made ready for matching: which phones each row can stand for, and at what cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cache

from companion.phonics.gpc import VOWEL_PHONES, Row, table

Phones = tuple[str, ...]

# Costs order the ways to spell a word; only their order matters. A taught GPC beats one that is
# not, one grapheme beats two, a joined split digraph beats an open vowel with a silent e.
TAUGHT, BEYOND, SPLIT = 1.0, 2.2, 0.75
RANK, WEAK, UNSTRESSED, MISPLACED, AMERICAN = 0.1, 0.25, 0.6, 1.5, 0.4

_R_COLOURED: dict[Phones, tuple[Phones, ...]] = {
    ("AA",): (("AA", "R"),),
    ("AO",): (("AO", "R"), ("UH", "R"), ("OW", "R")),
    ("ER",): (("ER", "R"),),
    ("AH",): (("ER",), ("AH", "R")),
    ("EH", "AH"): (("EH", "R"), ("AE", "R"), ("EH", "AH", "R"), ("EH",)),
    ("IH", "AH"): (("IH", "R"), ("IY", "R"), ("IY", "ER"), ("IH", "AH", "R"), ("IY", "AH")),
    ("UH", "AH"): (("UH", "R"), ("UH", "AH", "R")),
    ("Y", "UH", "AH"): (("Y", "UH", "R"), ("Y", "ER"), ("Y", "UH", "AH", "R")),
    ("AY", "AH"): (("AY", "ER"), ("AY", "R"), ("AY", "AH", "R")),
    ("AW", "AH"): (("AW", "ER"), ("AW", "R"), ("AW", "AH", "R")),
}
"""Southern value of a grapheme with r to the same vowel where r is kept."""

_AMERICAN: dict[tuple[str, Phones], tuple[Phones, ...]] = {
    ("o", ("AA",)): (("AO",),),
    ("a", ("AA",)): (("AO",),),
    ("a", ("AO",)): (("AA",),),
    ("al", ("AO",)): (("AA",),),
    ("au", ("AO",)): (("AA",),),
    ("au", ("AA",)): (("AE",), ("AO",)),
    ("aw", ("AO",)): (("AA",),),
    ("augh", ("AO",)): (("AA",),),
    ("ough", ("AO",)): (("AA",),),
    ("ou", ("AA",)): (("AO",),),
    ("al", ("AA",)): (("AE",),),
    ("u", ("Y", "UW")): (("Y", "UH"), ("Y", "AH"), ("Y", "IH")),
    ("wh", ("W",)): (("HH", "W"),),
    ("ai", ("IH",)): (("AH",),),
    ("es", ("IH", "Z")): (("AH", "Z"),),
    ("ed", ("IH", "D")): (("AH", "D"),),
}
"""Other phones the American dictionary writes for a value."""

_WEAK_R = frozenset({"ar", "or", "ur"})


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """One row with one phone pattern that it can stand for.

    ``weak`` needs an unstressed syllable, ``strong`` costs more there; ``yod`` needs T, D or N
    before it (the American tune), ``before_r`` an R after it (the American
    carry), ``closing`` no vowel after it (not the a r of around).
    """

    row: Row
    pattern: Phones
    phonemes: Phones
    cost: float
    weak: bool = False
    strong: bool = False
    yod: bool = False
    before_r: bool = False
    closing: bool = False
    american: bool = False
    grapheme: str = field(init=False)
    length: int = field(init=False)
    vowel_at: int | None = field(init=False)
    anywhere: bool = field(init=False)
    free: bool = field(init=False)
    coloured: bool = field(init=False)

    def __post_init__(self) -> None:
        joined = "-" in self.row.gpc.grapheme
        tied = len(self.pattern) > 1 or self.weak or self.yod or self.before_r
        object.__setattr__(self, "grapheme", self.row.gpc.grapheme)
        vowels = [n for n, phone in enumerate(self.pattern) if phone in VOWEL_PHONES]
        coloured = "r" in self.row.gpc.grapheme and self.phonemes[-1] in VOWEL_PHONES
        object.__setattr__(self, "coloured", coloured)
        object.__setattr__(self, "free", not tied)
        object.__setattr__(self, "length", len(self.pattern))
        object.__setattr__(self, "vowel_at", vowels[0] if vowels else None)
        object.__setattr__(self, "anywhere", self.row.position == "any" or joined)

    def allowed(self, phones: Phones, stress: Sequence[int | None], j: int) -> bool:
        """Whether phones, stress and neighbours let the pattern stand at phone `j`."""
        if self.length > 1 and phones[j : j + self.length] != self.pattern:
            return False
        if self.weak and stress[j]:
            return False
        if self.yod and (j == 0 or phones[j - 1] not in ("T", "D", "N")):
            return False
        if self.closing and phones[j + 2 : j + 3] and phones[j + 2] in VOWEL_PHONES:
            return False
        return not self.before_r or phones[j + 1 : j + 2] == ("R",)

    def price(self, stress: Sequence[int | None], j: int) -> float:
        """Cost at phone `j`."""
        return self.cost + UNSTRESSED if self.strong and stress[j] == 0 else self.cost


Entry = dict[str, tuple[Choice, ...]]
"""All choices of one grapheme by the first phone of their pattern."""


def _choices(row: Row) -> list[Choice]:
    grapheme, phonemes = row.gpc.grapheme, row.gpc.phonemes
    base = SPLIT if "-" in grapheme else TAUGHT
    cost = (base if row.place is not None else BEYOND) + RANK * (row.reading - 1)
    strong = phonemes == ("ER",) or (grapheme, phonemes) == ("o", ("AH",))
    found = [Choice(row, phonemes, phonemes, cost, strong=strong)]
    if "r" in grapheme and phonemes[-1] in VOWEL_PHONES:
        weak = phonemes == ("AH",)
        for p in _R_COLOURED.get(phonemes, ()):
            closing = p == ("AH", "R")
            found.append(Choice(row, p, phonemes, cost, weak=weak, closing=closing))
    for pattern in _AMERICAN.get((grapheme, phonemes), ()):
        weak = row.kind == "ending"
        found.append(Choice(row, pattern, phonemes, cost + AMERICAN, weak=weak, american=True))
    if grapheme == "a" and phonemes == ("AE",):
        found.append(Choice(row, ("EH",), phonemes, cost + UNSTRESSED, before_r=True))
    if phonemes == ("Y", "UW"):
        found.append(Choice(row, ("UW",), phonemes, cost - 0.3, yod=True))
    if row.reading == 1 and grapheme in ("a", "e", "i", "o", "u"):
        for phone in ("AH", "IH"):
            if (phone,) != phonemes:
                found.append(Choice(row, (phone,), (phone,), cost + WEAK, weak=True))
    if row.reading == 1 and grapheme in _WEAK_R:
        for pattern in (("ER",), ("AH",), ("AH", "R")):
            closing = len(pattern) == 2
            found.append(Choice(row, pattern, ("AH",), cost + WEAK, weak=True, closing=closing))
    return found


@cache
def index(british: bool) -> dict[str, Entry]:
    """Grapheme to its choices; for British phones the American ones cost more."""
    grouped: dict[str, Entry] = {}
    for row in table().rows:
        for choice in _choices(row):
            if choice.american and british:
                dearer = choice.cost + MISPLACED
                choice = replace(choice, cost=dearer)
            entry = grouped.setdefault(choice.grapheme, {})
            first = choice.pattern[0]
            entry[first] = (*entry.get(first, ()), choice)
    return grouped


@cache
def graphemes_at(letters: str, british: bool) -> tuple[tuple[int, Entry], ...]:
    """Lengths and choices of the graphemes that up to four letters start with."""
    entries = index(british)
    lengths = range(1, len(letters) + 1)
    return tuple((n, entries[letters[:n]]) for n in lengths if letters[:n] in entries)
