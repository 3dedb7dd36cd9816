"""What is kept of a child: each choice with its answer, everything in one file, and the way out."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass
from datetime import date

from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.parent_log import log_of, now, shared
from companion.pages.render import child_of, child_path, field, posted, render, see
from companion.pages.tidying import tidying_of
from companion.record import clips, consent, erasure, proof
from companion.record.consent_text import CHOICES, SECTIONS, TEXT_VERSION
from companion.record.erasure import Withdrawn
from companion.record.home import ChildFolder
from companion.record.proof import Proof
from companion.report.export import export, file_name

ALL = "all"
ERASED_MAX = 8
"""Proofs that can still be looked at; they are held in memory alone, until the program ends."""


@dataclass(frozen=True)
class Answer:
    """One choice: its words, and what was answered."""

    name: str
    question: str
    meaning: str
    given: bool
    told: str


@dataclass(frozen=True)
class Erased:
    """A withdrawal that was done, to be shown after it."""

    label: str
    everything: bool
    done: Withdrawn
    proof: Proof


def kept(request: Request) -> Response:
    """Every choice, what is kept, and what can be done about it."""
    folder = child_of(request)
    about = shared(request, folder)
    today = now().date()
    with log_of(request, folder) as log:
        weeks = () if log is None else log.weeks_read()
    return render(
        request,
        "parent_kept.html",
        **about,
        answers=_answers(folder),
        sections=SECTIONS,
        version=TEXT_VERSION,
        first=day_in_words(weeks[0].monday) if weeks else None,
        weeks=len(weeks),
        clips=len(clips.by_try(folder.clips, today)),
        clip_days=clips.KEPT_DAYS,
        files=proof.files(folder),
        place=str(folder.path),
    )


def everything(request: Request) -> Response:
    """All that is kept, as one ZIP to save."""
    folder = child_of(request)
    made = now()
    with log_of(request, folder) as log:
        data = export(folder, log, made)
    disposition = {"Content-Disposition": f'attachment; filename="{file_name(made)}"'}
    return Response(data, 200, disposition, "application/zip")


def sure(request: Request) -> Response:
    """What taking a choice back erases, before it is done."""
    folder = child_of(request)
    about = shared(request, folder)
    choice = _choice(request.query_params.get("choice", ""))
    taken = _with_all_that_need(choice)
    with log_of(request, folder) as log:
        readings = 0 if log is None else log.count()
        weeks = 0 if log is None else len(log.weeks_read())
    return render(
        request,
        "parent_sure.html",
        **about,
        choice=choice,
        questions=[each.question for each in CHOICES if each.name in taken],
        everything=choice == ALL,
        readings=readings if "keep_log" in taken else 0,
        weeks=weeks if "keep_log" in taken else 0,
        clips=len(clips.kept(folder.clips)) if "keep_clips" in taken else 0,
    )


def take_back(request: Request, form: FormData) -> Response:
    """Take a choice back, erase what it allowed, and show that it is gone."""
    folder = child_of(request)
    choice = _choice(field(form, "choice"))
    tidying_of(request).stop(folder)
    before = proof.look(folder)
    done = erasure.withdraw_all(folder) if choice == ALL else erasure.withdraw(folder, [choice])
    found = Erased(folder.label, choice == ALL, done, proof.search(folder, before))
    return see(f"/erased/{_shelf(request).put(found)}")


def erased(request: Request) -> Response:
    """The list of what is gone, and a search that finds nothing of it."""
    found = _shelf(request).get(request.path_params["number"])
    if found is None:
        raise HTTPException(404)
    folder = ChildFolder(request.app.state.launch.home, found.label)
    return render(
        request,
        "parent_erased.html",
        found=found,
        base=child_path(folder),
        back=folder.path.is_dir(),
        questions=[each.question for each in CHOICES if each.name in found.done.choices],
        handed_in=folder.handing.name in [each.name for each in found.proof.removed],
    )


class Shelf:
    """Where finished withdrawals stand until the program ends; nothing of it is on disk."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._found: OrderedDict[int, Erased] = OrderedDict()
        self._next = 1

    def put(self, found: Erased) -> int:
        """Keep one, letting go of the oldest; its number."""
        with self._lock:
            number = self._next
            self._next += 1
            self._found[number] = found
            if len(self._found) > ERASED_MAX:
                self._found.popitem(last=False)
            return number

    def get(self, number: int) -> Erased | None:
        """The one with that number, if it is still here."""
        with self._lock:
            return self._found.get(number)


def day_in_words(day: date) -> str:
    """``26 November 2026``."""
    return f"{day:%d %B %Y}".lstrip("0")


def _shelf(request: Request) -> Shelf:
    state = request.app.state
    if not hasattr(state, "erased"):
        state.erased = Shelf()
    found = state.erased
    assert isinstance(found, Shelf)
    return found


def _choice(text: str) -> str:
    if text != ALL and text not in consent.NAMES:
        raise HTTPException(404)
    return text


def _with_all_that_need(choice: str) -> frozenset[str]:
    """The choices that go when this one is taken back."""
    if choice == ALL:
        return frozenset(consent.NAMES)
    return frozenset({choice, *(each.name for each in CHOICES if each.needs == choice)})


def _answers(folder: ChildFolder) -> list[Answer]:
    given = consent.read(folder)
    answers = []
    for choice in CHOICES:
        yes = given.given.get(choice.name)
        if yes is None:
            told = "No"
        elif given.holds(choice.name):
            told = f"Yes, since {day_in_words(yes.at)}"
        else:
            told = f"No longer: the words have changed since {day_in_words(yes.at)}"
        holds = yes is not None
        answers.append(Answer(choice.name, choice.question, choice.meaning, holds, told))
    return answers


ROUTES = [
    Route("/child/{label}/kept", kept),
    Route("/child/{label}/everything.zip", everything),
    Route("/child/{label}/take-back", sure),
    Route("/child/{label}/take-back", posted(take_back), methods=["POST"]),
    Route("/erased/{number:int}", erased),
]
