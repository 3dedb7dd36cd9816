"""The grid and the week's groups as what ``json.dumps`` takes, cautions included."""

from __future__ import annotations

from typing import Any

from companion.report.cautions import CAUTIONS
from companion.school.asking import Ask
from companion.school.grid import Cell, Grid, counts
from companion.school.grid_view import changes
from companion.school.groups_kept import KeptGroups

FORMAT = 1


def grid_json(grid: Grid, asked: tuple[Ask, ...] = ()) -> dict[str, Any]:
    """A grid, with the checks it asks for; codes only, whether names are known or not."""
    return {
        "format": FORMAT,
        "class_code": grid.class_code,
        "week": str(grid.week),
        "first_day": grid.week.monday.isoformat(),
        "last_day": grid.week.sunday.isoformat(),
        "columns": [
            {"gpc": str(column.gpc), "exemplar": column.exemplar, "taught": column.taught}
            for column in grid.columns
        ],
        "rows": [
            {
                "pupil": row.child.code,
                "days": row.days,
                "weeks_handed_in": row.weeks,
                "accents": list(row.accents),
                "cells": [_cell(cell) for cell in row.cells],
            }
            for row in grid.rows
        ],
        "states": dict(counts([cell for row in grid.rows for cell in row.cells])),
        "changes": [
            {"pupil": each.pupil, "gpc": str(each.gpc), "before": each.before, "now": each.now}
            for each in changes(grid)
        ],
        "asks": [{"pupil": ask.pupil, "gpc": str(ask.gpc), "why": ask.why} for ask in asked],
        "left_out": [str(gpc) for gpc in grid.left_out],
        "cautions": list(CAUTIONS),
    }


def groups_json(week: str, kept: KeptGroups) -> dict[str, Any]:
    """A week's groups, the keep-up list and the teacher's moves."""
    room = kept.room
    return {
        "format": FORMAT,
        "week": week,
        "room": {"adults": room.adults, "slots": room.slots, "each": room.each},
        "gap": kept.gap,
        "groups": [
            {
                "number": group.number,
                "slot": group.slot,
                "adult": group.adult,
                "gpc": str(group.gpc),
                "pupils": list(group.pupils),
                "held": list(group.held),
                "check_first": list(group.check_first),
                "why": group.why,
                "check_words": list(kept.check_words.get(group.number, ())),
            }
            for group in kept.groups
        ],
        "keep_up": [
            {"pupil": left.pupil, "gpc": str(left.gpc), "why": left.why} for left in kept.keep_up
        ],
        "moves": [
            {"pupil": move.pupil, "gpc": str(move.gpc), "slot": move.slot, "adult": move.adult,
             "keep": move.keep}
            for move in kept.moves
        ],
        "cautions": list(CAUTIONS),
    }  # fmt: skip


def _cell(cell: Cell) -> dict[str, Any]:
    heard, check = cell.heard, cell.check
    return {
        "gpc": str(cell.gpc),
        "state": cell.state,
        "before": cell.before,
        "decided_by": cell.decided_by,
        "contradicted": cell.contradicted,
        "readings": heard.readings,
        "as_written": heard.as_written,
        "slips": dict(heard.slips),
        "could_not_tell": heard.could_not_tell,
        "days": heard.days,
        "words": heard.words,
        "overruled": heard.overruled,
        "check": None
        if check is None
        else {
            "day": check.day.isoformat(),
            "words": check.words,
            "as_written": check.as_written,
            "how": check.how,
        },
    }
