"""Which words suit a child of five to seven: known ones, and ones never to be chosen."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from companion.phonics.wordlists import WordListError

BANDS = (1, 2, 3)
"""1: said by most children of five; 2: met by the end of Year 1; 3: understood in a story."""

_SHORTEST_PART = 3
"""Phones a blocked string needs before it is looked for inside longer words."""

_RUDE_PART = 4
"""Letters a rude word needs before it is looked for inside made-up words."""

_FOLD = {
    "AH": "UH", "UW": "UH",  # STRUT = FOOT in the North, FOOT = GOOSE in Scotland
    "AO": "AA", "AE": "AA",  # LOT = THOUGHT in Scotland, BATH = TRAP in the North
    "AY": "EY",  # FACE near PRICE in London
    "TH": "F", "DH": "V",  # th-fronting, and sounds five-year-olds still learn to make
}  # fmt: skip
"""Phones that one accent or another says alike (J. C. Wells, Accents of English, 1982)."""


@dataclass(frozen=True)
class KnownWord:
    """A word children know and its band, 1 (commonest) to 3."""

    word: str
    band: int


@cache
def known_words() -> tuple[KnownWord, ...]:
    """The curated list of `wordsets/known_words.csv`, in its order.

    Raises
    ------
    WordListError
        A line that is not ``word,band``, by its number.
    """
    rows = []
    for number, line in lines("known_words.csv"):
        word, _, band = line.partition(",")
        if line == "word,band":
            continue
        if band not in {str(each) for each in BANDS} or not word:
            raise WordListError(
                f"known_words.csv, line {number}", f"{line!r} is not word,band", "Write: ship,1"
            )
        rows.append(KnownWord(word, int(band)))
    return tuple(rows)


def is_blocked(word: str) -> bool:
    """Whether a word is never chosen for a child, whatever its capitals."""
    return word.lower() in _blocked_words()


def spells_blocked(word: str) -> bool:
    """Whether a made-up word has the letters of a rude word of four letters or more in it."""
    return any(each in word.lower() for each in _rude_letters())


def sounds_blocked(phones: str) -> bool:
    """Whether a phone string sounds like, or holds the sound of, a blocked word in any accent.

    Parameters
    ----------
    phones : str
        ARPAbet phones without stress, such as ``"V AY M"``.
    """
    return _blocked_sounds().search(_fold(phones)) is not None


def lines(name: str) -> list[tuple[int, str]]:
    """Numbered lines of a file in `wordsets`, without blank ones and notes (``#``)."""
    text = files("wordsets").joinpath(name).read_text(encoding="utf-8")
    return [
        (number, line.strip())
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.startswith("#")
    ]


@cache
def _blocked() -> tuple[tuple[str, str, str], ...]:
    rows = []
    for number, line in lines("blocked.txt"):
        parts = codecs.decode(line, "rot13").split(",")
        if len(parts) != 3:
            raise WordListError(
                f"blocked.txt, line {number}", "it is not word,kind,sounds", "Write two commas."
            )
        rows.append((parts[0], parts[1], parts[2]))
    return tuple(rows)


@cache
def _blocked_words() -> frozenset[str]:
    return frozenset(word + ending for word, _, _ in _blocked() for ending in ("", "s", "es", "ed"))


@cache
def _rude_letters() -> tuple[str, ...]:
    return tuple(w for w, kind, _ in _blocked() if kind == "rude" and len(w) >= _RUDE_PART)


@cache
def _blocked_sounds() -> re.Pattern[str]:
    folded = sorted({_fold(sounds) for _, _, sounds in _blocked() if sounds})
    inside = [each for each in folded if each.count(" ") >= _SHORTEST_PART - 1]
    return re.compile(rf"^(?:{'|'.join(folded)})$|\b(?:{'|'.join(inside)})\b")


def _fold(phones: str) -> str:
    kept = [_FOLD.get(phone, phone) for phone in phones.split()]
    if len(kept) > 1 and kept[0] == "HH":  # h is often dropped
        kept = kept[1:]
    vowels = ("A", "E", "I", "O", "U")
    return " ".join(
        phone
        for at, phone in enumerate(kept)
        if phone != "R" or (at + 1 < len(kept) and kept[at + 1].startswith(vowels))
    )
