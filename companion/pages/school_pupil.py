"""One child's history: what was heard, counted; and the page for a talk with the SENCo."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import render
from companion.pages.school_desk import shown
from companion.pages.school_print import history_of
from companion.report.wording import SLIP_WORDS, gpc_words
from companion.school import register
from companion.school.book import Book
from companion.school.history import LATELY, Count, HistoryRow


@dataclass(frozen=True)
class _Line:
    """A GPC of the history, in words."""

    words: str
    taught: str
    before: str
    lately: str
    unsure: str
    slips: str
    checks: str


def child(request: Request, book: Book) -> Response:
    """The history of one child."""
    pupil = register.one(book, request.path_params["code"])
    found = history_of(request, book, pupil.code)
    return render(
        request, "school_pupil.html", pupil=pupil, found=found, lately=LATELY,
        lines=[_line(row) for row in found.rows],
        days=sum(week.days for week in found.weeks), words=sum(week.words for week in found.weeks),
        overruled=sum(week.overruled for week in found.weeks),
    )  # fmt: skip


def _line(row: HistoryRow) -> _Line:
    return _Line(
        gpc_words(row.gpc),
        f"{row.taught.day} {row.taught:%b}" if row.taught else "not yet",
        _of(row.before),
        _of(row.lately),
        str(row.could_not_tell or "–"),
        "; ".join(f"{SLIP_WORDS.get(kind, 'kind not given')}: {count}" for kind, count in row.slips)
        or "–",
        "; ".join(
            f"{check.as_written} of {check.words} on {check.day.day} {check.day:%b}"
            + (" (listener)" if check.how == "listener" else "")
            for check in row.checks
        )
        or "–",
    )


def _of(count: Count) -> str:
    return f"{count.as_written} of {count.readings}" if count.readings else "–"


ROUTES = [Route("/class/pupil/{code}", shown(child))]
