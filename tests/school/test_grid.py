"""The grid of a class: its evidence, what is shown of it, what leaves it, and what it asks for."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.phonics.gpc import Gpc, Order, table
from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS
from companion.report.summary import Summary, SummaryRow
from companion.school import grid_csv
from companion.school.asking import asks, wishes_of
from companion.school.evidence import HeardInClass
from companion.school.grid import Child, Class, Grid, counts, grid
from companion.school.grid_json import grid_json
from companion.school.grid_text import evidence_lines, to_text
from companion.school.grid_view import MARKS, changes, filtered, fitting
from companion.school.pooling import added

WEEK = Week(2026, 48)
CODE, ANNA, BEN, CARA = "7K3QFY", "7K3QXX", "CW6F64", "HFC3YD"
ORDER = table().order()
AI, AE, IE, OE, SCHWA = (
    Gpc.parse(text) for text in ("ai /EY/", "a-e /EY/", "i-e /AY/", "o-e /OW/", "er /AH/")
)
SMALL = Order((AI, AE, IE, OE))


def row(
    gpc: Gpc, right: int, slips: int, *, days: int = 4, words: int = 6, overruled: int = 0
) -> SummaryRow:
    read = right + slips
    return SummaryRow(
        str(gpc), right, {"short_for_split": slips} if slips else {}, 1, 0, 0,
        min(days, read), min(words, read), max(words, 6), overruled,
    )  # fmt: skip


def summary(pupil: str, back: int, *rows: SummaryRow, days: int = 4) -> Summary:
    week = Week.of(WEEK.monday - timedelta(weeks=back))
    made = datetime.combine(week.sunday, datetime.min.time(), UTC)
    found = tuple(sorted(rows, key=lambda each: each.gpc))
    return Summary(CODE, pupil, week, made, 1, ("scottish",), days, {}, 0, 0, found)


def heard(pupil: str, gpc: Gpc, right: int, back: int = 0) -> HeardInClass:
    day = WEEK.monday - timedelta(weeks=back)
    return HeardInClass(pupil, str(gpc), day + timedelta(days=4), 6, right, "ear")


def drawn(
    summaries: tuple[Summary, ...] = (),
    checks: tuple[HeardInClass, ...] = (),
    taught: tuple[Gpc, ...] = SMALL.gpcs,
    before: tuple[Gpc, ...] | None = None,
    order: Order = SMALL,
) -> Grid:
    children = (Child(ANNA, "A name"), Child(BEN), Child(CARA))
    known = frozenset(taught)
    last = known if before is None else frozenset(before)
    return grid(Class(CODE, children, order, known, last), summaries, checks, WEEK)


def test_a_class_has_a_row_for_each_child_and_a_column_up_to_the_last_gpc_taught() -> None:
    found = drawn(taught=(AI, IE))
    assert [each.child.code for each in found.rows] == [ANNA, BEN, CARA]
    assert [(column.gpc, column.taught) for column in found.columns] == [
        (AI, True), (AE, False), (IE, True),
    ]  # fmt: skip
    assert [cell.state for cell in found.rows[0].cells] == [
        "not enough listened", "not yet taught", "not enough listened",
    ]  # fmt: skip


def test_four_states_of_one_child() -> None:
    found = drawn(
        (summary(ANNA, 0, row(AI, 20, 0), row(AE, 3, 9), row(IE, 4, 1)),), taught=(AI, AE, IE)
    )
    cells = {cell.gpc: cell for cell in found.rows[0].cells}
    assert [cells[gpc].state for gpc in (AI, AE, IE)] == [
        "secure", "practise", "not enough listened",
    ]  # fmt: skip
    assert cells[AE].heard.readings == 12
    assert cells[AE].heard.slips == {"short_for_split": 9}
    assert cells[AE].decided_by == "home"
    assert counts(found.rows[1].cells) == {
        "practise": 0, "not enough listened": 3, "secure": 0, "not yet taught": 0,
    }  # fmt: skip


def test_several_weeks_are_evidence_together_and_older_than_six_none() -> None:
    weeks = [summary(ANNA, back, row(IE, 4, 2, days=1, words=2)) for back in range(3)]
    together = drawn(tuple(weeks)).cell(ANNA, IE)
    assert together.heard.readings == 18
    assert together.heard.days == 3
    assert together.heard.words == 6  # words_lately counts six different ones in these weeks
    assert together.state == "not enough listened"  # 6 slips of 18, and half of them old
    old = drawn((summary(ANNA, 6, row(IE, 0, 30)),)).cell(ANNA, IE)
    assert (old.state, old.decided_by, old.heard.readings) == ("not enough listened", "nothing", 0)
    assert drawn((summary(ANNA, -1, row(IE, 0, 30)),)).cell(ANNA, IE).decided_by == "nothing"


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9), st.integers(1, 9)), max_size=6))
@settings(max_examples=50)
def test_added_weeks_hold_no_more_different_words_than_were_proved(
    weeks: list[tuple[int, int, int]],
) -> None:
    rows = [
        (age, SummaryRow(str(IE), right, {}, 0, 0, 0, min(right, 3), min(words, right), lately, 0))
        for age, (right, words, lately) in enumerate(weeks)
    ]
    total = added(rows)
    assert total.readings == sum(right for right, *_ in weeks)
    in_weeks = [each.words for _, each in rows]
    assert max(in_weeks, default=0) <= total.words <= sum(in_weeks)


def test_days_practised_say_nothing_where_no_summary_came() -> None:
    found = drawn((summary(ANNA, 0, row(AI, 9, 0), days=5), summary(BEN, 1, row(AI, 9, 0))))
    assert [(each.days, each.weeks) for each in found.rows] == [(5, 1), (None, 1), (None, 0)]
    assert found.rows[0].accents == ("scottish",)
    assert {cell.state for cell in found.rows[2].cells} == {"not enough listened"}
    text = " ".join(to_text(found).split())
    assert "which is no gap of the child's" in text


def test_a_check_of_the_teachers_outranks_home() -> None:
    home = (summary(ANNA, 0, row(IE, 20, 0)),)
    found = drawn(home, (heard(ANNA, IE, 2),)).cell(ANNA, IE)
    assert (found.state, found.decided_by) == ("practise", "check")
    later = (summary(ANNA, 0, row(IE, 20, 0)),)
    assert drawn(later, (heard(ANNA, IE, 2, back=1),)).cell(ANNA, IE).contradicted
    last = drawn((), (heard(ANNA, IE, 0, back=1), heard(ANNA, IE, 6))).cell(ANNA, IE)
    assert last.state == "secure"  # the later check counts


def test_what_is_new_since_last_week_is_told_and_fading_is_not() -> None:
    found = drawn(
        (
            summary(ANNA, 0, row(IE, 2, 10)),
            summary(BEN, 1, row(AE, 8, 0)),
            summary(CARA, 0, row(AI, 20, 0)),
            summary(CARA, 1, row(AI, 20, 0)),
        )
    )
    told = [(each.pupil, each.gpc, each.before, each.now) for each in changes(found)]
    assert told == [(ANNA, IE, "not enough listened", "practise")]
    assert found.cell(CARA, AI).state == found.cell(CARA, AI).before == "secure"


def test_another_classes_summaries_are_passed_over() -> None:
    other = replace(summary(ANNA, 0, row(IE, 2, 10)), class_code=CARA)
    assert drawn((other,)).cell(ANNA, IE).decided_by == "nothing"


FULL = (
    summary(ANNA, 0, row(AI, 20, 0), row(AE, 3, 9, overruled=2), row(IE, 4, 4)),
    summary(BEN, 0, row(AI, 20, 0), row(IE, 0, 12)),
)


def test_filters_leave_what_is_asked_for() -> None:
    found = drawn(FULL)
    one = filtered(found, pupils=[BEN], gpcs=[IE])
    assert [each.child.code for each in one.rows] == [BEN]
    assert [column.gpc for column in one.columns] == [IE]
    assert one.left_out == (AI, AE, OE)
    needy = filtered(found, states=["practise"])
    assert [each.child.code for each in needy.rows] == [ANNA, BEN]
    assert [column.gpc for column in needy.columns] == [AE, IE]
    new = filtered(found, changed=True)
    assert [column.gpc for column in new.columns] == [AI, AE, IE]
    assert [len(each.cells) for each in needy.rows] == [2, 2]


def test_a_sheet_keeps_the_most_telling_columns_in_teaching_order() -> None:
    found = drawn(FULL)
    assert [column.gpc for column in fitting(found).columns] == [AI, AE, IE, OE]
    assert [column.gpc for column in fitting(found, 2).columns] == [AE, IE]
    assert fitting(found, 2).left_out == (AI, OE)
    long = drawn(FULL, taught=ORDER.gpcs[:92], order=ORDER)
    kept = [column.gpc for column in fitting(long, 40).columns]
    assert kept == [AI, AE, IE, *ORDER.gpcs[89:92]]


def test_each_state_has_a_shape_and_a_letter_of_its_own() -> None:
    assert len({mark.symbol for mark in MARKS.values()}) == 4
    assert len({mark.letter for mark in MARKS.values()}) == 4
    assert all(mark.letter.isascii() for mark in MARKS.values())


@pytest.mark.parametrize("width", [40, 80, 132])
def test_the_text_fits_the_terminal_and_shows_every_cell(width: int) -> None:
    long = drawn(FULL, taught=ORDER.gpcs[:92], order=ORDER)
    text = to_text(long, width)
    assert max(map(len, text.splitlines())) <= width
    assert text.count("■") == 2 + 1  # two cells, and the key
    for caution in CAUTIONS:
        assert caution.split()[0] in text
    plain = to_text(long, width, symbols=False)
    assert "■" not in plain
    assert plain.replace("·", "").isascii()
    assert "A name" not in text


def test_evidence_is_told_in_full() -> None:
    found = drawn(FULL, (heard(ANNA, AE, 2),))
    lines = evidence_lines(found.cell(ANNA, AE), found.rows[0].accents)
    assert lines == (
        "You heard 2 of 6 as written by ear on 27 November.",
        "At home in six weeks: 12 readings on 4 days in 6 words, 3 as written, 9 slips.",
        "short vowel read, as if the e were not there (pin for pine): 9 times",
        "The listener could not tell 1 time.",
        "An adult at home had the last word 2 times.",
        "Accent chosen at home: scottish.",
    )
    nothing = evidence_lines(found.cell(CARA, AE))
    assert nothing == ("Nothing read at home in six weeks, which says nothing of the child.",)


def test_the_csv_holds_codes_and_counts_and_opens_as_it_was_meant() -> None:
    data = grid_csv.to_bytes(drawn(FULL, (heard(ANNA, AE, 2),), taught=(AI, AE, IE)))
    assert data.startswith(b"\xef\xbb\xbf")
    assert data.count(b"\r\n") == data.count(b"\n")
    records = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    assert len(records) == 9
    assert tuple(records[0]) == grid_csv.COLUMNS
    cell = next(each for each in records if each["pupil_code"] == ANNA and each["gpc"] == str(AE))
    assert (cell["state"], cell["decided_by"], cell["slips"]) == ("practise", "check", "9")
    assert (cell["week_start"], cell["check_day"]) == ("2026-11-23", "2026-11-27")
    assert cell["check_as_written"] == "2"
    quiet = [each for each in records if each["pupil_code"] == CARA]
    assert {each["days_practised"] for each in quiet} == {""}
    assert b"A name" not in data
    for line in data.decode("utf-8-sig").splitlines():
        assert not any(
            field.strip('"')[:1] in "=+-@" for field in line.split(",") if field.strip('"')
        )


def test_json_holds_every_cell_and_no_name() -> None:
    record = json.loads(json.dumps(grid_json(drawn(FULL), asks(drawn(FULL)))))
    assert [each["pupil"] for each in record["rows"]] == [ANNA, BEN, CARA]
    assert [each["state"] for each in record["rows"][1]["cells"]] == [
        "secure", "not enough listened", "practise", "not enough listened",
    ]  # fmt: skip
    assert record["rows"][2]["days"] is None
    assert record["cautions"] == list(CAUTIONS)
    assert "A name" not in json.dumps(record)
    assert "need" not in record["rows"][0]["cells"][0]  # no score leaves


def test_what_is_listed_wishes_for_a_group_and_what_is_likely_weighs_less() -> None:
    found = {(each.pupil, each.gpc): each for each in wishes_of(drawn(FULL))}
    assert set(found) == {(ANNA, AE), (BEN, IE), (ANNA, IE)}
    assert found[ANNA, AE].sure
    assert found[BEN, IE].sure
    assert not found[ANNA, IE].sure
    assert found[ANNA, IE].weight < 0.5 < found[BEN, IE].weight


def test_checks_are_asked_for_by_turns_and_of_children_nothing_came_of() -> None:
    found = asks(drawn(FULL))
    assert (found[0].pupil, found[0].gpc) == (ANNA, IE)
    assert "4 slips at home in 8 readings" in found[0].why
    assert found[1].pupil == CARA
    assert "nothing has come from home" in found[1].why
    assert sum(each.pupil == CARA for each in found) == 2  # no more than two of a child
    assert len(asks(drawn(FULL), most=1)) == 1
    done = asks(drawn(FULL, (heard(ANNA, IE, 6),)))
    assert (ANNA, IE) not in {(each.pupil, each.gpc) for each in done}


def test_a_class_without_children_or_gpcs_is_a_grid_too() -> None:
    empty = grid(Class(CODE, (), SMALL, frozenset(), frozenset()), (), (), WEEK)
    assert (empty.rows, empty.columns) == ((), ())
    assert to_text(empty)
    assert asks(empty) == ()
    assert date.fromisoformat(grid_json(empty)["first_day"]) == WEEK.monday
