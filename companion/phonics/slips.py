"""How a beginner misreads a word: every likely slip, its kind and the GPC it is evidence for."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from companion.phonics.consonant_slips import added, consonant_slips, missed, reordered
from companion.phonics.gpc import Gpc
from companion.phonics.guesses import Guess, Phones, replaced
from companion.phonics.split import Split
from companion.phonics.vowel_slips import e_sounded, vowel_slips

SLIP_KINDS = (
    "short_for_split",
    "e_sounded",
    "split_for_short",
    "one_letter_of_digraph",
    "hard_for_soft_c",
    "soft_for_hard_c",
    "letter_reversal",
    "sound_added",
    "sound_missed",
    "order_changed",
    "other_gpc_value",
)

MOST = 40
"""Slips kept for one word, the likeliest first."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One likely misreading of a word.

    ``gpc`` and ``unit`` (its index in ``Split.units``) are what the slip is evidence about;
    ``phones`` is the whole word as misread; ``prior`` is this slip's share, from 0 to 1, of all
    slips listed for the word before anything was heard.
    """

    kind: str
    gpc: Gpc
    unit: int
    phones: str
    prior: float


@lru_cache(maxsize=1)
def priors() -> Mapping[str, float]:
    """Weight of each kind, from ``slip_priors.csv``, which names the source of each."""
    text = resources.files("wordsets").joinpath("slip_priors.csv").read_text("utf-8")
    return {row["kind"]: float(row["prior"]) for row in csv.DictReader(io.StringIO(text))}


def guesses(split: Split, said: Sequence[Phones]) -> Iterator[Guess]:
    """Every slip of a word whose units are otherwise said as in `said`.

    Strings may repeat and may count as right in some accent: `reading` sifts them.
    """
    for number, unit in enumerate(split.units):
        found = consonant_slips if unit.vowel is None else vowel_slips
        for kind, phones, factor, kept in found(split, number):
            yield Guess(kind, number, replaced(said, number, phones), factor, kept)
    yield from e_sounded(split, said)
    yield from missed(split, said)
    yield from added(split, said)
    yield from reordered(split, said)
