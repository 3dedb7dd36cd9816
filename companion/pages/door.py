"""A child's door: begin a sitting, go on with one that was cut off, or see to the settings."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import child_of, child_path, field, posted, render, see
from companion.pages.room import room_of
from companion.pages.signs import sign_of
from companion.pages.sitting_run import Order, SittingRun, now
from companion.pages.tidying import tidying_of
from companion.phonics.own_words import load_corrections
from companion.practice import cut_off
from companion.practice.cut_off import CutOff
from companion.practice.due import HISTORY_DAYS
from companion.practice.plan import Plan, plan
from companion.practice.teaching import TODAY, Teaching, up_to
from companion.record import consent, settings, today
from companion.record.consent import LogPermit, PractisePermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.settings import Settings
from companion.record.turns import KeptTurn
from companion.report import home_school

CORRECTIONS = "splits.csv"
"""File of the data home that holds the splits a teacher has corrected."""


def door(request: Request) -> Response:
    """What a child sees before a sitting."""
    folder = child_of(request)
    given = consent.read(folder)
    tidying_of(request).see_to(folder, now().date())
    run = room_of(request).run_of(folder)
    return render(
        request,
        "door.html",
        label=folder.label,
        sign=sign_of(folder.label),
        settings=settings.read(folder),
        may_practise=given.holds(PractisePermit.choice),
        going_on=run is not None and run.is_alive(),
        cut=_cut_off(folder),
    )


def begin(request: Request, form: FormData) -> Response:
    """Begin a sitting, or go on with the one that was cut off."""
    folder = child_of(request)
    PractisePermit(folder)
    room = room_of(request)
    run = room.run_of(folder)
    if run is None or not run.is_alive():
        goes_on = _cut_off(folder) if field(form, "begin") == "go on" else None
        order = Order(folder, planned(folder, goes_on), _settings(folder), goes_on)
        room.enter(SittingRun(order, room.ears))
    return see(child_path(folder, "read"))


def planned(folder: ChildFolder, goes_on: CutOff | None) -> Plan:
    """Today's plan for a child; for a sitting that goes on, the plan it began with.

    Raises
    ------
    PlanImpossible, TodayUnreadable, LogTrouble
        As they say.
    """
    day = now().date()
    history: tuple[KeptTurn, ...] = ()
    seed = 0
    if consent.read(folder).holds(LogPermit.choice) and folder.log.exists():
        with Log.open(folder.log) as log:
            history = log.turns(day - timedelta(HISTORY_DAYS), day)
            seed = sum(each.day == day for each in log.sittings())
    if goes_on is not None:
        seed = goes_on.before
        history = tuple(each for each in history if each.sitting < goes_on.number)
    return plan(history, teaching_of(folder), day, seed)


def teaching_of(folder: ChildFolder) -> Teaching:
    """What this child's class has been taught: as the school sent it, or else as the adult said.

    Raises
    ------
    FamilyUnreadable, TodayUnreadable, TableError, WordListError
        What was kept cannot be used.
    """
    found = home_school.joined(folder)
    own = load_corrections(folder.home / CORRECTIONS)
    if found is not None:
        return replace(home_school.teaching(found), corrections=own)
    return up_to(today_of(folder), corrections=own)


def _settings(folder: ChildFolder) -> Settings:
    """As they were set; the accent is the class's where the adult chose none."""
    chosen = settings.read(folder)
    found = home_school.joined(folder)
    if chosen.accent is None and found is not None:
        return replace(chosen, accent=found.accent)
    return chosen


def today_of(folder: ChildFolder) -> str:
    """The sound the class is on, where the adult has said one."""
    return today.read(folder) or TODAY


def _cut_off(folder: ChildFolder) -> CutOff | None:
    if not consent.read(folder).holds(LogPermit.choice) or not folder.log.exists():
        return None
    with Log.open(folder.log) as log:
        return cut_off.find(log, now())


ROUTES = [
    Route("/child/{label}", door),
    Route("/child/{label}/begin", posted(begin), methods=["POST"]),
]
