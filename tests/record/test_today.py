"""The sound a class is on is kept until it is set again, and goes with everything else."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from companion.record import consent, erasure, today
from companion.record.consent import PractisePermit
from companion.record.home import ChildFolder
from companion.record.trouble import ConsentMissing, TodayUnreadable

NOW = datetime(2026, 11, 25, 16, 30, tzinfo=UTC)


@pytest.fixture
def puffin(tmp_path: Path) -> ChildFolder:
    folder = ChildFolder(tmp_path / "home", "puffin")
    consent.give(folder, ["practise"], NOW)
    return folder


def test_what_was_set_last_is_read_back(puffin: ChildFolder) -> None:
    assert today.read(puffin) is None
    today.keep(PractisePermit(puffin), "a-e")
    today.keep(PractisePermit(puffin), "ow /OW/")
    assert today.read(puffin) == "ow /OW/"


def test_nothing_is_kept_once_the_consent_is_taken_back(puffin: ChildFolder) -> None:
    permit = PractisePermit(puffin)
    consent.take_back(puffin, ["practise"])
    with pytest.raises(ConsentMissing):
        today.keep(permit, "a-e")
    assert today.read(puffin) is None


def test_it_is_erased_with_everything_else(puffin: ChildFolder) -> None:
    today.keep(PractisePermit(puffin), "a-e")
    assert erasure.withdraw_all(puffin).files == 2  # this and the consent record
    assert list(puffin.home.iterdir()) == []


@pytest.mark.parametrize("text", ["", "{}", "[]", "a-e", '{"format": 2, "today": "a-e"}', '"x"'])
def test_a_damaged_note_is_told_with_the_way_to_mend_it(puffin: ChildFolder, text: str) -> None:
    puffin.today.write_text(text)
    with pytest.raises(TodayUnreadable, match="practise --today"):
        today.read(puffin)
    today.keep(PractisePermit(puffin), "i-e")
    assert today.read(puffin) == "i-e"
