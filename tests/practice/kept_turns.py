"""Turns as the log holds them, made from a few words: for tests of what is chosen from them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from companion.phonics.gpc import Gpc
from companion.phonics.split import split
from companion.record.turns import KeptTurn, Try, Turn

LONDON = ZoneInfo("Europe/London")


def a_try(word: str, verdict: str, slip_on: str | None = None, kind: str | None = None) -> Try:
    """A try; a slip is on the GPC `slip_on`."""
    gpcs = tuple(dict.fromkeys(map(str, split(word)[0].gpcs)))
    evidence = {"as_written": gpcs, "slip": (slip_on or "",)}.get(verdict, ())
    return Try(verdict, kind, slip_on, "", None, None, {}, {}, 20.0, evidence)


def kept(
    word: str,
    day: date,
    verdict: str = "as_written",
    slip_on: str | None = None,
    kind: str = "short_for_split",
    *,
    put_right: bool = False,
    sitting: int = 1,
    overrule: str | None = None,
) -> KeptTurn:
    """One turn: two tries alike where the first was no reading as written, or the second right."""
    slip = kind if verdict == "slip" else None
    first = a_try(word, verdict, slip_on, slip)
    second = a_try(word, "as_written") if put_right else first
    tries = (first,) if verdict == "as_written" else (first, second)
    gpcs = tuple(map(str, split(word)[0].gpcs))
    at = datetime.combine(day, time(16, 30), LONDON)
    return KeptTurn(1, sitting, at, day, Turn(word, gpcs, tries, overrule))


def read(words: Sequence[str], day: date, sitting: int = 1) -> list[KeptTurn]:
    """Words all read as written."""
    return [kept(word, day, sitting=sitting) for word in words]


def gpc(text: str) -> Gpc:
    """A GPC from its name."""
    return Gpc.parse(text)
