"""The book itself: who opens it, what is handed on, and erasing a child, a year or all of it."""

from __future__ import annotations

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import field, render, see
from companion.pages.school_desk import changed, desk_of, shown
from companion.record import codes
from companion.report.home_school import fingerprint
from companion.school import erasing, register
from companion.school.book import Book
from companion.school.erasing import BEYOND_REACH, Erased
from companion.school.handover import hand_over
from companion.school.lock import PASSPHRASE_MIN, Login, Passphrase
from companion.school.trouble import BadEntry


def whole(request: Request, book: Book) -> Response:
    """What can be done with the book."""
    return _page(request, book)


def relock(request: Request, book: Book, form: FormData) -> Response:
    """A new passphrase or login; for another teacher, new keys too."""
    desk = desk_of(request)
    login = field(form, "way") == "login"
    first, again = str(form.get("secret", "")), str(form.get("again", ""))
    if not login and first != again:
        raise BadEntry(
            "The book's lock was not changed",
            "the two passphrases are not the same",
            "Go back and type the same one twice.",
        )
    done = hand_over(
        book, Login(desk.home) if login else Passphrase(first),
        new_keys=field(form, "keys") == "new", home=desk.home,
    )  # fmt: skip
    desk.take(done.key)
    told = ["The book has a new lock. What opened it before opens it no more."]
    if done.new_keys:
        told.append("The class has new keys: give each family a new sheet or file.")
    return _page(request, book, told=told)


def erase_pupil(request: Request, book: Book, form: FormData) -> Response:
    """Erase all that is kept of one child."""
    code = codes.read(field(form, "pupil"))
    _said(form, code)
    return _page(request, book, erased=erasing.erase_pupil(book, code, desk_of(request).clock()))


def erase_year(request: Request, book: Book, form: FormData) -> Response:
    """Erase every child and all groups; order, aids and lists stay."""
    _said(form, book.code)
    done = erasing.erase_year(book, desk_of(request).clock())
    return _page(request, book, erased=done)


def erase_book(request: Request, book: Book, form: FormData) -> Response:
    """Erase the book's file."""
    _said(form, book.code)
    desk = desk_of(request)
    book.close()
    erasing.erase_book(desk.path, desk.home)
    desk.close()
    return see("/class/door")


def _page(
    request: Request, book: Book, told: list[str] | None = None, erased: Erased | None = None
) -> Response:
    return render(
        request, "school_book.html", code=book.code, key=fingerprint(book.public_key),
        way=book.lock.way, least=PASSPHRASE_MIN, place=str(book.path), told=told or [],
        erased=erased, beyond=BEYOND_REACH, pupils=register.pupils(book, hidden=True),
    )  # fmt: skip


def _said(form: FormData, code: str) -> None:
    """Erasing asks for the code to be written: one press cannot do it."""
    if field(form, "sure").upper() != code:
        raise BadEntry(
            "Nothing was erased",
            f"{code} was not written into the field",
            "Go back and write it, if you are sure.",
        )


ROUTES = [
    Route("/class/book", shown(whole)),
    Route("/class/book/lock", changed(relock), methods=["POST"]),
    Route("/class/book/erase-pupil", changed(erase_pupil), methods=["POST"]),
    Route("/class/book/erase-year", changed(erase_year), methods=["POST"]),
    Route("/class/book/erase", changed(erase_book), methods=["POST"]),
]
