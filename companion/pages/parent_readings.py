"""Every reading of a week: how it was marked, its sound where kept, and the adult's own word."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from pathlib import Path

from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from companion.pages.parent_log import asked_or_latest, log_of, now, shared, week_of
from companion.pages.render import child_of, child_path, field, posted, render, see
from companion.record import clips, consent
from companion.record.consent import LogPermit
from companion.record.log import Log
from companion.record.retention import READINGS_KEPT_WEEKS
from companion.record.turns import OVERRULES, KeptTurn, Try
from companion.report.overrules import in_words, overrules
from companion.report.week_text import span_in_words
from companion.report.wording import SLIP_WORDS, VERDICT_WORDS

UNDO = "undo"
MARKS = (("as_written", "As written"), ("not", "Not as written"), ("skip", "Leave it out"))
"""What an adult may say of a reading, and the words on its button."""


@dataclass(frozen=True)
class TryShown:
    """One try: how it was marked, in words, and where its sound is; empty for none."""

    number: int
    mark: str
    clip: str


@dataclass(frozen=True)
class TurnShown:
    """One reading as the page shows it."""

    number: int
    at: str
    word: str
    tries: tuple[TryShown, ...]
    overrule: str | None


def readings(request: Request) -> Response:
    """Every reading that is kept of a week, the newest first."""
    folder = child_of(request)
    about = shared(request, folder)
    today = now().date()
    keeps = consent.read(folder).holds(LogPermit.choice)
    with log_of(request, folder) as log:
        read = () if log is None else log.weeks_read()
        if log is None or not read:
            return render(request, "parent_empty.html", **about, keeps=keeps)
        past = set(log.past_weeks())
        weeks = [week for week in read if week not in past]
        chosen, _ = asked_or_latest(request, weeks)
        turns = log.turns(chosen.monday, chosen.sunday)
        told = in_words(overrules(log.counted(today - timedelta(weeks=8), today)))
    sounds = clips.by_try(folder.clips, today)
    base = child_path(folder)
    days = [
        (day_in_words(day), [_shown(kept, sounds, base) for kept in each])
        for day, each in groupby(reversed(turns), lambda kept: kept.day)
    ]
    return render(
        request,
        "parent_readings.html",
        **about,
        week=chosen,
        span=span_in_words(chosen),
        days=days,
        weeks=[(week, span_in_words(week)) for week in reversed(weeks)],
        weeks_kept=READINGS_KEPT_WEEKS,
        marks=MARKS,
        counted=chosen in past,
        may_correct=keeps,
        overrules=told,
        keeps_clips=consent.read(folder).holds("keep_clips"),
    )


def correct(request: Request, form: FormData) -> Response:
    """Record what the adult says of a reading, or take it back."""
    folder = child_of(request)
    number, mark = field(form, "turn"), field(form, "mark")
    chosen = week_of(field(form, "week"))
    if mark not in (*OVERRULES, UNDO) or not number.isdecimal():
        raise HTTPException(400, "a reading can be said to be as written, not, or left out")
    permit = LogPermit(folder)
    with Log.open(folder.log) as log:
        try:
            log.overrule(permit, int(number), None if mark == UNDO else mark)
        except (KeyError, OverflowError) as error:
            raise HTTPException(404) from error
    return see(f"{child_path(folder, 'readings')}?week={chosen}#turn-{number}")


def clip(request: Request) -> Response:
    """The sound of one try, while it is kept; a browser may ask for a part of it."""
    folder = child_of(request)
    numbers = request.path_params["turn"], request.path_params["number"]
    path = clips.by_try(folder.clips, now().date()).get(numbers)
    if path is None:
        raise HTTPException(404)
    return FileResponse(path, media_type="audio/flac")


def _shown(kept: KeptTurn, sounds: Mapping[tuple[int, int], Path], base: str) -> TurnShown:
    tries = tuple(
        TryShown(
            number,
            _mark(each),
            f"{base}/clip/{kept.id}/{number}" if (kept.id, number) in sounds else "",
        )
        for number, each in enumerate(kept.turn.tries, start=1)
    )
    at = kept.at.strftime("%H:%M")
    return TurnShown(kept.id, at, kept.turn.word, tries, kept.turn.overrule)


def _mark(each: Try) -> str:
    """How the listener marked a try: ``with a slip in i-e: short vowel read...``."""
    mark = VERDICT_WORDS[each.verdict]
    if each.slip is None:
        return mark
    where = f" in {each.gpc.partition(' ')[0]}" if each.gpc else ""
    return f"{mark}{where}: {SLIP_WORDS.get(each.slip, each.slip.replace('_', ' '))}"


def day_in_words(day: date) -> str:
    """``Thursday 26 November``."""
    return f"{day:%A} {day.day} {day:%B}"


ROUTES = [
    Route("/child/{label}/readings", readings),
    Route("/child/{label}/correct", posted(correct), methods=["POST"]),
    Route("/child/{label}/clip/{turn:int}/{number:int}", clip),
]
