"""The register: pupils by code, with names that never leave the book; family sheets and files."""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass
from datetime import date

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import field, render, see
from companion.pages.school_desk import (
    WeekChoice,
    changed,
    desk_of,
    shown,
    week_asked,
)
from companion.record import codes
from companion.record.weeks import Week
from companion.report.family_file import file_name, to_text
from companion.report.home_school import fingerprint
from companion.school import register
from companion.school.book import Book
from companion.school.family import family_file
from companion.school.family_sheet import family_sheets_pdf, slip_of
from companion.school.register import Pupil
from companion.school.trouble import BadEntry

AT_ONCE = 40
"""Most pupils added by one press of the button."""

ZIP_DAY = (1980, 1, 1, 0, 0, 0)
"""The day that files in the archive bear: the earliest that the format knows, so that the same
files make the same archive."""


@dataclass(frozen=True)
class _Row:
    """A pupil as the register shows one."""

    pupil: Pupil
    key: str | None
    since: date | None


def whole_register(request: Request, book: Book) -> Response:
    """Every pupil, hidden ones at the end."""
    every = register.pupils(book, hidden=True)
    ordered = sorted(every, key=lambda pupil: pupil.hidden is not None)
    rows = [
        _Row(each, fingerprint(each.family_key) if each.family_key else None, each.key_since)
        for each in ordered
    ]
    desk = desk_of(request)
    return render(
        request, "school_register.html", rows=rows, class_code=book.code, at_once=AT_ONCE,
        weeks=[WeekChoice(desk.week), WeekChoice(desk.next_week)],
    )  # fmt: skip


def add(request: Request, book: Book, form: FormData) -> Response:
    """Add pupils: a line of names each, or so many without one."""
    desk = desk_of(request)
    names: list[str | None] = [line for line in field(form, "names").splitlines() if line.strip()]
    wanted = names or [None] * _number(field(form, "number"))
    if not 1 <= len(wanted) <= AT_ONCE:
        raise BadEntry(
            "Nobody was added",
            f"names or a number from 1 to {AT_ONCE} were expected",
            "Write a name on each line, or say how many codes you need.",
        )
    for name in wanted:
        register.add(book, desk.clock(), name)
    return see("/class/register")


def change(request: Request, book: Book, form: FormData) -> Response:
    """Rename, hide, show again, or forget the key of one pupil."""
    code = register.one(book, request.path_params["code"]).code
    what = field(form, "do")
    if what == "rename":
        register.rename(book, code, field(form, "name") or None)
    elif what in ("hide", "show"):
        register.hide(book, code, desk_of(request).today if what == "hide" else None)
    elif what == "forget-key":
        register.forget_key(book, code)
    return see("/class/register")


def sheets(request: Request, book: Book) -> Response:
    """The family sheets of the whole class, or of one pupil, as a PDF."""
    week, pupils = _chosen(request, book)
    slips = [slip_of(family_file(book, pupil.code, week)) for pupil in pupils]
    return pdf(family_sheets_pdf(slips), f"family-sheets-{week}.pdf")


def files(request: Request, book: Book) -> Response:
    """The family files of the whole class in one archive, or one pupil's as it is."""
    week, pupils = _chosen(request, book)
    made = [family_file(book, pupil.code, week) for pupil in pupils]
    if len(made) == 1:
        return download(to_text(made[0]).encode(), file_name(made[0]), "text/plain; charset=utf-8")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for each in made:
            archive.writestr(zipfile.ZipInfo(file_name(each), ZIP_DAY), to_text(each))
    return download(packed.getvalue(), f"family-files-{week}.zip", "application/zip")


def pdf(data: bytes, name: str) -> Response:
    """A PDF to open or keep."""
    return Response(
        data, media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )  # fmt: skip


def download(data: bytes, name: str, kind: str) -> Response:
    """A file to keep."""
    return Response(
        data, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )


def _chosen(request: Request, book: Book) -> tuple[Week, tuple[Pupil, ...]]:
    """The week asked for, and the pupils: the one that the query names, or all."""
    week = week_asked(request, desk_of(request).week)
    code = request.query_params.get("pupil")
    return week, (register.one(book, codes.read(code)),) if code else register.pupils(book)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 6 else 0


ROUTES = [
    Route("/class/register", shown(whole_register)),
    Route("/class/register/add", changed(add), methods=["POST"]),
    Route("/class/register/{code}", changed(change), methods=["POST"]),
    Route("/class/family-sheets.pdf", shown(sheets)),
    Route("/class/family-files", shown(files)),
]
