"""One word ready to be heard: how it is split, what counts as right, what slips are likely."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from companion.phonics import accents, lexicon, slips
from companion.phonics.accents import Way
from companion.phonics.gpc import VOWEL_PHONES
from companion.phonics.guesses import Guess
from companion.phonics.slips import Slip
from companion.phonics.split import (
    Split,
    WordError,
    letters_of,
    plausible_phones,
    split,
    variants,
)

__all__ = ["Reading", "Slip", "WordError", "reading"]


@dataclass(frozen=True, slots=True)
class Reading:
    """A word as the listener needs it.

    Attributes
    ----------
    word : str
        As it was given.
    splits : tuple of Split
        One for each way the word is read.
    accepted : tuple of str
        ARPAbet strings that count as right, the likeliest first.
    slips : tuple of Slip
        Misreadings, the likeliest first; none is accepted in any accent, all differ.
    sounds : tuple of tuple of str
        For each unit of the first split, what a child says when sounding it out: the pure sound,
        then, for a consonant, the sound with a murmur after it.
    pseudo : bool
        Whether the word is read by rule, so that every plausible value is right.
    """

    word: str
    splits: tuple[Split, ...]
    accepted: tuple[str, ...]
    slips: tuple[Slip, ...]
    sounds: tuple[tuple[str, ...], ...]
    pseudo: bool


def reading(
    word: str,
    phones: Sequence[str] | None = None,
    accent: str | None = None,
    *,
    pseudo: bool | None = None,
    corrected: Split | None = None,
) -> Reading:
    """Everything the listener needs to know of a word.

    Parameters
    ----------
    word : str
        The word as written.
    phones : sequence of str, optional
        Pronunciations that count as right (ARPAbet, stress digits allowed); their accent variants
        count too. Slips still come from the spelling.
    accent : str, optional
        The class's accent; without it every British accent counts as right.
    pseudo : bool, optional
        Say that the word is a pseudo-word even if a dictionary lists it; without it a word is a
        pseudo-word if no pronunciation is known or given.
    corrected : Split, optional
        A teacher's own split, which stands in place of the program's.

    Raises
    ------
    WordError
        If the word cannot be split; `WordError` says what, why and how to mend it.
    ValueError
        If there is no such accent.
    """
    given = None if phones is None else tuple(" ".join(string.split()) for string in phones)
    return _reading(word, given, accent, pseudo, corrected)


@lru_cache(maxsize=4096)
def _reading(
    word: str,
    given: tuple[str, ...] | None,
    accent: str | None,
    pseudo: bool | None,
    corrected: Split | None,
) -> Reading:
    bare = letters_of(word)
    by_rule = given is None and (pseudo or not lexicon.said(word.lower().replace("’", "'")))
    others: tuple[Split, ...] = ()
    if corrected:
        splits: tuple[Split, ...] = (corrected,)
    elif given:
        splits = _distinct(split(word, string)[0] for string in given)
    elif by_rule:
        splits = tuple(split(word, string)[0] for string in plausible_phones(word))
        others = splits[1:]
        splits = splits[:1] or split(word)
    else:
        splits = split(word)
        others = variants(word)
    fair = _accepted((*splits, *others), accent, _plain(given or ()))
    found = _slips(splits, others, fair, given)
    return Reading(word, splits, fair, found, _sounds(splits[0]), bool(by_rule and bare))


def _plain(strings: Sequence[str]) -> tuple[str, ...]:
    return tuple(string.translate(lexicon.STRESSLESS) for string in strings)


def _distinct(splits: Iterable[Split]) -> tuple[Split, ...]:
    return tuple({s.units: s for s in splits}.values())


def _accepted(
    splits: Sequence[Split], accent: str | None, given: tuple[str, ...]
) -> tuple[str, ...]:
    """Merge the accepted strings of all splits, each one's likeliest before any one's rarest."""
    lists = [accents.accepted(s, accent) for s in splits]
    merged = list(given)
    for rank in range(max(map(len, lists))):
        merged += [strings[rank] for strings in lists if rank < len(strings)]
    return tuple(dict.fromkeys(merged))[: accents.MOST]


def _slips(
    splits: Sequence[Split],
    others: Sequence[Split],
    fair: tuple[str, ...],
    given: tuple[str, ...] | None,
) -> tuple[Slip, ...]:
    every = [accents.ways(s, None, every=True) for s in (*splits, *others)]
    right = set(fair)
    best: dict[Phones, tuple[float, Guess, Split]] = {}
    for one in splits:
        bases = [one.said] if given else [tuple(unit.phonemes for unit in one.units)]
        bases.append(tuple(unit.phonemes for unit in one.units))
        for share, base in zip((1.0, 0.5), dict.fromkeys(bases), strict=False):
            for guess in slips.guesses(one, base):
                weight = slips.priors()[guess.kind] * guess.factor * share
                old = best.get(guess.phones)
                if old is None or weight > old[0]:
                    best[guess.phones] = (weight, guess, one)
    kept = [
        item
        for phones, item in best.items()
        if any(phone in VOWEL_PHONES for phone in phones)
        and " ".join(phones) not in right
        and not any(accents.accepts(unit_ways, phones) for unit_ways in every)
    ]
    kept.sort(key=lambda item: (not item[1].kept, -item[0], item[1].phones))
    kept = sorted(kept[: slips.MOST], key=lambda item: -item[0])
    total = sum(item[0] for item in kept)
    return tuple(
        Slip(g.kind, one.units[g.unit].gpc, g.unit, " ".join(g.phones), weight / total)
        for weight, g, one in kept
    )


Phones = tuple[str, ...]


def _sounds(one: Split) -> tuple[tuple[str, ...], ...]:
    return tuple(_unit_sounds(one, n, w) for n, w in enumerate(accents.ways(one, None)))


def _unit_sounds(one: Split, number: int, unit_ways: Sequence[Way]) -> tuple[str, ...]:
    unit = one.units[number]
    pure = " ".join(unit.gpc.phonemes)
    if unit.vowel is None:
        return (pure, f"{pure} AH")
    said = [" ".join(way.phones) for way in unit_ways if way.cost <= 1.0]
    return tuple(dict.fromkeys([pure, *said]))[:4]
