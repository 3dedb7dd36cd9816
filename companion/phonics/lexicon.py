"""How English words are said: one stress-marked, r-keeping pronunciation (or several) a word."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

STRESSLESS = str.maketrans("", "", "012")


@dataclass(frozen=True, slots=True)
class Said:
    """One pronunciation of a word.

    ``phones`` are ARPAbet with stress digits on the vowels and every r kept, as in the CMU
    Pronouncing Dictionary; ``british`` tells whether the vowels are southern British already.
    ``reading`` is false for a mere variant of the pronunciation before it.
    """

    phones: tuple[str, ...]
    british: bool = False
    reading: bool = True


def _text(name: str) -> str:
    return resources.files("wordsets").joinpath(name).read_text("utf-8")


@lru_cache(maxsize=1)
def _american() -> Mapping[str, str]:
    """Word to comma-joined pronunciations, from the CMU Pronouncing Dictionary."""
    lines = _text("pronunciations.txt").splitlines()
    return dict(line.split("\t", 1) for line in lines)


@lru_cache(maxsize=1)
def _british() -> Mapping[str, tuple[Said, ...]]:
    """Word to our own British pronunciations (``additions.csv``), which replace the American."""
    found: dict[str, list[Said]] = {}
    for word, phones, use in csv.reader(io.StringIO(_text("additions.csv"))):
        if word != "word":
            said = Said(tuple(phones.split()), british=True, reading=use != "variant")
            found.setdefault(word, []).append(said)
    return {word: tuple(said) for word, said in found.items()}


@lru_cache(maxsize=1)
def _homographs() -> frozenset[str]:
    """Words whose several pronunciations are several readings, with different meanings."""
    return frozenset(_text("homographs.txt").split())


@lru_cache(maxsize=1)
def bath_words() -> frozenset[str]:
    """Words of the BATH set: long a in the south of England, short a in the north."""
    return frozenset(_text("bath_words.txt").split())


@lru_cache(maxsize=1)
def whole_words() -> frozenset[str]:
    """Words that end like an inflected split digraph but are not (paper, clover)."""
    return frozenset(_text("whole_words.txt").split())


@lru_cache(maxsize=1)
def names() -> Mapping[str, str]:
    """Small-letter spelling to the spelling with its capital, for words always written with one."""
    return {name.lower(): name for name in _text("names.txt").split()}


def _british_stem(stem: str) -> tuple[Said, ...] | None:
    """Our own pronunciation of a stem too long to be part of another word by chance."""
    return _british().get(stem) if len(stem) > 3 else None


def _listed(word: str) -> tuple[Said, ...]:
    own = _british().get(word) or _inflected(word, _british_stem)
    if own:
        return own
    line = _american().get(word)
    if line is None:
        return ()
    several = word in _homographs()
    return tuple(
        Said(tuple(phones.split()), reading=several or number == 0)
        for number, phones in enumerate(line.split(","))
    )


def said(word: str) -> tuple[Said, ...]:
    """Every way `word` (small letters) is said; empty if neither it nor its stem is known."""
    return _listed(word) or _from_spelling(word) or _from_stem(word) or _from_parts(word)


def known(word: str) -> bool:
    """Whether the word itself is listed, whatever its capitals."""
    return bool(_listed(word.lower()))


def _from_spelling(word: str) -> tuple[Said, ...]:
    """British spellings of words listed with their American spelling."""
    for british, american in (
        ("our", "or"),
        ("ise", "ize"),
        ("isi", "izi"),
        ("yse", "yze"),
        ("tre", "ter"),
        ("lled", "led"),
        ("lling", "ling"),
        ("ller", "ler"),
        ("ae", "e"),
        ("oe", "e"),
        ("ogue", "og"),
        ("ence", "ense"),
    ):
        if british in word:
            found = _listed(word.replace(british, american))
            if found:
                return found
    return ()


_VOICELESS = frozenset(["P", "T", "K", "F", "TH"])
_SIBILANT = frozenset(["S", "Z", "SH", "ZH", "CH", "JH"])


def _plural(phones: tuple[str, ...]) -> tuple[str, ...]:
    if phones[-1] in _SIBILANT:
        return (*phones, "IH0", "Z")
    return (*phones, "S" if phones[-1] in _VOICELESS else "Z")


def _past(phones: tuple[str, ...]) -> tuple[str, ...]:
    if phones[-1] in ("T", "D"):
        return (*phones, "IH0", "D")
    voiceless = phones[-1] in _VOICELESS or phones[-1] in ("S", "SH", "CH")
    return (*phones, "T" if voiceless else "D")


_ENDINGS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("est", ("IH0", "S", "T")),
    ("er", ("ER0",)),
    ("ly", ("L", "IY0")),
    ("y", ("IY0",)),
    ("less", ("L", "AH0", "S")),
    ("ness", ("N", "AH0", "S")),
    ("ful", ("F", "AH0", "L")),
    ("n't", ("N", "T")),
)


def _stems(word: str, ending: str) -> tuple[str, ...]:
    stem = word[: -len(ending)]
    if len(stem) < 2:
        return ()
    doubled = (stem[:-1],) if stem[-1] == stem[-2] else ()
    back_to_y = (stem[:-1] + "y",) if stem[-1] == "i" else ()
    return (stem, stem + "e", *doubled, *back_to_y)


def _inflected(word: str, listed: Callable[[str], tuple[Said, ...] | None]) -> tuple[Said, ...]:
    """A plural, past or -ing form from its stem."""
    for ending, add in (("'s", _plural), ("es", _plural), ("s", _plural), ("ed", _past)):
        if word.endswith(ending) and not (ending == "s" and word.endswith("ss")):
            for stem in _stems(word, ending):
                if found := listed(stem):
                    return tuple(Said(add(s.phones), s.british, s.reading) for s in found)
    if word.endswith("ing"):
        for stem in _stems(word, "ing"):
            if found := listed(stem):
                return tuple(Said((*s.phones, "IH0", "NG"), s.british, s.reading) for s in found)
    return ()


def _from_stem(word: str) -> tuple[Said, ...]:
    """An inflected or derived word from its listed stem."""
    if found := _inflected(word, _listed):
        return found
    for ending, phones in _ENDINGS:
        if word.endswith(ending):
            for stem in _stems(word, ending):
                if found := _listed(stem):
                    return tuple(Said(s.phones + phones, s.british, s.reading) for s in found)
    if word.startswith("un") and (found := _listed(word[2:])):
        return tuple(Said(("AH0", "N", *s.phones), s.british, s.reading) for s in found)
    return ()


def _from_parts(word: str) -> tuple[Said, ...]:
    """A compound of two listed words of at least three letters, or hyphenated parts."""
    if "-" in word:
        parts = [said(part) for part in word.split("-") if part]
        if parts and all(parts):
            joined = tuple(phone for part in parts for phone in part[0].phones)
            return (Said(joined, british=any(part[0].british for part in parts)),)
        return ()
    for cut in range(len(word) - 3, 2, -1):
        head, tail = _listed(word[:cut]), _listed(word[cut:])
        if head and tail and len(head[0].phones) > 1 and len(tail[0].phones) > 1:
            second = tuple(phone.replace("1", "2") for phone in tail[0].phones)
            return (Said(head[0].phones + second, head[0].british or tail[0].british),)
    return ()


def said_exactly(word: str) -> tuple[Said, ...]:
    """Pronunciations of a word that is itself listed."""
    return _listed(word)


def listed_words() -> frozenset[str]:
    """Every word listed, in small letters."""
    return frozenset(_american()) | frozenset(_british())
