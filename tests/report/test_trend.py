"""A week beside the same child's weeks before: nothing is said on too little."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import fisher_exact

from companion.record.tally import GpcCount, Tally
from companion.record.weeks import Week
from companion.report.trend import CHANGES, DOUBT, WEEKS, first_week, trend

LAST = Week(2026, 48)
GPC = "i-e /AY/"


def week_before(number: int) -> Week:
    return Week.of(LAST.monday - timedelta(weeks=number))


def counts(*gpcs: tuple[str, int, int]) -> Tally:
    """A week with so many readings as written, and slips, of each GPC."""
    rows = tuple(
        GpcCount(gpc, right, {"short_for_split": slips} if slips else {}, 0, 3, 4)
        for gpc, right, slips in gpcs
    )
    turns = sum(right + slips for _, right, slips in gpcs)
    return Tally(turns, {"as_written": turns}, 0, 0, (date(2026, 11, 23),), rows)


def test_eight_weeks_are_shown_and_the_week_itself_is_the_last() -> None:
    found = trend({LAST: counts((GPC, 9, 1))}, LAST)
    assert [point.week for point in found.weeks] == [week_before(n) for n in range(7, -1, -1)]
    assert [point.turns for point in found.weeks] == [0] * 7 + [10]
    assert first_week(LAST) == week_before(WEEKS - 1)


def test_a_week_with_nothing_in_it_has_empty_weeks_around_it() -> None:
    found = trend({}, LAST)
    assert len(found.weeks) == WEEKS and found.gpcs == ()


def test_a_clear_change_is_said_against_the_childs_own_weeks() -> None:
    """4 of 16 before and 11 of 12 now: P = 0.0006 by Fisher's exact test."""
    before = {week_before(1): counts((GPC, 2, 6)), week_before(5): counts((GPC, 2, 6))}
    (row,) = trend({**before, LAST: counts((GPC, 11, 1))}, LAST).gpcs
    assert (row.before, row.change) == ((4, 16), "more")
    (row,) = trend({week_before(2): counts((GPC, 16, 0)), LAST: counts((GPC, 4, 8))}, LAST).gpcs
    assert row.change == "less"


def test_little_changes_and_few_readings_are_not_made_much_of() -> None:
    (row,) = trend({week_before(1): counts((GPC, 8, 2)), LAST: counts((GPC, 9, 1))}, LAST).gpcs
    assert row.change == "no clear change"
    (row,) = trend({week_before(1): counts((GPC, 0, 7)), LAST: counts((GPC, 30, 0))}, LAST).gpcs
    assert row.change == "too few"
    (row,) = trend({week_before(1): counts((GPC, 0, 30)), LAST: counts((GPC, 7, 0))}, LAST).gpcs
    assert row.change == "too few"


def test_weeks_before_the_eighth_count_for_nothing() -> None:
    (row,) = trend({week_before(8): counts((GPC, 0, 40)), LAST: counts((GPC, 20, 0))}, LAST).gpcs
    assert (row.before, row.change) == ((0, 0), "too few")


def test_the_more_gpcs_are_compared_the_clearer_a_change_must_be() -> None:
    """3 of 8 before and 9 of 10 now is P = 0.04: enough alone, not among four GPCs."""
    others = [(f"{letter} /AE/", 8, 8) for letter in ("a", "ai", "ay")]
    before = {week_before(1): counts((GPC, 3, 5))}
    (row,) = trend({**before, LAST: counts((GPC, 9, 1))}, LAST).gpcs
    assert fisher_exact([[9, 1], [3, 5]], alternative="greater").pvalue < DOUBT
    assert row.change == "more"
    before = {week_before(1): counts((GPC, 3, 5), *others)}
    rows = trend({**before, LAST: counts((GPC, 9, 1), *others)}, LAST).gpcs
    assert {row.change for row in rows} == {"no clear change"}


@given(st.dictionaries(st.integers(0, 9), st.tuples(st.integers(0, 40), st.integers(0, 40))))
def test_points_add_up_to_what_was_read(weeks: dict[int, tuple[int, int]]) -> None:
    given_weeks = {week_before(n): counts((GPC, *both)) for n, both in weeks.items()}
    found = trend(given_weeks, LAST)
    assert sum(point.turns for point in found.weeks) == sum(
        right + slips for n, (right, slips) in weeks.items() if n < WEEKS
    )
    for row in found.gpcs:
        assert row.change in CHANGES
        assert len(row.points) == WEEKS
        assert all(0 <= point.as_written <= point.readings for point in row.points)
        assert row.before[1] + row.points[-1].readings == sum(p.readings for p in row.points)
