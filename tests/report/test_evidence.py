"""Pictures show each reading once, and say in words what they show."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.record.tally import tally
from companion.record.turns import OVERRULES, KeptTurn, Try, Turn
from companion.record.weeks import Week
from companion.report.evidence import (
    DayMarks,
    by_gpc,
    counts_picture,
    days_picture,
    gpc_picture,
    grapheme_picture,
    readings_picture,
    strip_picture,
    weeks_picture,
)
from companion.report.picture import Picture, Shape, to_svg
from companion.report.trend import GpcPoint, WeekPoint

WEEK = Week(2026, 48)
GPCS = ("p /P/", "i-e /AY/", "n /N/")
MARKS = ("as_written", "slip", "unsure")


def kept(number: int, verdict: str, day: int = 0, overrule: str | None = None) -> KeptTurn:
    slip, gpc = ("short_for_split", "i-e /AY/") if verdict == "slip" else (None, None)
    evidence = {"as_written": GPCS, "slip": ("i-e /AY/",)}.get(verdict, ())
    last = Try(verdict, slip, gpc, "", None, None, {}, {}, 1.0, evidence)
    at = datetime(2026, 11, 23, 16, 30, tzinfo=UTC) + timedelta(days=day)
    return KeptTurn(number, 1, at, at.date(), Turn("pine", GPCS, (last,), overrule))


def shapes(picture: Picture, *kinds: str) -> list[Shape]:
    return [shape for shape in picture.shapes if shape.kind in kinds]


def inside(picture: Picture) -> bool:
    return all(
        -0.01 <= shape.x <= picture.width + 0.01 and -0.01 <= shape.y <= picture.height + 0.01
        for shape in picture.shapes
    )


VERDICTS = ("as_written", "slip", "other_word", "sounded_out", "silent", "unsure")
TURNS = st.lists(
    st.builds(
        kept,
        st.integers(1, 999),
        st.sampled_from(VERDICTS),
        st.integers(0, 6),
        st.sampled_from((None, None, *OVERRULES)),
    ),
    max_size=60,
)


@given(TURNS)
def test_the_dots_are_the_readings_that_are_counted(turns: list[KeptTurn]) -> None:
    marks = by_gpc(turns)
    for count in tally(turns).gpcs:
        mine = [mark for day in marks.get(count.gpc, ()) for mark in day.marks]
        assert mine.count("as_written") == count.as_written
        assert mine.count("slip") == count.slipped
        assert mine.count("unsure") == count.could_not_tell


@given(st.lists(st.lists(st.sampled_from(MARKS), max_size=12), min_size=7, max_size=7))
def test_up_to_twelve_readings_a_day_each_have_their_dot(days: list[list[str]]) -> None:
    given_days = [
        DayMarks(WEEK.monday + timedelta(days=n), tuple(marks))
        for n, marks in enumerate(days)
        if marks
    ]
    picture = readings_picture(WEEK, given_days)
    for mark, kind in zip(MARKS, ("full", "ring", "query"), strict=True):
        assert len(shapes(picture, kind)) == sum(day.count(mark) for day in days)
    dots = shapes(picture, "full", "ring", "query")
    assert len({(dot.x, dot.y) for dot in dots}) == len(dots), "no dot lies on another"
    assert inside(picture)


def test_more_than_fit_are_counted_beside_the_dots() -> None:
    picture = readings_picture(WEEK, [DayMarks(WEEK.monday, ("as_written",) * 40)])
    assert len(shapes(picture, "full")) == 11
    assert "+29" in [shape.text for shape in picture.shapes]
    assert picture.says == "Monday: 40 as written."


def test_a_picture_says_what_it_shows() -> None:
    picture = readings_picture(
        WEEK,
        [
            DayMarks(WEEK.monday, ("as_written", "slip", "as_written")),
            DayMarks(WEEK.sunday, ("unsure",)),
        ],
    )
    assert picture.says == "Monday: 2 as written, 1 with a slip; Sunday: 1 could not tell."
    assert counts_picture(5, 2, 0).says == "5 as written, 2 with a slip."
    days = days_picture(WEEK, [WEEK.monday, WEEK.monday + timedelta(days=3)])
    assert days.says == "Days: Monday, Thursday."
    assert len(shapes(days, "full")) == 2 and len(shapes(days, "line")) == 5


def test_counts_alone_are_shown_without_days() -> None:
    picture = counts_picture(30, 3, 2)
    assert [len(shapes(picture, kind)) for kind in ("full", "ring", "query")] == [30, 3, 2]
    assert inside(picture)
    assert "and 40 more" in [shape.text for shape in counts_picture(100, 0, 0).shapes]


def test_bars_are_as_high_as_their_numbers() -> None:
    points = [GpcPoint(WEEK, right, read) for right, read in ((4, 8), (0, 0), (16, 16))]
    bars = shapes(gpc_picture(points), "bar", "open bar")
    assert [round(bar.height) for bar in bars] == [14, 14, 56]
    assert [bar.kind for bar in bars] == ["bar", "open bar", "bar"]
    weeks = weeks_picture([WeekPoint(WEEK, 20, 2), WeekPoint(WEEK, 40, 3)])
    assert [round(bar.height) for bar in shapes(weeks, "bar")] == [28, 56]
    assert weeks.says == ("week of 23 Nov: 20 words on 2 days; week of 23 Nov: 40 words on 3 days.")
    assert inside(weeks)


def test_the_letters_of_a_split_digraph_are_joined_by_a_line_and_others_are_not() -> None:
    assert [shape.kind for shape in grapheme_picture("i-e").shapes] == [
        "strong label", "strong label", "tie",
    ]  # fmt: skip
    assert [shape.text for shape in grapheme_picture("igh").shapes] == ["igh"]


@pytest.mark.parametrize(
    "picture",
    [
        readings_picture(WEEK, [DayMarks(date(2026, 11, 24), MARKS)]),
        grapheme_picture("a-e"),
        gpc_picture([GpcPoint(WEEK, 1, 2)]),
        Picture(10, 10, (Shape("label", 1, 1, height=5, text='<b>"&'),), '<script>"&'),
    ],
)
def test_svg_is_well_formed_and_carries_no_style_or_script(picture: Picture) -> None:
    root = ElementTree.fromstring(to_svg(picture))
    assert root.tag == "svg"
    assert len(list(root)) == len(picture.shapes)
    names = {name for element in root.iter() for name in element.attrib}
    assert "style" not in names and not any(name.startswith("on") for name in names)
    if picture.says:
        assert (root.get("role"), root.get("aria-label")) == ("img", picture.says)
    else:
        assert root.get("aria-hidden") == "true"


@given(st.integers(0, 200), st.integers(0, 200), st.integers(0, 200))
def test_a_strip_shows_each_reading_or_else_their_shares(
    right: int, slips: int, unsure: int
) -> None:
    picture = strip_picture(right, slips, unsure)
    shown = [len(shapes(picture, kind)) for kind in ("full", "ring", "query")]
    total = right + slips + unsure
    if total <= 12:
        assert shown == [right, slips, unsure]
    else:
        assert sum(shown) == 12
        for marks, count in zip(shown, (right, slips, unsure), strict=True):
            assert (marks == 0) == (count == 0), "what was there is never left out"
            assert abs(marks - 12 * count / total) < 2
    assert inside(picture) and picture.says == ""
