"""A week's groups as the class book keeps them: who is where, why, and what the teacher decided."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from companion.phonics.gpc import Gpc
from companion.record.weeks import Week
from companion.school import teaching
from companion.school.asking import wishes_of
from companion.school.book import Book
from companion.school.faults import damaged
from companion.school.grid import class_grid
from companion.school.groups import Group, Grouping, KeepUp, group
from companion.school.planning import recent, taught_by
from companion.school.teacher_check import words_for
from companion.school.wishes import Move, Room

KEEP_UP = 0
"""``week_place.number`` of the keep-up list."""
FREE, HELD, OUT = range(3)
"""``week_place.locked``: nothing decided, held in the group, kept out of groups for the GPC."""


@dataclass(frozen=True)
class KeptGroups:
    """A week's groups out of the book: as `companion.school.groups.Grouping`, with what made them.

    Attributes
    ----------
    room : Room
        Adults, slots, and groups a child.
    moves : tuple of Move
        The teacher's.
    groups : tuple of Group
        By number.
    keep_up : tuple of KeepUp
        Gaps in no group.
    gap : float
        How far the best grouping can at most be above this one, as a share.
    check_words : dict of int to tuple of str
        Six words for each group's number, to be heard when it has met.
    """

    room: Room
    moves: tuple[Move, ...]
    groups: tuple[Group, ...]
    keep_up: tuple[KeepUp, ...]
    gap: float
    check_words: Mapping[int, tuple[str, ...]]


def regroup(book: Book, week: Week, room: Room, moves: Sequence[Move] = ()) -> Grouping:
    """Form a week's groups from the grid of the week before, and keep them.

    Parameters
    ----------
    book : Book
        Any.
    week : Week
        The week in which the groups meet.
    room : Room
        Adults, slots, and groups a child.
    moves : sequence of Move
        What the teacher has decided; those of pupils no longer in the register are dropped.

    Raises
    ------
    GroupsImpossible
        Nothing is changed then.
    """
    grid = class_grid(book, Week.of(week.monday - timedelta(weeks=1)))
    known = {row.child.code for row in grid.rows}
    own = [move for move in moves if move.pupil in known]
    order = teaching.order(book)
    found = group(wishes_of(grid), order, room, own)
    taught = taught_by(book, week)
    words = {
        each.number: words_for(
            each.gpc, taught, order, seed=week.monday.toordinal(), avoid=recent(book, week)
        )
        for each in found.groups
    }
    save(book, week, found, room, own, words)
    return found


def save(
    book: Book,
    week: Week,
    grouping: Grouping,
    room: Room,
    moves: Sequence[Move] = (),
    words: Mapping[int, tuple[str, ...]] | None = None,
) -> None:
    """Put groups in the place of the week's, all or none of them.

    Parameters
    ----------
    book, week, room, moves
        As in `regroup`.
    grouping : Grouping
        What was formed.
    words : dict of int to tuple of str, optional
        Check words by group.
    """
    out = {(move.pupil, move.gpc) for move in moves if not move.keep}
    about = {"adults": room.adults, "slots": room.slots, "each": room.each, "gap": grouping.gap}
    with book.change() as db:
        db.execute("DELETE FROM week_group WHERE week = ?", (str(week),))
        db.execute("DELETE FROM week_place WHERE week = ?", (str(week),))
        for each in grouping.groups:
            _save_group(
                db, week, each, {**about, "check": list((words or {}).get(each.number, ()))}
            )
        for left in grouping.keep_up:
            detail = json.dumps({"why": left.why})
            _save_place(db, week, left.pupil, KEEP_UP, left.gpc, FREE, detail)
        for pupil, gpc in sorted(out):
            db.execute(
                "INSERT INTO week_place (week, pupil, number, gpc, locked, detail)"
                " VALUES (?, ?, ?, ?, ?, '{}') ON CONFLICT DO UPDATE SET locked = excluded.locked",
                (str(week), pupil, KEEP_UP, str(gpc), OUT),
            )


def load(book: Book, week: Week) -> KeptGroups | None:
    """A week's groups; None where none were formed, or none were possible.

    Raises
    ------
    BookDamaged
        Rows that `save` does not write.
    """
    with book.read() as db:
        groups = db.execute(
            "SELECT number, slot, adult, gpc, detail FROM week_group WHERE week = ?"
            " ORDER BY number", (str(week),),
        ).fetchall()  # fmt: skip
        places = db.execute(
            "SELECT pupil, number, gpc, locked, detail FROM week_place WHERE week = ?"
            " ORDER BY pupil, number, gpc", (str(week),),
        ).fetchall()  # fmt: skip
    if not groups and not places:
        return None
    try:
        return _kept(groups, places)
    except (ValueError, KeyError, TypeError) as error:
        raise damaged(book.path, f"the groups of {week} are not as written ({error})") from error


def _save_group(db: sqlite3.Connection, week: Week, found: Group, about: dict[str, Any]) -> None:
    detail = json.dumps({"why": found.why, **about})
    db.execute(
        "INSERT INTO week_group (week, number, slot, adult, gpc, locked, detail)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            str(week), found.number, found.slot, found.adult, str(found.gpc),
            int(bool(found.held)), detail,
        ),
    )  # fmt: skip
    for pupil in found.pupils:
        locked = HELD if pupil in found.held else FREE
        # a pupil's code stands in the pupil's own row only, so that erasing the row erases it
        check = json.dumps({"check_first": pupil in found.check_first})
        _save_place(db, week, pupil, found.number, found.gpc, locked, check)


def _save_place(
    db: sqlite3.Connection,
    week: Week,
    pupil: str,
    number: int,
    gpc: Gpc,
    locked: int,
    detail: str,
) -> None:
    db.execute(
        "INSERT INTO week_place (week, pupil, number, gpc, locked, detail)"
        " VALUES (?, ?, ?, ?, ?, ?)",
        (str(week), pupil, number, str(gpc), locked, detail),
    )


def _kept(
    groups: Sequence[tuple[int, int, int, str, str]],
    places: Sequence[tuple[str, int, str, int, str]],
) -> KeptGroups:
    found = []
    moves = []
    room, gap = Room(), 0.0
    words = {}
    for number, slot, adult, text, detail in groups:
        about, gpc = json.loads(detail), Gpc.parse(text)
        room, gap = Room(about["adults"], about["slots"], about["each"]), float(about["gap"])
        inside = [(pupil, locked, json.loads(own)) for pupil, at, _, locked, own in places
                  if at == number]  # fmt: skip
        held = tuple(pupil for pupil, locked, _ in inside if locked == HELD)
        moves += [Move(pupil, gpc, slot, adult, True) for pupil in held]
        pupils = tuple(pupil for pupil, _, _ in inside)
        check_first = tuple(pupil for pupil, _, own in inside if own["check_first"])
        words[number] = tuple(str(word) for word in about["check"])
        found.append(Group(number, slot, adult, gpc, pupils, held, check_first, about["why"]))
    moves += [
        Move(pupil, Gpc.parse(gpc), 0, 0, False)
        for pupil, _, gpc, locked, _ in places
        if locked == OUT
    ]
    keep_up = tuple(
        KeepUp(pupil, Gpc.parse(gpc), json.loads(detail)["why"])
        for pupil, at, gpc, _, detail in places
        if at == KEEP_UP and "why" in json.loads(detail)
    )
    return KeptGroups(room, tuple(sorted(moves)), tuple(found), keep_up, gap, words)
