"""CSV that any spreadsheet opens as it was meant: RFC 4180, UTF-8 with a byte-order mark.

Lines end in CRLF, every record has as many fields as the first, and text stands in quotes. A field
that a spreadsheet would take for a formula (it starts with ``=``, ``+``, ``-``, ``@``, a tab or a
carriage return: OWASP, 'CSV Injection', from memory) gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from companion.report.trouble import OtherKind, Oversize

BOM = b"\xef\xbb\xbf"
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def guarded(text: str) -> str:
    """A text that no spreadsheet runs."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def unguarded(text: str) -> str:
    """What `guarded` was given."""
    return text[1:] if text.startswith("'") and text[1:].startswith(_FORMULA) else text


def to_bytes(rows: Iterable[Sequence[str | int]]) -> bytes:
    """Records as a file.

    Parameters
    ----------
    rows : iterable of sequence of str or int
        The column names first. Numbers stand bare, text in quotes and guarded.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    for row in rows:
        writer.writerow([guarded(cell) if isinstance(cell, str) else cell for cell in row])
    return BOM + out.getvalue().encode()


def from_bytes(data: bytes, size_max: int, name: str = "The file") -> list[list[str]]:
    """A file's records, the guard taken off; a missing byte-order mark is no fault.

    Parameters
    ----------
    data : bytes
        The whole file.
    size_max : int
        Bytes in the largest file that is looked at.
    name : str
        How messages call the file.

    Raises
    ------
    Oversize
        More than `size_max` bytes.
    OtherKind
        It is not UTF-8, not CSV, empty, or its records differ in length.
    """
    if len(data) > size_max:
        raise Oversize(
            f"{name} was not read",
            f"it is larger than {size_max:,} bytes, and no file of this kind is",
            "Ask for it to be made again.",
        )
    try:
        text = data.removeprefix(BOM).decode()
        if "\0" in text:
            raise csv.Error("a zero byte")
        rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        raise _other(name, f"it cannot be read as CSV in UTF-8 ({error})") from error
    rows = [row for row in rows if row]
    if not rows or any(len(row) != len(rows[0]) for row in rows):
        raise _other(name, "its records are not all of one length")
    return [[unguarded(cell) for cell in row] for row in rows]


def _other(name: str, why: str) -> OtherKind:
    return OtherKind(
        f"{name} is not a table in CSV",
        why,
        "Ask for the file as it was made; a spreadsheet may have saved it in another form.",
    )
