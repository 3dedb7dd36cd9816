"""Made-up words: spelled as English allows, never a real word, never said like one.

What they are built from, and the published rules for it, is `wordsets/pseudo_parts.txt`.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from random import Random

from companion.phonics.accents import accepted
from companion.phonics.gpc import VOWEL_PHONES, Gpc
from companion.phonics.lexicon import STRESSLESS, said
from companion.phonics.reading import Reading, reading
from companion.phonics.split import WordError, split
from companion.phonics.suitable import (
    is_blocked,
    known_words,
    lines,
    sounds_blocked,
    spells_blocked,
)
from companion.phonics.wordlists import WordListError

TRIES = 1500
"""Draws before giving up: a narrow choice of taught sounds may allow few made-up words."""

Parts = tuple[str, ...]
"""Graphemes in the order they are met; a split digraph stands where its vowel does."""

Slot = list[Parts]
"""What may stand at one place of a word."""

Shape = tuple[Slot, ...]
"""The slots of a kind of word, in order."""


@dataclass(frozen=True)
class PseudoWord:
    """A made-up word.

    Attributes
    ----------
    word : str
        Its spelling.
    graphemes : tuple of str
        The graphemes it was built from, in reading order.
    sounds : tuple of str
        Every plausible pronunciation in any accent, as ARPAbet strings.
    """

    word: str
    graphemes: tuple[str, ...]
    sounds: tuple[str, ...]


def make(
    taught: Collection[Gpc],
    count: int,
    rng: Random,
    *,
    targets: Collection[Gpc] = (),
    blends: bool = True,
    avoid: Collection[str] = (),
) -> tuple[PseudoWord, ...]:
    """Made-up words that use taught GPCs only.

    Parameters
    ----------
    taught : collection of Gpc
        The GPCs a child can decode.
    count : int
        How many are wanted; fewer come back when the taught GPCs allow no more.
    rng : Random
        Where chance comes from: the same state gives the same words.
    targets : collection of Gpc
        Values of one grapheme, of which each word must hold one; empty for any word.
    blends : bool
        Whether two or three consonant sounds may stand side by side.
    avoid : collection of str
        Words not to be made again.
    """
    graphemes = {gpc.grapheme for gpc in taught}
    target = next((gpc.grapheme for gpc in targets), None)
    shapes = _shapes(graphemes, target, blends)
    single = target is not None and len(target) == 1  # y at the start is no y as in jelly
    found: dict[str, PseudoWord] = {}
    heard: set[str] = set()
    for _ in range(TRIES if shapes else 0):
        if len(found) >= count:
            break
        parts = tuple(part for slot in rng.choice(shapes) for part in rng.choice(slot))
        word = spell(parts)
        if word in found or word in avoid or _against_spelling(parts):
            continue
        read = fitting(word)
        if read is None or heard & set(read.accepted):
            continue
        gpcs = set(read.splits[0].gpcs)
        if not gpcs <= set(taught) or (single and gpcs.isdisjoint(targets)):
            continue
        heard.update(read.accepted)
        found[word] = PseudoWord(word, parts, read.accepted)
    return tuple(found.values())


def fitting(word: str) -> Reading | None:
    """The reading of a made-up word that may be put before a child; None if it may not.

    It may not when it is a real word, is said like one in any accent, or when it or a likely
    misreading of it sounds like a word that is never chosen for a child.
    """
    if is_blocked(word) or spells_blocked(word) or said(word):
        return None
    try:
        read = reading(word)
    except WordError:
        return None
    if not read.pseudo or real_sounds() & set(read.accepted):
        return None
    heard = (*read.accepted, *(slip.phones for slip in read.slips))
    return None if any(sounds_blocked(each) for each in heard) else read


def spell(parts: Parts) -> str:
    """The letters of some graphemes: ``("v", "i-e", "m")`` is ``vime``."""
    word = "".join(part.partition("-")[0] for part in parts)
    return word + "e" if any("-" in part for part in parts) else word


@cache
def real_sounds() -> frozenset[str]:
    """How real words are said: those of the dictionary, with r kept and with r dropped, and
    those children know in every accent.
    """
    text = files("wordsets").joinpath("pronunciations.txt").read_text(encoding="utf-8")
    listed = {
        phones.translate(STRESSLESS)
        for line in text.splitlines()
        for phones in line.partition("\t")[2].split(",")
    }
    every = listed | {_without_r(phones) for phones in listed}
    for known in known_words():
        for each in split(known.word):
            every.update(accepted(each, None))
    return frozenset(every)


def _without_r(phones: str) -> str:
    kept = phones.replace("ER", "ER R").split()
    return " ".join(
        phone
        for phone, following in zip(kept, [*kept[1:], ""], strict=True)
        if phone != "R" or following in VOWEL_PHONES
    )


@cache
def _parts() -> dict[str, tuple[str, ...]]:
    """The entries of `pseudo_parts.txt` by name; a name may have several lines."""
    found: dict[str, list[str]] = {}
    for number, line in lines("pseudo_parts.txt"):
        name, colon, entries = line.partition(":")
        if not colon or not entries.split():
            raise WordListError(
                f"pseudo_parts.txt, line {number}", f"{line!r} has no entries", "Write: name: a b"
            )
        found.setdefault(name.strip(), []).extend(entries.split())
    return {name: tuple(entries) for name, entries in found.items()}


def _against_spelling(parts: Parts) -> bool:
    """Whether two neighbours break a rule of English spelling or make a value doubtful."""
    dotted = ".".join(parts)
    return parts[0] == parts[-1] or any(re.search(rule, dotted) for rule in _parts()["never"])


def _shapes(graphemes: set[str], target: str | None, blends: bool) -> list[Shape]:
    """The shapes of word that taught graphemes allow, each with the target in one of its slots."""
    parts = _parts()

    def slot(name: str) -> Slot:
        entries = [tuple(entry.split("-")) for entry in parts[name]]
        return [each for each in entries if graphemes >= set(each) and (blends or len(each) == 1)]

    start, short = slot("start"), slot("short")
    shapes: list[Shape] = [(start, short, slot("after short"))]
    for name in parts:
        vowel = name.removeprefix("after ")
        if name != vowel and vowel in graphemes:
            shapes.append((start, [(vowel,)], slot(name)))
    for vowel in parts["last"]:
        if vowel in graphemes:
            shapes.append((start, [(vowel,)]))
    for grapheme in sorted(each for each in graphemes if each.endswith("-e")):
        shapes.append((start, [(grapheme,)], slot("inside split")))
    for ending in parts["second beat"]:
        if ending in graphemes:
            shapes.append((start, short, slot("doubled"), [(ending,)]))
    if target is not None:
        shapes = [narrow for shape in shapes for narrow in _narrowed(shape, target)]
    return [shape for shape in shapes if all(shape)]


def _narrowed(shape: Shape, target: str) -> list[Shape]:
    """The shape once for each slot that can hold the target, with the target in it."""
    found: list[Shape] = []
    for at, choices in enumerate(shape):
        holding = [each for each in choices if target in each]
        if holding:
            found.append((*shape[:at], holding, *shape[at + 1 :]))
    return found
