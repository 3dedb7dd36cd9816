"""The class book by commands alone, from a new book to the end of the year."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from companion.cli import main
from companion.commands import household
from companion.phonics.split import split
from companion.record.consent import LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import Try, Turn

FRIDAY = datetime.fromisoformat("2026-11-27T17:30:00+00:00")


@pytest.fixture(autouse=True)
def friday(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(household, "now", lambda: FRIDAY)


@pytest.fixture
def school(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The teacher's computer: a book opened by its login, two pupils, this week's list."""
    monkeypatch.setenv("WORDHEARTH_HOME", str(tmp_path / "school"))
    monkeypatch.chdir(tmp_path)
    assert main(["class", "start", "--login", "--pupils", "2", "--taught", "u-e"]) == 0
    assert main(["class", "list", "i-e"]) == 0
    return tmp_path


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    capsys.readouterr()
    assert main(list(arguments)) == 0, capsys.readouterr().err
    return capsys.readouterr().out


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    capsys.readouterr()
    assert main(list(arguments)) == 1
    return capsys.readouterr().err


def codes(capsys: pytest.CaptureFixture[str]) -> list[str]:
    record = json.loads(said(capsys, "class", "pupil", "list", "--json"))
    return [pupil["code"] for pupil in record["pupils"]]


def practise(home: Path, words: tuple[str, ...] = ("kite", "pine", "time", "ride")) -> None:
    folder = ChildFolder(home, "child")
    permit = LogPermit(folder)
    with Log.open(folder.log) as log:
        for day in range(3):
            at = FRIDAY - timedelta(days=3 - day)
            sitting = log.start_sitting(permit, "school 2026-W48", None, at)
            for word in words:
                gpcs = tuple(str(unit.gpc) for unit in split(word)[0].units)
                one = Try("as_written", None, None, "K", None, None, {}, {}, 1.0, gpcs)
                log.add_turn(permit, sitting, Turn(word, gpcs, (one,)), at)


def test_two_homes_hand_in_and_the_teacher_takes_it_in(
    school: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = said(capsys, "class", "family", "--out", "slips", "--paper")
    assert "2 family files" in out
    slips = sorted(Path("slips").glob("*.family"))
    assert [slip.name[:6] for slip in slips] == sorted(codes(capsys))
    assert Path("slips/family-sheets.pdf").read_bytes().startswith(b"%PDF")
    key = re.search(r"class's key is (.{14})", out)
    assert key is not None
    for number, slip in enumerate(slips):
        home = str(school / f"home{number}")
        assert main(["consent", "--home", home, "--yes", "practise,keep_log,hand_in"]) == 0
        joined = said(capsys, "join", str(slip), "--home", home)
        assert key[1] in joined and "16 words" in joined
        practise(school / f"home{number}")
        shown = said(capsys, "hand-in", "--home", home, "--show")
        assert "12 words on 3 days" in shown and not list(school.glob("*.sealed"))
        made = said(capsys, "hand-in", "--home", home, "--out", "in")
        assert "only the class teacher can open it" in made
        for word in ("kite", "pine"):
            assert word not in shown + made
    preview = said(capsys, "class", "import", "in", "--preview")
    assert preview.startswith("New: 2") and preview.count("first key") == 2
    (one, other) = codes(capsys)
    assert main(["class", "import", "in", "--yes", "--accept", one]) == 1
    assert "Taken in: 1 new, 0 changed, 1 homes' keys." in capsys.readouterr().out
    assert main(["class", "import", "in", "--yes", "--accept", other]) == 0
    again = said(capsys, "class", "import", "in", "--yes", "--json").splitlines()
    assert [json.loads(line)["standing"] for line in again[:-1]] == ["same", "same"]
    assert json.loads(again[-1]) == {"new": 0, "changed": 0, "keys": 0}


def test_practising_follows_what_the_school_sent(
    school: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("ours.txt").write_text("title: Boats of Saltmarrow\ntarget: o-e /OW/\nrope\nhole\n")
    said(capsys, "class", "list", "ours.txt")
    said(capsys, "class", "family", "--out", "slips")
    main(["consent", "--home", "h", "--yes", "practise"])
    main(["join", str(min(Path("slips").glob("*.family"))), "--home", "h"])
    shown = said(capsys, "practise", "--plan", "--home", "h")
    assert "o-e" in shown and "rope" in shown and "hole" in shown
    assert "rope" not in said(capsys, "practise", "--plan", "--today", "a-e", "--home", "h")


def test_import_asks_and_only_a_typed_yes_takes(
    school: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    said(capsys, "class", "family", "--out", "slips")
    slip = min(Path("slips").glob("*.family"))
    main(["consent", "--home", "h", "--yes", "practise,keep_log,hand_in"])
    main(["join", str(slip), "--home", "h"])
    practise(school / "h")
    main(["hand-in", "--home", "h", "--out", "in"])
    for typed, taken in ((["", ""], 0), (["y", "no"], 0), (["y", "yes"], 1)):
        answers = iter(typed)
        monkeypatch.setattr("builtins.input", lambda question, left=answers: next(left))
        capsys.readouterr()
        assert main(["class", "import", "in"]) == (0 if taken else 1)
        assert f"Taken in: {taken} new" in capsys.readouterr().out


def test_a_sheets_square_is_joined_by_pasting(
    school: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    import io

    from companion.report import family_file

    said(capsys, "class", "family", "--out", "slips")
    file = family_file.parse(min(Path("slips").glob("*.family")).read_text())
    main(["consent", "--home", "h", "--yes", "practise"])
    monkeypatch.setattr("sys.stdin", io.StringIO(family_file.short_text(file).lower()))
    assert f"under the code {file.pupil}" in said(capsys, "join", "-", "--home", "h")


def test_the_register_the_teaching_and_the_aids_are_kept(
    school: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code = codes(capsys)[0]
    said(capsys, "class", "pupil", "name", code, "Wren Tidewell")
    assert "Wren Tidewell" in said(capsys, "class", "pupil", "list")
    assert "Wren" not in said(capsys, "class", "pupil", "list", "--json")
    assert "hidden since 2026-11-27" in said(capsys, "class", "pupil", "hide", code.lower())
    assert "1 shown, 1 hidden" in said(capsys, "class", "settings", "--accent", "welsh")
    assert "2026-11-23  ow /OW/" in said(capsys, "class", "taught", "ow /OW/", "--on", "2026-11-23")
    assert "ow /OW/" not in said(capsys, "class", "taught", "--not-yet", "ow /OW/").split("Next")[0]
    assert "u-e /UW/: cube on the dune" in said(
        capsys, "class", "aid", "phrase", "u-e", "cube on the dune"
    )
    assert said(capsys, "class", "aid", "phrase", "u-e", "--clear") == "There are no aids yet.\n"
    shown = said(capsys, "class", "list", "u-e", "--week", "next", "--group", "2")
    assert "# 2026-W49, group 2" in shown
    order = said(capsys, "class", "order").splitlines()
    Path("ours.txt").write_text("\n".join(reversed(order)))
    assert said(capsys, "class", "order", "ours.txt").splitlines()[-1] == order[0]
    assert said(capsys, "class", "order", "--default").splitlines() == order


def test_a_list_that_is_not_yet_decodable_says_so(
    school: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("ours.txt").write_text("[words]\nsnow\nkite\n")
    shown = said(capsys, "class", "list", "ours.txt")
    assert "# not yet decodable: snow" in shown and "decodable: kite" not in shown


def test_the_year_ends_with_proof_and_only_by_the_classes_code(
    school: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    gone = codes(capsys)
    monkeypatch.setattr("builtins.input", lambda question: "yes")
    assert "Nothing was erased" in refused(capsys, "class", "erase", "--year")
    assert codes(capsys) == gone
    name = re.search(r"Class +(\w{6})", said(capsys, "class", "settings"))
    assert name is not None
    out = said(capsys, "class", "erase", "--year", "--confirm", name[1], "--proof", "proof.json")
    assert "Erased: 2 pupils" in out and "0 were found" in out and "Not reached: backups" in out
    proof = json.loads(Path("proof.json").read_text())
    assert proof["left"] == 0 and proof["marks"] == 2
    assert not any(code in Path("proof.json").read_text() for code in gone)
    book = (school / "school" / "class-book.db").read_bytes()
    assert not any(code.encode() in book for code in gone)


def test_a_passphrase_is_handed_over(school: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("old").write_text("seven grey herring gulls\n")
    Path("new").write_text("four other plain words\n")
    said(capsys, "class", "hand-over", "--new-passphrase-file", "old")
    assert "needs its passphrase" in refused(capsys, "class", "pupil", "list", "--names")
    out = said(
        capsys, "class", "hand-over", "--passphrase-file", "old", "--new-passphrase-file", "new",
        "--new-keys",
    )  # fmt: skip
    assert "The class's key is now" in out
    assert "not the one" in refused(
        capsys, "class", "pupil", "list", "--names", "--passphrase-file", "old"
    )
    assert codes(capsys)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("class", "settings", "--book", "none.db"), "There is no class book"),
        (("class", "start", "--login"), "No class book was started"),
        (("class", "list", "no-such-list"), "no such file"),
        (("class", "list", "--week", "soon"), "is not a week"),
        (("class", "taught", "zzz"), "not in the teaching order"),
        (("class", "aid", "phrase", "i-e"), "either its text or --clear"),
        (("class", "family", "7K3QFY", "--out", "slips"), "no pupil 7K3QFY"),
        (("class", "order", "no-such-file"), "could not be read"),
        (("join", "missing.family", "--home", "h"), "consent"),
        (("hand-in", "--home", "h"), "consent"),
        (("hand-in", "--week", "soon"), "is not a week"),
    ],
    ids=lambda each: " ".join(each) if isinstance(each, tuple) else "",
)
def test_what_cannot_be_done_is_said_with_its_mend(
    school: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], word: str
) -> None:
    told = refused(capsys, *arguments)
    assert word in told and "What to do:" in told


def test_a_file_that_is_not_taken_is_told_of_and_ends_in_1(
    school: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("cut.sealed").write_bytes(b"WORDHEARTH-SEAL\n")
    assert main(["class", "import", "cut.sealed", "missing.sealed", "--yes"]) == 1
    told = capsys.readouterr().out
    assert "Not taken: 2" in told and "cut.sealed is cut off" in told
    assert "missing.sealed is empty or cannot be opened" in told and "What to do:" in told


@pytest.mark.parametrize("code", ["7K3QFO", "7K3QFW", "pip"])
def test_a_miswritten_code_is_a_wrong_usage(
    school: Path, capsys: pytest.CaptureFixture[str], code: str
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["class", "pupil", "hide", code])
    assert ended.value.code == 2 and "is not a code" in capsys.readouterr().err


def test_class_alone_lists_its_commands(capsys: pytest.CaptureFixture[str]) -> None:
    from companion.commands.class_ import COMMANDS

    done = subprocess.run(
        [sys.executable, "-m", "companion", "class", "--help"], capture_output=True, text=True
    )
    assert done.returncode == 0
    assert [name for name in COMMANDS if name not in done.stdout] == []
