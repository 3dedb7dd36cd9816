"""The start page: whose turn is it, and the way to the grown-ups' pages."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import launch_of, render
from companion.record.home import children


def start(request: Request) -> Response:
    """Every child who reads here."""
    return render(request, "start.html", children=children(launch_of(request).home))


ROUTES = [Route("/", start)]
