"""What a listener makes of a manifest's clips by itself, before any verdict is weighed.

The forced choice: does what was said score better than the same with one vowel changed for its
short or long partner? And: how much like a slip does a clip sound, which slip, which phones?
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from rapidfuzz.distance import Levenshtein

from speech import audio
from speech.evaluate_rows import AS_WRITTEN, Row
from speech.phones import PAUSE, VOWELS, partners
from speech.scorer import Hearing, PhoneScorer

NOTHING = "-"
"""Stands for a vowel that was not heard at all."""


@dataclass(frozen=True)
class Listened:
    """One row, listened to.

    Attributes
    ----------
    margins : tuple of float
        Nats by which what was said beats each partner of it; empty where it has none, where more
        than one try was said, and for a clip that an earlier row has.
    likeness : float or None
        Nats by which the likeliest slip beats the likeliest right string; None without both.
    nearest : str or None
        Kind of the likeliest slip.
    phones_wrong, phones : int
        Edits from what was said to what was heard, and how many phones were said; 0 and 0 for
        silence and for a clip that an earlier row has.
    vowels : tuple of (str, str)
        Each vowel said with the vowel heard in its place, or `NOTHING`.
    """

    margins: tuple[float, ...]
    likeness: float | None
    nearest: str | None
    phones_wrong: int
    phones: int
    vowels: tuple[tuple[str, str], ...]


def choices(row: Row) -> tuple[str, ...]:
    """The forced choices of a row: each partner of what was said, which has to be one try."""
    return () if "/" in row.said else tuple(partners(row.said))


def listen(rows: Iterable[Row], folder: Path, scorer: PhoneScorer) -> Iterator[Listened]:
    """Listen to every row; a clip that several rows share is counted once.

    Raises
    ------
    AudioError
        A clip cannot be read.
    """
    seen = set()
    last: tuple[object, Hearing] | None = None
    for row in rows:
        if last is None or last[0] != row.clip:
            utterance = audio.read(folder / row.audio, row.start_s, row.end_s)
            last = row.clip, scorer.hear(utterance.samples)
        first = row.clip not in seen
        seen.add(row.clip)
        yield _listened(row, last[1], first)


def _listened(row: Row, hearing: Hearing, first: bool) -> Listened:
    likeness, nearest = _likeness(row, hearing)
    margins: tuple[float, ...] = ()
    if first and (rivals := choices(row)):
        said, *others = hearing.log_likelihoods([row.said, *rivals]).tolist()
        margins = tuple(said - other for other in others)
    heard = [symbol for symbol in hearing.free_phones.split() if symbol != PAUSE]
    if not first or not row.phones:
        return Listened(margins, likeness, nearest, 0, 0, ())
    return Listened(
        margins,
        likeness,
        nearest,
        Levenshtein.distance(row.phones, heard),
        len(row.phones),
        tuple(vowels(row.phones, heard)),
    )


def _likeness(row: Row, hearing: Hearing) -> tuple[float | None, str | None]:
    strings = list(row.candidates)
    right = [string for string in strings if row.candidates[string] == AS_WRITTEN]
    if not right or len(right) == len(strings):
        return None, None
    scored = dict(zip(strings, hearing.log_likelihoods(strings).tolist(), strict=True))
    slips = [string for string in strings if row.candidates[string] != AS_WRITTEN]
    best = max(slips, key=lambda string: scored[string])
    return scored[best] - max(scored[string] for string in right), row.candidates[best]


def vowels(said: tuple[str, ...], heard: list[str]) -> Iterator[tuple[str, str]]:
    """Each vowel said with what stands in its place in what was heard, by fewest edits."""
    for edit in Levenshtein.opcodes(said, heard):
        for number in range(edit.src_start, edit.src_end):
            if said[number] not in VOWELS:
                continue
            place = edit.dest_start + number - edit.src_start
            there = heard[place] if place < edit.dest_end else NOTHING
            yield said[number], there if there in VOWELS else NOTHING
