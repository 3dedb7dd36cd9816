"""A word in graphemes: its units, and what is regular about it."""

from __future__ import annotations

from dataclasses import dataclass

from companion.phonics.gpc import VOWEL_PHONES, Gpc, table


@dataclass(frozen=True, slots=True)
class Unit:
    """One grapheme in a word.

    ``letters`` are places in the word from 0. ``phonemes`` are southern British; ``said`` are the
    phones of the pronunciation that was split, with every r that it keeps. ``gpc`` is the
    correspondence the unit is evidence for: in a weak syllable the letter's own first value (the
    o of carrot counts as o /AA/). ``stress`` is 0, 1 or 2 for a vowel and ``None`` otherwise.
    An e shared by two graphemes is listed with the first (hoped: o-e 1 3, p 2, ed 4), and a split
    digraph whose e was dropped keeps its name (riding: i-e 1).
    """

    grapheme: str
    letters: tuple[int, ...]
    phonemes: tuple[str, ...]
    decodable: bool
    gpc: Gpc
    stress: int | None = None
    said: tuple[str, ...] = ()

    @property
    def vowel(self) -> str | None:
        """The first vowel phoneme, or ``None`` for a consonant."""
        return next((phone for phone in self.phonemes if phone in VOWEL_PHONES), None)

    @property
    def listed(self) -> bool:
        """Whether the table has the unit's GPC, taught or not."""
        return self.gpc in table().by_gpc


@dataclass(frozen=True, slots=True)
class Split:
    """A word, or one reading of it, in graphemes.

    ``regular`` is true when every unit is a taught GPC; ``exception_part`` is otherwise the
    letters that are not, several stretches joined by an ellipsis.
    """

    word: str
    units: tuple[Unit, ...]
    regular: bool
    exception_part: str | None

    @property
    def gpcs(self) -> tuple[Gpc, ...]:
        """The GPCs of the word in reading order."""
        return tuple(unit.gpc for unit in self.units)

    @property
    def phones(self) -> str:
        """The southern pronunciation, phones separated by spaces."""
        return " ".join(phone for unit in self.units for phone in unit.phonemes)

    @property
    def said(self) -> tuple[tuple[str, ...], ...]:
        """The phones of each unit in the pronunciation that was split."""
        return tuple(unit.said for unit in self.units)

    @property
    def is_name(self) -> bool:
        """Whether the word is written with a capital."""
        return self.word[:1].isupper() and self.word != "I"

    def __str__(self) -> str:
        return " · ".join(unit.grapheme for unit in self.units)
