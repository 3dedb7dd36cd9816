"""The first run: who reads, what is heard and kept, and each answer by itself."""

from __future__ import annotations

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import child_path, field, launch_of, posted, render, see
from companion.pages.room import room_of
from companion.pages.signs import SIGNS, sign_of
from companion.pages.sitting_run import now
from companion.record import consent
from companion.record.consent_text import CHOICES, SECTIONS, TEXT_VERSION
from companion.record.home import LABEL_LENGTH_MAX, ChildFolder, child_folder, children
from companion.record.trouble import BadLabel, ConsentMissing


def who(request: Request) -> Response:
    """Step 1: a picture or a nickname for the child."""
    taken = children(launch_of(request).home)
    return render(
        request,
        "first_who.html",
        signs=[sign for sign in SIGNS if sign not in taken],
        longest=LABEL_LENGTH_MAX,
        error=None,
        nickname="",
    )


def answers(request: Request) -> Response:
    """Step 2: the words, and the choices, each a no until it is ticked."""
    label = _label(request.query_params.get("nickname"), request.query_params.get("label"))
    try:
        folder = child_folder(label, launch_of(request).home)
    except BadLabel as error:
        return render(
            request,
            "first_who.html",
            status=422,
            signs=SIGNS,
            longest=LABEL_LENGTH_MAX,
            error=error,
            nickname=label,
        )
    return _answers(request, folder)


def _label(nickname: str | None, picture: str | None) -> str:
    """The nickname where one was typed, or else the picture; never `FIRST_CHILD` by accident."""
    return (nickname or "").strip() or (picture or "").strip() or " "


def _answers(
    request: Request,
    folder: ChildFolder,
    ticked: frozenset[str] = frozenset(),
    error: ConsentMissing | None = None,
) -> Response:
    given = consent.read(folder)
    return render(
        request,
        "first_answers.html",
        status=200 if error is None else 422,
        label=folder.label,
        sign=sign_of(folder.label),
        sections=SECTIONS,
        choices=CHOICES,
        held={choice.name for choice in CHOICES if given.holds(choice.name)},
        ticked=ticked,
        error=error,
        version=TEXT_VERSION,
    )


def answer(request: Request, form: FormData) -> Response:
    """Record what was ticked; nothing at all where listening was not."""
    folder = child_folder(field(form, "label") or " ", launch_of(request).home)
    ticked = [name for name in consent.NAMES if field(form, name) == "yes"]
    if "practise" not in ticked and not consent.read(folder).holds("practise"):
        return render(request, "first_no.html", label=folder.label)
    try:
        consent.give(folder, ticked, now())
    except ConsentMissing as error:
        return _answers(request, folder, frozenset(ticked), error)
    room_of(request).forget(folder)
    return see(child_path(folder, "microphone"))


ROUTES = [
    Route("/new", who),
    Route("/new/answers", answers),
    Route("/new/answers", posted(answer), methods=["POST"]),
]
