"""Home and school: what the school sent, and the week's summary that an adult may hand in."""

from __future__ import annotations

from datetime import timedelta

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.parent_log import asked_or_latest, log_of, now, shared, week_of
from companion.pages.render import child_of, child_path, field, posted, render, see
from companion.phonics.gpc import Gpc
from companion.record import consent, handing
from companion.record.consent import HandInPermit, PractisePermit
from companion.record.home import ChildFolder
from companion.record.trouble import LogTrouble
from companion.record.weeks import Week
from companion.report import home_school
from companion.report.family_lines import FamilyFile
from companion.report.home_school import Made
from companion.report.summary import Summary
from companion.report.trouble import NothingToHandIn, OtherKind
from companion.report.week_text import span_in_words
from companion.report.wording import VERDICT_WORDS, gpc_words

TEXT_MAX = 100_000
"""Characters of a family file that are looked at; a real one has some thousands at most."""


def school(request: Request) -> Response:
    """What the school sent, and what a summary of the week would hold."""
    folder = child_of(request)
    about = shared(request, folder)
    with log_of(request, folder) as log:
        chosen, _ = asked_or_latest(request, () if log is None else log.weeks_read())
    given = consent.read(folder)
    found = home_school.joined(folder)
    key = handing.read(folder)
    summary, nothing = _summary(request, folder, found, chosen)
    return render(
        request,
        "parent_school.html",
        **about,
        joined=found,
        own_key="" if key is None else home_school.fingerprint(key.family_key),
        class_key="" if found is None else home_school.fingerprint(found.public_key),
        may_practise=given.holds(PractisePermit.choice),
        may_hand_in=given.holds(HandInPermit.choice),
        week=chosen,
        span=span_in_words(chosen),
        before=Week.of(chosen.monday - timedelta(days=7)),
        summary=summary,
        nothing=nothing,
        rows=[] if summary is None else [(gpc_words(Gpc.parse(r.gpc)), r) for r in summary.rows],
        verdicts=VERDICT_WORDS,
    )


def join(request: Request, form: FormData) -> Response:
    """Load what the school sent: a file, or the text of the square code."""
    folder = child_of(request)
    permit = PractisePermit(folder)
    home_school.join(permit, _text(form), new_key=field(form, "new_key") == "yes")
    return see(child_path(folder, "school"))


def hand_in(request: Request, form: FormData) -> Response:
    """Make the week's summary, to save and hand over."""
    folder = child_of(request)
    permit = HandInPermit(folder)
    make = home_school.make_csv if field(form, "form") == "csv" else home_school.make_sealed
    with log_of(request, folder) as log:
        if log is None:
            raise LogTrouble(
                f"There is no log for '{folder.label}' yet",
                "nothing has been kept",
                "Practise first; then there is something to hand in.",
            )
        made = make(permit, log, week_of(field(form, "week")), now())
    return _saved(made)


def _saved(made: Made) -> Response:
    disposition = {"Content-Disposition": f'attachment; filename="{made.name}"'}
    return Response(made.data, 200, disposition, "application/octet-stream")


def _summary(
    request: Request, folder: ChildFolder, found: FamilyFile | None, week: Week
) -> tuple[Summary | None, NothingToHandIn | None]:
    """What would be handed in, to show before it is; or why there is nothing."""
    if found is None:
        return None, None
    with log_of(request, folder) as log:
        if log is None:
            return None, None
        try:
            return home_school.prepare(log, found, week, now()), None
        except NothingToHandIn as error:
            return None, error


def _text(form: FormData) -> str:
    sent = form.get("file")
    if isinstance(sent, UploadFile) and sent.size:
        data = sent.file.read(TEXT_MAX + 1)
        try:
            return data.decode("utf-8")
        except UnicodeDecodeError as error:
            raise OtherKind(
                f"{sent.filename or 'The file'} cannot be read as a family file",
                "it is not plain text",
                "Take the file that the school gave you, which ends in .family.",
            ) from error
    return field(form, "text")[: TEXT_MAX + 1]


ROUTES = [
    Route("/child/{label}/school", school),
    Route("/child/{label}/school/join", posted(join), methods=["POST"]),
    Route("/child/{label}/school/hand-in", posted(hand_in), methods=["POST"]),
]
