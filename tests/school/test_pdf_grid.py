"""The printed grid: one page, black and white, every mark told apart and every code in its row."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pdf_reading import (
    DOTS_PER_INCH,
    about,
    coloured,
    fonts,
    ink,
    needs_poppler,
    pages,
    picture,
    text,
)

from companion.phonics.gpc import table
from companion.record import codes
from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS
from companion.report.paper import MARGIN, MM
from companion.report.summary import SummaryRow
from companion.report.week import STATES
from companion.school.grid import Cell, Child, Column, Grid, GridRow
from companion.school.grid_page import ROWS_A_PAGE, UPRIGHT, grid_pdf
from companion.school.grid_view import MARKS

pytestmark = needs_poppler

WEEK = Week.of(date(2025, 12, 1))
GPCS = table().order().gpcs
NOTHING = SummaryRow("", 0, {}, 0, 0, 0, 0, 0, 0, 0)
CODES = [codes.draw() for _ in range(60)]


def cell(column: int, state: str, before: str | None = None, decided: str = "home") -> Cell:
    return Cell(GPCS[column], state, before or state, decided, 0.5, NOTHING, None, False)


def grid(states: list[list[str]], days: int | None = 3) -> Grid:
    """A grid of those states, row by row; names are given, so that printing one would show."""
    columns = tuple(Column(GPCS[n], "sun", True) for n in range(len(states[0])))
    rows = tuple(
        GridRow(
            Child(CODES[n], "Merryn"), days, 3, (),
            tuple(cell(place, state) for place, state in enumerate(row)),
        )
        for n, row in enumerate(states)
    )  # fmt: skip
    return Grid("G4DF6D", WEEK, columns, rows)


def test_each_row_has_its_code_its_days_and_a_letter_for_each_mark() -> None:
    pdf = grid_pdf(grid([list(STATES), list(reversed(STATES))]))
    found = text(pdf)
    letters = [MARKS[state].letter for state in STATES]
    assert f"{CODES[0]} 3 {' '.join(letters)}" in found
    assert f"{CODES[1]} 3 {' '.join(reversed(letters))}" in found
    assert all(MARKS[state].meaning in found for state in STATES)
    assert CAUTIONS[0] in found and "Merryn" not in found
    assert all(fonts(pdf).values())


def test_a_home_without_a_summary_is_shown_by_a_dash_and_no_nought() -> None:
    found = text(grid_pdf(grid([["secure"]], days=None)))
    assert f"{CODES[0]} – S" in found
    assert "where no summary came, which says nothing of the child" in found


def test_the_four_marks_differ_in_shape() -> None:
    """Four sheets that differ in one cell only, laid over one another."""
    sheets = [picture(grid_pdf(grid([[state]])), dots_per_inch=150) < 140 for state in STATES]
    for one in range(4):
        for other in range(one):
            assert np.logical_xor(sheets[one], sheets[other]).sum() > 10, (one, other)


def test_marks_and_codes_are_told_without_colour() -> None:
    """Below the heading's rule nothing has a colour to speak of: ink, grey and white."""
    sheet = coloured(grid_pdf(grid([list(STATES)] * 3))).astype(int)
    body = sheet[int(40 / 25.4 * DOTS_PER_INCH) :]
    assert (body.max(axis=2) - body.min(axis=2)).max() < 48
    assert sheet.max(axis=2).min() < 80


@pytest.mark.parametrize(
    ("rows", "expected"), [(1, 1), (30, 1), (ROWS_A_PAGE, 1), (ROWS_A_PAGE + 1, 2)]
)
def test_a_class_fits_on_one_page(rows: int, expected: int) -> None:
    pdf = grid_pdf(grid([["secure", "practise"]] * rows))
    assert about(pdf)["Pages"] == str(expected)
    assert sum(page.count(" 3 S P") for page in pages(pdf)) == rows


def test_many_columns_turn_the_page_and_what_is_left_out_is_named() -> None:
    upright = about(grid_pdf(grid([["practise"] * UPRIGHT])))["Page size"]
    turned = about(grid_pdf(grid([["practise"] * (UPRIGHT + 1)])))["Page size"]
    assert upright.startswith("595") and turned.startswith("841")
    found = text(grid_pdf(grid([["practise"] * 39 + ["secure"] * 4])))
    assert "Not on this page (not taught, not read, or secure for all):" in found


def test_nobody_and_nothing_are_told_in_words() -> None:
    nobody = Grid("G4DF6D", WEEK, (Column(GPCS[0], "sun", True),), ())
    assert "nobody is in the register" in text(grid_pdf(nobody))
    nothing = Grid("G4DF6D", WEEK, (), (GridRow(Child(CODES[0]), None, 0, (), ()),))
    assert "nothing is marked as taught" in text(grid_pdf(nothing))


@settings(max_examples=8, deadline=None)
@given(st.integers(1, 36), st.integers(1, 80), st.randoms(use_true_random=False))
def test_no_grid_runs_over_the_margin(rows: int, columns: int, chance: object) -> None:
    pick = chance.choice  # type: ignore[attr-defined]
    pdf = grid_pdf(grid([[pick(STATES) for _ in range(columns)] for _ in range(rows)]))
    wide, high = (210, 297) if "595" in about(pdf)["Page size"][:4] else (297, 210)
    edge, found = MARGIN / MM - 0.6, ink(pdf)
    assert about(pdf)["Pages"] == "1"
    assert found.left >= edge and found.top >= edge
    assert found.right <= wide - edge and found.bottom <= high - edge
