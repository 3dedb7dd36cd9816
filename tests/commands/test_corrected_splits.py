"""A teacher's corrected split stands in every command that splits a word."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from companion.cli import main
from companion.phonics.own_words import Corrections, correct
from companion.phonics.reading import reading


def test_a_corrected_split_stands_in_the_split_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home = ["--home", str(tmp_path)]
    assert main(["split", "--json", "use", *home]) == 0
    assert len(json.loads(capsys.readouterr().out)["readings"]) == 2
    assert main(["words", "use", "--set", "use", "u-e s", *home]) == 0
    capsys.readouterr()
    assert main(["split", "--json", "use", *home]) == 0
    assert len(json.loads(capsys.readouterr().out)["readings"]) == 1


def test_a_corrected_split_is_what_a_reading_is_heard_by() -> None:
    corrected = Corrections((correct("use", "u-e s"),)).split("use")[0]
    assert len(reading("use").splits) == 2
    heard = reading("use", corrected=corrected)
    assert heard.splits == (corrected,)
    assert "Y UW S" in heard.accepted
    assert "Y UW Z" not in heard.accepted
