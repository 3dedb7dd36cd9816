"""How much of a list, caption or page the sounds taught so far can decode, and what breaks it."""

from __future__ import annotations

import gc
import re
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache

from companion.phonics.gpc import Gpc, Order, TableError, table
from companion.phonics.split import Split, WordError, split
from companion.phonics.suitable import lines

Splitter = Callable[[str], tuple[Split, ...]]
"""Gives the readings of a word, or raises `WordError`."""

_TOKEN = re.compile(r"[^\W_]+(?:'[^\W_]+)*")


@dataclass(frozen=True)
class Taught:
    """What a class has been taught: GPCs, and exception words (small letters) known by sight."""

    gpcs: frozenset[Gpc]
    words: frozenset[str] = frozenset()

    @classmethod
    def up_to(
        cls, gpc: Gpc, order: Order | None = None, words: Iterable[str] | None = None
    ) -> Taught:
        """Everything taught by the time `gpc` has been.

        Parameters
        ----------
        gpc : Gpc
            The newest GPC.
        order : Order, optional
            The school's teaching order; the default order when omitted.
        words : iterable of str, optional
            Exception words taught; when omitted, those usually taught by then
            (`exception_words`).

        Raises
        ------
        TableError
            The order does not hold `gpc`.
        """
        order = order or table().order()
        gpcs = order.up_to(gpc)
        known = exception_words(gpcs) if words is None else words
        return cls(gpcs, frozenset(word.lower() for word in known))


@dataclass(frozen=True)
class Gap:
    """Why a word cannot be decoded: a sentence for the teacher, and the untaught GPCs."""

    why: str
    untaught: tuple[Gpc, ...] = ()


@dataclass(frozen=True)
class Broken:
    """A word that breaks a text: how often, on which line first (from 1), and why."""

    word: str
    times: int
    line: int
    gap: Gap


@dataclass(frozen=True)
class Decodability:
    """A text measured: running words, how many can be decoded, and the words that break it.

    ``broken`` is in order of how often each word comes, commonest first. Numerals are no words
    and are not counted.
    """

    words: int
    decodable: int
    broken: tuple[Broken, ...]

    @property
    def share(self) -> float:
        """Decodable words among all, 0 to 1; 1 for a text without words."""
        return self.decodable / self.words if self.words else 1.0


def named(text: str, order: Order) -> tuple[Gpc, ...]:
    """The GPCs of `order` that a teacher means by ``u-e``, or by ``u-e /UW/``.

    A grapheme alone means the value taught first, with those taught straight after it: ``u-e`` is
    the oo of June and the yoo of cube; ``ow`` is that of owl, not that of snow.

    Raises
    ------
    TableError
        The order holds no such GPC; the message offers the nearest.
    """
    if "/" in text:
        return (order.gpcs[len(order.up_to(Gpc.parse(text))) - 1],)
    grapheme = text.strip().lower()
    found: list[Gpc] = []
    for gpc in order.gpcs:
        if gpc.grapheme == grapheme:
            found.append(gpc)
        elif found:
            break
    if not found:
        near = [gpc.grapheme for gpc in order.gpcs if grapheme[:1] in gpc.grapheme] or ["i-e"]
        offered = ", ".join(list(dict.fromkeys(near))[:12])
        raise TableError(
            f"{text!r} is not in the teaching order", "no GPC there is called so", f"Try: {offered}"
        )
    return tuple(found)


def exception_words(gpcs: Collection[Gpc]) -> frozenset[str]:
    """The exception words usually taught once `gpcs` have been (`exception_order.csv`).

    Raises
    ------
    TableError
        A line that is not a word and a GPC.
    """
    return frozenset(word for word, after in exception_order() if after in gpcs)


@cache
def exception_order() -> tuple[tuple[str, Gpc], ...]:
    """Exception words in small letters, each with the GPC it is usually taught after.

    Raises
    ------
    TableError
        A line of `exception_order.csv` that is not a word and a GPC.
    """
    rows = []
    for number, line in lines("exception_order.csv"):
        if line == "word,after":
            continue
        word, _, after = line.partition(",")
        try:
            rows.append((word.lower(), Gpc.parse(after)))
        except TableError as error:
            at = f"exception_order.csv, line {number}: {error.what}"
            raise TableError(at, error.why, error.mend) from None
    return tuple(rows)


def gap(word: str, taught: Taught, splitter: Splitter = split) -> Gap | None:
    """Why `word` cannot be decoded by what is `taught`; None when it can.

    A homograph is decodable if one of its readings is. Names are decoded like other words.
    `splitter` gives a word's readings: `split`, or one that knows a teacher's corrections.
    """
    if word.lower() in taught.words:
        return None
    try:
        readings = splitter(word)
    except WordError as error:
        return Gap(error.why)
    gaps = [_gap_of(each, taught) for each in readings]
    if None in gaps:
        return None
    return min((each for each in gaps if each is not None), key=lambda each: len(each.untaught))


def words_of(text: str) -> list[str]:
    """The running words of a text, numerals left out and hyphened words taken apart."""
    plain = text.replace("’", "'")
    return [found for found in _TOKEN.findall(plain) if not found.isdecimal()]


def check(text: str, taught: Taught, splitter: Splitter = split) -> Decodability:
    """Measure a text.

    Parameters
    ----------
    text : str
        Any list, caption or page; words joined by hyphens are read one by one.
    taught : Taught
        What the readers have been taught.
    splitter : callable
        Gives a word's readings, as in `gap`.
    """
    first: dict[str, tuple[int, str]] = {}
    times: dict[str, int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        for found in words_of(line):
            key = found.lower()
            times[key] = times.get(key, 0) + 1
            first.setdefault(key, (number, found))
    with _uncollected():
        gaps = {key: gap(key, taught, splitter) for key in first}
    broken = [
        Broken(first[key][1], times[key], first[key][0], why)
        for key, why in gaps.items()
        if why is not None
    ]
    broken.sort(key=lambda each: (-each.times, each.line))
    whole = sum(times.values())
    return Decodability(whole, whole - sum(each.times for each in broken), tuple(broken))


@contextmanager
def _uncollected() -> Iterator[None]:
    """Hold back the cycle collector: splitting makes a mass of tuples and no cycles, and each
    collection would walk the whole dictionary (a third of the time of a long text, measured).
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _gap_of(reading: Split, taught: Taught) -> Gap | None:
    untaught = tuple(dict.fromkeys(gpc for gpc in reading.gpcs if gpc not in taught.gpcs))
    if reading.regular:
        names = ", ".join(str(gpc) for gpc in untaught)
        return Gap(f"not taught yet: {names}", untaught) if untaught else None
    return Gap(f"exception word, not decodable: {reading.exception_part}", untaught)
