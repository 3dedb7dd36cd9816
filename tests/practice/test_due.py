"""When a sound comes back, worked by hand, and as properties of any history."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kept_turns import kept

from companion.practice import due
from companion.practice.due import WAITS_DAYS, Standing, gpc_standings, word_standings
from companion.record.turns import KeptTurn
from companion.report import week

MONDAY = date(2027, 1, 4)
I_E = "i-e /AY/"


def on(day: int) -> date:
    return MONDAY + timedelta(days=day)


def standing(*turns: KeptTurn, day: int) -> Standing:
    return gpc_standings(turns, on(day))[I_E]


def test_clean_returns_when_due_come_after_1_2_4_7_and_14_days() -> None:
    # Read first on day 0; returns on days 1, 3, 7, 14 and 28, each on the very day it is due.
    turns: list[KeptTurn] = []
    for number, day in enumerate((0, 1, 3, 7, 14, 28, 42)):
        turns.append(kept("pine", on(day)))
        expected = (1, 3, 7, 14, 28, 42, 56)[number]
        assert standing(*turns, day=day).due == on(expected)


def test_a_reading_before_it_is_due_earns_nothing_and_costs_nothing() -> None:
    # Day 0, then day 1 (due: next on 3), then day 2, which is early: still due on day 3.
    found = standing(*(kept("pine", on(day)) for day in (0, 1, 2)), day=2)
    assert (found.step, found.due) == (1, on(3))


def test_a_slip_brings_it_back_the_next_day_whatever_it_had_earned() -> None:
    turns = [kept("pine", on(day)) for day in (0, 1, 3, 7)]
    assert standing(*turns, day=7).due == on(14)
    slipped = standing(*turns, kept("kite", on(8), "slip", I_E), day=8)
    assert (slipped.step, slipped.due, slipped.live) == (0, on(9), ("short_for_split",))


def test_a_slip_put_right_at_the_second_try_still_brings_it_back_the_next_day() -> None:
    found = standing(kept("pine", on(0), "slip", I_E, put_right=True), day=0)
    assert (found.due, found.live) == (on(1), ("short_for_split",))
    assert found.week.readings == 1


def test_a_slip_is_live_until_two_days_were_clean() -> None:
    slip = kept("pine", on(0), "slip", I_E)
    assert standing(slip, kept("kite", on(1)), day=1).live == ("short_for_split",)
    assert standing(slip, kept("kite", on(1)), kept("ride", on(1)), day=1).live != ()
    assert standing(slip, kept("kite", on(1)), kept("ride", on(2)), day=2).live == ()


def test_the_newest_kind_of_slip_stands_first() -> None:
    found = standing(
        kept("pine", on(0), "slip", I_E, "short_for_split"),
        kept("kite", on(1), "slip", I_E, "e_sounded"),
        day=1,
    )
    assert found.live == ("e_sounded", "short_for_split")


def test_what_the_adult_said_counts_and_what_was_left_out_does_not() -> None:
    slip = kept("pine", on(0), "slip", I_E, overrule="as_written")
    assert standing(slip, day=0).live == ()
    assert gpc_standings([kept("pine", on(0), overrule="skip")], on(0)) == {}
    assert gpc_standings([kept("pine", on(0), "unsure")], on(0)) == {}


def test_evidence_is_counted_from_the_monday_of_the_week() -> None:
    turns = [
        kept("pine", on(-1)),  # Sunday of the week before
        kept("pine", on(0)),
        kept("pine", on(1)),
        kept("kite", on(1), "slip", I_E),
    ]
    found = standing(*turns, day=2)
    assert (found.week.readings, found.week.days, found.week.words) == (3, 2, 2)
    assert standing(*turns, day=7).week.readings == 0


def test_a_sound_is_shown_once_a_week_had_eight_readings_on_three_days_in_four_words() -> None:
    words = ("pine", "kite", "ride", "time")
    turns = [kept(word, on(day)) for day in (0, 1, 2) for word in words]
    assert standing(*turns[:7], day=6).shown is False
    assert standing(*turns, day=2).shown is True
    assert standing(*turns, day=20).shown is True  # in a week that has passed
    one_word = [kept("pine", on(day)) for day in (0, 1, 2) for _ in range(4)]
    assert standing(*one_word, day=2).shown is False


def test_what_a_week_needs_is_what_the_week_sheet_needs() -> None:
    assert due.READINGS_WANTED == week.READINGS_MIN
    assert due.DAYS_WANTED == week.DAYS_MIN
    assert due.WORDS_WANTED == week.WORDS_MIN


def test_an_exception_word_comes_back_by_the_same_waits() -> None:
    turns = [kept("said", on(0)), kept("Said", on(1)), kept("was", on(1), "other_word")]
    found = word_standings(turns, frozenset({"said", "was", "one"}), on(1))
    assert found["said"].due == on(3)
    assert found["was"].due == on(2) and found["was"].live
    assert "one" not in found


VERDICTS = st.sampled_from(["as_written", "slip", "unsure", "other_word"])


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 40), VERDICTS), max_size=30))
def test_it_is_due_within_a_fortnight_and_sooner_after_a_slip(
    readings: list[tuple[int, str]],
) -> None:
    readings.sort(key=lambda each: each[0])
    turns = [
        kept("pine", on(day), verdict, I_E if verdict == "slip" else None)
        for day, verdict in readings
    ]
    found = gpc_standings(turns, on(40)).get(I_E)
    heard = [(day, verdict) for day, verdict in readings if verdict in ("as_written", "slip")]
    if not heard:
        assert found is None
        return
    assert found is not None
    last = heard[-1][0]
    assert on(0) < found.due <= on(last) + timedelta(days=WAITS_DAYS[-1])
    if any(day == last and verdict == "slip" for day, verdict in heard):
        assert found.due == on(last + 1)
        assert found.live and found.step == 0
    assert found.slips <= len(found.lately) <= due.LATELY


@pytest.mark.parametrize("later", [1, 5])
def test_turns_after_the_day_are_left_out(later: int) -> None:
    turns = [kept("pine", on(0)), kept("pine", on(later), "slip", I_E)]
    assert standing(*turns, day=0).live == ()
