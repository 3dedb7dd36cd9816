"""Words that may be put before a child: known ones with one regular reading, and which clash."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from companion.phonics.decodable import Splitter
from companion.phonics.gpc import Gpc
from companion.phonics.reading import reading
from companion.phonics.split import Split
from companion.phonics.suitable import is_blocked, known_words, sounds_blocked

ENDINGS = ("", "s", "es", "d", "ed", "r", "er", "y", "ing", "ly")
"""What two forms of one word differ by; only one of them comes before a child at a time."""


@dataclass(frozen=True)
class Candidate:
    """A known word that may stand in a list: it has one reading and no exception part.

    ``band`` is 1 to 3 as in `KnownWord`; ``gpcs`` are those of ``split``.
    """

    word: str
    band: int
    split: Split
    gpcs: frozenset[Gpc]


@cache
def candidates(splitter: Splitter) -> tuple[Candidate, ...]:
    """Every known word that may stand in a list, in the order of `known_words.csv`.

    Parameters
    ----------
    splitter : callable
        Gives a word's readings: `split`, or one that knows a teacher's corrections.
    """
    found = []
    for known in known_words():
        if is_blocked(known.word):
            continue
        readings = splitter(known.word)
        if len(readings) == 1 and readings[0].regular:
            found.append(
                Candidate(known.word, known.band, readings[0], frozenset(readings[0].gpcs))
            )
    return tuple(found)


@cache
def misread_kindly(word: str) -> bool:
    """Whether no likely short-vowel misreading of a word is one that must not be said."""
    slips = reading(word).slips
    return not any(sounds_blocked(s.phones) for s in slips if s.kind == "short_for_split")


def forms_of_one(one: str, other: str) -> bool:
    """Whether two words (small letters) are the same or one is a form of the other."""
    short, long = sorted((one, other), key=len)
    return long.startswith(short) and long[len(short) :] in ENDINGS
