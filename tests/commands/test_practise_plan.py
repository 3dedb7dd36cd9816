"""``wordhearth practise`` without a list: a planned sitting, its preview and the reason for it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import fixtures_audio
from companion.cli import main
from companion.commands.practise_screen import TerminalScreen
from companion.phonics.gpc import Gpc
from companion.phonics.split import split
from companion.practice.choosing import WHY
from companion.practice.plan import Apply, Meet
from companion.record import today
from companion.record.home import ChildFolder
from companion.record.log import Log

CLIPS = Path(fixtures_audio.__file__).parent / "synthesised"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ChildFolder:
    monkeypatch.setenv("WORDHEARTH_HOME", str(tmp_path / "home"))
    return ChildFolder(tmp_path / "home", "child")


@pytest.fixture
def agreed(folder: ChildFolder, capsys: pytest.CaptureFixture[str]) -> ChildFolder:
    assert main(["consent", "--yes", "practise,keep_log"]) == 0
    capsys.readouterr()
    return folder


@pytest.fixture
def recordings_of(tmp_path: Path) -> Callable[[list[str]], str]:
    """Makes a folder with a recording called after each word: what is said in it matters not."""

    def make(words: list[str]) -> str:
        made = tmp_path / "clips"
        made.mkdir(exist_ok=True)
        for word in words:
            shutil.copy(min(CLIPS.glob("pine.*.opus")), made / f"{word}.opus")
        return str(made)

    return make


def plan_json(capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, Any]:
    assert main(["practise", "--plan", "--json", *more]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def words_of(plan: dict[str, Any]) -> list[str]:
    found = []
    for part in plan["parts"]:
        found += [each["word"] for each in part.get("words", [])]
        found += [part["word"]] if part["part"] == "exception" else []
    return found


def test_the_plan_is_shown_without_consent_microphone_or_anything_kept(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["practise", "--plan", "--today", "i-e"]) == 0
    shown = capsys.readouterr().out
    assert "Words with i-e: 14 words, about 4 minutes" in shown
    assert "Today's sound: i-e, as in kite." in shown
    assert "The i and the e work together." in shown
    assert WHY not in shown
    assert not folder.home.exists()


def test_why_tells_the_reason_for_each_word_and_the_rule(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["practise", "--why", "--today", "i-e"]) == 0
    shown = capsys.readouterr().out
    assert "has today's sound (i-e)" in shown
    assert "a sound not heard here yet" in shown
    assert WHY in shown


def test_todays_sound_is_kept_until_another_is_said(
    agreed: ChildFolder, capsys: pytest.CaptureFixture[str], recordings_of: Callable[..., str]
) -> None:
    assert plan_json(capsys)["name"] == "a-e"
    words = words_of(plan_json(capsys, "--today", "o-e"))
    assert today.read(agreed) is None  # a preview keeps nothing
    clips = recordings_of(words[:1])
    assert main(["practise", "--today", "o-e", "--audio", clips, "--json"]) == 0
    capsys.readouterr()
    assert today.read(agreed) == "o-e"
    assert plan_json(capsys)["name"] == "o-e"


def test_a_planned_sitting_shows_its_parts_in_order_and_keeps_its_words(
    agreed: ChildFolder, capsys: pytest.CaptureFixture[str], recordings_of: Callable[..., str]
) -> None:
    words = words_of(plan_json(capsys, "--today", "i-e"))
    clips = recordings_of([words[0], words[4], words[-1]])
    assert main(["practise", "--today", "i-e", "--audio", clips, "--json"]) == 0
    *lines, end = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    shown = [line.get("part", line.get("verdict") and line["word"]) for line in lines]
    assert shown == [
        "revisit", words[0], "meet", "practise", words[4], "exception", words[-1], "apply",
        "off screen",
    ]  # fmt: skip
    assert end["list"] == "i-e" and len(end["passed_by"]) == len(words) - 3
    with Log.open(agreed.log) as log:
        assert [kept.turn.word for kept in log.turns()] == [words[0], words[4], words[-1]]
        assert log.sittings()[0].list_name == "i-e"
    # what was read today does not come again in the day's second sitting
    assert {words[0], words[4]}.isdisjoint(words_of(plan_json(capsys)))


def test_a_part_of_which_no_word_is_read_is_not_shown(
    agreed: ChildFolder, capsys: pytest.CaptureFixture[str], recordings_of: Callable[..., str]
) -> None:
    words = words_of(plan_json(capsys, "--today", "i-e"))
    clips = recordings_of(words[4:5])
    assert main(["practise", "--today", "i-e", "--audio", clips]) == 0
    shown = capsys.readouterr().out
    assert "First, some words" not in shown
    assert shown.index("Today's sound") < shown.index("1 of 1")
    assert shown.index("1 of 1") < shown.index("Read this to your grown-up")
    assert "capital letter" in shown or "on your fingers" in shown
    assert "wrong" not in shown.lower()


def test_the_teachers_list_becomes_a_part_of_the_sitting(
    folder: ChildFolder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = tmp_path / "week.txt"
    own.write_text("title: Our week\nmine pipe dive fine time side wide smile nine hide\n")
    found = plan_json(capsys, "--today", "i-e", "--week-list", str(own))
    (practise,) = [part for part in found["parts"] if part["part"] == "practise"]
    assert found["title"] == "Our week"
    assert [each["word"] for each in practise["words"]][:2] == ["mine", "pipe"]
    assert {each["why"] for each in practise["words"]} == {"list"}


@pytest.mark.parametrize(
    ("more", "what"),
    [
        (["--today", "zz-e"], "'zz-e' is not in the teaching order"),
        (["--week-list", "no-such"], "'no-such'"),
        (["--today", "s"], "too few words for a sitting"),
    ],
)
def test_what_cannot_be_planned_is_told_with_what_to_do(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str], more: list[str], what: str
) -> None:
    assert main(["practise", "--plan", *more]) == 1
    told = capsys.readouterr().err
    assert what in told and "Why: " in told and "What to do: " in told


def test_a_list_named_needs_no_note_of_todays_sound(
    agreed: ChildFolder, capsys: pytest.CaptureFixture[str], recordings_of: Callable[..., str]
) -> None:
    agreed.today.write_text("damaged")
    clips = recordings_of(["kite"])
    assert main(["practise", "--list", "i-e", "--audio", clips, "--json"]) == 0
    (turn, _) = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert turn["word"] == "kite"
    assert main(["practise", "--audio", clips]) == 1
    assert "--today" in capsys.readouterr().err


def test_the_screen_waits_where_nothing_is_listened_to_and_only_there(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[str] = []
    monkeypatch.setattr("builtins.input", lambda question: asked.append(question) or "")
    meet = Meet((Gpc.parse("i-e /AY/"),), ("kite",), None)
    TerminalScreen(asks=True).part(meet)
    TerminalScreen(asks=True).part(Apply("A gull sat on the cliff."))
    assert len(asked) == 2
    TerminalScreen(asks=False).part(meet)
    assert len(asked) == 2
    assert split("kite")[0].gpcs[1] == meet.gpcs[0]
    assert "A gull sat on the cliff." in capsys.readouterr().out
