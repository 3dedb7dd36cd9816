"""A week's list: made or written, split into graphemes, and measured against what is taught."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

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
    week_field,
)
from companion.phonics.decodable import Taught, check, gap
from companion.phonics.gpc import Gpc
from companion.phonics.wordlists import WordList, parse, to_text
from companion.record.weeks import Week
from companion.report.sound_buttons import in_words
from companion.report.wording import gpc_words
from companion.school import planning, teaching
from companion.school.book import Book
from companion.school.cards import split_of


@dataclass(frozen=True)
class _Word:
    """A word of the list, as the page shows it."""

    word: str
    graphemes: str
    said: str
    kind: str
    why_not: str
    aid: str


def one_list(request: Request, book: Book) -> Response:
    """The list of a week, for the whole class or a group."""
    desk = desk_of(request)
    week = week_asked(request, desk.week)
    number = number_of(request.query_params.get("group", "0"))
    taught = planning.taught_by(book, week)
    there = planning.lists(book, week)
    words = there.get(number)
    aids = teaching.aids(book)
    since = teaching.taught_since(book)
    return render(
        request, "school_list.html",
        week=WeekChoice(week), weeks=[WeekChoice(desk.week), WeekChoice(desk.next_week)],
        number=number, numbers=sorted({0, number, *there}), words=words,
        rows=_rows(words, taught, aids.exceptions) if words else [],
        text=to_text(words) if words else "",
        caption_gaps=_caption_gaps(words, taught) if words else [],
        phrase=aids.phrases.get(words.target, "") if words and words.target else "",
        picture=aids.pictures.get(words.target, "") if words and words.target else "",
        target=gpc_words(words.target) if words and words.target else "",
        choices=[(str(gpc), gpc_words(gpc)) for gpc in reversed(since) if gpc in taught.gpcs],
    )  # fmt: skip


def make(request: Request, book: Book, form: FormData) -> Response:
    """Make a list for a GPC and keep it as the week's."""
    week, number = _where(request, form)
    gpc = Gpc.parse(field(form, "gpc"))
    count = number_of(field(form, "count")) or 12
    made = planning.plan(book, week, together(book, gpc), count=count)
    teaching.set_weekly_list(book, week, made.lists[0].made.words, number)
    return _back(week, number)


def keep(request: Request, book: Book, form: FormData) -> Response:
    """Keep the teacher's own wording of the list, or take the list out."""
    week, number = _where(request, form)
    text = field(form, "text")
    words = parse(text, f"school-{week}") if field(form, "do") == "keep" else None
    teaching.set_weekly_list(book, week, words, number)
    return _back(week, number)


def together(book: Book, gpc: Gpc) -> tuple[Gpc, ...]:
    """A GPC with the values of its grapheme that are taught right after it (u-e: June, cube)."""
    order = teaching.order(book).gpcs
    taught = teaching.taught(book)
    found = [gpc]
    for each in order[order.index(gpc) + 1 :] if gpc in order else ():
        if each.grapheme != gpc.grapheme or each not in taught:
            break
        found.append(each)
    return tuple(found)


def number_of(text: str) -> int:
    """A small whole number; 0 for anything else."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 6 else 0


def _where(request: Request, form: FormData) -> tuple[Week, int]:
    week = week_field(field(form, "week"), desk_of(request).week)
    return week, number_of(field(form, "group"))


def _back(week: Week, number: int) -> Response:
    return see(f"/class/list?week={week}&group={number}")


def _rows(words: WordList, taught: Taught, aids: Mapping[str, str]) -> list[_Word]:
    found = []
    for word in words.words:
        made_up = word in words.pseudo
        split = split_of(word, made_up=made_up)
        why = None if made_up else gap(word, taught)
        by_sight = not made_up and word.lower() in taught.words
        found.append(
            _Word(
                word,
                str(split),
                word if isinstance(split, str) else in_words(split),
                "made-up" if made_up else "known by sight" if by_sight else "",
                why.why if why else "",
                aids.get(word.lower(), ""),
            )
        )
    return found


def _caption_gaps(words: WordList, taught: Taught) -> list[str]:
    broken = check(words.caption or "", taught).broken
    return [f"{each.word}: {each.gap.why}" for each in broken]


ROUTES = [
    Route("/class/list", shown(one_list)),
    Route("/class/list/make", changed(make), methods=["POST"]),
    Route("/class/list/keep", changed(keep), methods=["POST"]),
]
