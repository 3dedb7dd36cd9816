"""``wordhearth export`` from the outside, and that a week can be taken away in every form."""

from __future__ import annotations

import json
import zipfile
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from companion.cli import main
from companion.commands import household
from companion.record import clips, consent
from companion.record.consent import ClipPermit, LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import Try, Turn
from companion.record.weeks import Week
from speech.audio import Utterance

NOW = datetime.now().astimezone()
MONDAY = datetime.combine(Week.of(NOW.date()).monday, NOW.timetz())
WORDS = ("pine", "kite", "nine", "ride")


def slipped(word: str) -> Turn:
    done = Try("slip", "short_for_split", "i-e /AY/", "P IH N", None, None, {}, {}, 1.0,
               ("i-e /AY/",))  # fmt: skip
    return Turn(word, ("i-e /AY/",), (done,))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ChildFolder:
    """A child who slipped nine times this week, and read ten words ten weeks ago."""
    monkeypatch.setenv("WORDHEARTH_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    made = ChildFolder(tmp_path / "home", "child")
    consent.give(made, ["practise", "keep_log"], NOW)
    with Log.open(made.log) as log:
        permit = LogPermit(made)
        sitting = log.start_sitting(permit, "i-e", None, MONDAY)
        for number in range(9):
            at = MONDAY + timedelta(days=number % 3, seconds=number)
            log.add_turn(permit, sitting, slipped(WORDS[number % 4]), at)
        old = MONDAY - timedelta(weeks=10)
        sitting = log.start_sitting(permit, "i-e", None, old)
        for number in range(10):
            log.add_turn(permit, sitting, slipped(WORDS[number % 4]), old)
    return made


def test_the_archive_lands_where_it_was_asked_for_and_changes_nothing(
    folder: ChildFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = folder.log.read_bytes()
    assert main(["export", "--to", str(tmp_path / "all.zip")]) == 0
    assert main(["export"]) == 0
    assert f"wordhearth-{NOW.date()}.zip" in capsys.readouterr().out
    with zipfile.ZipFile(tmp_path / "all.zip") as archive:
        assert len(json.loads(archive.read("everything.json"))["readings"]) == 19
    assert folder.log.read_bytes() == before


def test_a_child_of_whom_nothing_is_kept_has_nothing_to_export(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", "--child", "gull"]) == 1
    assert "nothing of 'gull'" in capsys.readouterr().err
    assert not (folder.home / "reader-gull").exists()


def test_the_week_says_what_to_do_in_eighty_columns(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["week", "--advice", "--trend"]) == 0
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    assert "i-e as in kite: The e at the end was passed over" in text
    assert "Heard 9 times" in " ".join(text.split())
    assert "1. Write pin, and pine beneath it" in text
    assert "9 on 3 days" in text


def test_advice_and_trend_as_json_hold_the_same(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["week", "--advice", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [(tip["kind"], tip["times"]) for tip in data["advice"]] == [("short_for_split", 9)]
    assert data["weeks"][-1] == {"week": str(Week.of(NOW.date())), "words": 9, "days": 3}
    assert data["overrules"]["flagged"] == 9 and data["overrules"]["false_alarms"] == 0.0


def test_the_week_is_written_as_a_pdf(folder: ChildFolder, tmp_path: Path) -> None:
    assert main(["week", "--pdf", str(tmp_path / "week.pdf")]) == 0
    assert (tmp_path / "week.pdf").read_bytes().startswith(b"%PDF-")


def test_what_the_household_set_says_what_is_taught(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    folder.today.write_text('{"format": 1, "today": "ai"}')
    assert main(["week", "--json"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["rows"]
    assert row["state"] == "not yet taught"
    assert main(["week", "--json", "--taught-up-to", "i-e"]) == 0
    (row,) = json.loads(capsys.readouterr().out)["rows"]
    assert row["state"] == "practise"


def test_many_old_readings_are_rolled_up_in_sight(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(household, "MUCH", 10)
    assert main(["week"]) == 0
    told = capsys.readouterr().err
    assert "Turning old readings into weekly counts" in told and "10/10" in told
    assert main(["week"]) == 0
    assert capsys.readouterr().err == ""


def test_the_readings_say_how_often_they_were_corrected(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    with Log.open(folder.log) as log:
        number = log.turns(MONDAY.date())[0].id
    assert main(["week", "--correct", str(number), "as_written", "--readings"]) == 0
    assert "you corrected 1 of these (11%)" in " ".join(capsys.readouterr().out.split())


def test_withdrawing_shows_what_is_gone_and_that_a_search_finds_nothing(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["consent", "--withdraw"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "gone: log.db" in text and "gone: consent.json" in text
    assert f"No file at all is left in {folder.home}" in text


def test_withdrawing_one_child_of_two_searches_what_is_left(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    consent.give(ChildFolder(folder.home, "gull"), ["practise"], NOW)
    assert main(["consent", "--withdraw"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "Looked through 1 file in" in text
    assert "for 10 of the moments at which readings were kept: found in none" in text


def test_the_sound_of_a_reading_is_named_beside_it_while_it_is_kept(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    consent.give(folder, ["keep_clips"], NOW)
    sound = Utterance(np.zeros(1600, np.float32))
    new = clips.keep(ClipPermit(folder), 1, 1, sound, NOW)
    old = clips.keep(ClipPermit(folder), 2, 1, sound, NOW - timedelta(days=8))
    assert main(["week", "--readings"]) == 0
    shown = capsys.readouterr().out
    assert f"its sound, try 1: {new}" in shown and str(old) not in shown
