"""What an adult's corrections say of the listener, on worked examples."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from companion.record.turns import KeptTurn, Try, Turn
from companion.report.overrules import Overrules, in_words, overrules


def read(verdict: str, overrule: str | None = None) -> KeptTurn:
    last = Try(verdict, None, None, "", None, None, {}, {}, 1.0, ())
    turn = Turn("pine", ("i-e /AY/",), (last,), overrule)
    return KeptTurn(1, 1, datetime(2026, 11, 23, tzinfo=UTC), date(2026, 11, 23), turn)


def test_a_slip_said_to_be_as_written_is_a_false_alarm() -> None:
    found = overrules(
        [
            *[read("slip")] * 6,
            read("slip", "as_written"),
            read("other_word", "as_written"),
            read("slip", "not"),  # agreed with
            read("slip", "skip"),  # left out: says nothing of the listener
            *[read("as_written")] * 4,
            read("as_written", "not"),
            read("unsure", "as_written"),
            read("unsure"),
            read("silent", "not"),
        ]
    )
    assert found == Overrules(flagged=9, cleared=2, passed=5, caught=1, left_out=1, decided=2)
    assert found.rate == pytest.approx(2 / 9)
    # exact 95% interval of 2 of 9: 2.8% to 60.0% (Clopper and Pearson's own method)
    assert found.between == pytest.approx((0.0281, 0.6001), abs=0.0001)
    assert "corrected 2 of these (22%)" in in_words(found)
    assert "3% to 60%" in in_words(found)


def test_nothing_corrected_is_no_proof_that_nothing_was_mistaken() -> None:
    found = overrules([read("slip")] * 5)
    assert found.rate == 0.0
    assert "corrected none" in in_words(found)


def test_without_slips_there_is_no_rate() -> None:
    found = overrules([read("as_written"), read("unsure")])
    assert found.rate is None and found.between is None
    assert "no slip" in in_words(found)
