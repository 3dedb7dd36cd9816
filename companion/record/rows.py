"""Dataclasses to the log's rows and back."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from functools import lru_cache
from itertools import groupby
from typing import Any

from companion.record.tally import GpcCount, Tally
from companion.record.turns import KeptTurn, Sitting, Try, Turn
from companion.record.weeks import Week

Row = tuple[Any, ...]


class DamagedRowError(Exception):
    """A row that the log's own tables allow and Wordhearth never wrote."""


@contextmanager
def _as_written_by_us() -> Iterator[None]:
    try:
        yield
    except (ValueError, TypeError, KeyError) as error:
        raise DamagedRowError(
            f"it holds a row that Wordhearth did not write ({error!r})"
        ) from error


TRY_COLUMNS = (
    "turn, number, verdict, slip, gpc, heard, place_start, place_end, unit, p, p_slip, ms, evidence"
)
TRY_MARKS = ", ".join("?" * len(TRY_COLUMNS.split(", ")))


def of_try(turn: int, number: int, each: Try) -> Row:
    """The row of one try, in the order of `TRY_COLUMNS`."""
    start, end = each.place or (None, None)
    return (
        turn,
        number,
        each.verdict,
        each.slip,
        each.gpc,
        each.heard,
        start,
        end,
        each.unit,
        json.dumps(each.p),
        json.dumps(each.p_slip),
        each.ms,
        json.dumps(each.evidence),
    )


def to_turns(turns: Iterable[Row], tries: Iterable[Row]) -> tuple[KeptTurn, ...]:
    """Turns with their tries.

    Parameters
    ----------
    turns : iterable of Row
        id, sitting, at, day, word, gpcs, overrule; ordered by id.
    tries : iterable of Row
        `TRY_COLUMNS`, ordered by turn and number.
    """
    with _as_written_by_us():
        found = {turn: tuple(map(_to_try, each)) for turn, each in groupby(tries, lambda r: r[0])}
        return tuple(
            KeptTurn(
                id=number,
                sitting=sitting,
                at=datetime.fromisoformat(at),
                day=date.fromisoformat(day),
                turn=Turn(word, tuple(json.loads(gpcs)), found[number], overrule),
            )
            for number, sitting, at, day, word, gpcs, overrule in turns
        )


def to_counted(turns: Iterable[Row]) -> tuple[KeptTurn, ...]:
    """Turns for counting alone: their last try, without what was heard or how sure it was.

    Parameters
    ----------
    turns : iterable of Row
        id, day, word, gpcs, overrule, then verdict, slip, gpc, evidence of the last try.
    """
    with _as_written_by_us():
        return tuple(map(_to_counted, turns))


def to_sitting(row: Row) -> Sitting:
    """A sitting from id, started, day, list_name, accent, ended."""
    number, started, day, list_name, accent, ended = row
    with _as_written_by_us():
        return Sitting(
            id=number,
            started=datetime.fromisoformat(started),
            day=date.fromisoformat(day),
            list_name=list_name,
            accent=accent,
            ended=None if ended is None else datetime.fromisoformat(ended),
        )


def write_past(db: sqlite3.Connection, week: Week, counts: Tally) -> None:
    """Put a week's counts in the place of any that are there."""
    whole = {
        "turns": counts.turns,
        "verdicts": dict(counts.verdicts),
        "left_out": counts.left_out,
        "overruled": counts.overruled,
        "days": [day.isoformat() for day in counts.days],
    }
    db.execute("DELETE FROM past_week WHERE week = ?", (str(week),))
    db.execute("INSERT INTO past_week VALUES (?, ?)", (str(week), json.dumps(whole)))
    db.executemany(
        "INSERT INTO past_gpc VALUES (?, ?, ?)",
        [(str(week), count.gpc, json.dumps(_of_count(count))) for count in counts.gpcs],
    )


def read_past(db: sqlite3.Connection, week: Week) -> Tally | None:
    """A week's counts, or None where none were rolled up."""
    whole = db.execute("SELECT counts FROM past_week WHERE week = ?", (str(week),)).fetchone()
    if whole is None:
        return None
    gpcs = db.execute(
        "SELECT gpc, counts FROM past_gpc WHERE week = ? ORDER BY gpc", (str(week),)
    ).fetchall()
    with _as_written_by_us():
        data = json.loads(whole[0])
        days = tuple(date.fromisoformat(day) for day in data.pop("days"))
        counts = tuple(GpcCount(gpc=gpc, **json.loads(count)) for gpc, count in gpcs)
        return Tally(**data, days=days, gpcs=counts)


_NEVER = datetime.min.replace(tzinfo=UTC)


def _to_counted(row: Row) -> KeptTurn:
    number, day, *turn = row
    return KeptTurn(number, 0, _NEVER, _day(day), _counted(*turn))


@lru_cache(maxsize=8192)
def _counted(
    word: str,
    gpcs: str,
    overrule: str | None,
    verdict: str,
    slip: str | None,
    gpc: str | None,
    evidence: str,
) -> Turn:
    """The same word is read the same way again and again: made once, and shared."""
    last = Try(verdict, slip, gpc, "", None, None, {}, {}, 0.0, _names(evidence))
    return Turn(word, _names(gpcs), (last,), overrule)


@lru_cache(maxsize=4096)
def _names(text: str) -> tuple[str, ...]:
    """The GPCs of a word or of a try: a few hundred different ones in a family's log."""
    return tuple(json.loads(text))


@lru_cache(maxsize=512)
def _day(text: str) -> date:
    return date.fromisoformat(text)


def _to_try(row: Row) -> Try:
    _, _, verdict, slip, gpc, heard, start, end, unit, p, p_slip, ms, evidence = row
    return Try(
        verdict=verdict,
        slip=slip,
        gpc=gpc,
        heard=heard,
        place=None if start is None else (start, end),
        unit=unit,
        p=json.loads(p),
        p_slip=json.loads(p_slip),
        ms=ms,
        evidence=tuple(json.loads(evidence)),
    )


def _of_count(count: GpcCount) -> dict[str, Any]:
    """The numbers alone: which words were slipped is not kept past its eight weeks."""
    return {
        "as_written": count.as_written,
        "slips": dict(count.slips),
        "could_not_tell": count.could_not_tell,
        "days": count.days,
        "words": count.words,
    }
