"""The family file of each pupil: code, class key, order, what is taught, this week's list, aids."""

from __future__ import annotations

from companion.phonics.wordlists import WordList
from companion.record.weeks import Week
from companion.report.family_lines import FamilyFile
from companion.school import register, teaching
from companion.school.book import Book


def family_file(book: Book, pupil: str, week: Week) -> FamilyFile:
    """What goes home with a pupil for a week.

    The list is that of the pupil's group, where the pupil is in one that week and it has one (the
    lowest number of them, where there are several); else the whole class's, where it has one.

    Raises
    ------
    UnknownPupil
        The register has no such code.
    """
    register.one(book, pupil)
    found = teaching.aids(book)
    return FamilyFile(
        class_code=book.code,
        pupil=pupil,
        public_key=book.public_key,
        week=week,
        accent=teaching.accent(book),
        order=teaching.order(book),
        taught=teaching.taught(book),
        words=_list(book, pupil, week),
        phrases=found.phrases,
        pictures=found.pictures,
        exceptions=found.exceptions,
    )


def _list(book: Book, pupil: str, week: Week) -> WordList | None:
    with book.read() as db:
        numbers = db.execute(
            "SELECT DISTINCT number FROM week_place WHERE week = ? AND pupil = ? AND number > 0"
            " AND locked != 2 ORDER BY number",
            (str(week), pupil),
        ).fetchall()
    for (number,) in numbers:
        own = teaching.weekly_list(book, week, number)
        if own is not None:
            return own
    return teaching.weekly_list(book, week)
