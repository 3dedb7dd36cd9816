"""The documented roll-up of many schools' exports, against the same counts by hand."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from pathlib import Path

import duckdb

from companion.phonics.gpc import Gpc
from companion.record.weeks import Week
from companion.report.summary import SummaryRow
from companion.school import grid_csv
from companion.school.grid import Cell, Child, Column, Grid, GridRow

QUERY = Path(grid_csv.__file__).with_name("trust_roll_up.sql")
WEEK = Week(2026, 48)
AI, AE, IE = (Gpc.parse(text) for text in ("ai /EY/", "a-e /EY/", "i-e /AY/"))
STATE = {"P": "practise", "S": "secure", "?": "not enough listened", "-": "not yet taught"}


def export(folder: Path, class_code: str, states: list[str], week: Week = WEEK) -> None:
    """A class's export; each child is a string of letters, one for each of ai, a-e, i-e."""
    rows = tuple(
        GridRow(Child(f"{class_code}{n}"), None, 0, (), tuple(map(cell, (AI, AE, IE), child)))
        for n, child in enumerate(states)
    )
    columns = tuple(Column(gpc, "", True) for gpc in (AI, AE, IE))
    made = Grid(class_code, week, columns, rows)
    folder.mkdir(exist_ok=True)
    (folder / grid_csv.file_name(made)).write_bytes(grid_csv.to_bytes(made))


def cell(gpc: Gpc, letter: str) -> Cell:
    heard = SummaryRow(str(gpc), 9, {"short_for_split": 3}, 0, 0, 0, 3, 4, 4, 0)
    return Cell(gpc, STATE[letter], STATE[letter], "home", 0.5, heard, None, False)


def roll_up(folder: Path) -> dict[str, tuple[object, ...]]:
    with duckdb.connect() as db:
        db.execute("SET VARIABLE exports = $1", [f"{folder}/*/*.csv"])
        return {str(row[0]): row[1:] for row in db.execute(QUERY.read_text("utf-8")).fetchall()}


def test_the_roll_up_counts_what_the_exports_hold(tmp_path: Path) -> None:
    first = ["PS?", "PS?", "SS?", "SP-", "S??", "SSP"]
    second = ["SP-", "SP-", "PPP", "SSS", "SSS", "PSS", "?PS"]
    export(tmp_path / "north", "AAA", first)
    export(tmp_path / "south", "BBB", second)
    export(tmp_path / "south", "CCC", ["P--"] * 5)
    found = roll_up(tmp_path)
    assert list(found) == ["ai /EY/", "a-e /EY/", "i-e /AY/"]  # in teaching order
    classes = {"ai /EY/": (0, ["P"] * 5), "a-e /EY/": (1, []), "i-e /AY/": (2, [])}
    for gpc, (at, more) in classes.items():
        letters = Counter([child[at] for child in first + second] + more)
        listed, secure, unheard = letters["P"], letters["S"], letters["?"]
        schools, children, stated, practise, _, _, without = found[gpc]
        assert schools == 2
        assert (children, stated) == (listed + secure + unheard, listed + secure)
        assert practise == round(listed / (listed + secure), 4)
        assert without == round(unheard / (listed + secure + unheard), 4)


def test_only_a_classes_last_week_counts(tmp_path: Path) -> None:
    export(tmp_path / "north", "AAA", ["PPP"] * 6, Week.of(WEEK.monday - timedelta(weeks=1)))
    export(tmp_path / "north", "AAA", ["SSS"] * 6)
    assert roll_up(tmp_path)["ai /EY/"][1:4] == (6, 6, 0.0)


def test_shares_of_fewer_than_five_children_stay_empty(tmp_path: Path) -> None:
    export(tmp_path / "north", "AAA", ["P?-"] * 4)
    found = roll_up(tmp_path)
    assert found["ai /EY/"] == (1, 4, 4, None, None, None, None)
    assert "i-e /AY/" not in found


def test_no_pupil_is_in_what_comes_out(tmp_path: Path) -> None:
    export(tmp_path / "north", "AAA", ["PSP"] * 6)
    assert "AAA" not in repr(roll_up(tmp_path))
