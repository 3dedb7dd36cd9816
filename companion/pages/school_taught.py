"""What has been taught, in the class's order, the accent it starts with, and its memory aids."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import field, render, see
from companion.pages.school_desk import changed, desk_of, shown
from companion.phonics.accents import ACCENTS
from companion.phonics.decodable import exception_words
from companion.phonics.gpc import Gpc, read_order, table
from companion.report.wording import gpc_words
from companion.school import teaching
from companion.school.book import Book
from companion.school.trouble import BadEntry

BEFORE, AFTER = 10, 6
"""Places of the order shown around the next one to be taught, unless all are asked for."""


@dataclass(frozen=True)
class _Row:
    """A GPC of the order."""

    place: int
    gpc: Gpc
    words: str
    since: date | None
    phrase: str
    picture: str


def whole_order(request: Request, book: Book) -> Response:
    """The teaching order with what has been taught."""
    since = teaching.taught_since(book)
    aids = teaching.aids(book)
    rows = [
        _Row(
            place, gpc, gpc_words(gpc), since.get(gpc), aids.phrases.get(gpc, ""),
            aids.pictures.get(gpc, ""),
        )
        for place, gpc in enumerate(teaching.order(book).gpcs, start=1)
    ]  # fmt: skip
    following = next((row for row in rows if row.since is None), None)
    at = following.place if following else len(rows)
    near = [row for row in rows if at - BEFORE <= row.place <= at + AFTER]
    own = "\n".join(str(row.gpc) for row in rows)
    return render(
        request, "school_taught.html", rows=rows,
        shown=rows if request.query_params.get("show") == "all" else near,
        following=following, today=desk_of(request).today,
        accent=teaching.accent(book) or "", accents=list(ACCENTS), order_text=own,
        exceptions=[
            (word, aids.exceptions.get(word, "")) for word in sorted(exception_words(since.keys()))
        ],
        csv_taken=teaching.csv_taken(book),
    )  # fmt: skip


def teach(request: Request, book: Book, form: FormData) -> Response:
    """Mark GPCs as taught: those ticked, or everything up to one."""
    day = _day(field(form, "day"), desk_of(request).today)
    order = teaching.order(book)
    if field(form, "up-to"):
        last = Gpc.parse(field(form, "up-to"))
        order.up_to(last)
        gpcs = order.gpcs[: order.gpcs.index(last) + 1]
    else:
        gpcs = tuple(Gpc.parse(str(text)) for text in form.getlist("gpc"))
    teaching.teach(book, gpcs, day)
    return see("/class/taught")


def take_back(_request: Request, book: Book, form: FormData) -> Response:
    """Take back that a GPC was taught."""
    teaching.untaught(book, [Gpc.parse(field(form, "gpc"))])
    return see("/class/taught")


def keep_aid(_request: Request, book: Book, form: FormData) -> Response:
    """Keep the aids of one GPC or exception word; an empty field takes one out."""
    subject = field(form, "subject")
    for kind in ("phrase", "picture", "exception"):
        if kind in form:
            teaching.set_aid(book, kind, subject, field(form, kind) or None)
    return see("/class/taught")


def settings(_request: Request, book: Book, form: FormData) -> Response:
    """The accent that homes start with, and whether plain CSV is taken."""
    teaching.set_accent(book, field(form, "accent") or None)
    teaching.set_csv_taken(book, field(form, "csv") == "yes")
    return see("/class/taught")


def keep_order(_request: Request, book: Book, form: FormData) -> Response:
    """The school's own teaching order, a GPC a line, or the table's again."""
    text = field(form, "order")
    own = read_order(text, "Your order", table()) if field(form, "do") == "keep" else None
    teaching.set_order(book, own)
    return see("/class/taught")


def _day(text: str, today: date) -> date:
    if not text:
        return today
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise _no_day(text) from error
    if day > today:
        raise _no_day(text)
    return day


def _no_day(text: str) -> BadEntry:
    return BadEntry(
        f"{text!r} was not taken as the day of teaching",
        "a day up to today was expected",
        "Choose the day again.",
    )


ROUTES = [
    Route("/class/taught", shown(whole_order)),
    Route("/class/taught/mark", changed(teach), methods=["POST"]),
    Route("/class/taught/back", changed(take_back), methods=["POST"]),
    Route("/class/taught/aid", changed(keep_aid), methods=["POST"]),
    Route("/class/taught/settings", changed(settings), methods=["POST"]),
    Route("/class/taught/order", changed(keep_order), methods=["POST"]),
]
