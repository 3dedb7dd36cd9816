"""Templates to pages, and forms to their fields: what every module of pages shares."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import lru_cache, wraps
from typing import Any
from urllib.parse import quote

import jinja2
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from companion.pages.launch import Launch
from companion.record.home import ChildFolder
from companion.record.trouble import BadLabel
from companion.report.cautions import CAUTIONS

Posted = Callable[[Request, FormData], Response]


@lru_cache(maxsize=1)
def _environment() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.PackageLoader("companion.pages"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def html(template: str, **context: Any) -> str:
    """A template filled in; everything put into it is escaped."""
    return _environment().get_template(template).render(context)


def render(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """A page.

    Parameters
    ----------
    request : Request
        What is answered.
    template : str
        A file of ``companion/pages/templates``.
    status : int
        HTTP status.
    **context
        What the template names; a name that is missing is an error, not a blank. Every template
        also has ``path`` (the page's own address) and ``cautions``.
    """
    everywhere = {"path": request.url.path, "cautions": CAUTIONS}
    return HTMLResponse(html(template, **everywhere, **context), status)


def see(path: str) -> RedirectResponse:
    """Where a form leads once it is done: reloading that page does nothing twice."""
    return RedirectResponse(path, 303)


def posted(handle: Posted) -> Callable[[Request], Awaitable[Response]]:
    """Make an endpoint of ``handle(request, form)``, run beside the event loop.

    The form may hold fields and files (``form["name"]``, ``form.getlist("name")``); at most 200
    of either.
    """

    @wraps(handle)
    async def endpoint(request: Request) -> Response:
        async with request.form(max_fields=200, max_files=200) as form:
            return await run_in_threadpool(handle, request, form)

    return endpoint


def field(form: FormData, name: str) -> str:
    """One field's text, without blanks around it; empty where the form has none of that name."""
    value = form.get(name, "")
    return value.strip() if isinstance(value, str) else ""


def child_path(folder: ChildFolder, page: str = "") -> str:
    """The address of a child's page."""
    return f"/child/{quote(folder.label)}" + (f"/{page}" if page else "")


def launch_of(request: Request) -> Launch:
    """The launch that the request came to."""
    launch = request.app.state.launch
    assert isinstance(launch, Launch), "make_app() sets it"
    return launch


def child_of(request: Request) -> ChildFolder:
    """The child that the path's ``{label}`` names.

    Raises
    ------
    HTTPException
        404: there is no child of that label here.
    """
    try:
        folder = ChildFolder(launch_of(request).home, request.path_params["label"])
    except BadLabel as error:
        raise HTTPException(404) from error
    if not folder.path.is_dir():
        raise HTTPException(404)
    return folder
