"""``wordhearth consent`` from the outside: what is asked, what is recorded, what is erased."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from companion.cli import main
from companion.record.consent_text import CHOICES, SECTIONS, TEXT_VERSION
from companion.record.home import child_folder


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("WORDHEARTH_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def answer(monkeypatch: pytest.MonkeyPatch, *lines: str) -> int:
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
    return main(["consent"])


def recorded(home: Path, label: str = "child") -> dict[str, dict[str, str]]:
    path = home / f"reader-{label}" / "consent.json"
    given: dict[str, dict[str, str]] = json.loads(path.read_text())["given"]
    return given


def test_every_choice_is_asked_by_itself_after_the_words(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert answer(monkeypatch, "y", "yes", "n", "Y") == 0
    assert set(recorded(home)) == {"practise", "keep_log", "keep_clips"}
    assert {yes["text_version"] for yes in recorded(home).values()} == {TEXT_VERSION}
    shown = " ".join(capsys.readouterr().out.split())
    for title, text in SECTIONS:
        assert f"{title}: {text}" in shown
    for choice in CHOICES:
        assert choice.question in shown


def test_enter_is_no(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert answer(monkeypatch, "", "") == 0
    assert not home.exists()


@pytest.mark.parametrize("said", ["maybe", "ok", "j", "no", "true", "1"])
def test_only_yes_is_yes(home: Path, monkeypatch: pytest.MonkeyPatch, said: str) -> None:
    assert answer(monkeypatch, said, said) == 0
    assert not home.exists()


def test_what_needs_a_log_is_not_asked_without_one(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert answer(monkeypatch, "y", "n") == 0
    assert set(recorded(home)) == {"practise"}
    assert capsys.readouterr().out.count("Not asked: it needs 'keep_log'.") == 2


def test_answers_that_stop_half_way_record_nothing(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert answer(monkeypatch, "y", "y") == 1
    assert not home.exists()
    told = capsys.readouterr().err
    assert "nothing was recorded" in told
    assert "Why:" in told and "What to do:" in told


def test_a_yes_is_not_asked_again_and_enter_does_not_take_it_back(
    home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answer(monkeypatch, "y", "y", "n", "n")
    before = recorded(home)
    assert answer(monkeypatch, "", "") == 0
    assert recorded(home) == before
    assert "--withdraw keep_log" in capsys.readouterr().out


def test_yes_without_questions(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["consent", "--yes", "practise,keep_log", "--child", "Puffin"]) == 0
    assert set(recorded(home, "puffin")) == {"practise", "keep_log"}
    assert main(["consent", "--show", "--child", "puffin"]) == 0
    shown = capsys.readouterr().out
    assert "keep_clips  no" in shown
    assert "practise    yes, since" in shown


def test_another_place_can_be_named(home: Path, tmp_path: Path) -> None:
    assert main(["consent", "--yes", "practise", "--home", str(tmp_path / "other")]) == 0
    assert (tmp_path / "other" / "reader-child" / "consent.json").exists()
    assert not home.exists()


@pytest.mark.parametrize("wrong", ["", "everything", "practise;keep_log", "all"])
def test_a_yes_to_nothing_known_is_wrong_usage(
    wrong: str, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["consent", "--yes", wrong])
    assert stopped.value.code == 2
    assert "the choices are practise, keep_log, hand_in, keep_clips" in capsys.readouterr().err
    assert not home.exists()


def test_a_choice_that_needs_another_is_refused_with_what_to_do(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["consent", "--yes", "practise,keep_clips"]) == 1
    assert "keep_log,keep_clips" in capsys.readouterr().err
    assert not home.exists()


@pytest.mark.parametrize("argv", [["--withdraw"], ["--withdraw", "all"]])
def test_withdrawing_all_leaves_nothing(
    argv: list[str], home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["consent", "--yes", "practise,keep_log,hand_in"])
    child_folder().handing.write_text("{}")  # a summary has been made
    assert main(["consent", *argv]) == 0
    shown = capsys.readouterr().out
    assert "Taken back: practise, keep_log, hand_in." in shown
    assert "ask the school to erase it" in shown
    assert list(home.iterdir()) == []


def test_withdrawing_one_choice_keeps_the_others(home: Path) -> None:
    main(["consent", "--yes", "practise,keep_log"])
    assert main(["consent", "--withdraw", "keep_log"]) == 0
    assert set(recorded(home)) == {"practise"}


def test_a_full_name_is_not_needed_and_a_strange_label_is_refused(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["consent", "--yes", "practise", "--child", "../elsewhere"]) == 1
    assert "nickname" in capsys.readouterr().err
    assert not home.exists()


def test_a_damaged_record_is_told_and_left(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["consent", "--yes", "practise"])
    (home / "reader-child" / "consent.json").write_text("{")
    assert main(["consent", "--show"]) == 1
    told = capsys.readouterr().err
    assert "cannot be read" in told and "What to do:" in told
    assert (home / "reader-child" / "consent.json").read_text() == "{"


def test_the_words_fit_80_columns(capsys: pytest.CaptureFixture[str]) -> None:
    main(["consent", "--show", "--home", "somewhere"])
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 80
