"""Next week's groups: made, moved by button or by dragging, locked, and the rest solved again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from companion.pages.render import field, render, see
from companion.pages.school_desk import (
    Desk,
    WeekChoice,
    changed,
    desk_of,
    shown,
    week_asked,
    week_field,
)
from companion.pages.school_grid import whole_grid
from companion.pages.school_list import number_of
from companion.phonics.gpc import Gpc
from companion.record.weeks import Week
from companion.report.wording import gpc_words
from companion.school import planning, register, teaching
from companion.school.book import Book
from companion.school.grid import Grid
from companion.school.groups import Group
from companion.school.groups_kept import KeptGroups, load, regroup
from companion.school.teacher_check import words_for
from companion.school.trouble import BadEntry
from companion.school.wishes import Move, Room


@dataclass(frozen=True)
class _Member:
    """A child in a group."""

    code: str
    name: str
    told: str
    held: bool
    first: bool
    place: int


@dataclass(frozen=True)
class _Group:
    """A group as the page shows it."""

    number: int
    slot: int
    adult: int
    gpc: str
    words: str
    why: str
    members: tuple[_Member, ...]
    check_words: tuple[str, ...]
    title: str
    caption: str


def whole(request: Request, book: Book) -> Response:
    """The groups of a week, next week's unless the query says another."""
    desk = desk_of(request)
    week = week_asked(request, desk.next_week)
    kept = load(book, week)
    names = {pupil.code: pupil.name or pupil.code for pupil in register.pupils(book, hidden=True)}
    before = whole_grid(desk, book, _week_before(week))
    made = kept.groups if kept else ()
    return render(
        request, "school_groups.html", week=WeekChoice(week), kept=kept,
        weeks=[WeekChoice(desk.week), WeekChoice(desk.next_week)],
        room=kept.room if kept else Room(2, 2, 1),
        groups=_groups(desk, book, week, made, before, names),
        keep_up=[
            (each.pupil, names.get(each.pupil, each.pupil), str(each.gpc), gpc_words(each.gpc),
             _in_words(each.why, [one.gpc for one in made]))
            for each in (kept.keep_up if kept else ())
        ],
        out=[
            (move.pupil, names.get(move.pupil, move.pupil), str(move.gpc), gpc_words(move.gpc))
            for move in (kept.moves if kept else ()) if not move.keep
        ],
    )  # fmt: skip


def make(request: Request, book: Book, form: FormData) -> Response:
    """Make the groups: the teacher's moves stand, unless they are to be forgotten."""
    week = week_field(field(form, "week"), desk_of(request).next_week)
    room = Room(*(number_of(field(form, name)) for name in ("adults", "slots", "each")))
    kept = load(book, week)
    moves = kept.moves if kept and field(form, "do") != "afresh" else ()
    return _again(book, week, room, [m for m in moves if _inside(m, room)])


def move(request: Request, book: Book, form: FormData) -> Response:
    """Move, lock, unlock or take out one child; the rest is solved again around it."""
    week = week_field(field(form, "week"), desk_of(request).next_week)
    kept = load(book, week)
    if kept is None:
        raise BadEntry("Nobody was moved", "that week has no groups yet", "Make the groups first.")
    pupil = register.one(book, field(form, "pupil")).code
    gpc = Gpc.parse(field(form, "gpc"))
    moves = [each for each in kept.moves if (each.pupil, each.gpc) != (pupil, gpc)]
    what = field(form, "do")
    if what == "move":
        target = _group_named(kept, field(form, "to"))
        if target is None:
            moves.append(Move(pupil, gpc, 0, 0, False))
        else:
            moves = [each for each in moves if (each.pupil, each.gpc) != (pupil, target.gpc)]
            moves.append(Move(pupil, target.gpc, target.slot, target.adult, True))
            if target.gpc != gpc and _is_in(kept, pupil, gpc):
                moves.append(Move(pupil, gpc, 0, 0, False))
    elif what == "lock":
        at = next((g for g in kept.groups if g.gpc == gpc and pupil in g.pupils), None)
        if at is None:
            raise BadEntry(
                "Nobody was held",
                "the child is in no group for that by now; another tab may have changed the groups",
                "Look at the groups again.",
            )
        moves.append(Move(pupil, gpc, at.slot, at.adult, True))
    return _again(book, week, kept.room, moves)


def _again(book: Book, week: Week, room: Room, moves: Sequence[Move]) -> Response:
    regroup(book, week, room, moves)
    planning.drop_stale(book, week)
    return see(f"/class/groups?week={week}")


def _inside(move: Move, room: Room) -> bool:
    """Whether a move still fits a room that has become smaller."""
    return not move.keep or (move.slot <= room.slots and move.adult <= room.adults)


def _group_named(kept: KeptGroups, text: str) -> Group | None:
    number = number_of(text)
    return next((each for each in kept.groups if each.number == number), None)


def _is_in(kept: KeptGroups, pupil: str, gpc: Gpc) -> bool:
    return any(each.gpc == gpc and pupil in each.pupils for each in kept.groups)


def _week_before(week: Week) -> Week:
    return Week.of(week.monday - timedelta(weeks=1))


def _groups(
    desk: Desk, book: Book, week: Week, made: Sequence[Group], before: Grid, names: dict[str, str]
) -> list[_Group]:
    lists = planning.lists(book, week)
    order = teaching.order(book)
    found = []
    for each in made:
        words = lists.get(each.number)
        members = tuple(
            _Member(
                code, names.get(code, code), _told(before, code, each.gpc), code in each.held,
                code in each.check_first, order.place(each.gpc) or 0,
            )
            for code in each.pupils
        )  # fmt: skip
        found.append(
            _Group(
                each.number, each.slot, each.adult, str(each.gpc), gpc_words(each.gpc),
                _in_words(each.why, (each.gpc,)),
                members, _check_words(desk, book, week, each.gpc),
                words.title if words else "", (words.caption or "") if words else "",
            )
        )  # fmt: skip
    return found


def _check_words(desk: Desk, book: Book, week: Week, gpc: Gpc) -> tuple[str, ...]:
    def make_words() -> tuple[str, ...]:
        taught = planning.taught_by(book, week)
        avoid = [word for each in planning.lists(book, week).values() for word in each.words]
        seed = week.monday.toordinal()
        return words_for(gpc, taught, teaching.order(book), seed=seed, avoid=avoid)

    return desk.kept(book, ("check words", str(week), str(gpc)), make_words)


def _in_words(why: str, gpcs: Sequence[Gpc]) -> str:
    """A reason without phonetic signs."""
    for gpc in gpcs:
        why = why.replace(str(gpc), gpc_words(gpc))
    return why


def _told(before: Grid, code: str, gpc: Gpc) -> str:
    """What the grid says of the child and the GPC, in a few words."""
    try:
        cell = before.cell(code, gpc)
    except KeyError:
        return "nothing heard yet"
    if cell.decided_by == "check" and cell.check is not None:
        return f"you heard {cell.check.as_written} of {cell.check.words}"
    if cell.heard.readings:
        return f"{cell.heard.slipped} slips in {cell.heard.readings} readings"
    return "nothing heard yet"


ROUTES = [
    Route("/class/groups", shown(whole)),
    Route("/class/groups/make", changed(make), methods=["POST"]),
    Route("/class/groups/move", changed(move), methods=["POST"]),
]
