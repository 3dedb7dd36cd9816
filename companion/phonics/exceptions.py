"""Common exception words: how they split, and which part of them is not decodable."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources


@dataclass(frozen=True, slots=True)
class ExceptionWord:
    """A word that pupils learn by sight, with its graphemes and which of them are unusual.

    ``year`` is 1 or 2. Source: English Appendix 1: Spelling, Department for Education, 2013.
    """

    word: str
    year: int
    graphemes: tuple[str, ...]
    odd: frozenset[int]

    @property
    def odd_letters(self) -> frozenset[int]:
        """Places of the letters that are not decodable."""
        places = places_of(self.word.lower(), self.graphemes) or []
        return frozenset(x for n in self.odd for x in places[n])


@lru_cache(maxsize=1)
def exception_words() -> dict[str, ExceptionWord]:
    """Small-letter spelling to entry; ``exception_words.csv`` puts odd graphemes in brackets."""
    text = resources.files("wordsets").joinpath("exception_words.csv").read_text("utf-8")
    words = {}
    for word, year, graphemes in list(csv.reader(io.StringIO(text)))[1:]:
        parts = graphemes.split()
        odd = frozenset(n for n, part in enumerate(parts) if part.startswith("("))
        plain = tuple(part.strip("()") for part in parts)
        words[word.lower()] = ExceptionWord(word, int(year), plain, odd)
    return words


def places_of(bare: str, graphemes: Sequence[str]) -> list[tuple[int, ...]] | None:
    """Letter places of each grapheme, or ``None`` if together they do not spell the word."""
    places: list[tuple[int, ...]] = []
    free = list(range(len(bare)))
    for grapheme in graphemes:
        want = grapheme.replace("-", "")
        if "-" in grapheme:
            e = next((x for x in free[1:] if bare[x] == "e" and x > free[0] + 1), None)
            chosen = [free[0], e] if free and e is not None else []
        else:
            chosen = free[: len(want)]
        if "".join(bare[x] for x in chosen if x is not None) != want:
            return None
        places.append(tuple(x for x in chosen if x is not None))
        free = [x for x in free if x not in chosen]
    return None if free else places
