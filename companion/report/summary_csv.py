"""The summary as plain CSV, for schools that must have it so. Anybody who has it can read it.

One record for each GPC of the week, under these columns::

    format_version, class_code, pupil_code, week_start, gpc, readings, heard_right, maybe,
    could_not_tell, days, distinct_words, parent_reviewed

``heard_right`` are readings as written, ``maybe`` slips, ``parent_reviewed`` turns that the adult
had a say in. The last record begins with ``end`` and holds, in the same columns: the codes, the
week, the sentence that the file is open to everybody, how many records came before it, when it was
made, and in the last column a checksum of every field. The checksum finds a file that was cut off
or edited; it is no signature, for anybody can work it out. A CSV has no words by verdict, no kinds
of slip, no accent and no words of the weeks before.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from datetime import date, datetime

from companion.record.weeks import Week
from companion.report import plain_csv
from companion.report.summary import KIND_NOT_GIVEN, NotASummary, Summary, SummaryRow
from companion.report.trouble import (
    FileTrouble,
    OtherKind,
    Tampered,
    Truncated,
    Untrue,
    WrongVersion,
)

VERSION = 1
ENDING = ".csv"
FILE_MAX = 65_536
COLUMNS = (
    "format_version", "class_code", "pupil_code", "week_start", "gpc", "readings", "heard_right",
    "maybe", "could_not_tell", "days", "distinct_words", "parent_reviewed",
)  # fmt: skip
OPEN_TO_ALL = "Not sealed: anybody who has this file can read it and could have changed it"
_END = "end"


def to_bytes(summary: Summary) -> bytes:
    """The summary as a CSV file."""
    head = (summary.class_code, summary.pupil, summary.week.monday.isoformat())
    rows: list[Sequence[str | int]] = [COLUMNS]
    rows += [
        (
            VERSION, *head, row.gpc, row.readings, row.as_written, row.slipped,
            row.could_not_tell, row.days, row.words, row.overruled,
        )
        for row in summary.rows
    ]  # fmt: skip
    made_at = summary.made_at.isoformat()
    rows.append((_END, *head, OPEN_TO_ALL, len(summary.rows), made_at, "", "", "", ""))
    return plain_csv.to_bytes([*rows[:-1], (*rows[-1], _checksum(rows))])


def file_name(summary: Summary) -> str:
    """How a home names the file: the pupil's code and the week, nothing else."""
    return f"{summary.pupil}-{summary.week}{ENDING}"


def is_summary_csv(data: bytes) -> bool:
    """Whether this is meant to be a summary in CSV, whole or not."""
    first = data[:400].removeprefix(plain_csv.BOM).split(b"\n", 1)[0]
    return first.replace(b'"', b"").strip().startswith(b"format_version")


def from_bytes(data: bytes, name: str = "The file") -> Summary:
    """Read the file back: counts only, with `KIND_NOT_GIVEN` for slips and number 0.

    ``days`` is then the largest of any GPC's, and ``overruled`` too: at least so many.

    Raises
    ------
    Oversize, OtherKind, WrongVersion, Truncated, Tampered, Untrue
        See `companion.report.trouble`.
    """
    rows = plain_csv.from_bytes(data, FILE_MAX, name)
    if tuple(rows[0]) != COLUMNS:
        raise OtherKind(
            f"{name} is not a summary in CSV",
            "its first line is not the names of a summary's columns",
            "Look for the file that 'wordhearth hand-in --csv' made, as it was made.",
        )
    for row in rows[1:]:
        if row[0] not in (str(VERSION), _END):
            raise WrongVersion(
                f"{name} is a CSV summary of version {row[0][:12]!r}",
                f"this Wordhearth reads version {VERSION}",
                "Install the version that the family uses, or ask them to use the school's.",
            )
    end = rows[-1]
    if end[0] != _END or end[5] != str(len(rows) - 2) or any(row[0] == _END for row in rows[:-1]):
        raise Truncated(
            f"{name} is cut off",
            "its last record, or another, is missing",
            "Copy it again, or ask the family to send it again.",
        )
    if end[-1] != _checksum([*rows[:-1], end[:-1]]):
        raise _changed(name)
    try:
        return _summary(rows[1:-1], end)
    except (NotASummary, ValueError) as error:
        raise Untrue(
            f"{name} holds what Wordhearth does not write",
            str(error) or "a field in it has another shape",
            "Nothing of it was taken. Ask the family to make it again.",
        ) from error


def _changed(name: str) -> FileTrouble:
    return Tampered(
        f"{name} was changed after it was made",
        "its checksum does not fit; saving it from a spreadsheet, which rewrites dates, is enough",
        "Ask the family for the file as it was made. A sealed summary cannot be changed unseen.",
    )


def _checksum(rows: Sequence[Sequence[str | int]]) -> str:
    text = "\n".join("\x1f".join(str(cell) for cell in row) for row in rows)
    digest = hashlib.sha256(text.encode()).digest()[:10]
    return "sum " + base64.b32encode(digest).decode()  # so that no spreadsheet sees a number


def _summary(rows: Sequence[Sequence[str]], end: Sequence[str]) -> Summary:
    monday = date.fromisoformat(end[3])
    if any(list(row[1:4]) != list(end[1:4]) for row in rows) or monday.weekday() != 0:
        raise NotASummary("its records are not all of one child's week")
    found = tuple(_row(row) for row in rows)
    return Summary(
        class_code=end[1],
        pupil=end[2],
        week=Week.of(monday),
        made_at=datetime.fromisoformat(end[6]),
        number=0,
        accents=(),
        days=max((row.days for row in found), default=0),
        verdicts={},
        left_out=0,
        overruled=max((row.overruled for row in found), default=0),
        rows=found,
    )


def _row(cells: Sequence[str]) -> SummaryRow:
    if not all(cell.isascii() and cell.isdecimal() and len(cell) <= 5 for cell in cells[5:]):
        raise NotASummary(f"a number of {cells[4][:20]!r} is none")
    readings, right, slips, unsure, days, words, reviewed = map(int, cells[5:])
    if readings != right + slips:
        raise NotASummary(f"the readings of {cells[4][:20]!r} do not add up")
    return SummaryRow(
        gpc=cells[4],
        as_written=right,
        slips={KIND_NOT_GIVEN: slips} if slips else {},
        could_not_tell=unsure,
        sounded_out=0,
        other=0,
        days=days,
        words=words,
        words_lately=words,
        overruled=reviewed,
    )
