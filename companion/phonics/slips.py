"""How a beginner misreads a word: every likely slip, its kind and the GPC it is evidence for."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from companion.phonics.gpc import VOWEL_PHONES, Gpc, table
from companion.phonics.positions import VOWELS, fits
from companion.phonics.split import Split, Unit

SLIP_KINDS = (
    "short_for_split",
    "e_sounded",
    "split_for_short",
    "one_letter_of_digraph",
    "hard_for_soft_c",
    "soft_for_hard_c",
    "letter_reversal",
    "sound_added",
    "sound_missed",
    "order_changed",
    "other_gpc_value",
)

MOST = 40
"""Slips kept for one word, the likeliest first."""

Phones = tuple[str, ...]

SHORT: Mapping[str, Phones] = {
    "a": ("AE",),
    "e": ("EH",),
    "i": ("IH",),
    "o": ("AA",),
    "u": ("AH",),
    "y": ("IH",),
}
LONG: Mapping[str, tuple[Phones, ...]] = {
    "a": (("EY",),),
    "e": (("IY",),),
    "i": (("AY",),),
    "o": (("OW",),),
    "u": (("UW",), ("Y", "UW")),
    "y": (("AY",),),
}
PARTNER: Mapping[str, Phones] = {
    "EY": ("AE",),
    "AE": ("EY",),
    "IY": ("EH",),
    "EH": ("IY",),
    "AY": ("IH",),
    "IH": ("AY",),
    "OW": ("AA",),
    "AA": ("OW",),
    "AO": ("OW",),
    "UW": ("AH",),
    "AH": ("UW",),
    "UH": ("UW",),
}
"""Short to long and back; every stressed vowel has its partner among the slips."""

_LONG_PHONES = frozenset({"EY", "IY", "AY", "OW", "UW"})
_REVERSED: Mapping[str, tuple[tuple[Phones, float], ...]] = {
    "b": ((("D",), 1.0), (("P",), 0.3)),
    "d": ((("B",), 1.0), (("P",), 0.2)),
    "p": ((("B",), 0.4), (("D",), 0.3), (("K", "W"), 0.3)),
    "qu": ((("P",), 0.5),),
    "bb": ((("D",), 0.7),),
    "dd": ((("B",), 0.7),),
    "pp": ((("B",), 0.3),),
    "m": ((("W",), 0.2),),
    "w": ((("M",), 0.2),),
    "n": ((("AH",), 0.1),),
}
_BOTH_LETTERS: Mapping[str, Phones] = {
    "kn": ("K", "N"),
    "gn": ("G", "N"),
    "wr": ("W", "R"),
    "mb": ("M", "B"),
}
_HIATUS = ("ai", "oa", "ie", "ea", "ou", "ue", "oe", "ui", "au", "ei", "io", "eo")


@dataclass(frozen=True, slots=True)
class Slip:
    """One likely misreading of a word.

    ``gpc`` and ``unit`` (its index in ``Split.units``) are what the slip is evidence about;
    ``phones`` is the whole word as misread; ``prior`` is this slip's share, from 0 to 1, of all
    slips listed for the word before anything was heard.
    """

    kind: str
    gpc: Gpc
    unit: int
    phones: str
    prior: float


@dataclass(frozen=True, slots=True)
class Guess:
    """A slip before weighing: what is said, for which unit, with a factor on its kind's prior."""

    kind: str
    unit: int
    phones: Phones
    factor: float
    kept: bool = False


@lru_cache(maxsize=1)
def priors() -> Mapping[str, float]:
    """Weight of each kind, from ``slip_priors.csv``, which names the source of each."""
    text = resources.files("wordsets").joinpath("slip_priors.csv").read_text("utf-8")
    return {row["kind"]: float(row["prior"]) for row in csv.DictReader(io.StringIO(text))}


def guesses(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
    """Every slip of a word whose units are otherwise said as in `said`.

    Strings may repeat and may count as right in some accent: `reading` sifts them.
    """
    units = split.units
    for number, unit in enumerate(units):
        if unit.vowel is None:
            found = _consonant(split, number)
        elif "-" in unit.grapheme:
            found = _split_digraph(split, number)
        elif unit.grapheme in SHORT:
            found = _single_vowel(split, number)
        else:
            found = _vowel_digraph(split, number)
        for kind, phones, factor, kept in found:
            yield Guess(kind, number, _with(said, number, phones), factor, kept)
    yield from _e_sounded(split, said)
    yield from _missed(split, said)
    yield from _added(split, said)
    yield from _order(split, said)


Found = Iterator[tuple[str, Phones, float, bool]]


def _with(said: Sequence[Phones], number: int, phones: Phones) -> Phones:
    """The word with one unit said otherwise, its r kept if it had one."""
    own = said[number]
    keeps_r = own[-1:] == ("R",) and len(own) > 1 and phones[-1:] != ("R",)
    tail = ("R",) if keeps_r else ()
    parts = [*said[:number], (*phones, *tail), *said[number + 1 :]]
    return tuple(phone for part in parts for phone in part)


def _strong(split: Split, unit: Unit) -> bool:
    """Whether a vowel bears stress; the only vowel of a small word counts as stressed."""
    return unit.stress != 0 or sum(other.vowel is not None for other in split.units) == 1


def _partner(split: Split, unit: Unit, kind: str) -> Found:
    vowel = unit.vowel
    if vowel is not None and vowel in PARTNER and _strong(split, unit):
        yield kind, PARTNER[vowel], 0.3, True


def _other_values(split: Split, number: int, skip: Sequence[Phones] = ()) -> Found:
    """Other vowel values of a unit's grapheme; those taught for its place count most."""
    unit = split.units[number]
    for row in table().values(unit.grapheme):
        phones = row.gpc.phonemes
        if phones != unit.phonemes and phones not in skip and phones[-1] in VOWEL_PHONES:
            likely = row.place is not None and _fits(split, number, row.position)
            yield "other_gpc_value", phones, 0.6 if likely else 0.05, False


def _fits(split: Split, number: int, position: str) -> bool:
    letters = split.units[number].letters
    return fits(position, split.word.lower(), letters[0], letters[-1] + 1)


def _split_digraph(split: Split, number: int) -> Found:
    unit = split.units[number]
    letter = unit.grapheme[0]
    yield "short_for_split", SHORT[letter], 1.0, True
    if letter == "u":
        yield "short_for_split", ("UH",), 0.3, False
    if letter == "o":
        yield "short_for_split", ("AO",), 0.4, False
    yield from _other_values(split, number, (SHORT[letter],))
    yield from _partner(split, unit, "short_for_split")


def _single_vowel(split: Split, number: int) -> Found:
    unit = split.units[number]
    letter = unit.grapheme
    main = _strong(split, unit)
    strength = 1.0 if main else 0.15
    if unit.phonemes[-1:] in {long[-1:] for long in LONG[letter]}:
        yield "other_gpc_value", SHORT[letter], strength, main
    else:
        kind = "split_for_short"
        if unit.phonemes != SHORT[letter]:
            yield "other_gpc_value", SHORT[letter], strength, main
            kind = "split_for_short" if _looks_split(split, number) else "other_gpc_value"
        for long in LONG[letter]:
            yield kind, long, strength, main
    yield from _other_values(split, number, (SHORT[letter], *LONG[letter]))
    yield from _partner(
        split, unit, "split_for_short" if unit.vowel not in _LONG_PHONES else "other_gpc_value"
    )


def _looks_split(split: Split, number: int) -> bool:
    at = split.units[number].letters[0]
    return split.word[at + 2 : at + 3].lower() == "e"


def _vowel_digraph(split: Split, number: int) -> Found:
    unit = split.units[number]
    main = _strong(split, unit)
    strength = 1.0 if main else 0.2
    letters = [letter for letter in unit.grapheme if letter in VOWELS]
    coloured = "r" in unit.grapheme
    taught = [
        row.gpc.phonemes
        for row in table().values(unit.grapheme)
        if row.place is not None and _fits(split, number, row.position)
    ]
    others = [phones for phones in taught if phones != unit.phonemes]
    for phones in others:
        yield "other_gpc_value", phones, strength, False
    for place, letter in enumerate(dict.fromkeys(letters)):
        short = SHORT[letter]
        kind = "other_gpc_value" if short in others else "one_letter_of_digraph"
        factor = strength * (1.0 if place == 0 else 0.5)
        yield kind, short, factor, place == 0 and main
        if coloured:
            yield kind, (*short, "R"), factor * 0.6, False
        for long in LONG[letter]:
            if long != unit.phonemes and not coloured:
                yield "one_letter_of_digraph", long, factor * 0.2, False
    if unit.grapheme in _HIATUS:
        both = tuple(phone for letter in unit.grapheme for phone in SHORT[letter])
        yield "sound_added", both, 0.3 * strength, False
    if unit.grapheme == "igh":
        yield "one_letter_of_digraph", ("IH", "G"), 0.4, False
    yield from _other_values(split, number, taught)
    long_to_short = unit.vowel in _LONG_PHONES
    yield from _partner(
        split, unit, "one_letter_of_digraph" if long_to_short else "other_gpc_value"
    )


_VOICE_PAIRS = frozenset({("S", "Z"), ("Z", "S"), ("TH", "DH"), ("DH", "TH")})


def _consonant(split: Split, number: int) -> Found:
    unit = split.units[number]
    grapheme, phones = unit.grapheme, unit.phonemes
    if "c" in grapheme and phones == ("S",):
        yield "hard_for_soft_c", ("K",), 1.0, True
        yield "hard_for_soft_c", ("S", "K"), 0.1, False
    elif grapheme == "c" and phones == ("K",):
        after = split.word[unit.letters[-1] + 1 : unit.letters[-1] + 2].lower()
        yield "soft_for_hard_c", ("S",), 1.0 if after in ("e", "i", "y") else 0.6, False
    if "g" in grapheme and phones == ("JH",):
        yield "other_gpc_value", ("G",), 1.0, True
    if grapheme == "ed":
        yield "e_sounded", ("EH", "D"), 0.8, False
        yield "e_sounded", ("IH", "D"), 0.8, False
    for row in table().values(grapheme):
        other = row.gpc.phonemes
        if other != phones and len(phones) == 1 and (phones[0], *other) not in _VOICE_PAIRS:
            soft_c = grapheme == "c" and other in (("S",), ("K",))
            possible = row.place is not None and _fits(split, number, row.position)
            if possible and not soft_c and other[-1] not in VOWEL_PHONES:
                yield "other_gpc_value", other, 0.5, False
    if len(grapheme) > 1 and grapheme not in ("ed", "es") and "-" not in grapheme:
        yield from _letters_alone(grapheme, phones)
    for other, factor in _REVERSED.get(grapheme, ()):
        yield "letter_reversal", other, factor, False


def _letters_alone(grapheme: str, phones: Phones) -> Found:
    for place, letter in enumerate(dict.fromkeys(grapheme)):
        first = table().first(letter)
        if first is None or letter in VOWELS or letter == "y" or first.phonemes == phones:
            continue
        yield "one_letter_of_digraph", first.phonemes, 0.6 if place == 0 else 0.3, False
    if grapheme in _BOTH_LETTERS:
        yield "sound_added", _BOTH_LETTERS[grapheme], 1.0, False


def _e_sounded(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
    """pine with its e said, the i long or short."""
    for number, unit in enumerate(split.units):
        if unit.grapheme == "le" and unit.phonemes[-1:] == ("L",):
            for sound, factor in ((("IY",), 0.5), (("EH",), 0.5)):
                yield Guess("e_sounded", number, _with(said, number, ("L", *sound)), factor)
        if "-" not in unit.grapheme or len(unit.letters) < 2:
            continue
        e = unit.letters[1]
        after = max(n for n, other in enumerate(split.units) if min(other.letters) < e)
        last = after == len(split.units) - 1
        short, own = SHORT[unit.grapheme[0]], said[number]
        for vowel, ending, factor in (
            (own, "IY", 1.0),
            (short, "IY", 0.8),
            (short, "EH", 0.8),
            (short, "AH", 0.8),
            (own, "EH", 0.5),
            (own, "AH", 0.5),
        ):
            end = "IH" if ending == "AH" and not last else ending
            parts = [*said[:number], vowel, *said[number + 1 : after + 1], (end,)]
            whole = [*parts, *said[after + 1 :]]
            phones = tuple(phone for part in whole for phone in part)
            yield Guess("e_sounded", number, phones, factor, vowel == own and ending == "IY")


def _is_consonant(unit: Unit) -> bool:
    return unit.vowel is None


def _missed(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
    """A first or last consonant, or one of a cluster, not read."""
    units = split.units
    last = len(units) - 1
    for number, unit in enumerate(units):
        if not _is_consonant(unit) or len(units) < 2:
            continue
        beside = [units[n] for n in (number - 1, number + 1) if 0 <= n <= last]
        cluster = any(_is_consonant(other) for other in beside)
        if number == last:
            factor = 1.0
        elif number == 0:
            factor = 0.6
        else:
            factor = 0.5 if cluster else 0.15
        if cluster and unit.phonemes[0] in ("R", "L"):
            factor *= 0.5
        parts = [*said[:number], *said[number + 1 :]]
        phones = tuple(phone for part in parts for phone in part)
        if any(phone in VOWEL_PHONES for phone in phones):
            yield Guess("sound_missed", number, phones, factor)


def _added(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
    """A murmur inside a cluster or at the end, or an s."""
    units = split.units
    for number, unit in enumerate(units):
        last = number == len(units) - 1
        if not _is_consonant(unit) or not said[number]:
            continue
        if not last and _is_consonant(units[number + 1]):
            yield Guess("sound_added", number, _with(said, number, (*said[number], "AH")), 0.5)
        if last:
            yield Guess("sound_added", number, _with(said, number, (*said[number], "AH")), 0.6)
    end = said[-1][-1:]
    if end and end[0] not in ("S", "Z", "SH", "CH", "JH", "ZH", "TH"):
        plural = "S" if end[0] in ("P", "T", "K", "F") else "Z"
        number = len(units) - 1
        whole = tuple(phone for part in said for phone in part)
        yield Guess("sound_added", number, (*whole, plural), 0.6)


def _order(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
    """Neighbouring consonants changed over, or a short word read from its end."""
    units = split.units
    for number in range(len(units) - 1):
        here, after = units[number], units[number + 1]
        closing = number > 0 and not _is_consonant(units[number - 1])
        if _is_consonant(here) and _is_consonant(after) and closing:
            parts = [*said[:number], said[number + 1], said[number], *said[number + 2 :]]
            yield Guess("order_changed", number, tuple(p for part in parts for p in part), 0.5)
    for number, unit in enumerate(units[1:], 1):
        if unit.grapheme in ("ar", "er", "ir", "or", "ur") and _is_consonant(units[number - 1]):
            phones = ("R", *SHORT[unit.grapheme[0]])
            parts = [*said[:number], phones, *said[number + 1 :]]
            yield Guess("order_changed", number, tuple(p for part in parts for p in part), 0.4)
    if 2 <= len(units) <= 3 and all(len(unit.letters) == 1 for unit in units):
        sounded = [
            SHORT.get(unit.grapheme, said[n]) if unit.vowel else said[n]
            for n, unit in enumerate(units)
        ]
        backwards = tuple(phone for part in sounded[::-1] for phone in part)
        yield Guess("order_changed", len(units) - 1, backwards, 0.5)
