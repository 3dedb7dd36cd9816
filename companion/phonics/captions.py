"""Decodable captions: which sentences of `wordsets/captions.txt` a child can read by now."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from companion.phonics.decodable import Splitter, Taught, check, words_of
from companion.phonics.gpc import Gpc
from companion.phonics.split import split
from companion.phonics.suitable import lines

ENOUGH = 2
"""Words with a GPC from which a caption is as good a one for it as any."""


@cache
def decodable_captions(taught: Taught, splitter: Splitter) -> tuple[str, ...]:
    """Every caption that is wholly decodable, in the file's order.

    Parameters
    ----------
    taught : Taught
        What the reader has been taught.
    splitter : callable
        Gives a word's readings: `split`, or one that knows a teacher's corrections.
    """
    return tuple(
        caption
        for _, caption in lines("captions.txt")
        if not check(caption, taught, splitter).broken
    )


def best_for(captions: Sequence[str], targets: tuple[Gpc, ...]) -> list[str]:
    """Those of `captions` with most words (two count as most) of any of `targets`."""
    most = max((min(times(each, targets), ENOUGH) for each in captions), default=0)
    return [each for each in captions if min(times(each, targets), ENOUGH) == most]


@cache
def times(caption: str, targets: tuple[Gpc, ...]) -> int:
    """How many words of a caption hold one of `targets`."""
    return sum(not set(targets).isdisjoint(split(word)[0].gpcs) for word in words_of(caption))
