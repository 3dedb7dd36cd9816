"""``wordhearth week`` from the outside."""

from __future__ import annotations

import json
import sqlite3
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from companion.cli import main
from companion.record import consent
from companion.record.consent import LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import Try, Turn
from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS

GPCS = {
    "pine": ("p /P/", "i-e /AY/", "n /N/"),
    "kite": ("k /K/", "i-e /AY/", "t /T/"),
    "nine": ("n /N/", "i-e /AY/", "n /N/"),
    "ride": ("r /R/", "i-e /AY/", "d /D/"),
}
NOW = datetime.now().astimezone()
MONDAY = datetime.combine(Week.of(NOW.date()).monday, NOW.timetz())


def read(verdict: str, word: str) -> Turn:
    slip, gpc = ("short_for_split", "i-e /AY/") if verdict == "slip" else (None, None)
    evidence = {"as_written": GPCS[word], "slip": ("i-e /AY/",)}.get(verdict, ())
    done = Try(verdict, slip, gpc, "P AY N", None, None, {verdict: 1.0}, {}, 20.0, evidence)
    return Turn(word, GPCS[word], (done,))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ChildFolder:
    """A child with a week's readings: 5 as written, 3 slips and 1 not told, on 3 days."""
    monkeypatch.setenv("WORDHEARTH_HOME", str(tmp_path / "home"))
    made = ChildFolder(tmp_path / "home", "child")
    consent.give(made, ["practise", "keep_log"], NOW)
    marks = ["as_written"] * 5 + ["slip"] * 3 + ["unsure"]
    with Log.open(made.log) as log:
        permit = LogPermit(made)
        sitting = log.start_sitting(permit, "i-e", None, MONDAY)
        for number, mark in enumerate(marks):
            at = MONDAY + timedelta(days=number % 3)
            log.add_turn(permit, sitting, read(mark, list(GPCS)[number % 4]), at)
    return made


def row(capsys: pytest.CaptureFixture[str], *argv: str) -> dict[str, object]:
    assert main(["week", "--json", *argv]) == 0
    data = json.loads(capsys.readouterr().out)
    found: dict[str, object] = next(each for each in data["rows"] if each["gpc"] == "i-e /AY/")
    return found


def test_this_week_as_json(folder: ChildFolder, capsys: pytest.CaptureFixture[str]) -> None:
    found = row(capsys)
    assert {key: found[key] for key in found if key != "slipped_words"} == {
        "gpc": "i-e /AY/", "exemplar": "kite", "readings": 8, "as_written": 5,
        "slips": {"short_for_split": 3}, "could_not_tell": 1, "days": 3, "words": 4,
        "state": "practise",
    }  # fmt: skip
    assert row(capsys, "--week", str(Week.of(NOW.date()))) == found


def test_piped_it_is_plain_text_with_the_cautions(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["week"]) == 0
    text = capsys.readouterr().out
    assert "\x1b" not in text and max(map(len, text.splitlines())) <= 80
    assert "i-e as in kite" in text
    assert all(caution in " ".join(text.split()) for caution in CAUTIONS)


def test_another_week_is_empty_and_says_so(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["week", "--week", "last"]) == 0
    assert "Nothing was read in this week." in capsys.readouterr().out


def test_what_comes_later_in_the_order_is_not_yet_taught(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert row(capsys, "--taught-up-to", "a-e")["state"] == "not yet taught"
    assert row(capsys, "--taught-up-to", "i-e /AY/")["state"] == "practise"


def test_a_schools_own_order_decides_what_is_taught(
    folder: ChildFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "order.txt").write_text("p\ni-e\nn\na-e\n")
    order = ["--order", str(tmp_path / "order.txt")]
    assert row(capsys, *order, "--taught-up-to", "a-e")["state"] == "practise"
    assert row(capsys, *order, "--taught-up-to", "p")["state"] == "not yet taught"


def test_an_adult_sees_every_reading_and_corrects_one(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["week", "--readings"]) == 0
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    assert text.count("with a slip in i-e") == 3
    assert main(["week", "--correct", "6", "as_written", "--json"]) == 0
    capsys.readouterr()
    assert (row(capsys)["as_written"], row(capsys)["state"]) == (6, "not enough listened")
    assert main(["week", "--readings", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [each["overrule"] for each in data if each["number"] == 6] == ["as_written"]
    assert row(capsys, "--correct", "6", "undo")["as_written"] == 5


@pytest.mark.parametrize(
    ("argv", "what"),
    [
        (["--week", "yesterday"], "'yesterday' is not a week"),
        (["--week", "2026-W60"], "'2026-W60' is not a week"),
        (["--taught-up-to", "xq"], "'xq' is not in the teaching order"),
        (["--taught-up-to", "i-e /??/"], "is not a GPC"),
        (["--correct", "999", "skip"], "There is no reading 999"),
        (["--correct", "one", "skip"], "There is no reading one"),
        (["--correct", "1", "wrong"], "'wrong' is not a mark"),
        (["--child", "gull"], "There is no log for 'gull' yet"),
    ],
)
def test_what_cannot_be_done_is_said_in_three_parts(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str], argv: list[str], what: str
) -> None:
    assert main(["week", *argv]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert what in told.err and "\nWhy: " in told.err and "\nWhat to do: " in told.err


def test_a_damaged_log_is_set_aside_and_the_place_is_said(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    data = folder.log.read_bytes()[:-5000]
    folder.log.write_bytes(data)
    assert main(["week"]) == 1
    aside = folder.path / "log-damaged-1.db"
    assert str(aside) in capsys.readouterr().err
    assert aside.read_bytes() == data


def test_a_log_held_by_another_program_is_said(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.record.log.Log.open.__func__.__defaults__", (0.05,))
    other = sqlite3.connect(folder.log, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    assert main(["week"]) == 1
    assert "is in use" in capsys.readouterr().err
    other.execute("ROLLBACK")
    other.close()
    assert main(["week"]) == 0
