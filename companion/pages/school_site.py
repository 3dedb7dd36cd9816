"""The class pages: every route of the teacher's, in one list."""

from __future__ import annotations

from pathlib import Path

from companion.pages import (
    school_book,
    school_check,
    school_door,
    school_grid,
    school_groups,
    school_list,
    school_plan,
    school_print,
    school_pupil,
    school_register,
    school_take_in,
    school_taught,
)
from companion.pages.school_desk import Clock, lifespan, now
from companion.pages.serve import Site


def site(book: Path | None = None, clock: Clock = now) -> Site:
    """The class pages for a book.

    Parameters
    ----------
    book : Path, optional
        The class book's file; ``class-book.db`` of the data home when omitted.
    clock : callable
        Gives the time, aware.
    """
    return Site(
        name="school",
        title="The class pages",
        routes=[
            *school_door.ROUTES,
            *school_register.ROUTES,
            *school_taught.ROUTES,
            *school_list.ROUTES,
            *school_take_in.ROUTES,
            *school_grid.ROUTES,
            *school_groups.ROUTES,
            *school_plan.ROUTES,
            *school_check.ROUTES,
            *school_print.ROUTES,
            *school_pupil.ROUTES,
            *school_book.ROUTES,
        ],
        first="/class",
        lifespan=lifespan(book, clock),
    )
