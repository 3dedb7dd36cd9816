"""One file that a family handed in: what it is, and whether it can be read. Nothing is decided yet.

A file is judged by what is in it. Its name is only for messages, and for noticing a file that was
renamed as another pupil's.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from nacl.public import PrivateKey

from companion.record import codes
from companion.report import sealed, summary_csv
from companion.report.summary import Summary
from companion.report.trouble import FileTrouble, OtherKind, Oversize, WrongKey

FILE_MAX = max(sealed.FILE_MAX, summary_csv.FILE_MAX)
NAME_MAX = 80
"""Characters of a file's name that a message repeats."""

_NAMED = re.compile(r"([0-9A-Z]{6})-(\d{4}-W\d{2})")


@dataclass(frozen=True)
class Source:
    """One file: its name, and its bytes (no more than `FILE_MAX` + 1 of them)."""

    name: str
    data: bytes


@dataclass(frozen=True)
class Note:
    """What is to be said of a file: what, why, and what to do."""

    what: str
    why: str
    mend: str


@dataclass(frozen=True)
class Item:
    """One file of an import.

    Attributes
    ----------
    name : str
        The file's, cut to `NAME_MAX`.
    standing : str
        One of `companion.school.importing.STANDINGS`.
    note : Note or None
        What there is to say of it.
    summary : Summary or None
        What it holds, where it could be read.
    source : str or None
        ``sealed`` or ``csv``.
    family_key : bytes or None
        The key that signed it.
    first_key : bool
        Whether it is the first sealed summary of its code, so that the teacher is to say that
        the key is the family's.
    """

    name: str
    standing: str
    note: Note | None = None
    summary: Summary | None = None
    source: str | None = None
    family_key: bytes | None = None
    first_key: bool = False


def from_paths(paths: Iterable[Path]) -> Iterator[Source]:
    """The files at some paths, and those directly in a folder; no more of each than is looked at.

    A file that cannot be opened comes as an empty one, of which the preview says so.
    """
    for path in paths:
        inside = sorted(each for each in path.iterdir() if each.is_file()) if path.is_dir() else ()
        for each in inside or (path,):
            try:
                with each.open("rb") as file:
                    yield Source(each.name, file.read(FILE_MAX + 1))
            except OSError:
                yield Source(each.name, b"")


def read(file: Source, private: PrivateKey, class_code: str, csv_taken: bool) -> Item:
    """What one file is: ``new`` where it could be read, whatever the book holds, or ``refused``."""
    name = shown(file.name)
    try:
        return _read(file, name, private, class_code, csv_taken)
    except FileTrouble as error:
        return Item(name, "refused", Note(error.what, error.why, error.mend))


def renamed(file_name: str, summary: Summary) -> bool:
    """Whether a file's name says, in our own way, that it is another pupil's or week's."""
    match = _NAMED.match(file_name)
    return (
        match is not None
        and codes.is_code(match[1])
        and (match[1], match[2]) != (summary.pupil, str(summary.week))
    )


def shown(name: str) -> str:
    """A file's name, safe to print: short, and without what a screen would obey."""
    seen = "".join(each if each.isprintable() else "?" for each in name[: NAME_MAX + 1])
    return f"{seen[: NAME_MAX - 1]}…" if len(seen) > NAME_MAX else seen or "(no name)"


def _read(file: Source, name: str, private: PrivateKey, class_code: str, csv_taken: bool) -> Item:
    if not file.data:
        raise OtherKind(
            f"{name} is empty or cannot be opened",
            "there is nothing in it to read",
            "Copy it again, or ask the family to send it again.",
        )
    if sealed.is_sealed(file.data):
        opened = sealed.open_(file.data, private, name)
        item = Item(name, "new", None, opened.summary, "sealed", opened.family_key)
    elif summary_csv.is_summary_csv(file.data):
        summary = summary_csv.from_bytes(file.data, name)
        if not csv_taken:
            raise OtherKind(
                f"{name} is a plain CSV, and this class book takes sealed summaries only",
                "anybody could have read it, and anybody could have made it",
                "Ask the family for a sealed summary; or, if your school must have CSV, say so "
                "once: wordhearth class settings --csv yes",
            )
        item = Item(name, "new", None, summary, "csv")
    elif len(file.data) > FILE_MAX:
        raise Oversize(
            f"{name} was not opened",
            f"it is larger than {FILE_MAX:,} bytes, and no summary is",
            "It is some other file. Look for the one that 'wordhearth hand-in' made.",
        )
    else:
        raise OtherKind(
            f"{name} is not a summary",
            "it begins like some other kind of file, whatever its name says",
            "Look for the file that 'wordhearth hand-in' made.",
        )
    if item.summary is not None and item.summary.class_code != class_code:
        raise WrongKey(
            f"{name} is for class {item.summary.class_code}",
            f"this is the book of class {class_code}",
            "Give it to the class it is meant for.",
        )
    return item
