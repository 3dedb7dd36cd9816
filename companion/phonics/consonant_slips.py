"""How a beginner misreads consonants: other values, reversals, sounds missed, added or moved."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from companion.phonics.gpc import VOWEL_PHONES, table
from companion.phonics.guesses import Found, Guess, Phones, replaced, stands
from companion.phonics.positions import VOWELS
from companion.phonics.split import Split, Unit
from companion.phonics.vowel_slips import SHORT

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
}
_BOTH_LETTERS: Mapping[str, Phones] = {
    "kn": ("K", "N"),
    "gn": ("G", "N"),
    "wr": ("W", "R"),
    "mb": ("M", "B"),
}
_VOICE_PAIRS = frozenset(
    {("S", "Z"), ("Z", "S"), ("TH", "DH"), ("DH", "TH"), ("T", "D"), ("D", "T")}
)


def consonant_slips(split: Split, number: int) -> Found:
    """Misreadings of one unit without a vowel."""
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
        voicing = len(phones) == 1 and (phones[0], *other) in _VOICE_PAIRS
        if other != phones and len(phones) == 1 and not voicing and grapheme != "ed":
            soft_c = grapheme == "c" and other in (("S",), ("K",))
            possible = row.place is not None and stands(split, number, row.position)
            if possible and not soft_c and other[-1] not in VOWEL_PHONES:
                yield "other_gpc_value", other, 0.5, False
    if len(grapheme) > 1 and grapheme not in ("ed", "es") and "-" not in grapheme:
        yield from _letters_alone(split, number)
    for other, factor in _REVERSED.get(grapheme, ()):
        yield "letter_reversal", other, factor, False


def _letters_alone(split: Split, number: int) -> Found:
    unit = split.units[number]
    grapheme, phones = unit.grapheme, unit.phonemes
    for place, letter in enumerate(dict.fromkeys(grapheme)):
        first = table().first(letter)
        if first is None or letter in VOWELS or letter == "y" or first.phonemes == phones:
            continue
        if letter == "h" and number:
            continue
        yield "one_letter_of_digraph", first.phonemes, 0.6 if place == 0 else 0.3, False
    if grapheme in _BOTH_LETTERS:
        yield "sound_added", _BOTH_LETTERS[grapheme], 1.0, False


def _is_consonant(unit: Unit) -> bool:
    return unit.vowel is None


def missed(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
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


def added(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
    """A murmur inside a cluster or at the end, or an s."""
    units = split.units
    for number, unit in enumerate(units):
        last = number == len(units) - 1
        if not _is_consonant(unit) or not said[number]:
            continue
        if not last and _is_consonant(units[number + 1]):
            yield Guess("sound_added", number, replaced(said, number, (*said[number], "AH")), 0.5)
        if last:
            yield Guess("sound_added", number, replaced(said, number, (*said[number], "AH")), 0.6)
    end = said[-1][-1:]
    if end and end[0] not in ("S", "Z", "SH", "CH", "JH", "ZH", "TH"):
        plural = "S" if end[0] in ("P", "T", "K", "F") else "Z"
        number = len(units) - 1
        whole = tuple(phone for part in said for phone in part)
        yield Guess("sound_added", number, (*whole, plural), 0.6)


def reordered(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
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
        if backwards[-1] != "HH":
            yield Guess("order_changed", len(units) - 1, backwards, 0.5)
