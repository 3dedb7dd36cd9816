"""How the pages are set is kept with a consent only, and goes with everything else."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.record import consent, erasure, settings
from companion.record.consent import PractisePermit
from companion.record.home import ChildFolder
from companion.record.settings import LETTERS, VOLUMES, Settings
from companion.record.trouble import ConsentMissing

MONDAY = datetime(2026, 11, 23, 16, 30, tzinfo=UTC)

CHOSEN = st.builds(
    Settings,
    letters=st.sampled_from(LETTERS),
    contrast=st.booleans(),
    ruler=st.booleans(),
    buttons=st.booleans(),
    by_itself=st.booleans(),
    volume=st.sampled_from(VOLUMES),
    accent=st.none() | st.text(max_size=12),
)


@given(chosen=CHOSEN)
def test_settings_come_back_as_they_were_kept(
    tmp_path_factory: pytest.TempPathFactory, chosen: Settings
) -> None:
    folder = ChildFolder(tmp_path_factory.mktemp("home"), "gull")
    consent.give(folder, ["practise"], MONDAY)
    settings.keep(PractisePermit(folder), chosen)
    assert settings.read(folder) == chosen


def test_nothing_is_kept_once_the_consent_is_taken_back(tmp_path: Path) -> None:
    folder = ChildFolder(tmp_path, "gull")
    consent.give(folder, ["practise"], MONDAY)
    permit = PractisePermit(folder)
    consent.take_back(folder, ["practise"])
    with pytest.raises(ConsentMissing):
        settings.keep(permit, Settings(contrast=True))
    assert not folder.settings.exists()


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", '{"format": 2, "set": {}}', '{"format": 1, "set": {"letters": "huge"}}',
     '{"format": 1, "set": {"contrast": "yes"}}', '{"format": 1, "set": {"volume": [1]}}', "\x00"],
)  # fmt: skip
def test_a_damaged_file_counts_as_nothing_set(tmp_path: Path, text: str) -> None:
    folder = ChildFolder(tmp_path, "gull")
    folder.path.mkdir(parents=True)
    folder.settings.write_text(text)
    assert settings.read(folder) == Settings()


def test_a_setting_of_a_later_version_is_passed_over(tmp_path: Path) -> None:
    folder = ChildFolder(tmp_path, "gull")
    folder.path.mkdir(parents=True)
    folder.settings.write_text(json.dumps({"format": 1, "set": {"ruler": True, "later": 3}}))
    assert settings.read(folder) == Settings(ruler=True)


def test_erasing_everything_erases_the_settings(tmp_path: Path) -> None:
    folder = ChildFolder(tmp_path, "gull")
    consent.give(folder, ["practise"], MONDAY)
    settings.keep(PractisePermit(folder), Settings())
    erasure.withdraw_all(folder)
    assert not folder.path.exists()
