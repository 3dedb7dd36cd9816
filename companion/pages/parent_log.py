"""What the grown-ups' pages share: a child's log for one request, which week, and the time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request

from companion.pages.render import child_path
from companion.pages.tidying import tidying_of
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.weeks import Week

WAIT_S = 5.0


def now() -> datetime:
    """The time here, with its offset: the grown-ups' pages' one clock."""
    return datetime.now().astimezone()


@contextmanager
def log_of(request: Request, folder: ChildFolder) -> Iterator[Log | None]:
    """The child's log; None where nothing has been kept. What is being tidied waits meanwhile.

    Raises
    ------
    LogTrouble
        It cannot be opened.
    """
    tidying_of(request).see_to(folder, now().date())
    if not folder.log.exists():
        yield None
        return
    with Log.open(folder.log, wait_s=WAIT_S) as log:
        yield log


def week_of(text: str) -> Week:
    """The week that ``?week=`` names; this week where it names none.

    Raises
    ------
    HTTPException
        404: it is no week.
    """
    if not text:
        return Week.of(now().date())
    try:
        return Week.parse(text)
    except ValueError as error:
        raise HTTPException(404) from error


def asked_or_latest(request: Request, weeks: Sequence[Week]) -> tuple[Week, bool]:
    """The week asked for; else this one, or where nothing was read in it, the latest with readings.

    Returns
    -------
    (Week, bool)
        The week, and whether it stands in for this one.
    """
    text = request.query_params.get("week", "")
    asked = week_of(text)
    before = [week for week in weeks if week <= asked]
    if text or asked in weeks or not before:
        return asked, False
    return before[-1], True


def shared(request: Request, folder: ChildFolder) -> dict[str, Any]:
    """What every page of the grown-ups about one child is given; asked for before all else.

    Old readings are let go beside the pages, and that waits while a page is being made.
    """
    return {
        "label": folder.label,
        "base": child_path(folder),
        "tidying": tidying_of(request).see_to(folder, now().date()),
    }
