"""Planning a week: lists for the class and each group at once, and all there is to print."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import field, render, see
from companion.pages.school_desk import (
    WeekChoice,
    changed,
    desk_of,
    shown,
    week_asked,
    week_field,
)
from companion.pages.school_list import number_of, together
from companion.phonics.decodable import check
from companion.phonics.gpc import Gpc
from companion.report.wording import gpc_words
from companion.school import planning, teaching
from companion.school.book import Book


@dataclass(frozen=True)
class _List:
    """A list of the week."""

    number: int
    title: str
    words: tuple[str, ...]
    caption: str
    broken: tuple[str, ...]


def whole(request: Request, book: Book) -> Response:
    """A week's lists, next week's unless the query says another."""
    desk = desk_of(request)
    week = week_asked(request, desk.next_week)
    taught = planning.taught_by(book, week)
    lists = []
    for number, words in planning.lists(book, week).items():
        real = [word for word in words.words if word not in words.pseudo]
        broken = check("\n".join([*real, words.caption or ""]), taught).broken
        lists.append(
            _List(
                number, words.title, words.words, words.caption or "",
                tuple(f"{each.word}: {each.gap.why}" for each in broken),
            )
        )  # fmt: skip
    newest = planning.newest(book)
    since = teaching.taught_since(book)
    groups = planning.groups(book, week)
    return render(
        request, "school_plan.html", week=WeekChoice(week), lists=lists,
        weeks=[WeekChoice(desk.week), WeekChoice(desk.next_week)],
        groups=[(number, gpc_words(gpc)) for number, gpc in groups.items()],
        newest=str(newest[0]) if newest else "",
        choices=[(str(gpc), gpc_words(gpc)) for gpc in reversed(since) if gpc in taught.gpcs],
        notes=desk.told.pop(week, ()),
    )  # fmt: skip


def make(request: Request, book: Book, form: FormData) -> Response:
    """Make the lists of the class and of every group, in place of those there are."""
    desk = desk_of(request)
    week = week_field(field(form, "week"), desk.next_week)
    groups = planning.groups(book, week)
    gpc = Gpc.parse(field(form, "gpc"))
    made = planning.plan(
        book, week, together(book, gpc), groups, number_of(field(form, "count")) or 12
    )
    planning.keep(book, made, list(groups))
    desk.told[week] = tuple(
        f"{each.whom}: {note}" for each in made.lists for note in each.made.notes
    )
    return see(f"/class/plan?week={week}")


ROUTES = [
    Route("/class/plan", shown(whole)),
    Route("/class/plan/make", changed(make), methods=["POST"]),
]
