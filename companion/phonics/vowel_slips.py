"""How a beginner misreads a vowel: short for long and back, one letter of a digraph, the e said."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from companion.phonics.accents import lexical_set
from companion.phonics.gpc import VOWEL_PHONES, table
from companion.phonics.guesses import Found, Guess, Phones, replaced, stands
from companion.phonics.positions import VOWELS
from companion.phonics.split import Split, Unit

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
_HIATUS = ("ai", "oa", "ie", "ea", "ou", "ue", "oe", "ui", "au", "ei", "io", "eo")


def vowel_slips(split: Split, number: int) -> Found:
    """Misreadings of one unit with a vowel, its e left silent."""
    unit = split.units[number]
    if "-" in unit.grapheme:
        return _split_digraph(split, number)
    if unit.grapheme in SHORT:
        return _single_vowel(split, number)
    return _vowel_digraph(split, number)


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
            likely = row.place is not None and stands(split, number, row.position)
            yield "other_gpc_value", phones, 0.6 if likely else 0.05, False


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
        northern = unit.phonemes == ("UH",) and lexical_set(split, number) == "STRUT"
        if unit.phonemes != SHORT[letter] and not northern:
            yield "other_gpc_value", SHORT[letter], strength, main
            kind = "split_for_short" if _looks_split(split, number) else "other_gpc_value"
        for long in LONG[letter]:
            yield kind, long, strength, main
    yield from _other_values(split, number, (SHORT[letter], *LONG[letter]))
    partner = PARTNER.get(unit.vowel or "")
    lengthened = unit.vowel not in _LONG_PHONES and partner in LONG[letter]
    yield from _partner(split, unit, "split_for_short" if lengthened else "other_gpc_value")


def _looks_split(split: Split, number: int) -> bool:
    at = split.units[number].letters[0]
    return split.word[at + 2 : at + 3].lower() == "e"


def _vowel_digraph(split: Split, number: int) -> Found:
    unit = split.units[number]
    main = _strong(split, unit)
    strength = 1.0 if main else 0.2
    letters = [letter for letter in unit.grapheme if letter in VOWELS]
    if unit.phonemes[0] not in VOWEL_PHONES and unit.grapheme[0] not in VOWELS:
        yield "one_letter_of_digraph", _letter_by_letter(unit.grapheme), strength, False
        return
    coloured = "r" in unit.grapheme
    taught = [
        row.gpc.phonemes
        for row in table().values(unit.grapheme)
        if row.place is not None and stands(split, number, row.position)
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


def _letter_by_letter(grapheme: str) -> Phones:
    """tion as T IH AA N."""
    firsts = [SHORT.get(letter) or _first(letter) for letter in grapheme]
    return tuple(phone for phones in firsts for phone in phones)


def _first(letter: str) -> Phones:
    gpc = table().first(letter)
    return gpc.phonemes if gpc is not None else ()


def e_sounded(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
    """pine with its e said, the i long or short."""
    for number, unit in enumerate(split.units):
        if unit.grapheme == "le" and unit.phonemes[-1:] == ("L",):
            for sound, factor in ((("IY",), 0.5), (("EH",), 0.5)):
                yield Guess("e_sounded", number, replaced(said, number, ("L", *sound)), factor)
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
