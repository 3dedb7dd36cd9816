"""What families handed in and what the teacher heard, as the grid and the groups read it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from companion.record.weeks import Week
from companion.report.summary import Summary, SummaryRow
from companion.school.book import Book
from companion.school.faults import as_written_by_us
from companion.school.register import unknown

Row = tuple[Any, ...]

HOW = ("ear", "listener")


@dataclass(frozen=True)
class KeptSummary:
    """A week's summary as the book holds it.

    Attributes
    ----------
    summary : Summary
        What the home counted.
    source : str
        ``sealed`` or ``csv``.
    family_key : bytes or None
        The key it was signed with; None for CSV.
    imported_at : datetime
        When the teacher took it in, aware.
    """

    summary: Summary
    source: str
    family_key: bytes | None
    imported_at: datetime


@dataclass(frozen=True)
class HeardInClass:
    """A teacher's own check: how many of some words with a GPC were read as written.

    Attributes
    ----------
    pupil, gpc : str
        Code, and ``str(Gpc)``.
    day : date
        When.
    words, as_written : int
        Words shown, 1 or more, and how many were read as written.
    how : str
        ``ear`` or ``listener``.
    """

    pupil: str
    gpc: str
    day: date
    words: int
    as_written: int
    how: str


def summaries(
    book: Book, *, since: Week | None = None, until: Week | None = None, pupil: str | None = None
) -> tuple[KeptSummary, ...]:
    """Summaries of the weeks from `since` to `until`, both included, by pupil and week.

    Hidden pupils' too. Raises `BookDamaged` where a row is not what an import writes.
    """
    where = "WHERE week >= ? AND week <= ? AND (? IS NULL OR pupil = ?)"
    span = ("" if since is None else str(since), "~" if until is None else str(until), pupil, pupil)
    with book.read() as db:
        heads = db.execute(
            f"SELECT {_HEAD} FROM summary {where} ORDER BY pupil, week", span
        ).fetchall()
        rows = db.execute(
            f"SELECT {_ROW} FROM summary_row {where} ORDER BY pupil, week, gpc", span
        ).fetchall()
        code = book.code
    with as_written_by_us(book.path):
        return _joined(code, heads, rows)


def weeks_held(book: Book) -> frozenset[tuple[str, str]]:
    """Pupil and week, as text, of every summary in the book."""
    with book.read() as db:
        return frozenset(db.execute("SELECT pupil, week FROM summary"))


def write(db: sqlite3.Connection, kept: KeptSummary) -> None:
    """Put a summary in the place of the one of its pupil and week, inside a transaction."""
    found = kept.summary
    key = (found.pupil, str(found.week))
    db.execute("DELETE FROM summary WHERE pupil = ? AND week = ?", key)
    db.execute(
        f"INSERT INTO summary ({_HEAD}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            *key,
            kept.source,
            kept.family_key,
            found.number,
            found.made_at.isoformat(),
            kept.imported_at.isoformat(timespec="seconds"),
            json.dumps(found.accents),
            found.days,
            json.dumps(dict(found.verdicts)),
            found.left_out,
            found.overruled,
        ),
    )
    db.executemany(
        f"INSERT INTO summary_row ({_ROW}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                *key,
                row.gpc,
                row.as_written,
                json.dumps(dict(row.slips)),
                row.could_not_tell,
                row.sounded_out,
                row.other,
                row.days,
                row.words,
                row.words_lately,
                row.overruled,
            )
            for row in found.rows
        ],
    )


def add_heard(book: Book, heard: HeardInClass) -> None:
    """Keep a teacher's check; another of the same pupil, GPC and day is replaced.

    Raises
    ------
    UnknownPupil
        The register has no such code.
    ValueError
        Numbers or `how` out of range.
    """
    if not (heard.words >= 1 and 0 <= heard.as_written <= heard.words and heard.how in HOW):
        raise ValueError("a check needs at least one word, no more read than shown, and its way")
    with book.change() as db:
        if db.execute("SELECT 1 FROM pupil WHERE code = ?", (heard.pupil,)).fetchone() is None:
            raise unknown(heard.pupil)
        db.execute(
            "INSERT OR REPLACE INTO heard_in_class (pupil, gpc, day, words, as_written, how)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            (
                heard.pupil,
                heard.gpc,
                heard.day.isoformat(),
                heard.words,
                heard.as_written,
                heard.how,
            ),
        )


def heard_in_class(book: Book, pupil: str | None = None) -> tuple[HeardInClass, ...]:
    """The teacher's checks, by pupil, GPC and day."""
    with book.read() as db:
        rows = db.execute(
            "SELECT pupil, gpc, day, words, as_written, how FROM heard_in_class"
            " WHERE ? IS NULL OR pupil = ? ORDER BY pupil, gpc, day",
            (pupil, pupil),
        ).fetchall()
    with as_written_by_us(book.path):
        return tuple(
            HeardInClass(code, gpc, date.fromisoformat(day), words, right, how)
            for code, gpc, day, words, right, how in rows
        )


_HEAD = (
    "pupil, week, source, family_key, number, made_at, imported_at, accents, days, verdicts,"
    " left_out, overruled"
)
_ROW = (
    "pupil, week, gpc, as_written, slips, could_not_tell, sounded_out, other, days, words,"
    " words_lately, overruled"
)


def _joined(code: str, heads: Iterable[Row], rows: Iterable[Row]) -> tuple[KeptSummary, ...]:
    lines: dict[tuple[str, str], list[SummaryRow]] = {}
    for pupil, week, gpc, right, slips, *counts in rows:
        found = SummaryRow(gpc, right, json.loads(slips), *counts)
        lines.setdefault((pupil, week), []).append(found)
    return tuple(_kept(code, head, lines.get((head[0], head[1]), [])) for head in heads)


def _kept(code: str, head: Row, rows: list[SummaryRow]) -> KeptSummary:
    (pupil, week, source, key, number, made_at, imported_at, accents, days, verdicts,
     left_out, overruled) = head  # fmt: skip
    summary = Summary(
        code, pupil, Week.parse(week), datetime.fromisoformat(made_at), number,
        tuple(json.loads(accents)), days, json.loads(verdicts), left_out, overruled, tuple(rows),
    )  # fmt: skip
    return KeptSummary(summary, source, key, datetime.fromisoformat(imported_at))
