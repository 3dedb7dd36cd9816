"""What may be said of a cell: the minimum, the teacher's word, fading, and agreement with home."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.record.tally import GpcCount
from companion.report import week as week_sheet
from companion.report.week import STATES
from companion.school import rates
from companion.school.states import (
    CHECK_STANDS,
    KEEP,
    PRACTISE,
    SECURE,
    UNHEARD,
    UNTAUGHT,
    WINDOW,
    Checks,
    Judged,
    Pool,
    Rule,
    judge,
)

RULE = Rule(rates.listener(), rates.ear())


def pool(right: float, slips: float, days: int = 5, words: int = 6, age: int = 0) -> Pool:
    weight = KEEP**age
    whole = np.array([int(right + slips)]), np.array([int(slips)])
    return Pool(
        np.array([right * weight]), np.array([slips * weight]), *whole, np.array([days]),
        np.array([words]),
    )  # fmt: skip


NOTHING = pool(0, 0, 0, 0)


def check(words: int = 0, slips: int = 0, age: int = 0, by_ear: bool = True) -> Checks:
    return Checks(np.array([words]), np.array([slips]), np.array([by_ear]), np.array([age]))


def judged(
    home: Pool, checks: Checks | None = None, since: Pool | None = None, taught: bool = True
) -> Judged:
    return judge(
        home, home if since is None else since, checks or check(), np.array([taught]), RULE
    )


def state(
    home: Pool, checks: Checks | None = None, since: Pool | None = None, taught: bool = True
) -> int:
    return int(judged(home, checks, since, taught).state[0])


@pytest.mark.parametrize(
    ("right", "slips", "days", "words", "expected"),
    [
        (2, 8, 3, 4, PRACTISE),
        (0, 8, 3, 4, PRACTISE),
        (0, 7, 3, 4, UNHEARD),  # 7 readings
        (2, 8, 2, 4, UNHEARD),  # 2 days
        (2, 8, 3, 3, UNHEARD),  # 3 words
        (7, 3, 3, 4, UNHEARD),  # 3 slips of 10: may be, may not
        (14, 3, 4, 9, UNHEARD),
        (8, 0, 3, 4, SECURE),
        (7, 0, 3, 4, UNHEARD),
        (8, 0, 2, 4, UNHEARD),
        (8, 0, 3, 3, UNHEARD),
        (30, 1, 5, 9, SECURE),
        (0, 0, 0, 0, UNHEARD),
    ],
)
def test_home_alone_needs_its_evidence(
    right: int, slips: int, days: int, words: int, expected: int
) -> None:
    assert state(pool(right, slips, days, words)) == expected


def test_what_is_not_taught_has_no_state_however_well_or_badly_read() -> None:
    for home in (pool(20, 0), pool(0, 20), NOTHING):
        assert state(home, taught=False) == UNTAUGHT
    assert state(NOTHING, check(6, 6), taught=False) == UNTAUGHT


@given(st.integers(0, 40), st.integers(0, 40), st.integers(0, 7), st.integers(0, 20))
@settings(max_examples=150, deadline=None)
def test_school_and_home_never_say_the_opposite_of_one_fresh_week(
    right: int, slips: int, days: int, words: int
) -> None:
    at_home = week_sheet.state(
        GpcCount("i-e /AY/", right, {"other_gpc_value": slips}, 0, days, words), taught=True
    )
    at_school = STATES[state(pool(right, slips, days, words))]
    assert {at_home, at_school} != {"practise", "secure"}
    if right + slips < 8 or days < 3 or words < 4:
        assert at_home == at_school == "not enough listened"


@given(st.integers(0, 30), st.integers(0, 30), st.integers(1, 5))
@settings(max_examples=100, deadline=None)
def test_a_further_slip_never_makes_a_child_secure_nor_takes_it_off_the_list(
    right: int, slips: int, more: int
) -> None:
    rank = {SECURE: 0, UNHEARD: 1, PRACTISE: 2}
    here, there = pool(right, slips), pool(right, slips + more)
    if right + slips >= 8:  # below, further slips are further readings too
        assert rank[state(there)] >= rank[state(here)]
    assert judged(there).need >= judged(here).need - 1e-6


@pytest.mark.parametrize("home", [NOTHING, pool(30, 0), pool(2, 28)])
@pytest.mark.parametrize("age", range(CHECK_STANDS + 1))
@pytest.mark.parametrize("slips", [4, 5, 6])
def test_four_slips_in_six_words_are_practise_whatever_home_reads(
    home: Pool, age: int, slips: int
) -> None:
    found = judged(home, check(6, slips, age))
    assert int(found.state[0]) == PRACTISE
    assert bool(found.by_check[0])


@pytest.mark.parametrize("age", range(CHECK_STANDS + 1))
def test_six_words_as_written_are_secure_where_home_leaves_it_open(age: int) -> None:
    assert state(NOTHING, check(6, 0, age)) == SECURE
    assert state(pool(6, 2), check(6, 0, age)) == SECURE


def test_six_words_as_written_against_many_slips_at_home_ask_for_more() -> None:
    assert state(pool(10, 20), check(6, 0)) == UNHEARD


@pytest.mark.parametrize(("home", "expected"), [(pool(2, 9), PRACTISE), (pool(30, 0), SECURE)])
def test_an_unclear_check_and_home_together_decide(home: Pool, expected: int) -> None:
    assert state(NOTHING, check(6, 2)) == UNHEARD
    assert state(home, check(6, 2)) == expected


@given(st.integers(0, 60), st.integers(0, 60), st.integers(0, 6), st.integers(0, CHECK_STANDS))
@settings(max_examples=150, deadline=None)
def test_home_never_turns_a_standing_check_round(
    right: int, slips: int, heard: int, age: int
) -> None:
    found = state(pool(right, slips), check(6, heard, age))
    if heard >= 3:
        assert found != SECURE
    if heard <= 1:
        assert found != PRACTISE


def test_a_check_fades_and_home_speaks_again() -> None:
    late = CHECK_STANDS + 1
    since = pool(20, 0)
    assert state(since, check(6, 4, late), since) == SECURE
    assert not bool(judged(since, check(6, 4, late), since).by_check[0])
    assert late < WINDOW


def test_home_against_a_standing_check_is_pointed_out() -> None:
    since = pool(20, 0)
    found = judged(pool(20, 6), check(6, 5, 1), since)
    assert int(found.state[0]) == PRACTISE
    assert bool(found.contradicted[0])
    agreeing = judged(pool(20, 6), check(6, 5, 1), pool(2, 9))
    assert not bool(agreeing.contradicted[0])


def test_old_readings_count_less() -> None:
    needs = [float(judged(pool(2, 8, age=age)).need[0]) for age in range(WINDOW)]
    assert needs == sorted(needs, reverse=True)
    assert state(pool(2, 8, age=0)) == PRACTISE
    assert state(pool(2, 8, age=WINDOW - 1)) == UNHEARD
    assert state(pool(8, 0, age=WINDOW - 1)) == UNHEARD


def test_the_listener_in_class_counts_for_less_than_an_ear() -> None:
    ear, machine = judged(NOTHING, check(6, 3)), judged(NOTHING, check(6, 1, by_ear=False))
    assert float(ear.need[0]) > 0.75
    clear = judged(NOTHING, check(6, 0, by_ear=False)).need, judged(NOTHING, check(6, 0)).need
    assert float(clear[0][0]) > float(clear[1][0])
    assert 0.1 < float(machine.need[0]) < 0.5


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30), st.integers(0, 6)), max_size=12))
@settings(max_examples=30, deadline=None)
def test_a_class_is_judged_as_each_child_would_be(cells: list[tuple[int, int, int]]) -> None:
    pools = [pool(right, slips) for right, slips, _ in cells]
    home = Pool(*(np.array([getattr(each, name)[0] for each in pools]) for name in FIELDS))
    checks = Checks(
        np.array([6 if slips else 0 for *_, slips in cells], np.int64),
        np.array([slips for *_, slips in cells], np.int64),
        np.ones(len(cells), np.bool_),
        np.zeros(len(cells), np.int64),
    )
    together = judge(home, home, checks, np.ones(len(cells), np.bool_), RULE)
    for n, (_, _, slips) in enumerate(cells):
        alone = judged(pools[n], check(6 if slips else 0, slips), pools[n])
        assert int(alone.state[0]) == int(together.state[n])
        assert float(alone.need[0]) == pytest.approx(float(together.need[n]), abs=1e-9)


FIELDS = ("as_written", "slipped", "readings", "slips", "days", "words")
