"""Counting turns: how many times each GPC was read, and how. Pure; no file, no clock.

What counts as a reading of a GPC: a turn whose outcome is evidence for it. A word read as written
is evidence for every GPC in it; a slip is evidence for its own GPC and says nothing of the others.
A turn the listener could not tell, and no adult decided, is counted apart for each GPC of its word.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from companion.record.turns import KeptTurn

_ASIDE = {
    "unsure": "could_not_tell",
    "sounded_out": "sounded_out",
    "other_word": "other",
    "silent": "other",
}
"""Verdicts that are no reading of any GPC, and where a turn of that verdict is counted instead."""


@dataclass(frozen=True)
class GpcCount:
    """How one GPC was read over some days.

    Attributes
    ----------
    gpc : str
        As ``str(Gpc)``.
    as_written : int
        Readings as written.
    slips : dict of str to int
        Readings that slipped, by kind.
    could_not_tell : int
        Turns of words with this GPC that nobody could judge; not readings.
    days : int
        Different days with a reading.
    words : int
        Different words with a reading.
    slipped_words : tuple of str
        The words of the slips, in alphabetical order; empty once the single readings are gone.
    sounded_out : int
        Turns of words with this GPC that were sounded out and not blended; not readings.
    other : int
        Turns of words with this GPC where another word or nothing was read; not readings.
    overruled : int
        Turns of words with this GPC that the adult had a say in.

    The last three are counted for summaries handed to school: they are 0 once the single readings
    are gone.
    """

    gpc: str
    as_written: int
    slips: Mapping[str, int]
    could_not_tell: int
    days: int
    words: int
    slipped_words: tuple[str, ...] = ()
    sounded_out: int = 0
    other: int = 0
    overruled: int = 0

    @property
    def readings(self) -> int:
        """Readings as written and slips together."""
        return self.as_written + self.slipped

    @property
    def slipped(self) -> int:
        """Slips of all kinds together."""
        return sum(self.slips.values())


@dataclass(frozen=True)
class Tally:
    """Counts over some turns.

    Attributes
    ----------
    turns : int
        All turns, the left-out ones too.
    verdicts : dict of str to int
        Turns by what they count as, after the adult's word.
    left_out : int
        Turns the adult left out.
    overruled : int
        Turns the adult had a say in.
    days : tuple of date
        Days with a turn, in order.
    gpcs : tuple of GpcCount
        In alphabetical order of the GPC.
    """

    turns: int
    verdicts: Mapping[str, int]
    left_out: int
    overruled: int
    days: tuple[date, ...]
    gpcs: tuple[GpcCount, ...]


def tally(turns: Iterable[KeptTurn]) -> Tally:
    """Count turns.

    Parameters
    ----------
    turns : iterable of KeptTurn
        In any order.
    """
    kept = list(turns)
    verdicts: Counter[str] = Counter()
    right: Counter[str] = Counter()
    slips: dict[str, Counter[str]] = {}
    aside: dict[str, Counter[str]] = {kind: Counter() for kind in _ASIDE.values()}
    overruled: Counter[str] = Counter()
    days: dict[str, set[date]] = {}
    words: dict[str, set[str]] = {}
    slipped_words: dict[str, set[str]] = {}
    for each in kept:
        outcome = each.turn.outcome
        if each.turn.overrule is not None:
            overruled.update(set(each.turn.gpcs))
        if outcome is None:
            continue
        verdicts[outcome.verdict] += 1
        if outcome.verdict in _ASIDE:
            aside[_ASIDE[outcome.verdict]].update(set(each.turn.gpcs))
        for gpc in set(outcome.evidence):
            days.setdefault(gpc, set()).add(each.day)
            words.setdefault(gpc, set()).add(each.turn.word)
            if outcome.slip is None:
                right[gpc] += 1
            else:
                slips.setdefault(gpc, Counter())[outcome.slip] += 1
                slipped_words.setdefault(gpc, set()).add(each.turn.word)
    counts = (
        GpcCount(
            gpc,
            right[gpc],
            dict(sorted(slips.get(gpc, Counter()).items())),
            aside["could_not_tell"][gpc],
            len(days.get(gpc, ())),
            len(words.get(gpc, ())),
            tuple(sorted(slipped_words.get(gpc, ()))),
            aside["sounded_out"][gpc],
            aside["other"][gpc],
            overruled[gpc],
        )
        for gpc in sorted({*days, *overruled}.union(*aside.values()))
    )
    return Tally(
        turns=len(kept),
        verdicts=dict(sorted(verdicts.items())),
        left_out=len(kept) - verdicts.total(),
        overruled=sum(each.turn.overrule is not None for each in kept),
        days=tuple(sorted({each.day for each in kept})),
        gpcs=tuple(counts),
    )


def joined(one: Tally, other: Tally) -> Tally:
    """Counts of two sets of turns together.

    Days and words of a GPC are then 'at least': which ones they were is not in the counts, so the
    larger number is taken, never the sum.
    """
    mine = {count.gpc: count for count in one.gpcs}
    theirs = {count.gpc: count for count in other.gpcs}
    nothing = GpcCount("", 0, {}, 0, 0, 0)
    return Tally(
        turns=one.turns + other.turns,
        verdicts=_added(one.verdicts, other.verdicts),
        left_out=one.left_out + other.left_out,
        overruled=one.overruled + other.overruled,
        days=tuple(sorted({*one.days, *other.days})),
        gpcs=tuple(
            _both(gpc, mine.get(gpc, nothing), theirs.get(gpc, nothing))
            for gpc in sorted(mine.keys() | theirs.keys())
        ),
    )


def _both(gpc: str, one: GpcCount, other: GpcCount) -> GpcCount:
    return GpcCount(
        gpc,
        one.as_written + other.as_written,
        _added(one.slips, other.slips),
        one.could_not_tell + other.could_not_tell,
        max(one.days, other.days),
        max(one.words, other.words),
        tuple(sorted({*one.slipped_words, *other.slipped_words})),
        one.sounded_out + other.sounded_out,
        one.other + other.other,
        one.overruled + other.overruled,
    )


def _added(one: Mapping[str, int], other: Mapping[str, int]) -> dict[str, int]:
    return dict(sorted((Counter(one) + Counter(other)).items()))
