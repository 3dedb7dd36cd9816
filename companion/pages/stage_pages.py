"""The page that a stage is shown on: its scenes as they come, and what is pressed."""

from __future__ import annotations

from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from companion.pages.render import child_of, child_path, field, html, posted, render, see
from companion.pages.room import Run, room_of
from companion.pages.stage import Scene
from companion.record import settings
from companion.record.home import ChildFolder

SCRIPT_HEADER = "Wordhearth-Script"
"""Sent by the page's own script, which needs no page in answer: the stage's events bring it."""


def stage(request: Request) -> Response:
    """The child's page."""
    folder = child_of(request)
    run = room_of(request).run_of(folder)
    if run is None:
        return see(child_path(folder))
    scene = run.stage.scene
    return render(
        request,
        "stage.html",
        label=folder.label,
        title=run.title,
        settings=settings.read(folder),
        scene_html=_scene_html(folder, scene),
        over=run.stage.over,
    )


def events(request: Request) -> Response:
    """What happens on the stage, for as long as the page is open."""
    folder = child_of(request)
    run = _run(request, folder)
    stream = run.stage.events(lambda scene: _scene_html(folder, scene), request.app.state.ending)
    return StreamingResponse(stream, media_type="text/event-stream")


def press(request: Request, form: FormData) -> Response:
    """A button of a scene was pressed; one of a scene that is gone does nothing."""
    folder = child_of(request)
    number = field(form, "scene")
    if number.isdecimal():
        fact = field(form, "turn-over")
        stage = _run(request, folder).stage
        if fact:
            stage.turn_over(int(number), fact)
        else:
            stage.press(int(number), field(form, "answer"))
    if SCRIPT_HEADER in request.headers:
        return Response(status_code=204)
    return see(child_path(folder, "read"))


def _run(request: Request, folder: ChildFolder) -> Run:
    run = room_of(request).run_of(folder)
    if run is None:
        raise HTTPException(404)
    return run


def _scene_html(folder: ChildFolder, scene: Scene) -> str:
    return html(
        f"scene_{scene.name}.html",
        label=folder.label,
        number=scene.number,
        answers=scene.answers,
        **scene.facts,
    )


ROUTES = [
    Route("/child/{label}/read", stage),
    Route("/child/{label}/read/events", events),
    Route("/child/{label}/read/press", posted(press), methods=["POST"]),
]
