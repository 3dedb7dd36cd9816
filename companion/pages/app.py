"""The web application: a list of routes, what is told when something fails, and the guard."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import AbstractAsyncContextManager
from importlib import resources
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from companion.pages.guard import BodyTooLarge, Guard
from companion.pages.launch import Launch
from companion.pages.render import render
from companion.pages.troubles import TROUBLES, told

Lifespan = Callable[[Starlette], AbstractAsyncContextManager[None]]

KEEP_STATIC = "private, max-age=3600"
"""Style, fonts and drawings say nothing of a child: a browser may keep them for a while."""


def make_app(
    launch: Launch,
    routes: Sequence[BaseRoute],
    first: str = "/",
    lifespan: Lifespan | None = None,
    ending: threading.Event | None = None,
) -> Guard:
    """The application, behind its guard.

    Parameters
    ----------
    launch : Launch
        Its address and keys.
    routes : sequence of starlette routes
        The pages, from the modules that hold them.
    first : str
        Where the link leads.
    lifespan : callable, optional
        As Starlette takes it: what begins and ends with the program.
    ending : Event, optional
        Set when the program is told to stop: a stream of events must not hold it up.
    """
    package = Path(str(resources.files("companion")))
    app = Starlette(
        routes=[
            Mount("/static", _Static(directory=package / "pages" / "static")),
            Mount("/fonts", _Static(directory=package / "report" / "fonts")),
            *routes,
        ],
        exception_handlers={
            **dict.fromkeys(TROUBLES, _trouble),
            HTTPException: _refused,
            BodyTooLarge: _too_large,
            Exception: _fault,
        },
        lifespan=lifespan,
    )
    app.state.launch = launch
    app.state.ending = threading.Event() if ending is None else ending
    return Guard(app, launch, first)


class _Static(StaticFiles):
    """Files that come with the program."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer with the file, and let the browser keep it."""
        response = await super().get_response(path, scope)
        response.headers["Cache-Control"] = KEEP_STATIC
        return response


def _trouble(request: Request, error: Exception) -> Response:
    """Something that the reader can mend: what happened, why, and what to do next."""
    assert isinstance(error, TROUBLES)
    return render(request, "trouble.html", 409, **told(error))


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 404:
        return render(
            request,
            "trouble.html",
            404,
            what="There is no such page here",
            why="what it showed may have been erased, or the address is mistyped",
            mend="Go back to the start.",
        )
    return render(
        request,
        "trouble.html",
        error.status_code,
        what="That could not be done",
        why=error.detail,
        mend="Go back and try again, or go to the start.",
    )


def _too_large(request: Request, _error: Exception) -> Response:
    return render(
        request,
        "trouble.html",
        413,
        what="What was sent is too large",
        why="a form or file of this size is none that Wordhearth makes",
        mend="Choose a smaller file.",
    )


def _fault(request: Request, _error: Exception) -> Response:
    """A fault of the program itself: the server prints where; the page says what still holds."""
    return render(
        request,
        "trouble.html",
        500,
        what="Wordhearth made a mistake",
        why="it met something it was not made for; the window where you started it says what",
        mend="Everything already kept is safe. Go back to the start and try again.",
    )
