"""The exception word of a sitting, and the part of it that is hard."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from random import Random

from companion.phonics import lexicon
from companion.phonics.decodable import Splitter, Taught, exception_order, gap
from companion.phonics.gpc import Gpc
from companion.phonics.split import split
from companion.phonics.suitable import is_blocked
from companion.practice.choosing import Shown
from companion.practice.due import Standing, word_standings
from companion.practice.teaching import Teaching
from companion.record.turns import KeptTurn


def choose(teaching: Teaching, history: Sequence[KeptTurn], day: date, rng: Random) -> Shown | None:
    """The exception word most in need; None where none has been taught.

    One that slipped comes first, then one the teacher gave an aid to and that was never read,
    then those due, then those never read, the newest first, and last the one due soonest.
    """
    listed = {word.lower() for word in teaching.words.words} if teaching.words else set()
    fit = [word for word in only_by_sight(teaching) if word not in listed]
    if not fit:
        return None
    standings = word_standings(history, frozenset(fit), day)
    chance = {word: rng.random() for word in fit}
    places = {gpc: place for place, gpc in enumerate(teaching.gpcs)}
    after = {word: places.get(gpc, len(places)) for word, gpc in exception_order()}

    def rank(word: str) -> tuple[int, int, float]:
        standing = standings.get(word)
        if standing is None:
            aided = teaching.word_aid(word) is not None
            return (1 if aided else 3, -after.get(word, len(places)), chance[word])
        return (*_rank(standing, day), chance[word])

    best = min(fit, key=rank)
    return Shown(lexicon.names().get(best, best), "exception")


def _rank(standing: Standing, day: date) -> tuple[int, int]:
    late = (day - standing.due).days
    if standing.live:
        return (0, -late) if late >= 0 else (4, -late)
    return (2, standing.step * 100 - late) if late >= 0 else (4, -late)


def only_by_sight(teaching: Teaching) -> tuple[str, ...]:
    """The exception words taught that cannot be decoded by the GPCs taught, in alphabetical order.

    Words of one letter are left out: they need no practice of their own.
    """
    return _only_by_sight(frozenset(teaching.gpcs), teaching.sight, teaching.splitter)


@lru_cache(maxsize=64)
def _only_by_sight(
    gpcs: frozenset[Gpc], sight: frozenset[str], splitter: Splitter
) -> tuple[str, ...]:
    return tuple(
        word
        for word in sorted(sight)
        if len(word) > 1
        and set(word) & set("aeiouy")
        and not is_blocked(word)
        and gap(word, Taught(gpcs), splitter) is not None
    )


def hard_letters(word: str, teaching: Teaching) -> tuple[int, ...]:
    """Places, from 0, of the letters that what is taught does not decode."""
    read = split(word)[0]
    return tuple(
        sorted(
            place
            for unit in read.units
            if not unit.decodable or unit.gpc not in teaching.gpcs
            for place in unit.letters
        )
    )
