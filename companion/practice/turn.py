"""From the sound of one try to a verdict: every explanation of it is weighed against the others.

A try is explained as the word as written, as one of its slips, as sounded out and not blended, as
some other word, or as silence. What came before a pause may be an earlier attempt: the last one
counts (statutory check's published marking rules, STA 2016, video transcript).
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein

from companion.phonics.reading import Reading
from companion.phonics.slips import Slip
from companion.practice.marking import Marking, bundled
from companion.practice.verdicts import VERDICTS, Judgement
from speech.audio import Samples
from speech.endpoint import bursts
from speech.levels import FRAME_S as LEVEL_FRAME_S
from speech.levels import frame_levels
from speech.phones import PAUSE, SHORT_LONG
from speech.scorer import EDGE_S, FRAME_S, Hearing, PhoneScorer

STOPS = frozenset({"B", "CH", "D", "G", "JH", "K", "P", "T"})
CLEAR_NATS = 8.0
"""By how much a slip must fit better than any accepted string to be clearly heard. Of 1, 2, 3, 5
and 8 the one that left fewest of the calibration children's right readings unsure: their own way
of saying a consonant is often nearer to a slip."""
LEAST_DOUBT = 0.6
"""Probability of ``unsure`` where what was heard contradicts the likeliest verdict."""
GAP_S = 0.16
"""A gap of sound longer than the closure of a stop, whose 0.05 to 0.15 s are common knowledge."""
DOUBT = 6.0
"""How sharply a verdict gives way to ``unsure`` around its threshold, in logits per logit."""


@dataclass(frozen=True)
class Explanations:
    """Weights in nats of everything a try may have been; the larger the likelier.

    Attributes
    ----------
    as_written : float
    slips : ndarray, shape (number of slips,)
    sounded_out, other_word, silent : float
    """

    as_written: float
    slips: NDArray[np.float64]
    sounded_out: float
    other_word: float
    silent: float

    def probabilities(self) -> tuple[dict[str, float], NDArray[np.float64]]:
        """Probability of each sure verdict, and of each slip; together they sum to 1."""
        weights = np.array(
            [self.as_written, self.sounded_out, self.other_word, self.silent, *self.slips]
        )
        shares = np.exp(weights - weights.max())
        shares /= shares.sum()
        named = dict(
            zip(
                ("as_written", "sounded_out", "other_word", "silent"),
                shares[:4].tolist(),
                strict=True,
            )
        )
        return {**named, "slip": float(shares[4:].sum())}, shares[4:]


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


@dataclass(frozen=True)
class Evidence:
    """Log-likelihoods (nats) of one try, before any weighing.

    Attributes
    ----------
    starts : tuple of int
        Frames where an attempt may begin: 0, then each pause.
    words : ndarray, shape (starts, candidates)
        Of the whole try, what comes before a start explained freely.
    sounded_out : float
        Best way of sounding out; ``-inf`` for a word of one grapheme.
    free : float
        Of the best free phone string.
    free_count : int
        Its phones and pauses.
    silence : float
    """

    starts: tuple[int, ...]
    words: NDArray[np.float64]
    sounded_out: float
    free: float
    free_count: int
    silence: float
    speech: bool


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


def gather(samples: Samples, hearing: Hearing, reading: Reading) -> Evidence:
    """Score everything a try (its samples and their hearing) may have been."""
    strings, _ = candidates(reading)
    sounds = bursts(frame_levels(samples))
    before = np.concatenate([[0.0], hearing.frame_scores.max(axis=1).astype(np.float64).cumsum()])
    starts = (0, *sorted({*hearing.restarts, *_gaps(sounds)}))
    free = hearing.free_phones
    return Evidence(
        starts=starts,
        words=np.stack([before[at] + hearing.log_likelihoods(strings, first=at) for at in starts]),
        sounded_out=float(hearing.log_likelihoods(sounded_out(reading)).max(initial=-np.inf)),
        free=float(hearing.log_likelihoods([free])[0]) if free else -np.inf,
        free_count=len(free.split()),
        silence=hearing.silence,
        speech=bool(sounds),
    )


def _gaps(sounds: Sequence[tuple[int, int]]) -> Iterator[int]:
    """Frames of scores in the middle of each gap between sounds that may part two attempts."""
    for (_, end), (start, _) in pairwise(sounds):
        if (start - end) * LEVEL_FRAME_S >= GAP_S:
            yield int(((end + start) / 2 * LEVEL_FRAME_S + EDGE_S) / FRAME_S)


def swaps_partner(slip: Slip, accepted: Sequence[str]) -> bool:
    """Whether a slip is an accepted string with one vowel said as its short or long partner."""
    said = slip.phones.split()
    return slip.kind in ("short_for_split", "split_for_short") or any(
        _partner_change(string.split(), said) is not None for string in accepted
    )


def slip_priors(reading: Reading, marking: Marking) -> NDArray[np.float64]:
    """Weight of each slip before listening, shape (slips,).

    The vowel's short or long partner, which this practice is about, shares ``marking.slip``
    evenly; every other slip has its own prior and ``marking.rare_slip`` on top.
    """
    partners = [swaps_partner(slip, reading.accepted) for slip in reading.slips]
    each = -math.log(max(sum(partners), 1))
    return np.array(
        [
            marking.slip
            + (each if partner else math.log(max(slip.prior, 1e-4)))
            + (0.0 if partner or slip.kind == "e_sounded" else marking.rare_slip)
            for slip, partner in zip(reading.slips, partners, strict=True)
        ]
    )


def weigh(evidence: Evidence, reading: Reading, marking: Marking) -> tuple[Explanations, int]:
    """Weigh every explanation of a try.

    Returns
    -------
    Explanations
        The weights.
    int
        Frame at which the attempt that counts begins.
    """
    _, owners = candidates(reading)
    owner = np.array(owners)
    weights = marking.trust * evidence.words
    weights[1:] -= marking.restart
    weights += np.append(slip_priors(reading, marking), 0.0)[owner]  # the last is as written
    best_start = int(weights.max(axis=1).argmax())
    together = np.logaddexp.reduce(weights, axis=0)
    free = evidence.free - marking.other_phone * evidence.free_count
    return (
        Explanations(
            as_written=float(np.logaddexp.reduce(together[owner == -1])),
            slips=np.array(
                [np.logaddexp.reduce(together[owner == k]) for k in range(len(reading.slips))]
            ),
            sounded_out=marking.sounded_out + marking.trust * evidence.sounded_out,
            other_word=marking.other_word + marking.trust * free,
            silent=marking.silent
            + (0.0 if evidence.speech else marking.no_speech)
            + marking.trust * evidence.silence,
        ),
        evidence.starts[best_start],
    )


def contradicted(verdict: str, evidence: Evidence, reading: Reading) -> bool:
    """Whether what was heard speaks against the likeliest verdict.

    A reading that sounds clearly more like one of the rare slips is not evidence of a right one,
    however rare they are; and no slip is named where no phone was heard.
    """
    if verdict == "slip":
        return evidence.free_count == 0
    if verdict != "as_written" or not reading.slips:
        return False
    owner = np.array(candidates(reading)[1])
    best = evidence.words.max(axis=0)
    return bool(best[owner >= 0].max() - best[owner == -1].max() > CLEAR_NATS)


def verdicts(
    sure: dict[str, float], evidence: Evidence, reading: Reading, marking: Marking
) -> dict[str, float]:
    """Probability of each of the six verdicts, from those of the sure ones."""
    p = with_doubt(sure, marking)
    best = max(sure, key=lambda verdict: sure[verdict])
    if p["unsure"] < LEAST_DOUBT and contradicted(best, evidence, reading):
        scale = (1 - LEAST_DOUBT) / (1 - p["unsure"])
        p = {verdict: share * scale for verdict, share in p.items()} | {"unsure": LEAST_DOUBT}
    return p


def with_doubt(sure: dict[str, float], marking: Marking) -> dict[str, float]:
    """The six verdicts' probabilities: ``unsure`` takes over as the best falls to its threshold."""
    best = max(sure, key=lambda verdict: sure[verdict])
    needed = {"as_written": marking.sure_as_written, "slip": marking.sure_slip}.get(
        best, marking.sure_else
    )
    # Where the best verdict just reaches its threshold, `unsure` is exactly as likely.
    distance = _logit(sure[best]) - _logit(needed)
    at_threshold = sure[best] / (1 + sure[best])
    doubt = 1 / (1 + math.exp(min(DOUBT * distance - _logit(at_threshold), 500.0)))
    p = {verdict: (1 - doubt) * sure.get(verdict, 0.0) for verdict in VERDICTS}
    p["unsure"] = doubt
    return p


def _logit(probability: float) -> float:
    bounded = min(max(probability, 1e-9), 1 - 1e-9)
    return math.log(bounded / (1 - bounded))


def judge(
    samples: Samples,
    reading: Reading,
    scorer: PhoneScorer,
    marking: Marking | None = None,
) -> Judgement:
    """Hear one try and judge it.

    Parameters
    ----------
    samples : ndarray, shape (n,), float32
        Mono, 16 kHz; the whole try, silence around it allowed.
    reading : Reading
        The word, what counts as right and its likely slips.
    scorer : PhoneScorer
        The listener.
    marking : Marking, optional
        The bundled numbers when omitted.
    """
    began = time.perf_counter()
    marking = marking or bundled()
    hearing = scorer.hear(samples)
    evidence = gather(samples, hearing, reading)
    explanations, counted = weigh(evidence, reading, marking)
    sure, slip_shares = explanations.probabilities()
    p = verdicts(sure, evidence, reading, marking)
    verdict = max(p, key=lambda name: p[name])
    p_slip: dict[str, float] = {}
    for slip, share in zip(reading.slips, slip_shares, strict=True):
        p_slip[slip.kind] = p_slip.get(slip.kind, 0.0) + float(share) * (1 - p["unsure"])
    named = reading.slips[int(slip_shares.argmax())] if verdict == "slip" else None
    heard = _said_from(hearing, counted)
    place, unit = _place(named, heard, reading, verdict)
    return Judgement(
        word=reading.word,
        verdict=verdict,
        slip=named.kind if named else None,
        gpc=str(named.gpc) if named else None,
        heard=heard,
        place=place,
        unit=unit,
        p=p,
        p_slip=p_slip,
        loglik=dict(zip(candidates(reading)[0], evidence.words[0].tolist(), strict=True)),
        ms=(time.perf_counter() - began) * 1000,
        evidence=_evidence(verdict, named, reading),
    )


def _said_from(hearing: Hearing, start: int) -> str:
    """Free phones from a frame on, outer pauses dropped."""
    symbols = [symbol for symbol, at in hearing.free_path if at >= start]
    return " ".join(symbols).strip(f"{PAUSE} ")


def _evidence(verdict: str, slip: Slip | None, reading: Reading) -> tuple[str, ...]:
    if slip:
        return (str(slip.gpc),)
    if verdict == "as_written":
        return tuple(dict.fromkeys(str(unit.gpc) for unit in reading.splits[0].units))
    return ()


def _place(
    slip: Slip | None, heard: str, reading: Reading, verdict: str
) -> tuple[tuple[int, int] | None, int | None]:
    """Where what was said differs from the nearest accepted string: phone span, and unit."""
    if verdict not in ("slip", "other_word") or not (said := (slip.phones if slip else heard)):
        return None, None
    nearest = min(
        (accepted.split() for accepted in reading.accepted),
        key=lambda phones: Levenshtein.distance(phones, said.split()),
    )
    edits = Levenshtein.opcodes(nearest, said.split())
    changed = [edit for edit in edits if edit.tag != "equal"]
    if not changed:
        return None, slip.unit if slip else None
    span = (changed[0].src_start, changed[-1].src_end)
    return span, slip.unit if slip else None
