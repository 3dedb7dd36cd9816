"""How a child's pages are set, what the class is learning, the microphone and the loudness."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.after_me_run import AfterMeRun
from companion.pages.door import today_of
from companion.pages.microphone_run import MicrophoneRun
from companion.pages.render import child_of, child_path, field, posted, render, see
from companion.pages.room import room_of
from companion.phonics.accents import ACCENTS
from companion.phonics.decodable import named
from companion.phonics.gpc import table
from companion.record import settings, today
from companion.record.consent import PractisePermit
from companion.record.home import ChildFolder
from companion.record.settings import LETTERS, VOLUMES, Settings
from companion.report import family_file, home_school
from speech.voice import Voice

SPOKEN = "lighthouse"
"""The word that is played to try how loud it is."""
T = TypeVar("T")
ACCENT_WORDS = {accent: accent.replace("-", " ").capitalize() for accent in ACCENTS}


def microphone(request: Request) -> Response:
    """What the check does, before it is begun."""
    folder = _practising(request)
    return render(request, "microphone.html", label=folder.label)


def check(request: Request, _form: FormData) -> Response:
    """Begin the check."""
    folder = _practising(request)
    room_of(request).enter(MicrophoneRun(folder))
    return see(child_path(folder, "read"))


def loudness(request: Request) -> Response:
    """How loud the computer speaks."""
    folder = _practising(request)
    return render(
        request,
        "loudness.html",
        label=folder.label,
        volumes=VOLUMES,
        volume=settings.read(folder).volume,
    )


def set_loudness(request: Request, form: FormData) -> Response:
    """Keep it, and say a word as loud as that."""
    folder = _practising(request)
    volume = _among(VOLUMES, field(form, "volume"), settings.read(folder).volume)
    settings.keep(PractisePermit(folder), replace(settings.read(folder), volume=volume))
    if field(form, "then") != "try":
        return see(child_path(folder, "class"))
    Voice(volume=volume).say_word(SPOKEN)
    return see(child_path(folder, "loudness"))


def class_learning(request: Request) -> Response:
    """What the class is learning: from the school's file, or as the adult says."""
    folder = _practising(request)
    return render(
        request,
        "class_learning.html",
        label=folder.label,
        joined=home_school.joined(folder),
        today=today_of(folder),
        sounds=_sounds(),
        accents=ACCENT_WORDS,
        accent=settings.read(folder).accent,
    )


def set_class(request: Request, form: FormData) -> Response:
    """Keep today's sound and the accent, or load what the school sent."""
    folder = _practising(request)
    permit = PractisePermit(folder)
    sent = form.get("file")
    text = field(form, "code")
    if isinstance(sent, UploadFile) and sent.filename:
        text = sent.file.read(family_file.TEXT_MAX + 1).decode("utf-8", errors="replace")
    if text:
        home_school.join(permit, text, new_key=field(form, "new-key") == "yes")
    sound = field(form, "today")
    if sound:
        named(sound, table().order())  # says what is wrong with it, where something is
        today.keep(permit, sound)
    accent = field(form, "accent")
    if accent in ("", *ACCENTS):
        settings.keep(permit, replace(settings.read(folder), accent=accent or None))
    return see(child_path(folder, "after-me" if field(form, "then") == "after-me" else ""))


def after_me(request: Request) -> Response:
    """What saying words after the computer is for, before it is begun."""
    folder = _practising(request)
    return render(request, "after_me.html", label=folder.label, done=folder.own_vowels.exists())


def begin_after_me(request: Request, _form: FormData) -> Response:
    """Begin it."""
    folder = _practising(request)
    room = room_of(request)
    room.enter(AfterMeRun(folder, settings.read(folder), room.ears))
    return see(child_path(folder, "read"))


def see_settings(request: Request) -> Response:
    """How the child's page looks and goes on."""
    folder = _practising(request)
    return render(
        request,
        "settings.html",
        label=folder.label,
        settings=settings.read(folder),
        letters=LETTERS,
    )


def set_settings(request: Request, form: FormData) -> Response:
    """Keep how it looks."""
    folder = _practising(request)
    before = settings.read(folder)
    after = Settings(
        letters=_among(LETTERS, field(form, "letters"), before.letters),
        contrast=field(form, "contrast") == "yes",
        ruler=field(form, "ruler") == "yes",
        buttons=field(form, "buttons") == "yes",
        by_itself=field(form, "by_itself") == "yes",
        volume=before.volume,
        accent=before.accent,
    )
    settings.keep(PractisePermit(folder), after)
    return see(child_path(folder))


def _practising(request: Request) -> ChildFolder:
    """The child, for whom an adult has agreed to listening.

    Raises
    ------
    ConsentMissing
        Nobody has.
    """
    folder = child_of(request)
    PractisePermit(folder)
    return folder


def _sounds() -> list[str]:
    """The graphemes of the teaching order, each once, as a teacher names them."""
    return list(dict.fromkeys(gpc.grapheme for gpc in table().order().gpcs))


def _among(offered: tuple[T, ...], text: str, otherwise: T) -> T:
    return next((each for each in offered if str(each) == text), otherwise)


ROUTES = [
    Route("/child/{label}/microphone", microphone),
    Route("/child/{label}/microphone", posted(check), methods=["POST"]),
    Route("/child/{label}/loudness", loudness),
    Route("/child/{label}/loudness", posted(set_loudness), methods=["POST"]),
    Route("/child/{label}/class", class_learning),
    Route("/child/{label}/class", posted(set_class), methods=["POST"]),
    Route("/child/{label}/after-me", after_me),
    Route("/child/{label}/after-me", posted(begin_after_me), methods=["POST"]),
    Route("/child/{label}/settings", see_settings),
    Route("/child/{label}/settings", posted(set_settings), methods=["POST"]),
]
