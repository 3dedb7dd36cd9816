"""From the sound of one try to a verdict: every explanation of it is weighed against the others.

A try is explained as the word as written, as one of its slips, as sounded out and not blended, as
some other word, or as silence (statutory check's published marking rules, STA 2016, video
transcript).
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein

from companion.phonics.reading import Reading
from companion.phonics.slips import Slip
from companion.practice.after_me import adjusted
from companion.practice.evidence import (
    LAUGHTER,
    Evidence,
    Span,
    candidates,
    gather,
    span_costs,
    swaps_partner,
)
from companion.practice.marking import Marking, bundled
from companion.practice.verdicts import VERDICTS, Judgement
from companion.record.own_vowels import OwnVowels
from speech.audio import Samples
from speech.phones import PAUSE, VOWELS
from speech.scorer import PhoneScorer

VOWEL_KINDS = frozenset(
    {"other_gpc_value", "one_letter_of_digraph", "short_for_split", "split_for_short"}
)
"""Slip kinds that change a vowel: children's vowels are further on than their consonants."""
LEAST_DOUBT = 0.6
"""Probability of ``unsure`` where what was heard contradicts the likeliest verdict."""
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


def slip_priors(reading: Reading, marking: Marking) -> NDArray[np.float64]:
    """Weight of each slip before listening, shape (slips,).

    The vowel's short or long partner, which this practice is about, shares ``marking.slip``
    evenly, and so does the e said after a short vowel; every other slip has its own prior, and on
    top ``marking.other_vowel`` where it changes a vowel or ``marking.consonant`` where it does not.
    """
    partners = [swaps_partner(slip, reading.accepted) for slip in reading.slips]
    each = -math.log(max(sum(partners), 1))
    weights = []
    for slip, partner in zip(reading.slips, partners, strict=True):
        own = math.log(max(slip.prior, 1e-4))
        if partner:
            weights.append(marking.slip + each)
        elif slip.kind == "e_sounded":
            murmured = marking.murmur if slip.phones.endswith(" AH") else 0.0
            weights.append(marking.slip + each + marking.e_sounded + murmured)
        else:
            rare = marking.other_vowel if slip.kind in VOWEL_KINDS else marking.consonant
            weights.append(marking.slip + own + rare)
    return np.array(weights)


def weigh(evidence: Evidence, reading: Reading, marking: Marking) -> tuple[Explanations, Span]:
    """Weigh every explanation of a try, and say which part of it counts."""
    _, owners = candidates(reading)
    owner = np.array(owners)
    weights = marking.trust * evidence.words
    weights -= span_costs(evidence.spans, marking)[:, None]
    weights += np.append(slip_priors(reading, marking), 0.0)[owner]  # the last is as written
    counted = evidence.spans[int(weights.max(axis=1).argmax())]
    together = np.logaddexp.reduce(weights, axis=0)
    free = evidence.free - marking.other_phone * len(evidence.said().split())
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
        counted,
    )


def contradicted(verdict: str, evidence: Evidence, reading: Reading, marking: Marking) -> bool:
    """Whether what was heard speaks against the likeliest verdict.

    Silence is not named where there was a voice, no reading of any kind where no vowel was heard
    nor from what may be laughter, no other word on a single phone, and no slip from a sound whose
    top is cut off. A reading that sounds clearly more like a slip is not evidence of a right one,
    however rare the slip: a sound left out or added is often a young mouth, and the adult is
    asked.
    """
    said = evidence.said().split()
    if verdict == "silent":
        return evidence.voiced
    if not any(phone in VOWELS for phone in said):
        return True
    if set(said) <= LAUGHTER and not any(set(a.split()) <= LAUGHTER for a in reading.accepted):
        return True
    if verdict == "other_word":
        return len(said) == 1 and all(len(string.split()) > 1 for string in reading.accepted)
    if not reading.slips or verdict == "sounded_out":
        return False
    owner = np.array(candidates(reading)[1])
    best = evidence.words.max(axis=0)
    clearer = float(best[owner >= 0].max() - best[owner == -1].max())
    if verdict == "slip":
        return evidence.clipped
    blended = " ".join(phone for phone in said if phone != PAUSE)
    exactly = any(slip.phones == blended for slip in reading.slips)
    return clearer > (marking.exact if exactly else marking.clear)


def verdicts(
    sure: dict[str, float], evidence: Evidence, reading: Reading, marking: Marking
) -> dict[str, float]:
    """Probability of each of the six verdicts, from those of the sure ones."""
    p = with_doubt(sure, marking)
    best = max(sure, key=lambda verdict: sure[verdict])
    if p["unsure"] < LEAST_DOUBT and contradicted(best, evidence, reading, marking):
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
    own: OwnVowels | None = None,
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
    own : OwnVowels, optional
        How this child's vowels lie, from words said after the computer.
    """
    began = time.perf_counter()
    marking = marking or bundled()
    evidence = gather(samples, scorer.hear(samples), reading)
    if own is not None:
        evidence = adjusted(evidence, reading, own)
    explanations, counted = weigh(evidence, reading, marking)
    sure, slip_shares = explanations.probabilities()
    p = verdicts(sure, evidence, reading, marking)
    verdict = max(p, key=lambda name: p[name])
    p_slip: dict[str, float] = {}
    for slip, share in zip(reading.slips, slip_shares, strict=True):
        p_slip[slip.kind] = p_slip.get(slip.kind, 0.0) + float(share) * (1 - p["unsure"])
    named = reading.slips[int(slip_shares.argmax())] if verdict == "slip" else None
    heard = evidence.said(counted)
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
