"""Everything that is kept of a child, in one ZIP that any spreadsheet and any program can read.

Tables as CSV (`companion.report.plain_csv`), and the same again as one JSON file, which holds every
value exactly. `COLUMNS` names and explains each column once: the tables' heads and the explanation
in the archive are both made from it.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from companion.record import clips, consent
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.tally import Tally
from companion.record.turns import KeptTurn, Sitting
from companion.record.weeks import Week
from companion.report import plain_csv

FORMAT = 1
VERDICTS = ("as_written", "slip", "other_word", "sounded_out", "silent", "unsure")

COLUMNS: Mapping[str, Mapping[str, str]] = {
    "consent.csv": {
        "choice": "what was asked",
        "given_at": "when an adult said yes (ISO 8601, with the offset from UTC)",
        "text_version": "the version of the words agreed to",
    },
    "sittings.csv": {
        "sitting": "its number",
        "started": "when it began (ISO 8601, with the offset from UTC)",
        "day": "the date where the child read (YYYY-MM-DD)",
        "list_name": "the word list",
        "accent": "the accent whose vowels counted as right; empty for all",
        "ended": "when it ended; empty where it was cut off",
    },
    "readings.csv": {
        "reading": "number of the word's turn; its tries are one line each",
        "sitting": "the sitting it belongs to",
        "at": "when it was kept (ISO 8601, with the offset from UTC)",
        "day": "the date where the child read (YYYY-MM-DD)",
        "word": "the word shown",
        "gpcs": "its graphemes and their sounds (ARPAbet), ; between them",
        "overrule": "what an adult said of it: as_written, not, skip; empty for nothing",
        "try": "which try, from 1; the last one counts",
        "verdict": "how the listener marked it: " + ", ".join(VERDICTS),
        "slip": "kind of slip; empty for none",
        "gpc": "the GPC that the slip would show",
        "heard": "the sounds heard (ARPAbet); empty for silence",
        "place_start": "first expected sound that differs, from 0; empty for none",
        "place_end": "the sound after the last that differs",
        "unit": "the grapheme in which it differs, from 0",
        "ms": "milliseconds from the end of the sound to the mark",
        "evidence": "the GPCs it is evidence for, ; between them",
        "probabilities": "how sure the listener was of each verdict, 0 to 1 (JSON)",
        "slip_probabilities": "and of each kind of slip (JSON)",
    },
    "weeks.csv": {
        "week": "ISO week (YYYY-Www)",
        "gpc": "grapheme and sound (ARPAbet)",
        "as_written": "readings as written, after the adult's word",
        "slips": "readings with a slip",
        "slips_by_kind": "the same by kind (JSON)",
        "could_not_tell": "turns nobody could judge; not readings",
        "days": "different days with a reading",
        "words": "different words with a reading",
    },
}
"""File to its columns, each with what it says."""

_LEFT_OUT = ("log.db", "consent.json", "handing.json")
"""Not copied as they are: the log and the consent are what the tables hold, and the third is the
secret key that signs summaries for school, with which somebody else could hand one in."""


def export(folder: ChildFolder, log: Log | None, now: datetime) -> bytes:
    """All that is kept of a child, as a ZIP archive.

    Parameters
    ----------
    folder : ChildFolder
        The child.
    log : Log or None
        The child's, open; None where there is none.
    now : datetime
        When it was asked for, aware.

    Raises
    ------
    ConsentUnreadable, LogTrouble
        Something kept cannot be read; see `companion.record.trouble`.
    """
    given = consent.read(folder)
    turns = () if log is None else log.turns()
    sittings = () if log is None else log.sittings()
    span = None if log is None else log.span()
    weeks = () if log is None or span is None else log.weeks(*span)
    whole = {
        "format": FORMAT,
        "made_at": now.isoformat(),
        "child": folder.label,
        "consent": {
            name: {"given_at": yes.at.isoformat(), "text_version": yes.text_version}
            for name, yes in given.given.items()
        },
        "sittings": [_plain(asdict(each)) for each in sittings],
        "readings": [_plain(asdict(each)) for each in turns],
        "weeks": [_week(week, counts) for week, counts in weeks],
    }
    tables = {
        "consent.csv": _consent_rows(given),
        "sittings.csv": _sitting_rows(sittings),
        "readings.csv": _try_rows(turns),
        "weeks.csv": _week_rows(weeks),
    }
    kept = BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as archive:
        _put(archive, "read me first.txt", _explained(folder, now).encode(), now)
        _put(archive, "everything.json", json.dumps(whole, ensure_ascii=False).encode(), now)
        for name, rows in tables.items():
            _put(archive, name, plain_csv.to_bytes([tuple(COLUMNS[name]), *rows]), now)
        for path in clips.kept(folder.clips):
            _put(archive, f"clips/{path.name}", path.read_bytes(), now)
        for path in _other_files(folder):
            _put(archive, f"other/{path.name}", path.read_bytes(), now)
    return kept.getvalue()


def file_name(now: datetime) -> str:
    """What the archive is called: the day, and nothing of the child."""
    return f"wordhearth-{now.date().isoformat()}.zip"


def _put(archive: zipfile.ZipFile, name: str, data: bytes, now: datetime) -> None:
    entry = zipfile.ZipInfo(name, now.timetuple()[:6])
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o600 << 16
    archive.writestr(entry, data)


def _explained(folder: ChildFolder, now: datetime) -> str:
    lines = [
        f"Everything that Wordhearth keeps of '{folder.label}' on this computer, as of "
        f"{now:%d %B %Y}.",
        "",
        "It is about a child. Whoever has this file can read it: keep it as you would a school "
        "report.",
        "",
        "everything.json holds every value exactly; the tables hold the same for a spreadsheet.",
        "In the tables, a text that a spreadsheet would run as a formula has ' in front.",
        "Single readings are kept for 8 weeks; of older ones only weekly counts are left.",
        "clips/ holds the sound of each try, where you chose to keep it for 7 days:",
        "  DATE_turnNUMBER_tryNUMBER.flac, the turn's number being the reading's.",
        "other/ holds any other file of the child's folder as it is. The secret key that signs",
        "summaries for school is left out: with it, somebody else could hand one in.",
    ]
    for name, columns in COLUMNS.items():
        lines += ["", name, *(f"  {column}: {says}" for column, says in columns.items())]
    return "\r\n".join(lines) + "\r\n"


def _consent_rows(given: consent.Consent) -> Iterator[Sequence[str | int]]:
    for name, yes in given.given.items():
        yield name, yes.at.isoformat(), yes.text_version


def _sitting_rows(sittings: Iterable[Sitting]) -> Iterator[Sequence[str | int]]:
    for each in sittings:
        ended = "" if each.ended is None else each.ended.isoformat()
        yield (
            each.id,
            each.started.isoformat(),
            each.day.isoformat(),
            each.list_name,
            each.accent or "",
            ended,
        )


def _try_rows(turns: Iterable[KeptTurn]) -> Iterator[Sequence[str | int]]:
    for kept in turns:
        turn = kept.turn
        head = (
            kept.id,
            kept.sitting,
            kept.at.isoformat(),
            kept.day.isoformat(),
            turn.word,
            ";".join(turn.gpcs),
            turn.overrule or "",
        )
        for number, each in enumerate(turn.tries, start=1):
            start, end = each.place or ("", "")
            yield (
                *head,
                number,
                each.verdict,
                each.slip or "",
                each.gpc or "",
                each.heard,
                start,
                end,
                "" if each.unit is None else each.unit,
                repr(each.ms),
                ";".join(each.evidence),
                json.dumps(each.p),
                json.dumps(each.p_slip),
            )


def _week_rows(weeks: Iterable[tuple[Week, Tally]]) -> Iterator[Sequence[str | int]]:
    for week, counts in weeks:
        for each in counts.gpcs:
            yield (
                str(week),
                each.gpc,
                each.as_written,
                each.slipped,
                json.dumps(dict(each.slips)),
                each.could_not_tell,
                each.days,
                each.words,
            )


def _week(week: Week, counts: Tally) -> dict[str, Any]:
    return {"week": str(week), **_plain(asdict(counts))}


def _plain(value: Any) -> Any:
    """The same with dates as ISO text, as ``json.dumps`` takes it."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


def _other_files(folder: ChildFolder) -> list[Path]:
    if not folder.path.is_dir():
        return []
    return sorted(
        path
        for path in folder.path.iterdir()
        if path.is_file()
        and path.name not in _LEFT_OUT
        and not path.name.startswith(f"{folder.log.name}.")
        and not path.name.startswith(f"{folder.log.name}-")
        and path.suffix != ".new"
    )
