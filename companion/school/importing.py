"""Taking in what families handed in: first a preview that changes nothing, then one commit.

All that a commit takes goes into the book in one transaction, so whatever happens meanwhile, all of
it is in or none.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from companion.school import arrivals, evidence, register, teaching
from companion.school.arrivals import Item, Source
from companion.school.book import Book
from companion.school.evidence import KeptSummary
from companion.school.weighing import weigh

STANDINGS = ("new", "changed", "same", "older", "suspicious", "unknown", "refused")
"""What a file is to the book: a week not in it yet; a later summary of a week that is; what is in
it already; an earlier summary than the one in it; one that asks for a look; of a code that is not
in the register; not taken, for the reason given."""

Progress = Callable[[int, int], None]
"""Told how many of how many files are done."""

_TAKEN = ("new", "changed", "suspicious")


@dataclass(frozen=True)
class Preview:
    """What an import would do. It has changed nothing."""

    items: tuple[Item, ...]

    @property
    def ready(self) -> tuple[int, ...]:
        """Places in `items` of what may be taken without a question."""
        return tuple(
            place
            for place, item in enumerate(self.items)
            if item.standing in _TAKEN and not _asks(item)
        )

    @property
    def asks(self) -> tuple[int, ...]:
        """Places in `items` of what is taken only if the teacher says so of each."""
        return tuple(
            place
            for place, item in enumerate(self.items)
            if item.standing in _TAKEN and _asks(item)
        )

    def count(self, standing: str) -> int:
        """How many items have a standing."""
        return sum(item.standing == standing for item in self.items)


@dataclass(frozen=True)
class Taken:
    """What a commit did.

    Attributes
    ----------
    new, changed : int
        Weeks put into the book, and weeks whose earlier summary was replaced.
    keys : int
        Families whose key the book knows from now on.
    left : tuple of Item
        Chosen items that were left out after all: the book, or an item taken before them, says
        otherwise now.
    """

    new: int
    changed: int
    keys: int
    left: tuple[Item, ...]


def preview(
    book: Book, sources: Iterable[Source], now: datetime, progress: Progress | None = None
) -> Preview:
    """What taking these files in would do.

    Parameters
    ----------
    book : Book
        Opened with its key.
    sources : iterable of Source
        In any order (`companion.school.arrivals.from_paths`).
    now : datetime
        Aware; a summary of the future is remarked on.
    progress : callable, optional
        Told after each file.

    Raises
    ------
    BookLocked
        The book was opened without its key.
    """
    private = book.private_key()
    code, csv_taken = book.code, teaching.csv_taken(book)
    files = list(sources)
    items = []
    for done, file in enumerate(files, start=1):
        items.append(arrivals.read(file, private, code, csv_taken))
        if progress:
            progress(done, len(files))
    return Preview(_weighed(book, items, now))


def commit(
    book: Book,
    found: Preview,
    now: datetime,
    take: Collection[int],
    progress: Progress | None = None,
) -> Taken:
    """Put the chosen items into the book, all of them or, if anything fails, none.

    Parameters
    ----------
    book : Book
        The same.
    found : Preview
        From `preview`.
    now : datetime
        Aware.
    take : collection of int
        Places in ``found.items``, from `Preview.ready` and `Preview.asks`.
    progress : callable, optional
        Told after each item.

    Raises
    ------
    ValueError
        A place that is in neither.
    BookBusy, BookUnwritable, BookDamaged
        Nothing was taken.
    """
    if not set(take) <= {*found.ready, *found.asks}:
        raise ValueError("only what is new, changed or suspicious can be taken")
    chosen = [found.items[place] for place in sorted(set(take))]
    new = changed = 0
    left = []
    keys: dict[str, bytes] = {}
    with book.change() as db:
        known = evidence.weeks_held(book)
        again = _weighed(book, [_unweighed(item) for item in chosen], now)
        for done, (before, item) in enumerate(zip(chosen, again, strict=True), start=1):
            summary, key = item.summary, item.family_key
            fits = summary is not None and keys.get(summary.pupil, key) == key
            if not fits or item.standing not in _TAKEN or (_asks(item) and not _asks(before)):
                left.append(item)
            elif summary is not None:
                if item.first_key and key is not None:
                    register.keep_key(db, summary.pupil, key, now.date())
                    keys[summary.pupil] = key
                there = (summary.pupil, str(summary.week)) in known
                changed, new = changed + there, new + (not there)
                evidence.write(db, KeptSummary(summary, str(item.source), key, now))
            if progress:
                progress(done, len(chosen))
    return Taken(new, changed, len(keys), tuple(left))


def _weighed(book: Book, items: Sequence[Item], now: datetime) -> tuple[Item, ...]:
    weeks = [item.summary.week for item in items if item.summary is not None]
    with book.read():
        pupils = register.pupils(book, hidden=True)
        kept = evidence.summaries(book, since=min(weeks), until=max(weeks)) if weeks else ()
        return weigh(items, pupils, kept, now)


def _unweighed(item: Item) -> Item:
    return replace(item, standing="new", note=None, first_key=False)


def _asks(item: Item) -> bool:
    return item.standing == "suspicious" or item.first_key
