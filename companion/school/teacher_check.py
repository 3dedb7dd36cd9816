"""The teacher's own check: six words for a GPC, heard in class in a minute, by ear or listener."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from companion.phonics.decodable import Splitter, Taught
from companion.phonics.gpc import Gpc, Order
from companion.phonics.listmaker import ListMakerError, MadeList, make
from companion.phonics.split import split
from companion.school.book import Book
from companion.school.evidence import HOW, HeardInClass, add_heard
from companion.school.trouble import BadEntry

WORDS, MADE_UP = 6, 2
"""Words of a check, and how many of them are made up: those cannot be known by sight. Four to six
words make a minute (common practice)."""

_LISTS = (24, 16, 12, 6)
"""Lengths of list to pick from, until one can be made."""


def words_for(
    gpc: Gpc,
    taught: Taught,
    order: Order,
    *,
    seed: int = 0,
    avoid: Collection[str] = (),
    splitter: Splitter = split,
) -> tuple[str, ...]:
    """Six words that hold a GPC and are decodable otherwise; fewer where there are no six.

    Parameters
    ----------
    gpc : Gpc
        What is checked.
    taught : Taught
        What the child has been taught; must hold it.
    order : Order
        The teaching order.
    seed : int
        Another number gives other words.
    avoid : collection of str
        Words of this week's lists, which the child may know by heart; used only where too few
        others hold the GPC.
    splitter : callable
        Gives a word's readings, with the teacher's corrections.

    Raises
    ------
    ListMakerError
        Not even a short list can be made for it.
    """
    found: list[str] = []
    for left_out in (avoid, ()):
        made = _list(gpc, taught, order, seed, left_out, splitter)
        if made is None:
            continue
        holding = [each for each in made.why if each.gpc == gpc]
        real = [each.word for each in holding if each.role == "target"]
        made_up = [each.word for each in holding if each.role == "made-up"]
        picked = [*real[: WORDS - MADE_UP], *made_up[:MADE_UP], *real[WORDS - MADE_UP :]]
        found = list(dict.fromkeys([*found, *picked]))
        if len(found) >= WORDS:
            break
    if not found:
        make((gpc,), taught, order, count=_LISTS[-1], seed=seed, splitter=splitter)
    return tuple(found[:WORDS])


def note(
    book: Book, pupil: str, gpc: Gpc, day: date, shown: int, as_written: int, how: str = "ear"
) -> HeardInClass:
    """Keep what was heard; another check of the same day is replaced.

    Raises
    ------
    BadEntry
        More words read than shown, none shown, or another way than `HOW`.
    UnknownPupil
        No such code.
    """
    if not (1 <= shown <= 99 and 0 <= as_written <= shown and how in HOW):
        raise BadEntry(
            f"The check of {pupil} was not kept",
            f"{as_written} of {shown} words by {how!r} is no check",
            f"Give 1 to 99 words, how many of them were read as written, and {' or '.join(HOW)}.",
        )
    heard = HeardInClass(pupil, str(gpc), day, shown, as_written, how)
    add_heard(book, heard)
    return heard


def _list(
    gpc: Gpc,
    taught: Taught,
    order: Order,
    seed: int,
    avoid: Collection[str],
    splitter: Splitter,
) -> MadeList | None:
    for count in _LISTS:
        try:
            return make(
                (gpc,), taught, order, count=count, seed=seed, recent=avoid, splitter=splitter
            )
        except ListMakerError:
            continue
    return None
