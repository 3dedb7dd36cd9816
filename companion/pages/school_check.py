"""The teacher's own check: six words on the screen, and a tick for each that is read as written."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import field, render, see
from companion.pages.school_desk import changed, desk_of, shown, week_asked
from companion.pages.school_grid import whole_grid
from companion.pages.school_list import number_of
from companion.phonics.gpc import Gpc
from companion.report.wording import gpc_words
from companion.school import asking, planning, register, teaching
from companion.school.book import Book
from companion.school.groups_kept import load
from companion.school.register import Pupil
from companion.school.teacher_check import note, words_for


@dataclass(frozen=True)
class _Ask:
    """A check that is worth a minute."""

    code: str
    name: str
    gpc: str
    words: str
    why: str


def whole(request: Request, book: Book) -> Response:
    """What is worth a check; with a GPC, its words and the children to hear."""
    desk = desk_of(request)
    text = request.query_params.get("gpc", "")
    pupils = register.pupils(book)
    names = {pupil.code: pupil.name or pupil.code for pupil in pupils}
    since = teaching.taught_since(book)
    gpc = Gpc.parse(text) if text else None
    words: tuple[str, ...] = ()
    if gpc is not None:
        taught = planning.taught_by(book, desk.next_week)
        seed = desk.today.toordinal()
        avoid = [word for each in planning.lists(book, desk.week).values() for word in each.words]
        words = words_for(gpc, taught, teaching.order(book), seed=seed, avoid=avoid)
    found = asking.asks(whole_grid(desk, book, desk.week))
    return render(
        request, "school_check.html",
        asks=[
            _Ask(each.pupil, names[each.pupil], str(each.gpc), gpc_words(each.gpc), each.why)
            for each in found
        ],
        choices=[(str(one), gpc_words(one)) for one in reversed(since)], gpc=text,
        gpc_words=gpc_words(gpc) if gpc else "", words=words,
        children=_children(request, book, pupils) if gpc else [],
        told=desk.told.pop("check", ()),
    )  # fmt: skip


def keep(request: Request, book: Book, form: FormData) -> Response:
    """Keep what was heard: of each child with a tick, how many words were read as written."""
    desk = desk_of(request)
    gpc = Gpc.parse(field(form, "gpc"))
    shown_words = number_of(field(form, "shown"))
    read: dict[str, set[str]] = {}
    for text in form.getlist("read"):
        code, _, place = str(text).partition(" ")
        read.setdefault(code, set()).add(place)
    codes = {str(code) for code in form.getlist("heard")} | set(read)
    for code in sorted(codes):
        pupil = register.one(book, code).code
        note(book, pupil, gpc, desk.today, shown_words, len(read.get(code, ())))
    desk.told["check"] = (f"Kept: {gpc_words(gpc)}, heard from {len(codes)}.",) if codes else ()
    return see("/class/check")


def _children(request: Request, book: Book, pupils: tuple[Pupil, ...]) -> list[tuple[str, str]]:
    """The children to hear: the one asked for, a group's, or all."""
    codes = {pupil.code for pupil in pupils}
    if request.query_params.get("pupil"):
        codes = {request.query_params["pupil"]}
    number = number_of(request.query_params.get("group", ""))
    kept = load(book, week_asked(request, desk_of(request).next_week)) if number else None
    for group in kept.groups if kept else ():
        if group.number == number:
            codes = set(group.pupils)
    return [(each.code, each.name or each.code) for each in pupils if each.code in codes]


ROUTES = [
    Route("/class/check", shown(whole)),
    Route("/class/check/keep", changed(keep, most=4000), methods=["POST"]),
]
