"""The figures of an evaluation: counts of verdicts against truths, over any group of rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from speech.curves import Bin, Detection, Share, reliability
from speech.evaluate_listening import Listened
from speech.evaluate_rows import AS_WRITTEN, SILENT, SLIP, TRUTHS, UNSURE, Row

Heard = tuple[Row, Listened]


@dataclass(frozen=True)
class Figures:
    """What a group of rows comes to. Shares of verdicts are of rows that were judged.

    Attributes
    ----------
    rows : int
    right : Share
        Verdicts that are the truth, or as right as it.
    unsure : Share
        Verdicts 'could not tell', of all rows.
    false_slips : Share
        Right readings called a slip.
    found : Share
        Slips called a slip, of whatever kind.
    passed : Share
        Slips called as written.
    kind : Share
        The right kind named, of slips found.
    choice : Share
        Forced choices right.
    phones_wrong, phones : int
        Their ratio is the phone error rate.
    """

    rows: int
    right: Share
    unsure: Share
    false_slips: Share
    found: Share
    passed: Share
    kind: Share
    choice: Share
    phones_wrong: int
    phones: int

    @classmethod
    def of(cls, heard: Sequence[Heard]) -> Figures:
        """Count a group."""
        judged = [(row, row.judged) for row, _ in heard if row.judged]
        readings = [said for row, said in judged if row.truth == AS_WRITTEN]
        slips = [(row, said) for row, said in judged if row.truth == SLIP]
        found = [(row, said) for row, said in slips if said.verdict == SLIP]
        return cls(
            rows=len(heard),
            right=Share.of([said.verdict in (row.truth, *row.also_right) for row, said in judged]),
            unsure=Share.of([said.verdict == UNSURE for _, said in judged]),
            false_slips=Share.of([said.verdict == SLIP for said in readings]),
            found=Share.of([said.verdict == SLIP for _, said in slips]),
            passed=Share.of([said.verdict == AS_WRITTEN for _, said in slips]),
            kind=Share.of([said.slip == row.truth_slip for row, said in found]),
            choice=Share.of([margin > 0 for _, by_ear in heard for margin in by_ear.margins]),
            phones_wrong=sum(by_ear.phones_wrong for _, by_ear in heard),
            phones=sum(by_ear.phones for _, by_ear in heard),
        )

    @property
    def phone_errors(self) -> str:
        """The phone error rate as text."""
        return f"{self.phones_wrong / self.phones:.3f}" if self.phones else "-"


def grouped(heard: Sequence[Heard], key: Callable[[Row], str | None]) -> dict[str, list[Heard]]:
    """Rows by a key, in the order in which the keys first come; rows without one left out."""
    groups: dict[str, list[Heard]] = {}
    for item in heard:
        name = key(item[0])
        if name is not None:
            groups.setdefault(name, []).append(item)
    return groups


def verdict_counts(heard: Sequence[Heard]) -> dict[str, Counter[str]]:
    """How often each truth got each verdict; truths without a row left out."""
    counts: dict[str, Counter[str]] = {truth: Counter() for truth in TRUTHS}
    for row, _ in heard:
        if row.judged:
            counts[row.truth][row.judged.verdict] += 1
    return {truth: counted for truth, counted in counts.items() if counted}


def heard_in_silence(heard: Sequence[Heard]) -> Share:
    """Clips without a reading in them that were judged to be one: any verdict but the two."""
    return Share.of(
        [
            row.judged.verdict not in (SILENT, UNSURE, *row.also_right)
            for row, _ in heard
            if row.judged and row.truth == SILENT
        ]
    )


def calibration(heard: Sequence[Heard]) -> tuple[Bin, ...]:
    """Reliability of the likeliest truth's probability, 'could not tell' left out of it."""
    confidence, right = [], []
    for row, _ in heard:
        sure = row.judged.sure if row.judged else {}
        if sure:
            best = max(sure, key=lambda truth: sure[truth])
            confidence.append(sure[best])
            right.append(best in (row.truth, *row.also_right))
    return reliability(confidence, right)


def by_listener(heard: Sequence[Heard]) -> Detection | None:
    """Detection by the listener alone: how much better the best slip sounds than the word."""
    return _detection(
        [(row, by_ear.likeness) for row, by_ear in heard if by_ear.likeness is not None]
    )


def by_verdict(heard: Sequence[Heard]) -> Detection | None:
    """Detection by the program's probabilities: slip against as written."""
    scored = []
    for row, _ in heard:
        sure = row.judged.sure if row.judged else {}
        both = sure.get(SLIP, 0.0) + sure.get(AS_WRITTEN, 0.0)
        if both:
            scored.append((row, sure[SLIP] / both))
    return _detection(scored)


def _detection(scored: Sequence[tuple[Row, float]]) -> Detection | None:
    right = [score for row, score in scored if row.truth == AS_WRITTEN]
    slips = [score for row, score in scored if row.truth == SLIP]
    return Detection.of(right, slips) if right and slips else None


def listener_kind(heard: Sequence[Heard]) -> Share:
    """Slips whose likeliest slip, by the listener alone, is of the kind that was made."""
    return Share.of(
        [
            by_ear.nearest == row.truth_slip
            for row, by_ear in heard
            if row.truth == SLIP and by_ear.nearest is not None
        ]
    )


def confusions(heard: Sequence[Heard]) -> Counter[tuple[str, str]]:
    """How often each vowel that was said was heard as each."""
    return Counter(pair for _, by_ear in heard for pair in by_ear.vowels)
