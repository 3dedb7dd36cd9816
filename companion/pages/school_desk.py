"""The teacher's desk: which class book these pages show, and its key while it is open.

The key is in this program's memory only. It goes when the teacher closes the book, when nothing
was asked for a while, and when the program ends.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import wraps
from pathlib import Path
from threading import Lock, Thread
from typing import TypeVar, cast

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.pages.app import Lifespan
from companion.pages.render import see
from companion.phonics.gpc import TableError
from companion.phonics.letters import WordError
from companion.phonics.listmaker import ListMakerError
from companion.phonics.wordlists import WordListError
from companion.record.weeks import Week
from companion.school.book import Book, default_path, unlock
from companion.school.importing import Preview, Progress
from companion.school.lock import BookKey, Secret
from companion.school.trouble import SchoolTrouble

IDLE = timedelta(minutes=45)
"""After which the book closes itself: a lesson's length, so that a break does not leave it open."""

T = TypeVar("T")
Clock = Callable[[], datetime]
Shown = Callable[[Request, Book], Response]
Changed = Callable[[Request, Book, FormData], Response]


def now() -> datetime:
    """The time, with its offset from UTC."""
    return datetime.now().astimezone()


class Work:
    """Something long that goes on beside the pages, and how far it is.

    Parameters
    ----------
    what : callable
        Does it; it is given what to tell progress to, called with done and total.
    """

    def __init__(self, what: Callable[[Progress], Response]) -> None:
        self.done = 0
        self.total = 0
        self._answer: Response | None = None
        self._error: Exception | None = None
        self._what = what
        self._thread = Thread(target=self._run, daemon=True)
        self._thread.start()

    def wait(self, seconds: float) -> bool:
        """Wait for the end, at most so long; whether it is reached."""
        self._thread.join(seconds)
        return not self._thread.is_alive()

    def answer(self) -> Response:
        """What it came to, once it has ended; its error is raised here."""
        if self._error is not None:
            raise self._error
        assert self._answer is not None, "ask only after the end"
        return self._answer

    def _run(self) -> None:
        try:
            self._answer = self._what(self._tell)
        except Exception as error:  # handed to whoever asks for the answer
            self._error = error

    def _tell(self, done: int, total: int) -> None:
        self.done, self.total = done, total


class Desk:
    """One launch's class book.

    Attributes
    ----------
    path : Path
        The book's file, which need not be there yet.
    home : Path
        The data home, where a login's key lies.
    clock : callable
        Gives the time, aware.
    preview : Preview or None
        Files looked at and not taken in yet; forgotten with the key.
    work : Work or None
        What is going on beside the pages.
    told : dict
        What the next page of a kind is to say once, such as that something was kept.
    """

    def __init__(self, path: Path, home: Path, clock: Clock = now) -> None:
        self.path = path
        self.home = home
        self.clock = clock
        self.preview: Preview | None = None
        self.work: Work | None = None
        self.told: dict[object, tuple[str, ...]] = {}
        self._key: BookKey | None = None
        self._used = clock()
        self._gate = Lock()
        self._state: tuple[int, int] | None = None
        self._made: dict[tuple[str, ...], object] = {}

    def open(self, secret: Secret) -> None:
        """Open the book; errors as `companion.school.book.unlock`."""
        self.take(unlock(self.path, secret))

    def take(self, key: BookKey) -> None:
        """Keep a key that has just been made."""
        with self._gate:
            self._key, self._used = key, self.clock()

    def close(self) -> None:
        """Forget the key and what was looked at."""
        with self._gate:
            self._forget()

    @property
    def key(self) -> BookKey | None:
        """The key, or None while the book is closed. Asking keeps it open for another `IDLE`."""
        with self._gate:
            if self.clock() - self._used > IDLE:
                self._forget()
            self._used = self.clock()
            return self._key

    def _forget(self) -> None:
        self._key = self.preview = self.work = self._state = None
        self._made = {}

    def kept(self, book: Book, what: tuple[str, ...], make: Callable[[], T]) -> T:
        """Something worked out from the book: made once for as long as its file stays the same."""
        file = book.path.stat()
        state = (file.st_mtime_ns, file.st_size)
        with self._gate:
            if self._state != state:
                self._state, self._made = state, {}
            if what in self._made:
                return cast(T, self._made[what])
        made = make()
        with self._gate:
            if self._state == state:
                self._made[what] = made
        return made

    @property
    def today(self) -> date:
        """The day."""
        return self.clock().date()

    @property
    def week(self) -> Week:
        """The week that the day is in."""
        return Week.of(self.today)

    @property
    def next_week(self) -> Week:
        """The week after it: the one that is planned."""
        return Week.of(self.week.monday + timedelta(days=7))


@dataclass(frozen=True)
class WeekChoice:
    """A week for a page: its own name, and in words."""

    week: Week
    words: str = field(init=False)

    def __post_init__(self) -> None:
        monday = self.week.monday
        object.__setattr__(self, "words", f"Monday {monday.day} {monday:%B %Y}")


def lifespan(path: Path | None = None, clock: Clock = now) -> Lifespan:
    """What puts a desk into the application when it starts, and closes the book when it ends."""

    @asynccontextmanager
    async def begin(app: Starlette) -> AsyncIterator[None]:
        home = app.state.launch.home
        app.state.desk = Desk(path or default_path(home), home, clock)
        try:
            yield
        finally:
            app.state.desk.close()

    return begin


def desk_of(request: Request) -> Desk:
    """The desk of the launch that the request came to."""
    desk = request.app.state.desk
    assert isinstance(desk, Desk), "lifespan() sets it"
    return desk


def shown(handle: Shown) -> Callable[[Request], Response]:
    """Make an endpoint of ``handle(request, book)``; without an open book it leads to the door."""

    @wraps(handle)
    def endpoint(request: Request) -> Response:
        return _with_book(request, lambda book: handle(request, book))

    return endpoint


def changed(handle: Changed, most: int = 200) -> Callable[[Request], Awaitable[Response]]:
    """Make an endpoint of ``handle(request, book, form)``, as `shown`.

    The form may hold at most `most` fields and as many files.
    """

    @wraps(handle)
    async def endpoint(request: Request) -> Response:
        async with request.form(max_fields=most, max_files=most) as form:
            return await run_in_threadpool(
                _with_book, request, lambda book: handle(request, book, form)
            )

    return endpoint


def _with_book(request: Request, handle: Callable[[Book], Response]) -> Response:
    desk = desk_of(request)
    key = desk.key
    if key is None:
        return see("/class/door")
    try:
        with Book.open(desk.path, key) as book:
            return handle(book)
    except (TableError, WordError, WordListError, ListMakerError) as error:
        raise SchoolTrouble(error.what, error.why, error.mend) from error


def week_asked(request: Request, otherwise: Week) -> Week:
    """The week of the query (``?week=2026-W48``), or another where it names none."""
    try:
        return Week.parse(request.query_params.get("week", ""))
    except ValueError:
        return otherwise


def week_field(text: str, otherwise: Week) -> Week:
    """The week that a form's field names, or another where it names none."""
    try:
        return Week.parse(text)
    except ValueError:
        return otherwise
