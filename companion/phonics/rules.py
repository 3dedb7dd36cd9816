"""Words nobody knows: graphemes by rule, and every plausible value of each."""

from __future__ import annotations

import itertools

from companion.phonics.gpc import VOWEL_PHONES, Gpc, Row, table
from companion.phonics.positions import CONSONANTS, VOWELS, fits

_MOST = 24
"""Strings; a pseudo-word with more plausible readings keeps the likeliest."""


def graphemes_by_rule(bare: str) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Graphemes and letter places of a word read by rule: the fewest taught graphemes.

    A split digraph is read only where its e ends the word (or stands before a last s or d) and a
    single consonant is tucked inside. The result is empty if some letter has no taught GPC.
    """
    n = len(bare)
    best: list[tuple[float, tuple[tuple[str, tuple[int, ...]], ...]] | None] = [None] * (n + 1)
    best[0] = (0.0, ())
    for i in range(n):
        here = best[i]
        if here is None:
            continue
        for length in range(1, min(4, n - i) + 1):
            grapheme = bare[i : i + length]
            if not _usable(grapheme, bare, i, i + length):
                continue
            cost = here[0] + 1.0 - 0.05 * (length - 1)
            _keep(best, i + length, cost, (*here[1], (grapheme, tuple(range(i, i + length)))))
        tucked = _tucked(bare, i)
        if tucked:
            pair = (f"{bare[i]}-e", (i, i + 2)), (tucked, (i + 1,))
            _keep(best, i + 3, here[0] + 1.7, (*here[1], *pair))
    return best[n][1] if best[n] else ()  # type: ignore[index]


def _keep(
    best: list[tuple[float, tuple[tuple[str, tuple[int, ...]], ...]] | None],
    at: int,
    cost: float,
    units: tuple[tuple[str, tuple[int, ...]], ...],
) -> None:
    old = best[at]
    if old is None or cost < old[0]:
        best[at] = (cost, units)


def _tucked(bare: str, i: int) -> str:
    after = bare[i + 3 :]
    vowel = bare[i] in VOWELS and (i == 0 or bare[i - 1] not in VOWELS or bare[i - 2 : i] == "qu")
    if vowel and bare[i + 2 : i + 3] == "e" and after in ("", "s", "d"):
        inside = bare[i + 1]
        return inside if inside in CONSONANTS and inside not in "wxy" else ""
    return ""


def _usable(grapheme: str, bare: str, start: int, stop: int) -> bool:
    if grapheme in ("ed", "es", "ire", "ear") and start == 0:
        return False
    if grapheme in ("ed", "es") or (grapheme == "y" and not plausible(grapheme, bare, start, stop)):
        return False
    return bool(plausible(grapheme, bare, start, stop))


def plausible(grapheme: str, bare: str, start: int, stop: int) -> tuple[Row, ...]:
    """Taught rows of a grapheme that may stand at ``bare[start:stop]``, likeliest first."""
    rows = [
        row
        for row in table().values(grapheme)
        if row.place is not None
        and (row.taught != "Year 2" or row.switch or len(row.gpc.grapheme) > 1 or grapheme == "y")
        and fits(row.position, bare, start, stop)
    ]
    if grapheme == "y":
        vowel_next = bare[stop : stop + 1] in VOWELS and bare[stop : stop + 1] != ""
        rows = [row for row in rows if (row.gpc.phonemes == ("Y",)) == vowel_next]
        if not rows and not vowel_next:
            rows = [row for row in table().values("y") if row.gpc.phonemes == ("IH",)]
        if bare[:start] and not any(letter in VOWELS for letter in bare[:start]):
            rows.sort(key=lambda row: row.gpc.phonemes != ("AY",))
    return tuple(rows)


def values_by_rule(
    bare: str, units: tuple[tuple[str, tuple[int, ...]], ...]
) -> tuple[tuple[Gpc, ...], ...]:
    """For each unit every plausible GPC, likeliest first."""
    values = []
    for grapheme, letters in units:
        if "-" in grapheme:
            rows = tuple(row for row in table().values(grapheme) if row.place is not None)
        else:
            rows = plausible(grapheme, bare, letters[0], letters[-1] + 1)
        values.append(tuple(row.gpc for row in rows))
    return tuple(values)


def every_reading(values: tuple[tuple[Gpc, ...], ...]) -> tuple[str, ...]:
    """All plausible pronunciations, those with most first values leading, at most 24."""
    ranked = sorted(
        itertools.islice(itertools.product(*(range(len(v)) for v in values)), 20_000),
        key=lambda choice: (sum(choice), sum(map(bool, choice))),
    )
    strings = []
    for choice in ranked:
        gpcs = [v[k] for v, k in zip(values, choice, strict=True)]
        phones = [phone for gpc in gpcs for phone in gpc.phonemes]
        if any(phone in VOWEL_PHONES for phone in phones):
            strings.append(" ".join(_assimilate(phones)))
    return tuple(dict.fromkeys(strings))[:_MOST]


def _assimilate(phones: list[str]) -> list[str]:
    """n before k or g is said NG, as the table's 'before' rule has it."""
    return [
        "NG" if phone == "N" and after in ("K", "G") else phone
        for phone, after in zip(phones, [*phones[1:], ""], strict=True)
    ]
