"""The page for a conversation with the SENCo: what was heard, counted, and nothing more."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pdf_reading import about, ink, needs_poppler, text

from companion.phonics.gpc import Gpc, table
from companion.record import codes
from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS
from companion.report.paper import MARGIN, MM
from companion.report.summary import SLIP_KINDS, Summary, SummaryRow
from companion.school.evidence import HeardInClass, KeptSummary
from companion.school.history import Count, history
from companion.school.history_page import history_pdf

ORDER = table().order()
FIRST = date(2025, 9, 1)
CLASS, PIP, OTHER = codes.draw(), codes.draw(), codes.draw()
TAUGHT = {gpc: FIRST + timedelta(days=n) for n, gpc in enumerate(ORDER.gpcs)}
UNTIL = Week.of(FIRST + timedelta(weeks=13))


def row(gpc: str, right: int, slips: dict[str, int] | None = None, unsure: int = 0) -> SummaryRow:
    readings = right + sum((slips or {}).values())
    some = min(readings, 3)
    return SummaryRow(gpc, right, slips or {}, unsure, 0, 0, some, some, some, 0)


def kept(pupil: str, week: int, *rows: SummaryRow, days: int = 4) -> KeptSummary:
    made = datetime(2025, 9, 1, tzinfo=UTC) + timedelta(weeks=week + 1)
    ordered = tuple(sorted(rows, key=lambda each: each.gpc))
    summary = Summary(
        CLASS, pupil, Week.of(FIRST + timedelta(weeks=week)), made, week + 1, (), days,
        {"as_written": 40}, 0, 2, ordered,
    )  # fmt: skip
    return KeptSummary(summary, "sealed", b"k" * 32, made)


def test_the_last_half_term_is_counted_apart_from_the_weeks_before() -> None:
    summaries = [kept(PIP, n, row("i-e /AY/", 3, {"short_for_split": 1})) for n in range(14)]
    found = history(PIP, summaries, [], ORDER, TAUGHT, UNTIL)
    (only,) = found.rows
    assert only.lately == Count(readings=24, as_written=18)
    assert only.before == Count(readings=32, as_written=24)
    assert only.slips == (("short_for_split", 14),)
    assert only.taught == TAUGHT[Gpc.parse("i-e /AY/")]


def test_other_pupils_and_later_weeks_do_not_count() -> None:
    summaries = [kept(OTHER, 0, row("i-e /AY/", 3)), kept(PIP, 20, row("i-e /AY/", 3))]
    checks = [HeardInClass(OTHER, "i-e /AY/", FIRST, 6, 2, "ear")]
    found = history(PIP, summaries, checks, ORDER, TAUGHT, UNTIL)
    assert found.rows == () and found.weeks == ()


def test_rows_stand_in_teaching_order_with_the_latest_check_first() -> None:
    checks = [
        HeardInClass(PIP, "s /S/", FIRST, 6, 4, "ear"),
        HeardInClass(PIP, "s /S/", FIRST + timedelta(days=9), 6, 6, "listener"),
    ]
    summaries = [kept(PIP, 1, row("i-e /AY/", 3), row("igh /AY/", 5))]
    found = history(PIP, summaries, checks, ORDER, TAUGHT, UNTIL)
    assert [str(each.gpc) for each in found.rows] == ["s /S/", "igh /AY/", "i-e /AY/"]
    assert [each.as_written for each in found.rows[0].checks] == [6, 4]


@needs_poppler
def test_the_page_states_counts_and_no_condition_and_keeps_the_name_out_of_the_file() -> None:
    summaries = [
        kept(PIP, 2, row("i-e /AY/", 3, {"short_for_split": 2}, unsure=1)),
        kept(PIP, 13, row("i-e /AY/", 6), row("s /S/", 4)),
    ]
    checks = [HeardInClass(PIP, "i-e /AY/", date(2025, 11, 20), 6, 5, "ear")]
    pdf = history_pdf(history(PIP, summaries, checks, ORDER, TAUGHT, UNTIL), "Tamsin Pellow")
    found = text(pdf)
    body, foot = found.split("Please keep in mind")
    assert f"What was heard: Tamsin Pellow · {PIP}" in body
    assert "2 weeks with a summary, 8 days of practice, 80 words read" in body
    assert re.search(
        r"i-e as in kite .* 3 of 5 6 of 6 1 short vowel read.*: 2 5 of 6, 20 Nov", body
    )
    assert "As written at every reading: s as in sun" in body
    named = r"dyslex|disorder|disab|impair|delay|deficit|autis|ADHD|below|behind|percentile|score"
    assert re.search(named, body, re.IGNORECASE) is None
    assert CAUTIONS[0] in foot
    assert "Pellow" not in str(about(pdf)) and PIP in about(pdf)["Title"]


@needs_poppler
def test_a_child_without_summaries_is_no_gap() -> None:
    found = text(history_pdf(history(PIP, [], [], ORDER, TAUGHT, UNTIL)))
    assert "No summary was handed in. That says nothing about the child." in found


slips = st.dictionaries(st.sampled_from(SLIP_KINDS), st.integers(1, 5), max_size=4)
rows = st.builds(row, st.sampled_from([str(gpc) for gpc in ORDER.gpcs]), st.integers(1, 9), slips,
                 st.integers(0, 4))  # fmt: skip


@needs_poppler
@settings(max_examples=12, deadline=None)
@given(st.lists(st.lists(rows, max_size=60, unique_by=lambda each: each.gpc), max_size=14))
def test_any_history_fits_on_one_page(weeks: list[list[SummaryRow]]) -> None:
    summaries = [kept(PIP, n, *found) for n, found in enumerate(weeks)]
    checks = [HeardInClass(PIP, str(gpc), FIRST, 6, 3, "listener") for gpc in ORDER.gpcs[:20]]
    pdf = history_pdf(history(PIP, summaries, checks, ORDER, TAUGHT, UNTIL), "N" * 60)
    assert about(pdf)["Pages"] == "1"
    edge, found = MARGIN / MM - 0.6, ink(pdf)
    assert found.left >= edge and found.top >= edge
    assert found.right <= 210 - edge and found.bottom <= 297 - edge


@pytest.mark.parametrize("name", [None, "Tamsin"])
def test_the_same_history_gives_the_same_bytes(name: str | None) -> None:
    found = history(PIP, [kept(PIP, 2, row("s /S/", 3))], [], ORDER, TAUGHT, UNTIL)
    assert history_pdf(found, name) == history_pdf(found, name)
