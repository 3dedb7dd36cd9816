"""Contrast pairs for a live slip: a word, and the word that the slip makes of it (pine and pin)."""

from __future__ import annotations

from functools import cache

from companion.phonics.candidates import Candidate, candidates
from companion.phonics.decodable import Splitter
from companion.phonics.gpc import Gpc
from companion.phonics.reading import reading

LONGEST = 5
"""Graphemes in a word of a pair: in a longer one the difference is lost."""


@cache
def pairs(gpc: Gpc, kind: str, splitter: Splitter) -> tuple[tuple[Candidate, Candidate], ...]:
    """Pairs of known words for one kind of slip on one GPC, taught or not.

    Parameters
    ----------
    gpc : Gpc
        The GPC the slip is evidence for.
    kind : str
        One of `companion.phonics.slips.SLIP_KINDS`.
    splitter : callable
        Gives a word's readings: `split`, or one that knows a teacher's corrections.

    Returns
    -------
    tuple of (Candidate, Candidate)
        The word that holds `gpc`, then the one that it is misread as. Empty where the slip makes
        no word that children know.
    """
    said: dict[str, Candidate] = {}
    for each in candidates(splitter):
        said.setdefault(each.split.phones, each)
    found = []
    for word in candidates(splitter):
        if gpc not in word.gpcs or len(word.split.units) > LONGEST:
            continue
        for slip in reading(word.word).slips:
            other = said.get(slip.phones)
            if slip.kind == kind and slip.gpc == gpc and other is not None:
                found.append((word, other))
    return tuple(found)
