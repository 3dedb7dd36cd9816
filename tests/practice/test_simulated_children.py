"""The simulated children that choosing is tried on learn, forget and are misheard as they say."""

from __future__ import annotations

import math
import sys
from random import Random

import pytest
import simulate_choosing
from simulate_choosing import CHOOSERS, live
from simulated_children import Child, Knowledge, date_of, heard, judged, school_days, turn

from companion.phonics.gpc import Gpc, table
from companion.phonics.split import split
from companion.school.rates import Rates, listener

ORDER = table().order()
I_E = Gpc.parse("i-e /AY/")
PERFECT = Rates(1.0, 0.0, 0.0, 0.0, 1.0, 0.0)


def test_what_was_learnt_fades_by_the_day_and_lasts_longer_once_met_again() -> None:
    one = Knowledge(rate=0.5, learnt=1.0, lasts_days=10.0, met=0.0)
    assert one.chance(10.0) == pytest.approx(math.exp(-1))  # exponential forgetting, by hand
    one.meet(10.0)
    assert one.learnt == pytest.approx(math.exp(-1) + 0.5 * (1 - math.exp(-1)))
    assert one.lasts_days > 10.0


def test_meeting_it_twice_in_a_day_makes_it_last_no_longer() -> None:
    one = Knowledge(rate=0.5, learnt=0.4, lasts_days=10.0, met=3.0)
    one.meet(3.0)
    assert one.lasts_days == 10.0 and one.learnt == pytest.approx(0.7)


def test_the_listener_errs_as_often_as_was_measured() -> None:
    rng, ear, many = Random(5), listener(), 20_000
    for right, expected in (
        (True, {"as_written": ear.right_as_written, "slip": ear.right_slip}),
        (False, {"as_written": ear.slip_as_written, "slip": ear.slip_slip}),
    ):
        said = [heard(rng, right, ear) for _ in range(many)]
        for verdict, share in expected.items():
            # four standard errors of a share of 20,000
            assert said.count(verdict) / many == pytest.approx(share, abs=4 * 0.5 / many**0.5)


def test_a_child_who_knows_all_reads_all_as_written() -> None:
    child = Child(Random(1), 0.0, {gpc: Knowledge(0.5, 1.0, 1e9, 0.0) for gpc in ORDER.gpcs})
    done = turn(child, "kite", 1.0, date_of(1), 1, PERFECT)
    assert [each.verdict for each in done.turn.tries] == ["as_written"]


def test_a_child_who_does_not_know_a_sound_slips_on_it_and_hears_it_afterwards() -> None:
    knows = {gpc: Knowledge(0.5, 1.0, 1e9, 0.0) for gpc in ORDER.gpcs}
    knows[I_E] = Knowledge(0.5, 0.0, 10.0, 0.0)
    child = Child(Random(1), 0.0, knows)
    done = turn(child, "kite", 1.0, date_of(1), 1, PERFECT)
    first = done.turn.tries[0]
    assert (first.verdict, first.gpc, first.slip) == ("slip", str(I_E), "short_for_split")
    assert knows[I_E].learnt == 0.5


def test_a_slip_that_was_none_is_named_on_the_vowel() -> None:
    assert judged("slip", None, split("kite")[0].gpcs).gpc == str(I_E)


def test_school_days_are_no_weekends() -> None:
    assert school_days(7) == [0, 1, 2, 3, 4, 7, 8]
    assert date_of(0).isoweekday() == 1


@pytest.mark.parametrize("name", list(CHOOSERS))
def test_one_child_lives_through_one_week_under_each_way_of_choosing(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(simulate_choosing, "WEEKS", 1)
    start = ORDER.gpcs.index(Gpc.parse(simulate_choosing.FIRST))
    block = ORDER.gpcs[: start + 5]
    said = live("test", CHOOSERS[name], block, start, listener())
    assert len(said.days_to_state) == 5
    assert said.read_well and all(0 <= chance <= 1 for chance in (*said.later_new, *said.later_gap))
    again = live("test", CHOOSERS[name], block, start, listener())
    assert again == said


def test_the_bench_prints_one_table(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(simulate_choosing, "WEEKS", 1)
    monkeypatch.setattr(simulate_choosing, "LAST", "ea /IY/")
    monkeypatch.setattr(sys, "argv", ["simulate_choosing", "--children", "2"])
    simulate_choosing.main()
    shown = capsys.readouterr().out
    assert "2 simulated children, 1 weeks, seed 2026" in shown
    assert all(name in shown for name in CHOOSERS)
