"""What a child's words said after the computer tell of its vowels, and how evidence uses it.

The word is known, so the margin between it and its short or long partner (*cat* against *Kate*)
shows where this child's vowels lie. By how much the margins differ from other children's is drawn
towards 0: with within-child variance w, between-child variance b and n repeats of a pair, their
mean counts b / (b + w / n) (the posterior mean of a normal model; Gelman et al. 2013, *Bayesian
Data Analysis*, section 5.4; from memory). Speakers differ most in the pair of *hop* and *hope*,
where four repeats count three quarters; of *cat* and *cake* four count a third.
"""

from __future__ import annotations

import functools
import hashlib
import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.phonics.reading import Reading
from companion.practice.evidence import Evidence, candidates
from companion.record import own_vowels
from companion.record.home import ChildFolder
from companion.record.own_vowels import MOST_NATS, PAIRS, STEP_NATS, OwnVowels
from speech.phones import SHORT_LONG, VOWELS

FILE = Path(__file__).with_name("after_me.json")
FAR = 2.0
"""No repeat counts as further from the usual than this many standard deviations: it may have been
misheard. Common practice (winsorizing), no source."""
AS_HEARD = {"AO": "AA"}
"""The vowel of *hop* is nearer to AO in many British mouths (Wells 1982, LOT), and so is a pure
northern or Scottish vowel of *hope*: both are heard against each other."""


@dataclass(frozen=True)
class Repeat:
    """One word said after the computer.

    Attributes
    ----------
    vowel : str
        Its vowel, one of ``speech.phones.SHORT_LONG``.
    margin : float
        By how many nats the long vowel of the pair is heard rather than the short one.
    """

    vowel: str
    margin: float


@dataclass(frozen=True)
class Usual:
    """How children's margins lie, measured by ``measure_after_me``.

    Attributes
    ----------
    mean : dict of str to float
        Mean margin of each vowel, in nats.
    within : float
        Variance of one speaker's margins of a pair around its own mean, in nats².
    between : dict of str to float
        Variance of speakers' means around the usual one, for the pair of each short vowel.
    name : str
        Changes with the numbers.
    """

    mean: dict[str, float]
    within: float
    between: dict[str, float]
    name: str

    @classmethod
    def load(cls, path: Path = FILE) -> Usual:
        """Read the bundled numbers.

        Raises
        ------
        KeyError
            If one is missing.
        """
        text = path.read_bytes()
        numbers = json.loads(text)
        mean = {vowel: float(numbers["mean"][vowel]) for vowel in SHORT_LONG}
        between = {pair: float(numbers["between"][pair]) for pair in PAIRS}
        return cls(mean, float(numbers["within"]), between, hashlib.sha256(text).hexdigest()[:8])


@functools.cache
def usual() -> Usual:
    """The bundled numbers, read once."""
    return Usual.load()


def own_of(folder: ChildFolder) -> OwnVowels | None:
    """A child's numbers, to be given to `turn.judge`; None where none that can be used are kept."""
    return own_vowels.read(folder, usual().name)


def fit(repeats: Iterable[Repeat], usual: Usual) -> OwnVowels:
    """A child's numbers from its repeats, in any order; all 0 where there are none."""
    said = list(repeats)
    longer = []
    for pair in PAIRS:
        both = (pair, SHORT_LONG[pair])
        gaps = [each.margin - usual.mean[each.vowel] for each in said if each.vowel in both]
        longer.append(offset(gaps, usual.within, usual.between[pair]))
    return OwnVowels(tuple(longer), usual.name)


def offset(gaps: Sequence[float], within: float, between: float) -> float:
    """Shrunk mean of gaps from the usual, in nats: in steps of ``STEP_NATS`` to ``MOST_NATS``."""
    if not gaps:
        return 0.0
    far = FAR * math.sqrt(within + between)
    mean = math.fsum(max(-far, min(far, gap)) for gap in gaps) / len(gaps)
    shrunk = mean * between / (between + within / len(gaps))
    return round(max(-MOST_NATS, min(MOST_NATS, shrunk)) / STEP_NATS) * STEP_NATS


def adjusted(evidence: Evidence, reading: Reading, own: OwnVowels) -> Evidence:
    """Evidence as it would be from a child whose vowels lie as usual.

    A string with the long vowel of a pair loses half the pair's number for each such vowel, one
    with the short vowel gains it: a margin between the two changes by the whole.
    """
    shifts = _longs(reading) @ np.array(own.longer) / 2
    return replace(evidence, words=evidence.words - shifts)


def vowel_of(string: str) -> str | None:
    """The short or long vowel of a string that has no other vowel; None for any other string."""
    vowels = _vowels(string)
    return vowels[0] if len(vowels) == 1 and vowels[0] in SHORT_LONG else None


def _vowels(string: str) -> list[str]:
    return [AS_HEARD.get(phone, phone) for phone in string.split() if phone in VOWELS]


@lru_cache(maxsize=512)
def _longs(reading: Reading) -> NDArray[np.float64]:
    """Long less short vowels of each pair in each candidate, shape (candidates, pairs).

    AH counts only as the one vowel of a string: elsewhere it is mostly the schwa.
    """
    strings, _ = candidates(reading)
    counts = np.zeros((len(strings), len(PAIRS)))
    for row, string in enumerate(strings):
        vowels = _vowels(string)
        for phone in vowels:
            if phone in SHORT_LONG and (phone != "AH" or len(vowels) == 1):
                long = phone not in PAIRS
                pair = PAIRS.index(SHORT_LONG[phone] if long else phone)
                counts[row, pair] += 1 if long else -1
    return counts
