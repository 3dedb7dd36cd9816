"""What counts as right: British accents by lexical set, and sounds young children still learn."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from companion.phonics import lexicon
from companion.phonics.gpc import VOWEL_PHONES
from companion.phonics.lexicon import bath_words
from companion.phonics.split import Split, Unit

ACCENTS = (
    "southern",
    "northern",
    "scottish",
    "welsh",
    "northern_irish",
    "west_country",
    "london",
)

MOST = 24
"""Accepted strings for one word; each is scored against the sound, so the list is kept short."""

_ACCENT_COST, _YOUNG_COST, _DEAREST, _BEAM = 1.0, 1.5, 2.5, 96


@dataclass(frozen=True, slots=True)
class Way:
    """One way to say a unit: its phones and how far it is from the first way."""

    phones: tuple[str, ...]
    cost: float


Cell = tuple[tuple[tuple[str, ...], bool], ...]


def _rows(name: str) -> list[dict[str, str]]:
    text = resources.files("wordsets").joinpath(name).read_text("utf-8")
    return list(csv.DictReader(io.StringIO(text)))


@lru_cache(maxsize=1)
def _sets() -> Mapping[str, Mapping[str, Cell]]:
    """Lexical set to accent to its phones, each with whether only a chosen accent accepts it."""
    return {
        row["set"]: {
            accent: tuple(
                (tuple(part.lstrip("?").split()), part.startswith("?"))
                for part in row[accent].split("|")
            )
            for accent in ACCENTS
        }
        for row in _rows("accents.csv")
    }


@lru_cache(maxsize=1)
def _young() -> tuple[tuple[str, tuple[str, ...], str], ...]:
    return tuple(
        (row["phone"], tuple(row["may_be"].split()), row["where"])
        for row in _rows("young_sounds.csv")
    )


_PLAIN_SETS = {
    ("AE",): "TRAP",
    ("EH",): "DRESS",
    ("IH",): "KIT",
    ("IY",): "FLEECE",
    ("EY",): "FACE",
    ("AY",): "PRICE",
    ("OY",): "CHOICE",
    ("OW",): "GOAT",
    ("AW",): "MOUTH",
    ("ER",): "NURSE",
    ("EH", "AH"): "SQUARE",
    ("IH", "AH"): "NEAR",
    ("UH", "AH"): "CURE",
    ("AY", "AH"): "FIRE",
    ("AW", "AH"): "FLOUR",
}


def lexical_set(split: Split, number: int) -> str | None:
    """Wells's lexical set of a unit's vowel (our own split of GOOSE and FOOT by spelling).

    ``None`` for a unit without a vowel or with one that no set describes.
    """
    unit = split.units[number]
    _, vowel, _ = _around(unit.phonemes)
    if not vowel:
        return None
    coloured = "r" in unit.grapheme
    if vowel == ("IY",) and unit.stress == 0:
        return "HAPPY"
    if vowel == ("AH",):
        weak = unit.stress == 0
        return ("LETTER" if coloured else "COMMA") if weak else "STRUT"
    if vowel == ("AO",):
        if coloured:
            return "NORTH"
        following = split.units[number + 1 : number + 3]
        before_l = len(following) == 2 and following[0].phonemes == ("L",)
        return "SALT" if before_l and following[1].vowel is None else "THOUGHT"
    if vowel == ("UH",):
        if unit.grapheme == "u" and not _said_with("UH", split.word):
            return "STRUT"
        return "FOOT_OO" if unit.grapheme == "oo" else "FOOT"
    if vowel == ("UW",):
        return "GOOSE_OO" if unit.grapheme == "oo" else "GOOSE"
    if vowel == ("AA",):
        return _open_vowel(split, number, coloured)
    return _PLAIN_SETS.get(vowel)


def _said_with(vowel: str, word: str) -> bool:
    """Whether a dictionary gives the word this vowel; a northern cut has UH and is no FOOT word."""
    found = lexicon.said(word.lower().replace("’", "'"))
    return any(phone.rstrip("012") == vowel for said in found for phone in said.phones)


def _open_vowel(split: Split, number: int, coloured: bool) -> str:
    unit = split.units[number]
    if coloured:
        return "START"
    if split.word.lower() in bath_words():
        return "BATH"
    before = split.units[number - 1].grapheme if number else ""
    rounded = unit.grapheme[0] == "o" or unit.grapheme == "au"
    return "LOT" if rounded or (unit.grapheme == "a" and before in ("w", "wh", "qu")) else "PALM"


def _around(phones: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Consonants before, vowels, consonants after."""
    spots = [n for n, phone in enumerate(phones) if phone in VOWEL_PHONES]
    if not spots:
        return tuple(phones), (), ()
    first, last = spots[0], spots[-1]
    return tuple(phones[:first]), tuple(phones[first : last + 1]), tuple(phones[last + 1 :])


def ways(split: Split, accent: str | None, *, every: bool = False) -> tuple[tuple[Way, ...], ...]:
    """For each unit, every way of saying it that counts as right.

    `every` takes in what only a chosen accent would accept, for any accent.
    """
    _check(accent)
    return tuple(
        _young_ways(split, number, _unit_ways(split, number, accent, every))
        for number in range(len(split.units))
    )


def _check(accent: str | None) -> None:
    if accent is not None and accent not in ACCENTS:
        raise ValueError(
            f"There is no accent {accent!r}: choose one of {', '.join(ACCENTS)}, or none for all"
        )


def _unit_ways(split: Split, number: int, accent: str | None, every: bool) -> list[Way]:
    unit = split.units[number]
    before, vowel, after = _around(unit.phonemes)
    if not vowel:
        return [Way(unit.phonemes, 0.0), *_blended(split, number)]
    found = [Way(unit.phonemes, 0.0)]
    name = lexical_set(split, number)
    for phones, chosen in _cell(name, accent, every):
        linked = after if phones[-1] not in ("R",) or after[:1] != ("R",) else after[1:]
        if not chosen or accent is not None or every:
            found.append(Way((*before, *phones, *linked), _ACCENT_COST))
    if accent is not None and name is not None and found[1:]:
        found = [Way(way.phones, _ACCENT_COST * n) for n, way in enumerate(found[1:])]
    if unit.stress == 0:
        found += [Way((*before, *full, *after), _ACCENT_COST) for full in _full_values(unit)]
    if unit.phonemes == ("AH", "R") and unit.stress == 0 and number:
        found.append(Way(("R",), _ACCENT_COST))
    if before[-1:] == ("Y",) and vowel[:1] == ("UW",):
        found += _yod_ways(split, number, (*vowel, *after))
    return found


def _cell(
    name: str | None, accent: str | None, every: bool
) -> Iterable[tuple[tuple[str, ...], bool]]:
    if name is None:
        return ()
    row = _sets()[name]
    if accent is not None and not every:
        return row[accent]
    return tuple(part for column in row.values() for part in column)


def _full_values(unit: Unit) -> list[tuple[str, ...]]:
    """The full vowel a reader may give a weak syllable, and IH and AH for each other."""
    if len(unit.phonemes) == 1 and unit.grapheme in ("a", "e", "i", "o", "u", "y"):
        murmur = [] if unit.grapheme == "y" else [("AH",)]
        weak = [*murmur, ("IH",)] if unit.grapheme in ("a", "e", "i", "y") else murmur
        return [*weak, unit.gpc.phonemes]
    if (unit.grapheme, unit.phonemes) == ("ai", ("IH",)):
        return [("AH",)]
    if unit.phonemes == ("Y", "UW"):
        return [("UH",), ("AH",)]
    if unit.gpc.phonemes in (("AO",), ("AA",)) and unit.phonemes == ("AH",):
        return [unit.gpc.phonemes, (*unit.gpc.phonemes, "R")]
    return []


def _yod_ways(split: Split, number: int, rest: tuple[str, ...]) -> list[Way]:
    last = split.units[number - 1].phonemes[-1:] if number else ()
    return [Way(rest, _ACCENT_COST)] if last in (("T",), ("D",), ("N",), ("S",), ("L",)) else []


def _blended(split: Split, number: int) -> list[Way]:
    """tune as CH UW N, dune as JH UW N; n before k or g with either n; the i of onion."""
    if split.units[number].phonemes == ("Y",) and split.units[number].grapheme == "i":
        return [Way(("IH",), _ACCENT_COST), Way(("IY",), _ACCENT_COST)]
    following = split.units[number + 1].phonemes[0] if number + 1 < len(split.units) else ""
    if split.units[number].grapheme == "n" and following in ("K", "G"):
        return [Way(("N",), _ACCENT_COST), Way(("NG",), _ACCENT_COST)]
    if number + 1 < len(split.units) and split.units[number + 1].phonemes[:2] == ("Y", "UW"):
        unit = split.units[number]
        joined = {"T": "CH", "D": "JH"}.get(unit.phonemes[-1])
        if joined:
            return [Way((*unit.phonemes[:-1], joined), _ACCENT_COST)]
    return []


def _young_ways(split: Split, number: int, found: list[Way]) -> tuple[Way, ...]:
    """Add what a child of five to seven may say instead, each sound on its own."""
    unit = split.units[number]
    grown = list(found)
    for way in found:
        for phone, instead, where in _young():
            for at, own in enumerate(way.phones):
                if own == phone and _where(where, split, number, at, way.phones):
                    phones = (*way.phones[:at], *instead, *way.phones[at + 1 :])
                    grown.append(Way(phones, way.cost + _YOUNG_COST))
    if unit.phonemes == ("AH", "L"):
        grown.append(Way(("L",), _ACCENT_COST))
    cheapest: dict[tuple[str, ...], Way] = {}
    for way in sorted(grown, key=lambda way: way.cost):
        cheapest.setdefault(way.phones, way)
    return tuple(cheapest.values())


def _where(where: str, split: Split, number: int, at: int, phones: tuple[str, ...]) -> bool:
    start = number == 0 and at == 0
    if where == "start":
        return start
    if where == "not start":
        return not start
    if where == "before vowel":
        following = phones[at + 1 :] or (
            split.units[number + 1].phonemes if number + 1 < len(split.units) else ()
        )
        return following[:1] != () and following[0] in VOWEL_PHONES
    if where == "ending ing":
        return number == len(split.units) - 1 and number >= 2 and split.word.endswith("ing")
    return True


def accepted(split: Split, accent: str | None = None) -> tuple[str, ...]:
    """ARPAbet strings that count as a right reading, the likeliest first.

    Parameters
    ----------
    split : Split
        The word in graphemes.
    accent : str, optional
        One of `ACCENTS`; without it, what any accent accepts, except forms so near a slip that
        only a class that has chosen the accent should allow them.

    Returns
    -------
    tuple of str
        From one to `MOST` strings.

    References
    ----------
    J. C. Wells, *Accents of English*, Cambridge University Press, 1982.
    """
    beam: list[tuple[float, tuple[str, ...]]] = [(0.0, ())]
    for unit_ways in ways(split, accent):
        grown = [
            (cost + way.cost, (*phones, *way.phones))
            for cost, phones in beam
            for way in unit_ways
            if cost + way.cost <= _DEAREST and not _clash(phones, way.phones)
        ]
        beam = sorted(grown, key=lambda item: item[0])[:_BEAM]
    strings = (" ".join(phones) for _, phones in beam if phones)
    return tuple(dict.fromkeys(strings))[:MOST]


def _clash(before: tuple[str, ...], after: tuple[str, ...]) -> bool:
    """CH and JH have already taken in the Y of tune and dune."""
    return before[-1:] in (("CH",), ("JH",)) and after[:1] == ("Y",)


def accepts(unit_ways: Sequence[Sequence[Way]], phones: Sequence[str]) -> bool:
    """Whether `phones` can be built from one way of each unit."""
    spots = {0}
    for choices in unit_ways:
        spots = {
            spot + len(way.phones)
            for spot in spots
            for way in choices
            if tuple(phones[spot : spot + len(way.phones)]) == way.phones
        }
        if not spots:
            return False
    return len(phones) in spots
