"""Which words of the teacher's list are read today, and the order in which words are shown."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date, timedelta
from itertools import pairwise
from random import Random

from companion.phonics.gpc import Gpc
from companion.phonics.split import WordError
from companion.practice.choosing import Shown
from companion.practice.teaching import Teaching
from companion.record.turns import KeptTurn

SHUFFLES = 50
"""Goes at an order without a fault before the best of them is taken."""

WEEK_DAYS = 7


def from_list(
    teaching: Teaching, history: Iterable[KeptTurn], day: date, most: int
) -> tuple[Shown, ...]:
    """Up to `most` words of the teacher's list, in the list's order.

    Those that slipped at their last reading of the past week come first, then those read least
    often in it, so that a longer list is read through in turn, and none of it again and again.
    """
    words = teaching.words
    if words is None:
        return ()
    times = dict.fromkeys(words.words, 0)
    slipped: set[str] = set()
    for each in history:
        word, outcome = each.turn.word, each.turn.outcome
        if word in times and day - timedelta(days=WEEK_DAYS) < each.day <= day:
            times[word] += 1
            if outcome is not None:
                (slipped.discard if outcome.verdict == "as_written" else slipped.add)(word)
    order = sorted(words.words, key=lambda word: (word not in slipped, times[word]))
    today = set(order[:most])
    return tuple(
        Shown(word, "list", _gpc(word, teaching), word in words.pseudo)
        for word in words.words
        if word in today
    )


def gpcs_of(word: str, teaching: Teaching) -> tuple[Gpc, ...]:
    """The GPCs of a word's first reading; none for a word that cannot be split."""
    try:
        return teaching.splitter(word)[0].gpcs
    except WordError:  # a list's fault is told, with every other, when its readings are made
        return ()


def is_new(word: str, teaching: Teaching, known: Collection[Gpc]) -> bool:
    """Whether a word holds a GPC that is not known; an exception word taught holds none."""
    return word.lower() not in teaching.sight and any(
        gpc not in known for gpc in gpcs_of(word, teaching)
    )


def arranged(
    words: Sequence[Shown],
    pairs: Iterable[tuple[str, str]],
    new: Collection[str],
    rng: Random,
) -> tuple[Shown, ...]:
    """Words in an order in which no pair stands together, nor two new ones, nor one at an end.

    Parameters
    ----------
    words : sequence of Shown
        In any order.
    pairs : iterable of (str, str)
        Contrast pairs.
    new : collection of str
        Words that hold a GPC not yet known.
    rng : Random
        Where chance comes from.
    """
    together = {frozenset(pair) for pair in pairs}

    def faults(order: Sequence[Shown]) -> int:
        beside = [(a.word, b.word) for a, b in pairwise(order)]
        return (
            3 * sum(frozenset(both) in together for both in beside)
            + sum(a in new and b in new for a, b in beside)
            + sum(end.word in new for end in (*order[:1], *order[-1:]))
        )

    best = order = list(words)
    for _ in range(SHUFFLES):
        order = rng.sample(order, len(order))
        best = min(best, order, key=faults)
        if not faults(best):
            break
    return tuple(best)


def parted(
    words: Sequence[Shown],
    pairs: Sequence[tuple[str, str]],
    today: Collection[Gpc],
    most: int,
) -> tuple[list[Shown], list[Shown]]:
    """The words to revisit, `most` at most, and the rest; both words of a pair go together.

    Words whose own sound is due or slipped are revisited first, then others read already. Those
    with today's GPC are practised once it has been met.
    """
    partner = {word: other for pair in pairs for word, other in (pair, pair[::-1])}
    older = [each for each in words if each.gpc is None or each.gpc not in today]
    older.sort(key=lambda each: each.why == "known")
    by_word = {each.word: each for each in words}
    first: list[Shown] = []
    for each in older:
        group = [each] if each.word not in partner else [each, by_word[partner[each.word]]]
        if each not in first and len(first) + len(group) <= most:
            first += group
    return first, [each for each in words if each not in first]


def _gpc(word: str, teaching: Teaching) -> Gpc | None:
    """The GPC a list's word is there for: the list's own, or today's, if it holds it."""
    target = teaching.words.target if teaching.words is not None else None
    wanted = [gpc for gpc in (target, *teaching.today) if gpc is not None]
    held = gpcs_of(word, teaching)
    return next((gpc for gpc in wanted if gpc in held), None)
