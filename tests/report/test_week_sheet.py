"""What may be said of a GPC, and that the sheet says no more than the turns do."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.phonics.gpc import Gpc, table
from companion.record import consent
from companion.record.consent import LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.tally import GpcCount, Tally, tally
from companion.record.turns import Try, Turn
from companion.record.weeks import Week
from companion.report import exact, week_text
from companion.report import week as week_module
from companion.report.cautions import CAUTIONS
from companion.report.week import STATES, sheet, state, to_json, week_sheet
from companion.report.wording import SLIP_WORDS, VERDICT_WORDS

WEEK = Week(2026, 48)
MONDAY = datetime(2026, 11, 23, 16, 30, tzinfo=UTC)
ORDER = table().order()
GPCS = ("p /P/", "i-e /AY/", "n /N/")


def count(
    right: int, slipped: int, days: int = 3, words: int = 4, gpc: str = "i-e /AY/", unsure: int = 0
) -> GpcCount:
    slips = {"short_for_split": slipped} if slipped else {}
    return GpcCount(gpc, right, slips, unsure, days, words)


def of(*counts: GpcCount) -> Tally:
    turns = sum(each.readings + each.could_not_tell for each in counts)
    return Tally(turns, {"as_written": turns}, 0, 0, (date(2026, 11, 23),), counts)


@pytest.mark.parametrize(
    ("right", "slipped", "days", "words", "expected"),
    [
        (5, 3, 3, 4, "practise"),
        (4, 3, 3, 4, "not enough listened"),  # 7 readings
        (5, 3, 2, 4, "not enough listened"),  # 2 days
        (5, 3, 3, 3, "not enough listened"),  # 3 words
        (6, 2, 3, 4, "not enough listened"),  # 2 slips: neither
        (0, 8, 3, 4, "practise"),
        (8, 0, 3, 4, "secure"),
        (7, 0, 3, 4, "not enough listened"),
        (8, 0, 2, 4, "not enough listened"),
        (8, 0, 3, 3, "not enough listened"),
        (12, 1, 3, 4, "secure"),
        (11, 1, 3, 4, "not enough listened"),
        (13, 3, 3, 4, "practise"),
        (
            14,
            3,
            3,
            4,
            "not enough listened",
        ),  # 3 of 17: perhaps the listener's own
        (47, 3, 5, 9, "secure"),
        (40, 10, 5, 9, "practise"),
        (0, 0, 0, 0, "not enough listened"),
    ],
)
def test_a_state_needs_its_evidence(
    right: int, slipped: int, days: int, words: int, expected: str
) -> None:
    assert state(count(right, slipped, days, words), taught=True) == expected


def test_eight_readings_on_three_days_in_four_words_with_three_slips() -> None:
    """The least that lists a GPC for practice; one less of any of them does not."""
    assert state(count(5, 3), taught=True) == "practise"
    assert (
        week_module.READINGS_MIN,
        week_module.DAYS_MIN,
        week_module.WORDS_MIN,
        week_module.SLIPS_MIN,
    ) == (8, 3, 4, 3)


@given(st.integers(0, 60), st.integers(0, 60), st.integers(0, 7), st.integers(0, 60), st.booleans())
def test_states_never_contradict_the_minimum(
    right: int, slipped: int, days: int, words: int, taught: bool
) -> None:
    found = state(count(right, slipped, days, words), taught)
    assert found in STATES
    assert (found == "not yet taught") == (not taught)
    if found in ("practise", "secure"):
        assert right + slipped >= 8 and days >= 3 and words >= 4
    if found == "practise":
        assert slipped >= 3


@given(st.integers(0, 60), st.integers(0, 60))
def test_more_slips_never_look_better_and_more_good_readings_never_worse(
    right: int, slipped: int
) -> None:
    rank = {"practise": 0, "not enough listened": 1, "secure": 2}
    at_least = max(8, right)
    now = rank[state(count(at_least, slipped), True)]
    assert rank[state(count(at_least, slipped + 1), True)] <= now
    assert rank[state(count(at_least + 1, slipped), True)] >= now


@pytest.mark.parametrize("p", [Fraction(1, 20), Fraction(1, 3)])
def test_binomial_tails_match_every_outcome_counted(p: Fraction) -> None:
    """Brute force over all 2^10 outcomes, in exact fractions."""
    n = 10
    chance = [Fraction(0)] * (n + 1)
    for outcome in product((0, 1), repeat=n):
        slips = sum(outcome)
        chance[slips] += p**slips * (1 - p) ** (n - slips)
    for k in range(n + 1):
        assert exact.at_most(k, n, float(p)) == pytest.approx(float(sum(chance[: k + 1])))
        assert exact.at_least(k, n, float(p)) == pytest.approx(float(sum(chance[k:])))


def test_secure_is_the_exact_upper_bound_below_one_third() -> None:
    """Upper bounds of Clopper and Pearson, 1934 (values worked from the closed form at 0 slips:
    1 - 0.05 ** (1 / n))."""
    for n in range(8, 40):
        upper = 1 - 0.05 ** (1 / n)
        assert (state(count(n, 0), True) == "secure") == (upper < 1 / 3)


def test_rows_come_by_state_and_then_in_teaching_order() -> None:
    found = sheet(
        of(
            count(9, 0, gpc="u-e /UW/"),
            count(5, 3, gpc="o-e /OW/"),
            count(9, 0, gpc="s /S/"),
            count(5, 3, gpc="a-e /EY/"),
            count(2, 0, gpc="p /P/"),
        ),
        WEEK,
        ORDER,
    )
    assert [row.gpc for row in found.rows] == [
        "a-e /EY/", "o-e /OW/", "p /P/", "s /S/", "u-e /UW/"
    ]  # fmt: skip


def test_what_has_not_been_taught_is_never_asked_for() -> None:
    taught = ORDER.up_to(Gpc.parse("i-e /AY/"))
    found = sheet(of(count(0, 9, gpc="u-e /UW/"), count(5, 3)), WEEK, ORDER, taught)
    assert {row.gpc: row.state for row in found.rows} == {
        "u-e /UW/": "not yet taught", "i-e /AY/": "practise"
    }  # fmt: skip


def made_try(verdict: str) -> Try:
    slip, gpc = ("short_for_split", "i-e /AY/") if verdict == "slip" else (None, None)
    evidence = {"as_written": GPCS, "slip": ("i-e /AY/",)}.get(verdict, ())
    return Try(verdict, slip, gpc, "P AY N", None, None, {verdict: 1.0}, {}, 20.0, evidence)


TURNS = st.builds(
    Turn,
    word=st.sampled_from(("pine", "pipe", "nine", "mine", "line")),
    gpcs=st.just(GPCS),
    tries=st.lists(st.sampled_from(tuple(VERDICT_WORDS)).map(made_try), min_size=1, max_size=2).map(
        tuple
    ),
    overrule=st.sampled_from((None, None, "as_written", "not", "skip")),
)


@settings(max_examples=12)  # each turn is really committed to a disk
@given(st.lists(st.tuples(st.integers(-3, 9), TURNS), max_size=10))
def test_replaying_the_log_gives_the_same_sheet(
    tmp_path_factory: pytest.TempPathFactory, read: list[tuple[int, Turn]]
) -> None:
    folder = ChildFolder(tmp_path_factory.mktemp("home"), "puffin")
    consent.give(folder, ["keep_log"], MONDAY)
    with Log.open(folder.log) as log:
        permit = LogPermit(folder)
        sitting = log.start_sitting(permit, "i-e", None, MONDAY)
        for day, turn in read:
            log.add_turn(permit, sitting, turn, MONDAY + timedelta(days=day))
        found = week_sheet(log, WEEK)
        in_week = [kept for kept in log.turns() if WEEK.monday <= kept.day <= WEEK.sunday]
        assert found == sheet(tally(reversed(in_week)), WEEK, ORDER)
    with Log.open(folder.log) as log:
        assert week_sheet(log, WEEK) == found
    assert found.turns == sum(0 <= day <= 6 for day, _ in read)
    assert found.turns == sum(found.verdicts.values()) + found.left_out


def test_an_adults_word_outranks_the_listeners(tmp_path: Path) -> None:
    folder = ChildFolder(tmp_path, "puffin")
    consent.give(folder, ["keep_log"], MONDAY)
    with Log.open(folder.log) as log:
        permit = LogPermit(folder)
        sitting = log.start_sitting(permit, "i-e", None, MONDAY)
        turn = Turn("pine", GPCS, (made_try("slip"),))
        number = log.add_turn(permit, sitting, turn, MONDAY)
        (row,) = week_sheet(log, WEEK).rows
        assert (row.gpc, row.slips) == ("i-e /AY/", {"short_for_split": 1})
        log.overrule(permit, number, "as_written")
        found = week_sheet(log, WEEK)
        assert {row.gpc for row in found.rows} == set(GPCS)
        assert not any(row.slips for row in found.rows)
        assert found.overruled == 1
        log.overrule(permit, number, "skip")
        assert week_sheet(log, WEEK).rows == ()


SLIPS = {"e_sounded": 1, "short_for_split": 4}


def full_sheet() -> week_module.WeekSheet:
    counts = of(
        GpcCount(
            "i-e /AY/",
            9,
            {"e_sounded": 1, "short_for_split": 4},
            2,
            5,
            8,
            ("kite", "pine", "slide"),
        ),
        count(120, 0, 5, 44, gpc="p /P/"),
        count(3, 1, 2, 3, gpc="ear /IH/", unsure=1),
        count(0, 2, 1, 2, gpc="eigh /EY/"),
    )
    return sheet(counts, WEEK, ORDER, ORDER.up_to(Gpc.parse("i-e /AY/")))


def test_the_sheet_fits_80_columns_and_says_everything_in_words() -> None:
    text = week_text.to_text(full_sheet(), "puffin")
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text
    for said in (
        "Week sheet 2026-W48 · puffin",
        "Monday 23 November to Sunday 29 November 2026",
        "Practise:",
        "Secure:",
        "Not yet taught:",
        "i-e as in",
        SLIP_WORDS["short_for_split"] + ": 4 times",
        SLIP_WORDS["e_sounded"] + ": 1 time",
        "slips in kite, pine, slide",
    ):
        assert said in text
    unwrapped = " ".join(text.split())
    assert all(caution in unwrapped for caution in CAUTIONS)


def test_cautions_are_there_even_when_nothing_was_read() -> None:
    empty = sheet(Tally(0, {}, 0, 0, (), ()), WEEK, ORDER)
    text = " ".join(week_text.to_text(empty).split())
    assert "Nothing was read in this week." in text
    for caution in CAUTIONS:
        assert caution in text
        assert caution in to_json(empty)["cautions"]
    assert any("diagnosis" in caution for caution in CAUTIONS)
    assert any("SENCo" in caution for caution in CAUTIONS)


def test_json_says_what_the_sheet_says() -> None:
    found = full_sheet()
    data = json.loads(json.dumps(to_json(found)))
    assert (data["week"], data["first_day"], data["last_day"]) == (
        "2026-W48", "2026-11-23", "2026-11-29"
    )  # fmt: skip
    first = data["rows"][0]
    assert first["gpc"] == "i-e /AY/"
    assert first["readings"] == first["as_written"] + sum(first["slips"].values()) == 14
    assert (first["could_not_tell"], first["days"], first["words"]) == (2, 5, 8)
    assert first["state"] == "practise"
    assert [row["state"] for row in data["rows"]] == [row.state for row in found.rows]
