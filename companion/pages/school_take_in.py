"""Taking in what families handed in: choose files, see what they would do, and only then keep."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from companion.pages.render import field, render, see
from companion.pages.school_desk import Desk, Work, changed, desk_of, shown
from companion.pages.school_list import number_of
from companion.school import importing, register
from companion.school.arrivals import FILE_MAX, Source
from companion.school.book import Book
from companion.school.trouble import BadEntry

FILES_MAX = 2000
"""Files taken at once: a class's whole year is 30 times 40."""
SOON_S = 0.7
"""Work that ends within this many seconds shows no progress page."""

STANDING_WORDS = {
    "new": "new",
    "changed": "later than the one in the book",
    "same": "in the book already",
    "older": "earlier than the one in the book",
    "suspicious": "asks for a look",
    "unknown": "not in the register",
    "refused": "not taken",
}


def choose(request: Request, book: Book) -> Response:
    """Where files are chosen; below, what was taken in so far this week."""
    return render(request, "school_take_in.html", taken=None, waiting=desk_of(request).preview)


def look(request: Request, book: Book, form: FormData) -> Response:
    """Look at the files that were chosen. Nothing is kept."""
    desk = desk_of(request)
    files = list(_files(form))
    if not files:
        raise BadEntry(
            "Nothing was looked at",
            "no file was chosen",
            "Choose the files that families handed in; several at once are fine.",
        )

    def work(progress: importing.Progress) -> Response:
        with Book.open(book.path, book.key) as own:
            desk.preview = importing.preview(own, files, desk.clock(), progress)
        return see("/class/take-in/preview")

    return _begun(desk, work)


def working(request: Request, book: Book) -> Response:
    """How far it is; the answer itself once there is one."""
    desk = desk_of(request)
    work = desk.work
    if work is None:
        return see("/class/take-in")
    if work.wait(0):
        desk.work = None
        return work.answer()
    return render(request, "school_working.html", done=work.done, total=work.total)


def progress(request: Request) -> Response:
    """How far it is, for the page's script: done, total, and whether it has ended."""
    work = desk_of(request).work
    told = [work.done, work.total, int(work.wait(0))] if work else [0, 0, 1]
    return PlainTextResponse(" ".join(map(str, told)))


def _begun(desk: Desk, what: Callable[[importing.Progress], Response]) -> Response:
    """Start it; where it is soon done, its answer comes at once."""
    desk.work = Work(what)
    desk.work.wait(SOON_S)
    return see("/class/take-in/working")


def preview(request: Request, book: Book) -> Response:
    """What the files would do."""
    found = desk_of(request).preview
    if found is None:
        return see("/class/take-in")
    names = {pupil.code: pupil.name for pupil in register.pupils(book, hidden=True)}
    return render(
        request, "school_preview.html", items=list(enumerate(found.items)), names=names,
        ready=set(found.ready), asks=set(found.asks), words=STANDING_WORDS,
        counts=[(word, found.count(name)) for name, word in STANDING_WORDS.items()],
    )  # fmt: skip


def take(request: Request, book: Book, form: FormData) -> Response:
    """Keep what was ticked, all of it or, if anything fails, nothing; or forget the files."""
    desk = desk_of(request)
    found = desk.preview
    if found is None or field(form, "do") == "forget":
        desk.preview = None
        return see("/class/take-in")
    wanted = {number_of(str(text)) for text in form.getlist("take")}
    chosen = wanted & {*found.ready, *found.asks}

    def work(progress: importing.Progress) -> Response:
        with Book.open(book.path, book.key) as own:
            done = importing.commit(own, found, desk.clock(), chosen, progress)
        desk.preview = None
        return render(request, "school_take_in.html", taken=done, waiting=None)

    return _begun(desk, work)


def _files(form: FormData) -> Iterator[Source]:
    """The chosen files, no more of each than is looked at."""
    for each in form.getlist("files"):
        if isinstance(each, UploadFile) and each.filename:
            yield Source(each.filename, each.file.read(FILE_MAX + 1))


ROUTES = [
    Route("/class/take-in", shown(choose)),
    Route("/class/take-in/look", changed(look, FILES_MAX), methods=["POST"]),
    Route("/class/take-in/working", shown(working)),
    Route("/class/take-in/progress", progress),
    Route("/class/take-in/preview", shown(preview)),
    Route("/class/take-in/take", changed(take, FILES_MAX + 1), methods=["POST"]),
]
