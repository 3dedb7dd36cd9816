"""``wordhearth practise`` from the outside, with recordings in the place of a microphone."""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import fixtures_audio
from companion.cli import main
from companion.commands.practise_screen import TerminalScreen
from companion.phonics.reading import reading
from companion.practice.verdicts import VERDICTS
from companion.record.home import ChildFolder
from companion.record.log import Log

CLIPS = Path(fixtures_audio.__file__).parent / "synthesised"
WORDS = ("pine", "kite", "hope", "tape")
MANY = (
    *("pin", "cape", "hop", "tub", "kit", "mad", "cube", "pet"),
    *("cap", "kite", "made", "hope", "cut", "rod", "rode", "tap"),
)
COMMAND = [sys.executable, "-c", "from companion.cli import main; raise SystemExit(main())"]

Run = Callable[..., int]


def clip(word: str) -> Path:
    """A plain reading of a word among the bundled clips."""
    return min(CLIPS.glob(f"{word}.*.opus"))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ChildFolder:
    monkeypatch.setenv("WORDHEARTH_HOME", str(tmp_path / "home"))
    return ChildFolder(tmp_path / "home", "child")


@pytest.fixture
def own_list(tmp_path: Path) -> str:
    path = tmp_path / "own.txt"
    path.write_text("title: Our own words\n" + "\n".join(WORDS))
    return str(path)


@pytest.fixture
def clips(tmp_path: Path) -> Path:
    made = tmp_path / "clips"
    made.mkdir()
    for word in WORDS:
        shutil.copy(clip(word), made / f"{word}.opus")
        shutil.copy(clip(word), made / f"{word}-2.opus")
    return made


@pytest.fixture
def long_sitting(tmp_path: Path) -> list[str]:
    """A list of 16 words with two recordings each, which takes some seconds to hear."""
    made = tmp_path / "many"
    made.mkdir()
    for word in MANY:
        for name in (word, f"{word}-2"):
            shutil.copy(clip("pine"), made / f"{name}.opus")
    path = tmp_path / "many.txt"
    path.write_text("\n".join(MANY))
    return ["practise", "--list", str(path), "--audio", str(made), "--json"]


def lines(text: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in text.splitlines()]


def kept_words(folder: ChildFolder) -> list[str]:
    with Log.open(folder.log) as log:
        return [kept.turn.word for kept in log.turns()]


def agree(choices: str) -> None:
    assert main(["consent", "--yes", choices]) == 0


def test_without_consent_nothing_is_heard_and_the_way_to_it_is_said(
    folder: ChildFolder, own_list: str, clips: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["practise", "--list", own_list, "--audio", str(clips)]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert "There is no consent to listen to the child." in told.err
    assert "What to do:" in told.err and "wordhearth consent" in told.err
    assert not folder.home.exists()


def test_a_sitting_is_heard_word_by_word_and_kept(
    folder: ChildFolder, own_list: str, clips: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    agree("practise,keep_log")
    capsys.readouterr()
    assert main(["practise", "--list", own_list, "--audio", str(clips), "--json"]) == 0
    *turns, end = lines(capsys.readouterr().out)
    assert [turn["word"] for turn in turns] == list(WORDS)
    assert turns[0]["graphemes"] == ["p", "i-e", "n"]
    for turn in turns:
        assert turn["verdict"] in VERDICTS
        assert turn["verdict"] == turn["tries"][-1]["verdict"]
        assert 1 <= len(turn["tries"]) <= 2
        for each in turn["tries"]:
            assert sum(each["p"].values()) == pytest.approx(1)
    assert end["words_read"] == list(WORDS)
    assert (end["list"], end["kept"], end["stopped"]) == ("own", True, False)
    assert kept_words(folder) == list(WORDS)
    with Log.open(folder.log) as log:
        assert [turn["turn"] for turn in turns] == [kept.id for kept in log.turns()]
        assert log.sittings()[0].ended is not None
    assert main(["week", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["turns"] == len(WORDS)


def test_without_a_log_it_works_and_says_that_nothing_is_kept(
    folder: ChildFolder, own_list: str, clips: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    agree("practise")
    assert main(["practise", "--list", own_list, "--audio", str(clips)]) == 0
    shown = capsys.readouterr().out
    assert "Nothing you read is kept." in shown
    assert "no log was agreed to" in shown
    assert "Today you practised: pine, kite, hope, tape." in shown
    assert [path.name for path in folder.path.iterdir()] == ["consent.json"]


def test_the_child_is_told_who_can_see_before_the_first_word(
    folder: ChildFolder, own_list: str, clips: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    agree("practise,keep_log")
    capsys.readouterr()
    main(["practise", "--list", own_list, "--audio", str(clips)])
    shown = capsys.readouterr().out
    assert shown.index("The grown-ups at home can see") < shown.index("1 of 4")
    assert "p · i-e · n" in shown
    assert "wrong" not in shown.lower()


def test_clips_are_kept_only_when_chosen(folder: ChildFolder, own_list: str, clips: Path) -> None:
    agree("practise,keep_log")
    main(["practise", "--list", own_list, "--audio", str(clips), "--json"])
    assert not folder.clips.exists()
    agree("keep_clips")
    main(["practise", "--list", own_list, "--audio", str(clips), "--json"])
    with Log.open(folder.log) as log:
        later = log.turns()[len(WORDS) :]
    assert len(list(folder.clips.iterdir())) == sum(len(kept.turn.tries) for kept in later)


def test_a_recording_that_cannot_be_heard_is_told_and_the_rest_is_kept(
    folder: ChildFolder, own_list: str, clips: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    agree("practise,keep_log")
    (clips / "kite.opus").write_bytes(b"")
    (clips / "hope.opus").write_text("not sound at all " * 99)
    capsys.readouterr()
    assert main(["practise", "--list", own_list, "--audio", str(clips), "--json"]) == 1
    told = lines(capsys.readouterr().out)
    errors = {line["word"]: line["error"] for line in told if "error" in line}
    assert set(errors) == {"kite", "hope"}
    assert all(error["what"] and error["why"] and error["mend"] for error in errors.values())
    assert kept_words(folder) == ["pine", "tape"]


def test_one_file_is_heard_as_the_word_it_is_called_after(
    folder: ChildFolder, clips: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    agree("practise")
    capsys.readouterr()
    assert main(["practise", "--list", "i-e", "--audio", str(clips / "kite.opus"), "--json"]) == 0
    turn, end = lines(capsys.readouterr().out)
    assert turn["word"] == "kite"
    assert "bike" in end["passed_by"] and "kite" not in end["passed_by"]


@pytest.mark.parametrize(
    ("text", "what"),
    [("pine\n1234\nkite", "line 2"), ("", "no words"), ("pine\nxqjv\nbrzt\n", "xqjv")],
)
def test_a_list_that_cannot_be_read_is_told_before_anything_is_kept(
    folder: ChildFolder, tmp_path: Path, clips: Path, capsys: pytest.CaptureFixture[str],
    text: str, what: str,
) -> None:  # fmt: skip
    agree("practise,keep_log")
    (tmp_path / "mine.txt").write_text(text)
    capsys.readouterr()
    argv = ["practise", "--list", str(tmp_path / "mine.txt"), "--audio", str(clips)]
    assert main(argv) == 1
    told = capsys.readouterr().err
    assert what in told and "\nWhy: " in told and "\nWhat to do: " in told
    assert not folder.log.exists()


@pytest.mark.parametrize("argv", [["--list", "no-such-list"], ["--audio", "no-such-file.wav"]])
def test_what_is_not_there_is_named(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str], argv: list[str]
) -> None:
    agree("practise,keep_log")
    capsys.readouterr()
    assert main(["practise", *argv]) == 1
    assert argv[1] in capsys.readouterr().err
    assert not folder.log.exists()


def test_a_damaged_log_is_set_aside_and_the_same_command_then_works(
    folder: ChildFolder, own_list: str, clips: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    agree("practise,keep_log")
    argv = ["practise", "--list", own_list, "--audio", str(clips), "--json"]
    main(argv)
    data = folder.log.read_bytes()[:-5000]
    folder.log.write_bytes(data)
    capsys.readouterr()
    assert main(argv) == 1
    aside = folder.path / "log-damaged-1.db"
    assert str(aside) in capsys.readouterr().err
    assert aside.read_bytes() == data
    assert main(argv) == 0
    assert kept_words(folder) == list(WORDS)


def test_a_locked_log_is_told_before_the_child_reads(
    folder: ChildFolder, own_list: str, clips: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    agree("practise,keep_log")
    argv = ["practise", "--list", own_list, "--audio", str(clips), "--json"]
    main(argv)
    monkeypatch.setattr("companion.record.log.Log.open.__func__.__defaults__", (0.05,))
    other = sqlite3.connect(folder.log, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    capsys.readouterr()
    assert main(argv) == 1
    told = capsys.readouterr()
    assert told.out == "" and "is in use" in told.err
    other.execute("ROLLBACK")
    other.close()
    assert kept_words(folder) == list(WORDS)


def stopped_in_mid_sitting(argv: list[str], signal_number: int) -> tuple[int, list[dict[str, Any]]]:
    """Run the real command, stop it after its second turn; its status and all it told."""
    with subprocess.Popen(
        [*COMMAND, *argv], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env=os.environ,
    ) as program:  # fmt: skip
        assert program.stdout is not None
        told = program.stdout.readline() + program.stdout.readline()
        program.send_signal(signal_number)
        told += program.stdout.read()
    return program.returncode, lines(told)


def test_kill_9_in_mid_sitting_loses_no_committed_turn(
    folder: ChildFolder, long_sitting: list[str]
) -> None:
    agree("practise,keep_log")
    code, told = stopped_in_mid_sitting(long_sitting, signal.SIGKILL)
    assert code == -signal.SIGKILL
    kept = kept_words(folder)
    assert kept[: len(told)] == [line["word"] for line in told]
    assert 2 <= len(told) <= len(kept) <= len(told) + 1 < 16
    db = sqlite3.connect(folder.log)
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    db.close()
    assert main(long_sitting) == 0
    assert len(kept_words(folder)) == len(kept) + 16


def test_ctrl_c_in_mid_sitting_closes_it_and_keeps_everything(
    folder: ChildFolder, long_sitting: list[str]
) -> None:
    agree("practise,keep_log")
    code, told = stopped_in_mid_sitting(long_sitting, signal.SIGINT)
    *turns, end = told
    assert code == 130
    assert end["stopped"] is True
    kept = kept_words(folder)
    assert kept == end["words_read"] and len(kept) < 16
    assert kept[: len(turns)] == [line["word"] for line in turns]
    with Log.open(folder.log) as log:
        assert log.sittings()[0].ended is not None


def test_without_portaudio_the_missing_part_is_named_and_recordings_still_work(
    folder: ChildFolder, own_list: str, clips: Path, tmp_path: Path
) -> None:
    """`sounddevice` raises this very error on import where PortAudio is not installed."""
    agree("practise")
    (tmp_path / "sounddevice.py").write_text('raise OSError("PortAudio library not found")\n')
    paths = [str(tmp_path), os.environ.get("PYTHONPATH", "")]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}
    argv = [*COMMAND, "practise", "--list", own_list]
    live = subprocess.run(argv, capture_output=True, text=True, env=env, check=False)
    assert live.returncode == 1
    assert "PortAudio" in live.stderr and "install" in live.stderr and "--audio" in live.stderr
    assert "Traceback" not in live.stderr
    recorded = subprocess.run(
        [*argv, "--audio", str(clips)], capture_output=True, text=True, env=env, check=False
    )
    assert (recorded.returncode, recorded.stderr) == (0, "")


@pytest.mark.parametrize(
    ("typed", "said"),
    [("a\n", "as_written"), ("N\n", "not"), ("s\n", "skip"), ("\n", None), ("what\na\n",
     "as_written"), ("", None)],
)  # fmt: skip
def test_the_adults_answer_is_taken_down(
    monkeypatch: pytest.MonkeyPatch, typed: str, said: str | None
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    assert TerminalScreen(asks=True).ask(reading("pine")) == said


def test_nobody_is_asked_where_nobody_can_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("a\n"))
    assert TerminalScreen(asks=False).ask(reading("pine")) is None
