"""wordhearth split, as text and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from companion.cli import main


def objects(capsys: pytest.CaptureFixture[str], *words: str) -> list[dict[str, object]]:
    assert main(["split", "--json", *words]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_json_has_one_object_a_word_with_letters_phonemes_and_gpcs(
    capsys: pytest.CaptureFixture[str],
) -> None:
    pine, hoped = objects(capsys, "pine", "hoped")
    assert pine["word"] == "pine"
    assert pine["graphemes"] == [
        {"grapheme": "p", "letters": [0], "phonemes": ["P"]},
        {"grapheme": "i-e", "letters": [1, 3], "phonemes": ["AY"]},
        {"grapheme": "n", "letters": [2], "phonemes": ["N"]},
    ]
    assert pine["gpcs"] == ["p /P/", "i-e /AY/", "n /N/"]
    assert (pine["regular"], pine["exception_part"]) == (True, None)
    assert hoped["gpcs"] == ["h /HH/", "o-e /OW/", "p /P/", "ed /T/"]


def test_json_marks_the_exception_part_and_gives_every_reading_of_a_homograph(
    capsys: pytest.CaptureFixture[str],
) -> None:
    said, read = objects(capsys, "said", "read")
    assert (said["regular"], said["exception_part"]) == (False, "ai")
    readings = read["readings"]
    assert isinstance(readings, list)
    assert {reading["phones"] for reading in readings} == {"R EH D", "R IY D"}


def test_text_shows_graphemes_apart_and_names_what_is_not_decodable(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["split", "pine", "said"]) == 0
    out = capsys.readouterr().out
    assert "p · i-e · n" in out
    assert "not decodable: ai" in out


def test_a_bad_word_is_explained_and_the_others_are_still_split(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["split", "--json", "7up", "pine"]) == 1
    captured = capsys.readouterr()
    first, second = (json.loads(line) for line in captured.out.splitlines())
    assert "digit" in first["error"] and second["word"] == "pine"
    assert "Write the number as a word" in captured.err


def test_an_unknown_word_can_be_split_with_its_phones(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["split", "--phones", "V IY M", "vime"]) == 0
    assert "/IY/" in capsys.readouterr().out


def test_a_schools_broken_table_names_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "ours.csv"
    path.write_text("grapheme,phonemes\n", "utf-8")
    assert main(["split", "--table", str(path), "pine"]) == 1
    assert "ours.csv, line 1" in capsys.readouterr().err
