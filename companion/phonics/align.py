"""Letters against phones: the cheapest way to spell a pronunciation with the GPC table."""

from __future__ import annotations

from collections.abc import Sequence

from companion.phonics.assemble import Step, assemble
from companion.phonics.gpc import VOWEL_PHONES
from companion.phonics.patterns import (
    MISPLACED,
    UNSTRESSED,
    WEAK,
    Choice,
    Entry,
    Phones,
    graphemes_at,
    index,
)
from companion.phonics.positions import VOWELS, fits, paired_e
from companion.phonics.units import Unit

_SILENT, _SAME_CLASS, _OTHER_CLASS, _UNSPELT = 5.0, 4.0, 7.0, 4.5
_BITS, _MASK = 6, 63
"""Room for more letters than any word has, so that two small numbers share one key."""
_PAIRING = VOWELS | {"y"}

# A state is the number of phones used and the place of a split digraph's waiting e (or 0), in
# one key; its value is the cost so far and the linked steps that led there.
Link = tuple["Link | None", Step] | None
Level = dict[int, tuple[float, Link]]

_ENDINGS: dict[str, tuple[tuple[str, Phones], ...]] = {
    "d": (("ed", ("T",)), ("ed", ("D",)), ("ed", ("IH", "D")), ("ed", ("AH", "D"))),
    "s": (("es", ("IH", "Z")), ("es", ("AH", "Z"))),
}


def align(
    word: str,
    phones: Sequence[str],
    stress: Sequence[int | None],
    *,
    british: bool = False,
) -> tuple[Unit, ...]:
    """The cheapest spelling of `phones` by the letters of `word`.

    Parameters
    ----------
    word : str
        Small letters a to z only.
    phones : sequence of str
        ARPAbet without stress digits, with or without r after vowels.
    stress : sequence of int or None
        Stress digit of each phone; ``None`` where unknown or for consonants.
    british : bool
        Whether the phones are southern already, so that American values cost more.

    Returns
    -------
    tuple of Unit
        In reading order, every letter in exactly one unit. First the table alone is tried; if
        it cannot spell the phones, letters may be silent and phones unspelt, at a cost.
    """
    said = tuple(phones)
    steps = _search(word, said, stress, british=british, loose=False)
    if steps is None:
        steps = _search(word, said, stress, british=british, loose=True)
    if steps is not None and all(step[5] is None for step in steps):
        unstressed = [None] * len(said)
        steps = _search(word, said, unstressed, british=british, loose=True)
    return assemble(word, said, stress, steps) if steps is not None else ()


def _search(
    word: str, phones: Phones, stress: Sequence[int | None], *, british: bool, loose: bool
) -> list[Step] | None:
    n, m = len(word), len(phones)
    entries = index(british)
    levels: list[Level] = [{} for _ in range(n + 1)]
    levels[0][0] = (0.0, None)
    for i in range(n):
        level = levels[i]
        if loose:
            _leave_phones(level, i, m)
        if not level:
            continue
        here = graphemes_at(word[i : i + 4], british)
        pairs = paired_e(word, i) if word[i] in _PAIRING else ()
        for key, (cost, link) in level.items():
            j, waiting = key >> _BITS, key & _MASK
            if waiting == i and i:
                _offer(levels[i + 1], j << _BITS, cost, link)
                continue
            if j < m:
                phone = phones[j]
                for length, entry in here:
                    stop = i + length
                    if waiting and stop > waiting:
                        break
                    for choice in entry.get(phone, ()):
                        if not choice.free and not choice.allowed(phones, stress, j):
                            continue
                        price = cost + choice.cost
                        if choice.strong and stress[j] == 0:
                            price += UNSTRESSED
                        if not choice.anywhere and not fits(choice.row.position, word, i, stop):
                            if choice.row.kind == "ending":
                                continue
                            price += MISPLACED
                        after = j + choice.length
                        onward = (after << _BITS) | waiting
                        old = levels[stop].get(onward)
                        if old is None or price < old[0]:
                            step = (i, j, stop, after, 0, choice)
                            levels[stop][onward] = (price, (link, step))
                if pairs and not waiting:
                    entry = entries.get(word[i] + "-e", {})
                    _split(levels, entry, phones, stress, (i, j, cost, link), pairs)
            if loose:
                _force(levels, word, phones, (i, j, waiting), cost, link)
        if i == n - 1 and i >= 2 and word[i - 1] == "e" and word[i] in _ENDINGS:
            _shared_ending(levels, word, phones, entries)
    if loose:
        _leave_phones(levels[n], n, m)
    last = levels[n].get(m << _BITS)
    return None if last is None else _steps(last[1])


def _offer(level: Level, key: int, cost: float, link: Link) -> None:
    old = level.get(key)
    if old is None or cost < old[0]:
        level[key] = (cost, link)


def _split(
    levels: list[Level],
    entry: Entry,
    phones: Phones,
    stress: Sequence[int | None],
    state: tuple[int, int, float, Link],
    pairs: tuple[int, ...],
) -> None:
    """Offer the vowel letter as half of a split digraph, its e waiting further on."""
    i, j, cost, link = state
    for choice in entry.get(phones[j], ()):
        if choice.free or choice.allowed(phones, stress, j):
            after = j + choice.length
            for e in pairs:
                step = (i, j, i + 1, after, e, choice)
                _offer(levels[i + 1], (after << _BITS) | e, cost + choice.cost, (link, step))


def _shared_ending(
    levels: list[Level], word: str, phones: Phones, entries: dict[str, Entry]
) -> None:
    """Endings whose e is shared with the grapheme before them: hope·d, race·s."""
    n, m = len(word), len(phones)
    for key, (cost, link) in levels[n - 1].items():
        j, waiting = key >> _BITS, key & _MASK
        for grapheme, pattern in _ENDINGS[word[-1]] if not waiting else ():
            if phones[j:] == pattern:
                choice = _said(entries[grapheme], pattern)
                if choice is not None:
                    step = (n - 1, j, n, m, 0, choice)
                    _offer(levels[n], m << _BITS, cost + choice.cost + WEAK, (link, step))


def _said(entry: Entry, pattern: Phones) -> Choice | None:
    choices = entry.get(pattern[0], ())
    return next((choice for choice in choices if choice.pattern == pattern), None)


def _force(
    levels: list[Level],
    word: str,
    phones: Phones,
    state: tuple[int, int, int],
    cost: float,
    link: Link,
) -> None:
    """Let a letter be silent, or say any one phone."""
    i, j, waiting = state
    silent = (i, j, i + 1, j, 0, None)
    _offer(levels[i + 1], (j << _BITS) | waiting, cost + _SILENT, (link, silent))
    if j < len(phones):
        same = (word[i] in VOWELS) == (phones[j] in VOWEL_PHONES)
        price = _SAME_CLASS if same else _OTHER_CLASS
        step = (i, j, i + 1, j + 1, 0, None)
        _offer(levels[i + 1], ((j + 1) << _BITS) | waiting, cost + price, (link, step))


def _leave_phones(level: Level, i: int, m: int) -> None:
    """Let phones stand that no letter spells."""
    for j in range(m):
        for key, (cost, link) in list(level.items()):
            if key >> _BITS == j:
                _offer(
                    level,
                    key + (1 << _BITS),
                    cost + _UNSPELT,
                    (link, (i, j, i, j + 1, 0, None)),
                )


def _steps(link: Link) -> list[Step]:
    steps = []
    while link is not None:
        link, step = link
        steps.append(step)
    return steps[::-1]
