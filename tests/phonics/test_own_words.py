import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.cli import main
from companion.phonics.decodable import Taught, gap, named
from companion.phonics.gpc import table
from companion.phonics.own_words import (
    Correction,
    Corrections,
    correct,
    load_corrections,
    look_at,
    save_corrections,
    words_in,
)
from companion.phonics.split import WordError
from companion.phonics.wordlists import WordListError

ORDER = table().order()
TAUGHT = Taught.up_to(named("i-e", ORDER)[-1], ORDER)


def only(pasted: str, corrections: Corrections | None = None) -> tuple[str, ...]:
    (own,) = look_at(pasted, TAUGHT, corrections)
    return own.warnings


def test_a_pasted_list_of_any_shape_gives_its_words_once() -> None:
    pasted = "1. pin, pine;\t“Kite”\n2) pin | don’t.\n• sea-side"
    assert words_in(pasted) == ("pin", "pine", "Kite", "don’t", "sea-side")


def test_a_decodable_word_has_its_split_and_no_warning() -> None:
    (own,) = look_at("Pine", TAUGHT)
    assert str(own.readings[0]) == "p · i-e · n"
    assert own.warnings == ()


def test_untaught_gpcs_are_warned_of() -> None:
    (own,) = look_at("snow", TAUGHT)
    assert [str(gpc) for gpc in own.untaught] == ["ow /OW/"]
    assert "ow /OW/" in own.warnings[0]


@pytest.mark.parametrize("word", ["read", "live", "use", "close", "wind", "tear"])
def test_homographs_are_warned_of_with_their_readings(word: str) -> None:
    (own,) = look_at(word, TAUGHT)
    assert len(own.readings) > 1
    assert any("ways" in warning for warning in own.warnings)


def test_the_part_of_an_exception_word_that_is_not_decodable_is_named() -> None:
    assert any("part is ai" in warning for warning in only("said"))


def test_a_word_no_dictionary_has_is_split_by_rule_and_said_to_be() -> None:
    assert any("check the spelling" in warning for warning in only("plibe"))


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        ("café", "é"),
        ("пин", "letter"),
        ("pi9n", "digit"),
        ("a" * 60, "60 letters"),
        ("pin=pine", "mark"),
    ],
)
def test_a_word_that_cannot_be_split_is_kept_with_its_reason(bad: str, says: str) -> None:
    good, own = look_at(f"cat {bad}", TAUGHT)
    assert good.word == "cat" and good.fault is None
    assert own.word == bad and own.fault is not None
    assert says in own.warnings[0]


@pytest.mark.parametrize("nothing", ["", "  \n", "1. \n2. ", "...", "[]"])
def test_nothing_pasted_is_no_words(nothing: str) -> None:
    assert look_at(nothing, TAUGHT) == ()


@pytest.mark.parametrize("word", ["PINE", "pIne", "DON'T", "Sea-Side"])
def test_mixed_case_apostrophes_and_hyphens_are_split(word: str) -> None:
    (own,) = look_at(word, TAUGHT)
    assert own.fault is None and own.readings


def test_a_corrected_split_stands_where_words_are_looked_at_and_measured() -> None:
    sea = Corrections().plus(correct("pine", "p i ne"))
    (own,) = look_at("Pine", TAUGHT, sea)
    assert own.corrected
    assert str(own.readings[0]) == "p · i · ne"
    assert gap("pine", TAUGHT) is None
    assert gap("pine", TAUGHT, sea.split) is not None


def test_graphemes_alone_keep_the_dictionarys_sounds() -> None:
    (split,) = Corrections((correct("chef", "ch e f"),)).split("chef")
    assert [str(gpc) for gpc in split.gpcs] == ["ch /SH/", "e /EH/", "f /F/"]


def test_a_sound_after_a_grapheme_is_taken() -> None:
    assert correct("zow", "z ow /OW/") == Correction("zow", "Z OW", ("z", "ow"))


@pytest.mark.parametrize(
    ("graphemes", "says"),
    [
        ("p ii n e", "each letter"),
        ("p i n", "each letter"),
        ("", "not graphemes"),
        ("p /P i-e n", "not graphemes"),
        ("P I-E N", "not graphemes"),
        ("p i n e", "silent"),
        ("p /QQ/ i-e n", "QQ"),
    ],
)
def test_a_correction_that_does_not_fit_is_refused_with_the_mend(graphemes: str, says: str) -> None:
    with pytest.raises(WordError, match=says) as caught:
        correct("pine", graphemes)
    assert caught.value.mend


def test_a_corrections_file_keeps_what_was_decided(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "splits.csv"
    assert load_corrections(path) == Corrections()
    chosen = Corrections().plus(correct("chef", "ch e f")).plus(correct("pine", "p i ne"))
    save_corrections(path, chosen)
    assert load_corrections(path) == chosen
    assert load_corrections(path).minus("CHEF").find("chef") is None
    assert [each.name for each in path.parent.iterdir()] == ["splits.csv"]


def test_a_second_correction_of_a_word_takes_the_place_of_the_first() -> None:
    twice = Corrections().plus(correct("pine", "p i ne")).plus(correct("Pine", "p i-e n"))
    assert len(twice.rows) == 1
    assert str(twice.split("pine")[0]) == "p · i-e · n"


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("chef,SH EH F", "three parts"),
        ("chef,SH EH F,ch e", "does not spell"),
        ("ch3f,SH EH F,ch e f", "digit"),
        ("chef,SH QQ F,ch e f", "QQ"),
    ],
)
def test_a_broken_corrections_file_is_named_by_its_line(
    line: str, says: str, tmp_path: Path
) -> None:
    path = tmp_path / "splits.csv"
    path.write_text(f"word,phones,graphemes\npine,P AY N,p i-e n\n{line}\n", encoding="utf-8")
    with pytest.raises(WordListError, match=f"(?s)line 3.*{says}"):
        load_corrections(path)


def test_a_folder_that_cannot_be_written_loses_nothing_and_says_so(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("kept", encoding="utf-8")
    with pytest.raises(WordListError, match="was not saved"):
        save_corrections(tmp_path / "file" / "splits.csv", Corrections())
    assert (tmp_path / "file").read_text(encoding="utf-8") == "kept"


@given(st.text(max_size=60))
def test_anything_pasted_is_looked_at(pasted: str) -> None:
    for own in look_at(pasted, TAUGHT):
        assert own.readings or own.fault is not None


def test_the_command_corrects_a_split_that_stands_until_it_is_taken_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home = ["--home", str(tmp_path)]
    assert main(["words", "--set", "chef", "ch e f", *home]) == 0
    assert "your split" in capsys.readouterr().out
    assert main(["words", "chef", "--json", *home]) == 0
    assert json.loads(capsys.readouterr().out)["corrected"] is True
    page = tmp_path / "page.txt"
    page.write_text("chef\n", encoding="utf-8")
    assert main(["decodable", str(page), "--json", *home]) == 0
    capsys.readouterr()
    assert main(["words", "chef", "--unset", "chef", *home]) == 0
    assert "your split" not in capsys.readouterr().out
    assert main(["words", "--unset", "chef", *home]) == 1
    assert "not been corrected" in capsys.readouterr().err


def test_the_command_reads_a_file_and_marks_words_that_cannot_be_split(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pasted = tmp_path / "mine.txt"
    pasted.write_text("pine\ncafé\n", encoding="utf-8")
    assert main(["words", "--file", str(pasted), "--json", "--home", str(tmp_path)]) == 1
    pine, cafe = map(json.loads, capsys.readouterr().out.splitlines())
    assert pine["readings"][0]["gpcs"] == ["p /P/", "i-e /AY/", "n /N/"]
    assert "error" in cafe and "error" not in pine


def test_the_command_without_words_says_how_to_give_some(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["words", "--home", str(tmp_path)]) == 1
    assert "--file" in capsys.readouterr().err
