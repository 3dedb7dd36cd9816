"""The door of the class pages: start, open and close a class book; and a Friday, step by step."""

from __future__ import annotations

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import field, posted, render, see
from companion.pages.school_desk import WeekChoice, desk_of, shown
from companion.school import evidence, register, teaching
from companion.school.book import Book
from companion.school.lock import PASSPHRASE_MIN, Login, Passphrase, Secret
from speech.trouble import Trouble


def start(_request: Request) -> Response:
    """The address without a page."""
    return see("/class")


def door(request: Request) -> Response:
    """Where a closed book is opened, or a new one started."""
    desk = desk_of(request)
    if not desk.path.exists():
        return _new(request)
    with Book.open(desk.path) as book:
        return render(request, "school_open.html", way=book.lock.way, trouble=None)


def make_book(request: Request, form: FormData) -> Response:
    """Start a class book."""
    desk = desk_of(request)
    if desk.path.exists():
        return see("/class/door")
    try:
        if field(form, "way") == "passphrase" and _text(form, "secret") != _text(form, "again"):
            return _new(request, 409, _twice())
        with Book.start(desk.path, _secret(request, form), desk.clock()) as book:
            desk.take(book.needs_key())
    except Trouble as error:
        return _new(request, 409, error)
    return see("/class/register")


def open_book(request: Request, form: FormData) -> Response:
    """Open the class book."""
    desk = desk_of(request)
    with Book.open(desk.path) as book:
        way = book.lock.way
    try:
        desk.open(Login(desk.home) if way == "login" else Passphrase(_text(form, "secret")))
    except Trouble as error:
        return render(request, "school_open.html", 409, way=way, trouble=error)
    return see("/class")


def close_book(request: Request, _form: FormData) -> Response:
    """Close it: the key is forgotten."""
    desk_of(request).close()
    return see("/class/door")


def friday(request: Request, book: Book) -> Response:
    """The first page: the week's steps in their order, each with how far it is."""
    desk = desk_of(request)
    pupils = register.pupils(book)
    codes = {pupil.code for pupil in pupils}
    this_week = evidence.summaries(book, since=desk.week, until=desk.week)
    since = teaching.taught_since(book)
    return render(
        request,
        "school_friday.html",
        week=WeekChoice(desk.week),
        next_week=WeekChoice(desk.next_week),
        pupils=len(pupils),
        handed_in=len({each.summary.pupil for each in this_week} & codes),
        taught=len(since),
        newest=[str(gpc) for gpc in list(since)[-3:]],
        listed=teaching.weekly_list(book, desk.week) is not None,
        next_listed=teaching.weekly_list(book, desk.next_week) is not None,
    )


def _new(request: Request, status: int = 200, trouble: Trouble | None = None) -> Response:
    return render(
        request, "school_start.html", status, trouble=trouble, least=PASSPHRASE_MIN,
        place=str(desk_of(request).path),
    )  # fmt: skip


def _secret(request: Request, form: FormData) -> Secret:
    if field(form, "way") == "login":
        return Login(desk_of(request).home)
    return Passphrase(_text(form, "secret"))


def _text(form: FormData, name: str) -> str:
    """A passphrase as it was typed, blanks and all."""
    value = form.get(name, "")
    return value if isinstance(value, str) else ""


def _twice() -> Trouble:
    return Trouble(
        "The class book was not started",
        "the two passphrases are not the same",
        "Type the same one twice.",
    )


ROUTES = [
    Route("/", start),
    Route("/class", shown(friday)),
    Route("/class/door", door),
    Route("/class/start", posted(make_book), methods=["POST"]),
    Route("/class/open", posted(open_book), methods=["POST"]),
    Route("/class/close", posted(close_book), methods=["POST"]),
]
