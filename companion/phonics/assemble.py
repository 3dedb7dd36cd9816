"""What an alignment found, as units of the word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

from companion.phonics.gpc import VOWEL_PHONES, Gpc
from companion.phonics.patterns import MISPLACED, Choice, Entry, Phones, index
from companion.phonics.positions import fits
from companion.phonics.units import Unit

Step = tuple[int, int, int, int, int, Choice | None]
"""Letters ``[i, stop)`` say phones ``[j, after)``, as ``(i, j, stop, after, e, choice)``.

``e`` is the place of the e of a split digraph, else 0; the choice is missing where letters are
silent or say something the table does not know.
"""


def assemble(
    word: str, phones: Phones, stress: Sequence[int | None], steps: Sequence[Step]
) -> tuple[Unit, ...]:
    """Turn the steps of the cheapest path into units that hold every letter once."""
    units = []
    loose = False
    for i, j, stop, after, e, choice in steps:
        if choice is None:
            loose = True
            letters = tuple(range(i, stop))
            units.append(_loose(word[i:stop], letters, phones[j:after], stress, j))
            continue
        linked = choice.coloured and _links(choice, phones, after)
        placed = choice.anywhere or choice.weak or fits(choice.row.position, word, i, stop)
        strength = None if choice.vowel_at is None else stress[j + choice.vowel_at]
        units.append(_unit(choice, i, stop, e, linked, placed, strength))
    return _shared_e(word, _joined(units) if loose else units)


@lru_cache(maxsize=20_000)
def _unit(
    choice: Choice, i: int, stop: int, e: int, linked: bool, placed: bool, stress: int | None
) -> Unit:
    """The unit of one choice; the same few thousand recur in most words."""
    letters = (i, e) if e else tuple(range(i, stop))
    phonemes = (*choice.phonemes, "R") if linked else choice.phonemes
    taught = placed and choice.row.place is not None
    gpc, said = choice.row.gpc, choice.pattern
    return Unit(choice.grapheme, letters, phonemes, taught, gpc, stress, said)


def _loose(
    grapheme: str,
    letters: tuple[int, ...],
    said: Phones,
    stress: Sequence[int | None],
    first_phone: int,
) -> Unit:
    """A unit that no row of the table describes."""
    strengths = [stress[first_phone + n] for n, p in enumerate(said) if p in VOWEL_PHONES]
    strength = strengths[0] if strengths else None
    southern = tuple(
        "AH" if phone == "ER" and stress[first_phone + n] == 0 else phone
        for n, phone in enumerate(said)
    )
    return Unit(grapheme, letters, southern, False, Gpc(grapheme, southern), strength, said)


def _links(choice: Choice, phones: Phones, after: int) -> bool:
    """An r grapheme before a vowel keeps its r in every accent (story, sharing)."""
    return (
        choice.coloured
        and after < len(phones)
        and phones[after] in VOWEL_PHONES
        and phones[after - 1] in ("R", "ER")
    )


def _joined(units: Sequence[Unit]) -> list[Unit]:
    """Give silent letters and unspelt phones to a neighbour, so that no unit is empty."""
    joined: list[Unit] = []
    carried: Unit | None = None
    for unit in units:
        current = unit if carried is None else _merge(carried, unit)
        carried = None
        if current.letters and current.phonemes:
            joined.append(current)
        elif joined:
            joined[-1] = _merge(joined[-1], current)
        else:
            carried = current
    if carried is not None:
        joined.append(carried)
    return joined


def _merge(first: Unit, second: Unit) -> Unit:
    letters = tuple(sorted(first.letters + second.letters))
    main = first if first.letters else second
    grapheme = main.grapheme if "-" in main.grapheme else first.grapheme + second.grapheme
    gpc = first.gpc if first.listed else second.gpc
    phonemes = first.phonemes + second.phonemes
    if not (first.listed or second.listed):
        gpc = Gpc(grapheme, phonemes)
    strength = second.stress if first.stress is None else first.stress
    said = first.said + second.said
    return Unit(grapheme, letters, phonemes, False, gpc, strength, said)


def _shared_e(word: str, units: Sequence[Unit]) -> tuple[Unit, ...]:
    """Name the ge of age and huge, and the ed of saved, whose e a grapheme before them holds."""
    if not any(
        unit.grapheme == "d" or (unit.grapheme == "g" and unit.phonemes == ("JH",))
        for unit in units
    ):
        return tuple(units)
    held = {x for p in units if len(p.letters) > 1 and p.grapheme != "ee" for x in p.letters}
    return tuple(_renamed(word, unit, held) for unit in units)


def _renamed(word: str, unit: Unit, held: set[int]) -> Unit:
    after = unit.letters[-1] + 1
    shown = unit.grapheme, unit.phonemes
    if shown == ("g", ("JH",)) and after in held and word[after : after + 1] == "e":
        return replace(unit, grapheme="ge", gpc=Gpc("ge", ("JH",)))
    past = shown == ("d", ("D",)) and after == len(word)
    if past and after - 2 in held and word[after - 2] == "e":
        return replace(unit, grapheme="ed", gpc=Gpc("ed", ("D",)))
    return unit


def share_out(
    word: str,
    graphemes: Sequence[tuple[str, tuple[int, ...]]],
    phones: Phones,
    stress: Sequence[int | None],
    british: bool,
) -> tuple[Unit, ...]:
    """Share the phones of a word out over graphemes that somebody has decided on."""
    best: dict[int, tuple[float, tuple[Unit, ...]]] = {0: (0.0, ())}
    for grapheme, letters in graphemes:
        onward: dict[int, tuple[float, tuple[Unit, ...]]] = {}
        for j, (cost, done) in best.items():
            for after in range(j, min(j + 6, len(phones)) + 1):
                entry = index(british).get(grapheme)
                price, unit = _decided(word, (grapheme, letters, entry), phones, stress, (j, after))
                if after not in onward or cost + price < onward[after][0]:
                    onward[after] = (cost + price, (*done, unit))
        best = onward
    return best.get(len(phones), (0.0, ()))[1]


def _decided(
    word: str,
    decided: tuple[str, tuple[int, ...], Entry | None],
    phones: Phones,
    stress: Sequence[int | None],
    span: tuple[int, int],
) -> tuple[float, Unit]:
    """Cost and unit of one decided grapheme said as ``phones[slice(*span)]``."""
    grapheme, letters, entry = decided
    j, after = span
    best: tuple[float, Choice] | None = None
    for choice in entry.get(phones[j], ()) if entry and j < len(phones) else ():
        if choice.length == after - j and choice.allowed(phones, stress, j):
            placed = choice.anywhere or fits(choice.row.position, word, letters[0], letters[-1] + 1)
            cost = choice.price(stress, j) + (0.0 if placed else MISPLACED)
            if best is None or cost < best[0]:
                best = (cost, choice)
    if best is None:
        said = phones[j:after]
        same = bool(said) and (grapheme[0] in "aeiouy") == (said[0] in VOWEL_PHONES)
        cost = 3.0 + 2.0 * abs(len(said) - 1) + (0.0 if same else 2.0)
        return cost, _loose(grapheme, letters, said, stress, j)
    cost, choice = best
    phonemes = (*choice.phonemes, "R") if _links(choice, phones, after) else choice.phonemes
    taught = choice.row.place is not None
    strength = None if choice.vowel_at is None else stress[j + choice.vowel_at]
    said = phones[j:after]
    return cost, Unit(grapheme, letters, phonemes, taught, choice.row.gpc, strength, said)
