"""The parent's week: on the screen, and as a page to print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import groupby

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.parent_log import asked_or_latest, log_of, shared, week_of
from companion.pages.render import child_of, child_path, render, see
from companion.phonics.gpc import Gpc
from companion.practice.choosing import WHY
from companion.record import consent
from companion.record.consent import LogPermit
from companion.record.weeks import Week
from companion.report import evidence, parent_week
from companion.report.overrules import in_words
from companion.report.parent_week import TIPS_AT_ONCE, ParentWeek, Tip, evidence_in_words
from companion.report.picture import Picture, to_svg
from companion.report.taught import at_home
from companion.report.trend import SPACING
from companion.report.week import STATES, SheetRow
from companion.report.week_pdf import file_name, week_pdf
from companion.report.week_text import span_in_words, summary
from companion.report.wording import CHANGE_WORDS, STATE_WORDS, gpc_words

STATE_LINES = {
    "practise": "Slipped often enough, on days and in words enough, to be worth some minutes.",
    "not enough listened": "Nothing can be said yet: that takes 8 readings on 3 days in 4 words.",
    "secure": "Read as written, on days and in words enough.",
    "not yet taught": "Met in words, and not expected yet.",
}


@dataclass(frozen=True)
class Sound:
    """One GPC as the page shows it.

    Attributes
    ----------
    name : str
        ``i-e as in kite``.
    letters, strip, readings, weeks : Markup
        Pictures: its letters, this week's readings in a row and day by day, and the eight weeks.
    short, evidence, change : str
        ``5 of 8``; the evidence in a sentence; and how it stands beside the weeks before.
    """

    name: str
    letters: Markup
    strip: Markup
    readings: Markup
    weeks: Markup
    short: str
    evidence: str
    change: str


@dataclass(frozen=True)
class State:
    """The GPCs of one state."""

    name: str
    title: str
    line: str
    sounds: tuple[Sound, ...]


@dataclass(frozen=True)
class TipShown:
    """A tip with its pictures; `sound` is None for what is about no GPC."""

    tip: Tip
    name: str
    line: str
    sound: Sound | None


def week(request: Request) -> Response:
    """The week on one page."""
    folder = child_of(request)
    about = shared(request, folder)
    with log_of(request, folder) as log:
        weeks = () if log is None else log.weeks_read()
        if log is None or not weeks:
            keeps = consent.read(folder).holds(LogPermit.choice)
            return render(request, "parent_empty.html", **about, keeps=keeps)
        chosen, stands_in = asked_or_latest(request, weeks)
        order, taught = at_home(folder)
        found = parent_week.read(log, chosen, order, taught)
    return render(
        request,
        "parent_week.html",
        **about,
        week=chosen,
        stands_in=stands_in,
        span=span_in_words(chosen),
        around=_around(chosen, weeks),
        years=_by_year(weeks),
        found=found,
        summary=summary(found.sheet).splitlines(),
        days=svg(evidence.days_picture(chosen, found.sheet.days)),
        tips=[_tip(found, tip) for tip in found.tips[:TIPS_AT_ONCE]],
        more_tips=[_tip(found, tip) for tip in found.tips[TIPS_AT_ONCE:]],
        no_tip=parent_week.no_tip_in_words(found),
        early=[_tip(found, tip) for tip in found.early],
        states=_states(found),
        trend=svg(evidence.weeks_picture(found.trend.weeks)),
        legend=[(svg(evidence.legend_picture(mark)), text) for mark, text in evidence.LEGEND],
        overrules=in_words(found.overrules),
        spacing=SPACING,
        why=WHY,
    )


def printed(request: Request) -> Response:
    """The week as a PDF of one A4 page."""
    folder = child_of(request)
    chosen = week_of(request.query_params.get("week", ""))
    with log_of(request, folder) as log:
        if log is None:
            return see(child_path(folder, "week"))
        found = parent_week.read(log, chosen, *at_home(folder))
    name = file_name(chosen)
    disposition = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(week_pdf(found, folder.label), 200, disposition, "application/pdf")


def svg(picture: Picture) -> Markup:
    """A picture for a template; `to_svg` has escaped what is in it."""
    return Markup(to_svg(picture))


def _states(found: ParentWeek) -> list[State]:
    rows = {name: list(each) for name, each in groupby(found.sheet.rows, lambda row: row.state)}
    return [
        State(
            name,
            STATE_WORDS[name],
            STATE_LINES[name],
            tuple(_sound(found, row) for row in rows[name]),
        )
        for name in STATES
        if name in rows
    ]


def _sound(found: ParentWeek, row: SheetRow) -> Sound:
    slips = row.readings - row.as_written
    trends = (each for each in found.trend.gpcs if each.gpc == row.gpc)
    trend = next(trends, None)
    if found.kept_singly:
        readings = evidence.readings_picture(found.sheet.week, found.marks.get(row.gpc, ()))
    else:
        readings = evidence.counts_picture(row.as_written, slips, row.could_not_tell)
    return Sound(
        name=gpc_words(Gpc.parse(row.gpc)),
        letters=svg(evidence.grapheme_picture(row.gpc.partition(" ")[0], 30)),
        strip=svg(evidence.strip_picture(row.as_written, slips, row.could_not_tell)),
        readings=svg(readings),
        weeks=Markup("") if trend is None else svg(evidence.gpc_picture(trend.points)),
        short=f"{row.as_written} of {row.readings}" if row.readings else "could not tell",
        evidence=evidence_in_words(row, found.corrected.get(row.gpc, 0)),
        change="" if trend is None else CHANGE_WORDS[trend.change],
    )


def _tip(found: ParentWeek, tip: Tip) -> TipShown:
    name = "All words" if tip.row is None else gpc_words(Gpc.parse(tip.row.gpc))
    sound = None if tip.row is None else _sound(found, tip.row)
    return TipShown(tip, name, parent_week.tip_in_words(tip), sound)


def _around(week: Week, weeks: Sequence[Week]) -> tuple[Week | None, Week | None]:
    """The nearest weeks before and after with anything in them."""
    before = max((each for each in weeks if each < week), default=None)
    after = min((each for each in weeks if each > week), default=None)
    return before, after


def _by_year(weeks: Sequence[Week]) -> list[tuple[int, list[tuple[Week, str]]]]:
    """Every week to choose from, the newest first, by the year of its Monday."""
    newest = sorted(weeks, reverse=True)
    return [
        (year, [(week, _name(week)) for week in each])
        for year, each in groupby(newest, lambda week: week.monday.year)
    ]


def _name(week: Week) -> str:
    last = week.monday + timedelta(days=6)
    return f"{week.monday.day} {week.monday:%B} to {last.day} {last:%B}"


ROUTES = [
    Route("/child/{label}/week", week),
    Route("/child/{label}/week.pdf", printed),
]
