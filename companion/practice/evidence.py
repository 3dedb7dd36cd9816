"""What the phone scorer says of one try: every string it may be, on every stretch that may count.

What came before a pause may be an earlier attempt: the last one counts (statutory check's published
marking rules, STA 2016, video transcript). Somebody talking in the background, or a laugh after
the word, is no attempt.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from companion.phonics.reading import Reading
from companion.phonics.slips import Slip
from companion.practice.marking import Marking
from speech.audio import Samples
from speech.endpoint import bursts
from speech.levels import CLIPPED_SHARE, FRAME, Levels, frame_levels, loudness
from speech.levels import FRAME_S as LEVEL_FRAME_S
from speech.phones import INDEX, PAUSE, SHORT_LONG, VOWELS
from speech.scorer import EDGE_S, FRAME_S, Hearing

STOPS = frozenset({"B", "CH", "D", "G", "JH", "K", "P", "T"})
GAP_S = 0.16
"""A gap of sound longer than the closure of a stop, whose 0.05 to 0.15 s are common knowledge."""
APART_S = 0.25
"""Sounds with this much quiet between them were not blended."""
NEAR_DB = 9.0
"""The reader is the loudest voice; another in the room stands at least this far below."""
NEAR_MARGIN_S = 0.18
"""Kept around the loud part of a word: a weak first or last consonant."""
SYLLABLE_S = 0.2
"""Sound of fewer seconds is no word: common practice, no source."""
VOWEL_NUMBERS = [INDEX[vowel] for vowel in VOWELS]
LAUGHTER = frozenset({"HH", "AH", PAUSE})
"""All that is heard of a laugh or a sigh."""


@dataclass(frozen=True)
class Span:
    """A stretch of frames that may be the attempt that counts.

    Attributes
    ----------
    first, last : int
        As in a slice.
    before : bool
        Something was said before it: an earlier attempt.
    aside : bool
        What lies around it is taken for a laugh or for somebody else's talk.
    apart : int
        Gaps inside it too long for a blended word.
    """

    first: int
    last: int
    before: bool = False
    aside: bool = False
    apart: int = 0


@dataclass(frozen=True)
class Evidence:
    """Log-likelihoods (nats) of one try, before any weighing.

    Attributes
    ----------
    spans : tuple of Span
        The whole try, then parts of it.
    words : ndarray, shape (spans, candidates)
        Of the whole try: what lies outside a span is explained freely.
    sounded_out, free, silence : float
        Best way of sounding out (``-inf`` for a word of one grapheme or where no gap
        was heard), best free string, and of nothing said.
    free_path : tuple of (str, int)
        The symbols of the best free string, each with the frame where it begins.
    speech : bool
        Levels show speech and a vowel was heard.
    voiced : bool
        Levels show speech as long as a syllable, and one network at least heard a vowel.
    clipped : bool
        Too near the microphone: the top of the sound is cut off.
    """

    spans: tuple[Span, ...]
    words: NDArray[np.float64]
    sounded_out: float
    free: float
    free_path: tuple[tuple[str, int], ...]
    silence: float
    speech: bool
    voiced: bool
    clipped: bool

    def said(self, span: Span | None = None) -> str:
        """The best free string, in a span or in all, outer pauses dropped."""
        first, last = (span.first, span.last) if span else (0, math.inf)
        symbols = [symbol for symbol, at in self.free_path if first <= at < last]
        return " ".join(symbols).strip(f"{PAUSE} ")


def sounded_out(reading: Reading) -> tuple[str, ...]:
    """The word sound by sound with pauses: pure, with a murmur after stops, after all consonants.

    A beginner who does not see the split digraph also sounds its vowel letter short.
    """
    ways = []
    for murmur in ("none", "stops", "all"):
        sounds = []
        for options in reading.sounds:
            pure = options[0]
            wanted = murmur == "all" or (murmur == "stops" and pure.split()[-1] in STOPS)
            sounds.append(options[-1] if wanted and len(options) > 1 else pure)
        ways.append(f" {PAUSE} ".join(sounds))
        for slip in reading.slips:
            if slip.kind == "short_for_split" and len(slip.phones.split()) == len(sounds):
                short = [*sounds]
                short[slip.unit] = slip.phones.split()[slip.unit]
                ways.append(f" {PAUSE} ".join(short))
    return tuple(dict.fromkeys(ways)) if len(reading.sounds) > 1 else ()


@lru_cache(maxsize=512)
def candidates(reading: Reading) -> tuple[tuple[str, ...], tuple[int, ...]]:
    """Every string scored for a word, and what each is: -1 as written, else a slip's number.

    A slip of one vowel is heard in the accents that the word is heard in: everywhere else in the
    word it may be said as any accepted string is. Otherwise the word as written would win by its
    many forms alone.
    """
    strings = dict.fromkeys(reading.accepted, -1)
    for number, slip in enumerate(reading.slips):
        strings.setdefault(slip.phones, number)
    for number, slip in enumerate(reading.slips):
        for string in _in_other_accents(slip.phones, reading.accepted):
            strings.setdefault(string, number)
    return tuple(strings), tuple(strings.values())


def _in_other_accents(said: str, accepted: Sequence[str]) -> Iterator[str]:
    symbols = said.split()
    for string in accepted:
        changed = _partner_change(string.split(), symbols)
        if changed is None:
            continue
        for other in accepted:
            variant = other.split()
            if len(variant) == len(symbols) and variant[changed] == string.split()[changed]:
                yield " ".join([*variant[:changed], symbols[changed], *variant[changed + 1 :]])


def _partner_change(right: Sequence[str], said: Sequence[str]) -> int | None:
    """Where ``said`` has the short or long partner of the one vowel it changes, if it does."""
    if len(right) != len(said):
        return None
    places = [i for i, (a, b) in enumerate(zip(right, said, strict=True)) if a != b]
    if len(places) == 1 and SHORT_LONG.get(right[places[0]]) == said[places[0]]:
        return places[0]
    return None


def swaps_partner(slip: Slip, accepted: Sequence[str]) -> bool:
    """Whether a slip is an accepted string with one vowel said as its short or long partner."""
    said = slip.phones.split()
    return slip.kind in ("short_for_split", "split_for_short") or any(
        _partner_change(string.split(), said) is not None for string in accepted
    )


def span_costs(spans: Sequence[Span], marking: Marking) -> NDArray[np.float64]:
    """What speaks against each span before listening, in nats, shape (spans,)."""
    return np.array(
        [
            marking.restart * span.before + marking.aside * span.aside + marking.apart * span.apart
            for span in spans
        ]
    )


def gather(samples: Samples, hearing: Hearing, reading: Reading) -> Evidence:
    """Score everything a try (its samples and their hearing) may have been."""
    strings, _ = candidates(reading)
    levels = frame_levels(samples)
    sounds = bursts(levels)
    spans = spans_of(levels, sounds, hearing)
    freely = hearing.freely
    free = hearing.free_phones
    gapped = PAUSE in free.split() or any(_gaps(sounds, GAP_S))
    ways = sounded_out(reading) if gapped else ()
    return Evidence(
        spans=spans,
        words=np.stack(
            [
                freely[span.first]
                + hearing.log_likelihoods(strings, span.first, span.last)
                + freely[-1]
                - freely[span.last]
                for span in spans
            ]
        ),
        sounded_out=float(hearing.log_likelihoods(ways).max(initial=-np.inf)),
        free=float(hearing.log_likelihoods([free])[0]) if free else -np.inf,
        free_path=hearing.free_path,
        silence=hearing.silence,
        speech=bool(sounds) and any(phone in VOWELS for phone in free.split()),
        voiced=sum(end - start for start, end in sounds) * LEVEL_FRAME_S >= SYLLABLE_S
        and bool(np.isin(hearing.frame_scores.argmax(axis=2), VOWEL_NUMBERS).any()),
        clipped=len(samples) >= FRAME and loudness(samples).clipped_share > CLIPPED_SHARE,
    )


def spans_of(
    levels: Levels, sounds: Sequence[tuple[int, int]], hearing: Hearing
) -> tuple[Span, ...]:
    """Stretches that may be the attempt that counts, the whole try first."""
    frames = hearing.frames
    long_gaps = tuple(_gaps(sounds, APART_S))
    starts = sorted({*hearing.restarts, *_gaps(sounds, GAP_S)})
    found = {(0, frames): Span(0, frames, apart=len(long_gaps))}
    for start in starts:
        later = sum(gap > start for gap in long_gaps)
        found[start, frames] = Span(start, frames, before=True, apart=later)
    for first, last in [*_near(levels, frames), *_before_laughter(hearing, (0, *starts), frames)]:
        within = sum(first < gap < last for gap in long_gaps)
        found.setdefault((first, last), Span(first, last, aside=True, apart=within))
    return tuple(found.values())


def _gaps(sounds: Sequence[tuple[int, int]], least_s: float) -> Iterator[int]:
    """Frames of scores in the middle of each gap between sounds of at least ``least_s``."""
    for (_, end), (start, _) in itertools.pairwise(sounds):
        if (start - end) * LEVEL_FRAME_S >= least_s:
            yield _frame((end + start) / 2 * LEVEL_FRAME_S)


def _frame(seconds: float) -> int:
    return max(0, int((seconds + EDGE_S) / FRAME_S))


def _near(levels: Levels, frames: int) -> Iterator[tuple[int, int]]:
    """The loud part of the try, where there is enough around it to be somebody else."""
    if not len(levels):
        return
    strength = levels.max(axis=1)
    loud = np.flatnonzero(strength > np.sort(strength)[-max(3, len(strength) // 40)] - NEAR_DB)
    first = _frame(loud[0] * LEVEL_FRAME_S - NEAR_MARGIN_S)
    last = min(frames, _frame((loud[-1] + 1) * LEVEL_FRAME_S + NEAR_MARGIN_S))
    if last - first < frames - int(2 * EDGE_S / FRAME_S):
        yield first, last


def _before_laughter(
    hearing: Hearing, starts: Sequence[int], frames: int
) -> Iterator[tuple[int, int]]:
    """Stretches that end where nothing but laughter follows."""
    path = hearing.free_path
    for end in starts[1:]:
        after = [symbol for symbol, at in path if at >= end]
        if after and set(after) <= LAUGHTER:
            for start in starts:
                if start < end:
                    yield start, end
