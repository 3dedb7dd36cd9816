"""A word ready to be drawn on a page: its letters, and the sound buttons under them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from companion.phonics.reading import Reading
from companion.phonics.units import Split
from companion.report.sound_buttons import Mark, in_words, marks


@dataclass(frozen=True)
class Button:
    """One mark: its shape, and the columns of the letters it runs under, from 1, end excluded."""

    kind: str
    first: int
    end: int


@dataclass(frozen=True)
class Lettered:
    """A word for the template ``word.html``.

    Attributes
    ----------
    word : str
        As it is written.
    buttons : tuple of Button
        In reading order.
    said : str
        The buttons in words, for who cannot see them.
    by_heart : bool
        Whether a part of it is marked as not to be sounded out: that mark is always shown.
    """

    word: str
    buttons: tuple[Button, ...]
    said: str
    by_heart: bool


def lettered(reading: Reading, hard: Iterable[int] = ()) -> Lettered:
    """A word of a sitting.

    Parameters
    ----------
    reading : Reading
        The word.
    hard : iterable of int
        Places, from 0, of an exception word's letters to be learnt by heart.
    """
    split = reading.splits[0]
    by_heart = tuple(sorted(hard))
    kept = [mark for mark in marks(split) if not set(mark.letters) & set(by_heart)]
    waves = [Mark("wave", run) for run in _runs(by_heart)]
    ordered = sorted([*kept, *waves], key=lambda mark: mark.letters[0])
    return Lettered(
        split.word, tuple(_button(m) for m in ordered), _said(split, by_heart), bool(waves)
    )


def joined(grapheme: str) -> Lettered:
    """A grapheme by itself, its letters joined; a split digraph keeps a place between its two."""
    first, dash, last = grapheme.partition("-")
    if dash:
        mark = Button("tie", 1, len(first) + 2 + len(last))
        return Lettered(f"{first}–{last}", (mark,), f"{first} and {last} together", False)
    kind = "bar" if len(grapheme) > 1 else "dot"
    return Lettered(grapheme, (Button(kind, 1, len(grapheme) + 1),), grapheme, False)


def _button(mark: Mark) -> Button:
    return Button(mark.kind, mark.letters[0] + 1, mark.letters[-1] + 2)


def _runs(places: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Places that stand side by side, together."""
    if not places:
        return []
    breaks = [n for n, (one, other) in enumerate(pairwise(places), start=1) if other != one + 1]
    starts = [0, *breaks]
    return [places[a:b] for a, b in zip(starts, [*breaks, len(places)], strict=True)]


def _said(split: Split, by_heart: tuple[int, ...]) -> str:
    heart = "".join(split.word[place] for place in by_heart)
    return f"{in_words(split)}; {heart} is to be known by heart" if heart else in_words(split)
