"""A week of an invented child, puffin: i-e to practise, n secure, the rest not enough listened."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from companion.record import clips, consent
from companion.record.consent import ClipPermit, LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import Try, Turn
from companion.record.weeks import Week
from speech.audio import Utterance

NOW = datetime.now().astimezone()
WEEK = Week.of(NOW.date() - timedelta(days=7))
"""Last week: all its days are past, whatever day the tests run on."""
TUESDAY = datetime.combine(WEEK.monday + timedelta(days=1), NOW.timetz()).replace(microsecond=7)

GPCS = {
    "pine": ("p /P/", "i-e /AY/", "n /N/"),
    "nine": ("n /N/", "i-e /AY/", "n /N/"),
    "line": ("l /L/", "i-e /AY/", "n /N/"),
    "shine": ("sh /SH/", "i-e /AY/", "n /N/"),
    "net": ("n /N/", "e /EH/", "t /T/"),
}


def read(word: str, verdict: str = "as_written", overrule: str | None = None) -> Turn:
    """One reading; a slip is a short vowel for i-e, on the second try."""
    slip, gpc = ("short_for_split", "i-e /AY/") if verdict == "slip" else (None, None)
    evidence = {"as_written": GPCS[word], "slip": ("i-e /AY/",)}.get(verdict, ())
    last = Try(verdict, slip, gpc, "P IH N", None, None, {verdict: 0.9}, {}, 20.0, evidence)
    before = Try("silent", None, None, "", None, None, {}, {}, 1.0, ())
    return Turn(word, GPCS[word], (before, last) if slip else (last,), overrule)


def settle(home: Path, *choices: str, label: str = "puffin") -> ChildFolder:
    """A child whose adult has said yes to practising, a log, and `choices`."""
    folder = ChildFolder(home, label)
    consent.give(folder, ["practise", "keep_log", *choices], NOW - timedelta(days=30))
    return folder


def practise(folder: ChildFolder, monday: datetime = TUESDAY) -> list[int]:
    """Four evenings of last week, four words each and net: the readings' numbers."""
    numbers = []
    permit = LogPermit(folder)
    with Log.open(folder.log) as log:
        for day in range(4):
            at = monday + timedelta(days=day)
            sitting = log.start_sitting(permit, "i-e", None, at)
            for place, word in enumerate(GPCS):
                verdict = "slip" if place == day or word == "pine" else "as_written"
                numbers.append(log.add_turn(permit, sitting, read(word, verdict),
                                            at + timedelta(seconds=9 * place)))  # fmt: skip
            log.end_sitting(permit, sitting, at + timedelta(minutes=3))
    return numbers


def repeat(folder: ChildFolder, weeks: Iterable[int]) -> None:
    """The readings that are there again so many weeks before, in one stroke."""
    db = sqlite3.connect(folder.log)
    first = db.execute("SELECT max(id) FROM turn").fetchone()[0]
    for number, week in enumerate(weeks, start=1):
        shift = {"by": number * first, "days": f"-{7 * week} days", "most": first}
        db.execute(
            "INSERT INTO turn SELECT id + :by, sitting, at, date(day, :days), word, gpcs, overrule"
            " FROM turn WHERE id <= :most",
            shift,
        )
        db.execute(
            "INSERT INTO try SELECT turn + :by, number, verdict, slip, gpc, heard, place_start,"
            " place_end, unit, p, p_slip, ms, evidence FROM try WHERE turn <= :most",
            {"by": shift["by"], "most": first},
        )
    db.commit()
    db.close()


def with_sound(folder: ChildFolder, number: int, made: datetime = NOW) -> Path:
    """A second of a tone beside a reading's first try."""
    tone = np.sin(np.arange(16_000, dtype=np.float32) / 5) / 4
    return clips.keep(ClipPermit(folder), number, 1, Utterance(tone), made)
