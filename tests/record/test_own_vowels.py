"""The numbers on a child's own vowels: kept with a consent, erased with the rest."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from companion.record import consent, erasure, own_vowels
from companion.record.consent import PractisePermit
from companion.record.home import ChildFolder
from companion.record.own_vowels import PAIRS, OwnVowels
from companion.record.trouble import ConsentMissing

NOW = datetime(2026, 11, 25, 16, 30, tzinfo=UTC)
OWN = OwnVowels((0.25, 0.0, -0.5, 1.0, -2.0), "0a1b2c3d")


@pytest.fixture
def puffin(tmp_path: Path) -> ChildFolder:
    folder = ChildFolder(tmp_path / "home", "puffin")
    consent.give(folder, ["practise"], NOW)
    return folder


def test_what_was_kept_last_is_read_back(puffin: ChildFolder) -> None:
    assert own_vowels.read(puffin, OWN.against) is None
    own_vowels.keep(PractisePermit(puffin), OwnVowels((0.0,) * 5, OWN.against))
    own_vowels.keep(PractisePermit(puffin), OWN)
    assert own_vowels.read(puffin, OWN.against) == OWN


def test_five_numbers_and_what_they_are_measured_against_are_all_that_is_kept(
    puffin: ChildFolder,
) -> None:
    own_vowels.keep(PractisePermit(puffin), OWN)
    kept = json.loads(puffin.own_vowels.read_text())
    assert kept == {
        "format": 1, "against": "0a1b2c3d", "longer": dict(zip(PAIRS, OWN.longer, strict=True)),
    }  # fmt: skip


def test_numbers_of_another_listener_are_not_used(puffin: ChildFolder) -> None:
    own_vowels.keep(PractisePermit(puffin), OWN)
    assert own_vowels.read(puffin, "another") is None


def test_nothing_is_kept_once_the_consent_is_taken_back(puffin: ChildFolder) -> None:
    permit = PractisePermit(puffin)
    consent.take_back(puffin, ["practise"])
    with pytest.raises(ConsentMissing):
        own_vowels.keep(permit, OWN)
    assert not puffin.own_vowels.exists()


def test_they_go_with_the_consent_to_practise_and_with_everything(puffin: ChildFolder) -> None:
    own_vowels.keep(PractisePermit(puffin), OWN)
    assert erasure.withdraw(puffin, ["practise"]).files == 1
    assert not puffin.own_vowels.exists()
    consent.give(puffin, ["practise"], NOW)
    own_vowels.keep(PractisePermit(puffin), OWN)
    (puffin.path / "own_vowels.json.new").write_text("cut off")
    assert erasure.withdraw_all(puffin).files == 3  # these two and the consent record
    assert list(puffin.home.iterdir()) == []


@pytest.mark.parametrize(
    "text",
    [
        "", "[]", "{}", "\x00",
        '{"format": 2, "against": "0a1b2c3d", "longer": {}}',
        '{"format": 1, "against": "0a1b2c3d", "longer": {"AE": 0}}',
        '{"format": 1, "against": "0a1b2c3d", "longer": [0, 0, 0, 0, 0]}',
        '{"format": 1, "against": "0a1b2c3d", "longer": '
        '{"AE": 9, "EH": 0, "IH": 0, "AA": 0, "AH": 0}}',
        '{"format": 1, "against": "0a1b2c3d", "longer": '
        '{"AE": NaN, "EH": 0, "IH": 0, "AA": 0, "AH": 0}}',
    ],
)  # fmt: skip
def test_a_damaged_file_counts_as_none(puffin: ChildFolder, text: str) -> None:
    puffin.own_vowels.write_text(text)
    assert own_vowels.read(puffin, OWN.against) is None


@pytest.mark.parametrize("numbers", [(), (0.0,) * 4, (0.0,) * 6, (2.25, 0.0, 0.0, 0.0, 0.0)])
def test_there_are_five_numbers_within_two_nats(numbers: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="5 numbers within 2"):
        OwnVowels(numbers, "0a1b2c3d")
