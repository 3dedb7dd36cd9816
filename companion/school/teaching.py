"""What the class is taught: the order, what has been taught and since when, lists, aids, accent."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from companion.phonics import wordlists
from companion.phonics.accents import ACCENTS
from companion.phonics.gpc import Gpc, Order, TableError, table
from companion.phonics.wordlists import WordList
from companion.record.weeks import Week
from companion.school.book import Book
from companion.school.faults import as_written_by_us
from companion.school.trouble import BadEntry

AID_MAX = 80
"""Characters in the longest aid: it stands on one line of the family's sheet."""
WHOLE_CLASS = 0


@dataclass(frozen=True)
class Aids:
    """The teacher's own aids to memory, which go home with the family file.

    Attributes
    ----------
    phrases, pictures : dict of Gpc to str
        A memory phrase, and which picture goes with it, in words.
    exceptions : dict of str to str
        Exception word (small letters) to the aid for it.
    """

    phrases: Mapping[Gpc, str]
    pictures: Mapping[Gpc, str]
    exceptions: Mapping[str, str]


def order(book: Book) -> Order:
    """The teaching order; the table's own until the teacher sets another."""
    with book.read() as db:
        rows = db.execute("SELECT gpc FROM ordering ORDER BY place").fetchall()
    with as_written_by_us(book.path):
        return Order(tuple(Gpc.parse(gpc) for (gpc,) in rows)) if rows else table().order()


def set_order(book: Book, own: Order | None) -> None:
    """Set the teaching order, or (None) go back to the table's own.

    Raises
    ------
    BadEntry
        It leaves out a GPC that has been taught, or holds one that is not in the table.
    """
    gpcs = () if own is None else own.gpcs
    strange = [str(gpc) for gpc in gpcs if gpc not in table().by_gpc]
    kept = set(gpcs or table().order().gpcs)
    lost = [str(gpc) for gpc in sorted(taught_since(book)) if gpc not in kept]
    if strange or lost:
        raise BadEntry(
            "The teaching order was not changed",
            f"the table has no {', '.join(strange)}"
            if strange
            else f"it leaves out what has been taught: {', '.join(lost)}",
            "Mend the order file, or take those GPCs back first "
            "(wordhearth class taught --not-yet GPC).",
        )
    with book.change() as db:
        db.execute("DELETE FROM ordering")
        db.executemany(
            "INSERT INTO ordering (place, gpc) VALUES (?, ?)",
            [(place, str(gpc)) for place, gpc in enumerate(gpcs, start=1)],
        )


def taught(book: Book, on: date | None = None) -> frozenset[Gpc]:
    """What has been taught: up to and including a day, or so far."""
    return frozenset(gpc for gpc, since in taught_since(book).items() if on is None or since <= on)


def taught_since(book: Book) -> dict[Gpc, date]:
    """What has been taught, each with the day it was marked taught, in teaching order."""
    with book.read() as db:
        found = dict(db.execute("SELECT gpc, since FROM taught").fetchall())
        places = order(book)
    with as_written_by_us(book.path):
        dated = {Gpc.parse(gpc): date.fromisoformat(since) for gpc, since in found.items()}
    last = len(places.gpcs) + 1
    return dict(sorted(dated.items(), key=lambda item: (places.place(item[0]) or last, item[0])))


def teach(book: Book, gpcs: Iterable[Gpc], day: date) -> tuple[Gpc, ...]:
    """Mark GPCs as taught on a day; those taught before keep their day. Gives the new ones.

    Raises
    ------
    TableError
        A GPC that is not in the order.
    """
    places = order(book)
    before = taught(book)
    fresh = tuple(dict.fromkeys(gpc for gpc in gpcs if gpc not in before))
    for gpc in fresh:
        places.up_to(gpc)
    with book.change() as db:
        db.executemany(
            "INSERT INTO taught (gpc, since) VALUES (?, ?)",
            [(str(gpc), day.isoformat()) for gpc in fresh],
        )
    return fresh


def untaught(book: Book, gpcs: Iterable[Gpc]) -> None:
    """Take back that GPCs were taught."""
    with book.change() as db:
        db.executemany("DELETE FROM taught WHERE gpc = ?", [(str(gpc),) for gpc in gpcs])


def accent(book: Book) -> str | None:
    """The accent the class's homes start with; None where every accent counts as right."""
    with book.read() as db:
        found = db.execute("SELECT accent FROM book").fetchone()[0]
    return None if found is None else str(found)


def set_accent(book: Book, name: str | None) -> None:
    """Set the accent; `BadEntry` where it is not one of `companion.phonics.accents.ACCENTS`."""
    if name is not None and name not in ACCENTS:
        raise BadEntry(
            f"The accent {name!r} was not taken",
            "no accent is called so here",
            f"Choose one of {', '.join(ACCENTS)}, or none for all of them.",
        )
    with book.change() as db:
        db.execute("UPDATE book SET accent = ?", (name,))


def csv_taken(book: Book) -> bool:
    """Whether this class takes plain CSV summaries, which anybody can read and could have made."""
    with book.read() as db:
        return bool(db.execute("SELECT csv_taken FROM book").fetchone()[0])


def set_csv_taken(book: Book, taken: bool) -> None:
    """Say whether plain CSV summaries are taken (at first they are not)."""
    with book.change() as db:
        db.execute("UPDATE book SET csv_taken = ?", (int(taken),))


def weekly_list(book: Book, week: Week, number: int = WHOLE_CLASS) -> WordList | None:
    """A week's list: the whole class's, or that of the group with a number from 1."""
    with book.read() as db:
        row = db.execute(
            "SELECT text FROM weekly_list WHERE week = ? AND number = ?", (str(week), number)
        ).fetchone()
    with as_written_by_us(book.path):
        return None if row is None else wordlists.parse(row[0], f"school {week}")


def set_weekly_list(book: Book, week: Week, words: WordList | None, number: int = 0) -> None:
    """Set, or (None) take out, a week's list for the whole class (0) or a group."""
    with book.change() as db:
        db.execute("DELETE FROM weekly_list WHERE week = ? AND number = ?", (str(week), number))
        if words is not None:
            db.execute(
                "INSERT INTO weekly_list (week, number, text) VALUES (?, ?, ?)",
                (str(week), number, wordlists.to_text(words)),
            )


def aids(book: Book) -> Aids:
    """The teacher's aids."""
    with book.read() as db:
        rows = db.execute("SELECT kind, subject, text FROM aid ORDER BY kind, subject").fetchall()
    found: dict[str, dict[str, str]] = {"phrase": {}, "picture": {}, "exception": {}}
    for kind, subject, text in rows:
        found[kind][subject] = text
    with as_written_by_us(book.path):
        return Aids(
            {Gpc.parse(gpc): text for gpc, text in found["phrase"].items()},
            {Gpc.parse(gpc): text for gpc, text in found["picture"].items()},
            found["exception"],
        )


def set_aid(book: Book, kind: str, subject: str, text: str | None) -> None:
    """Set, or (None) take out, one aid.

    Parameters
    ----------
    book : Book
        Any.
    kind : str
        ``phrase`` or ``picture`` of a GPC, or ``exception`` of a word.
    subject : str
        ``str(Gpc)`` of the order, or an exception word.
    text : str or None
        One line, at most `AID_MAX` characters.

    Raises
    ------
    BadEntry
        Something else.
    """
    try:
        name = subject.lower() if kind == "exception" else str(Gpc.parse(subject))
    except TableError as error:
        raise BadEntry("The aid was not taken", error.what, error.mend) from error
    line = None if text is None else unicodedata.normalize("NFC", " ".join(text.split()))
    fault = None
    if kind not in ("phrase", "picture", "exception"):
        fault = f"{kind!r} is no kind of aid"
    elif kind == "exception" and wordlists.spelling_fault(name):
        fault = f"{subject!r} is no word"
    elif line is not None and not aid_fits(line):
        fault = f"an aid is one line of 1 to {AID_MAX} characters"
    if fault:
        raise BadEntry("The aid was not taken", fault, "Change it and try again.")
    with book.change() as db:
        db.execute("DELETE FROM aid WHERE kind = ? AND subject = ?", (kind, name))
        if line is not None:
            db.execute("INSERT INTO aid (kind, subject, text) VALUES (?, ?, ?)", (kind, name, line))


def aid_fits(text: str) -> bool:
    """Whether a text is one line of 1 to `AID_MAX` characters that can be seen."""
    return 1 <= len(text) <= AID_MAX and not any(
        unicodedata.category(each).startswith("C") for each in text
    )
