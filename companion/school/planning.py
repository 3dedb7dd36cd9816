"""Next week's lists, made from what the class book holds and kept in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta

from companion.phonics import wordlists
from companion.phonics.decodable import Taught, exception_words
from companion.phonics.gpc import Gpc
from companion.phonics.wordlists import WordList
from companion.record.weeks import Week
from companion.school import teaching
from companion.school.book import Book
from companion.school.trouble import BadEntry
from companion.school.week_plan import WHOLE_CLASS, Wanted, WeekPlan, plan_week

RECENT_WEEKS = 3
"""Weeks whose words a new list leaves out while there are others: long enough that a word is read
and not remembered (common practice, no source)."""


def taught_by(book: Book, week: Week) -> Taught:
    """What will have been taught in a week: all that is marked, with the exception words usual by
    then. A week that is past counts only what had been taught by its Sunday.
    """
    gpcs = teaching.taught(book, week.sunday)
    return Taught(gpcs, frozenset(word.lower() for word in exception_words(gpcs)))


def lists(book: Book, week: Week) -> dict[int, WordList]:
    """A week's lists by number: 0 the whole class's, from 1 those of its groups."""
    with book.read() as db:
        numbers = db.execute(
            "SELECT number FROM weekly_list WHERE week = ? ORDER BY number", (str(week),)
        ).fetchall()
        found = {number: teaching.weekly_list(book, week, number) for (number,) in numbers}
    return {number: words for number, words in found.items() if words is not None}


def groups(book: Book, week: Week) -> dict[int, Gpc]:
    """A week's groups by number, each with what it is for; none where none were made."""
    with book.read() as db:
        rows = db.execute(
            "SELECT number, gpc FROM week_group WHERE week = ? ORDER BY number", (str(week),)
        ).fetchall()
    return {number: Gpc.parse(gpc) for number, gpc in rows}


def drop_stale(book: Book, week: Week) -> tuple[int, ...]:
    """Take out the lists of a week's groups that are for another GPC, or for no group, by now.

    Groups are numbered anew each time they are made; their lists are kept by number. Gives the
    numbers whose list went.
    """
    now = groups(book, week)
    stale = tuple(
        number
        for number, words in lists(book, week).items()
        if number > 0 and (number not in now or words.target != now[number])
    )
    for number in stale:
        teaching.set_weekly_list(book, week, None, number)
    return stale


def newest(book: Book) -> tuple[Gpc, ...]:
    """The GPC taught last, with the values of its grapheme taught right before it (u-e has two)."""
    found: list[Gpc] = []
    for gpc in reversed(teaching.taught_since(book)):
        if found and gpc.grapheme != found[0].grapheme:
            break
        found.insert(0, gpc)
    return tuple(found)


def recent(book: Book, week: Week) -> frozenset[str]:
    """Words and captions of all lists of the weeks before (`RECENT_WEEKS`)."""
    words: set[str] = set()
    for back in range(1, RECENT_WEEKS + 1):
        for found in lists(book, Week.of(week.monday - timedelta(weeks=back))).values():
            words |= {*found.words, *([found.caption] if found.caption else [])}
    return frozenset(words)


def plan(
    book: Book,
    week: Week,
    whole_class: Sequence[Gpc],
    groups: Mapping[int, Gpc] | None = None,
    count: int = 12,
) -> WeekPlan:
    """Make a week's lists; nothing is kept yet.

    Parameters
    ----------
    book : Book
        Any.
    week : Week
        The week they are for.
    whole_class : sequence of Gpc
        What the whole class's list is for: one GPC or values taught together.
    groups : mapping of int to Gpc, optional
        Each group's number, from 1, and what it is for.
    count : int
        Words in each list, 6 to 40.

    Raises
    ------
    BadEntry
        Nothing is marked as taught.
    ListMakerError
        As `companion.school.week_plan.plan_week`.
    """
    taught = taught_by(book, week)
    if not taught.gpcs:
        raise BadEntry(
            "No list was made",
            "nothing is marked as taught by then, so there is nothing to read",
            "Mark what the class has been taught first.",
        )
    wanted = [Wanted(WHOLE_CLASS, tuple(whole_class))]
    wanted += [Wanted(f"Group {number}", (gpc,)) for number, gpc in sorted((groups or {}).items())]
    return plan_week(
        week, wanted, taught, teaching.order(book), recent=recent(book, week), count=count
    )


def keep(book: Book, made: WeekPlan, groups: Sequence[int] = ()) -> None:
    """Keep a plan's lists as the week's, in place of all that it had.

    Parameters
    ----------
    book : Book
        The same.
    made : WeekPlan
        From `plan`.
    groups : sequence of int
        The groups' numbers that it was made with.
    """
    texts = [wordlists.to_text(each.made.words) for each in made.lists]
    with book.change() as db:
        db.execute("DELETE FROM weekly_list WHERE week = ?", (str(made.week),))
        db.executemany(
            "INSERT INTO weekly_list (week, number, text) VALUES (?, ?, ?)",
            [
                (str(made.week), number, text)
                for number, text in zip([0, *sorted(groups)], texts, strict=True)
            ],
        )
