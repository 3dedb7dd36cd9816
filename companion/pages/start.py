"""The start page: whose turn is it, and the way to the grown-ups' pages."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import launch_of, render
from companion.pages.signs import sign_of
from companion.record.home import children


def start(request: Request) -> Response:
    """Every child who reads here; without one, the first run."""
    found = [(label, sign_of(label)) for label in children(launch_of(request).home)]
    return render(request, "start.html" if found else "welcome.html", children=found)


ROUTES = [Route("/", start)]
