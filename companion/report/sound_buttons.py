"""Sound buttons: which mark goes under which letters of a word. Pure; knows no paper or screen.

A dot under a single letter, a bar under letters that stand side by side and make one sound, and a
tie from the first to the last letter of a split digraph, which passes below the letter between
(common practice in Year 1; the joining line is that of Letters and Sounds, DfES, 2007). What an
exception word has that cannot be decoded gets a wave: the part to learn by heart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from companion.phonics.units import Split

Kind = Literal["dot", "bar", "tie", "wave"]
"""What is drawn: the shapes differ, so that no colour is needed to tell them apart."""

KIND_WORDS: dict[Kind, str] = {
    "dot": "one letter, one sound",
    "bar": "letters side by side, one sound",
    "tie": "two letters apart, one sound together",
    "wave": "the part to know by heart",
}
"""What each mark means, for the key of a sheet and for who cannot see it."""


@dataclass(frozen=True)
class Mark:
    """One sound button: its shape and the places in the word, from 0, that it belongs to.

    For a dot that is one letter; for a bar or a wave every letter it runs under; for a tie the
    letters that it joins (first and last are its ends).
    """

    kind: Kind
    letters: tuple[int, ...]


def marks(split: Split) -> tuple[Mark, ...]:
    """The sound buttons of a word, one for each of its graphemes, in reading order."""
    return tuple(Mark(_kind(unit.letters, unit.decodable), unit.letters) for unit in split.units)


def in_words(split: Split) -> str:
    """The buttons for somebody who cannot see them: ``p; i and e together; n``."""
    return "; ".join(_said(split.word, mark) for mark in marks(split))


def _kind(letters: tuple[int, ...], decodable: bool) -> Kind:
    apart = letters[-1] - letters[0] >= len(letters)
    if apart:
        return "tie"
    if not decodable:
        return "wave"
    return "dot" if len(letters) == 1 else "bar"


def _said(word: str, mark: Mark) -> str:
    letters = "".join(word[place] for place in mark.letters)
    if mark.kind == "tie":
        return f"{word[mark.letters[0]]} and {word[mark.letters[-1]]} together"
    return f"{letters} by heart" if mark.kind == "wave" else letters
