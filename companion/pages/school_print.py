"""What the class pages print: word cards, practice sheets, and one child's history."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.school_desk import desk_of, shown, week_asked
from companion.pages.school_list import number_of
from companion.pages.school_register import pdf
from companion.phonics.wordlists import WordList
from companion.record.weeks import Week
from companion.school import evidence, planning, register, teaching
from companion.school.book import Book
from companion.school.cards import Buttons, cards_of_list, cards_pdf
from companion.school.history import History, history
from companion.school.history_page import history_pdf
from companion.school.practice_sheet import PracticeSheet, practice_sheet_pdf

_BUTTONS: dict[str, Buttons] = {"below": "below", "back": "back", "none": "none"}


def cards(request: Request, book: Book) -> Response:
    """Word cards of a week's list."""
    week, _, words = _asked(request, book)
    buttons = _BUTTONS.get(request.query_params.get("buttons", ""), "below")
    return pdf(cards_pdf(cards_of_list(words), words.title, buttons), f"cards-{week}.pdf")


def practice(request: Request, book: Book) -> Response:
    """The practice sheet of a week's list."""
    week, number, words = _asked(request, book)
    aids = teaching.aids(book)
    sheet = PracticeSheet(
        week, words, f"Group {number}" if number else "",
        aids.phrases.get(words.target) if words.target else None, dict(aids.exceptions),
    )  # fmt: skip
    return pdf(practice_sheet_pdf(sheet), f"practice-{week}.pdf")


def child(request: Request, book: Book) -> Response:
    """One child's history as a page, with the name only if it is asked for."""
    found = history_of(request, book, request.path_params["code"])
    pupil = register.one(book, found.pupil)
    name = pupil.name if request.query_params.get("name") == "yes" else None
    return pdf(history_pdf(found, name), f"history-{found.pupil}.pdf")


def history_of(request: Request, book: Book, code: str) -> History:
    """What is known of one pupil so far."""
    pupil = register.one(book, code).code
    return history(
        pupil, evidence.summaries(book, pupil=pupil), evidence.heard_in_class(book, pupil),
        teaching.order(book), teaching.taught_since(book), desk_of(request).week,
    )  # fmt: skip


def _asked(request: Request, book: Book) -> tuple[Week, int, WordList]:
    week = week_asked(request, desk_of(request).week)
    number = number_of(request.query_params.get("group", "0"))
    words = planning.lists(book, week).get(number)
    if words is None:
        raise HTTPException(404)
    return week, number, words


ROUTES = [
    Route("/class/cards.pdf", shown(cards)),
    Route("/class/practice.pdf", shown(practice)),
    Route("/class/pupil/{code}/history.pdf", shown(child)),
]
