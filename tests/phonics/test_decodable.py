import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.cli import main
from companion.phonics.decodable import Taught, check, exception_words, gap, named
from companion.phonics.gpc import Gpc, TableError, table
from companion.phonics.wordlists import load, names

ORDER = table().order()


def taught_up_to(name: str) -> Taught:
    return Taught.up_to(named(name, ORDER)[-1])


# Example words as printed beside each sound in the Year 1 column of English Appendix 1: Spelling
# (Department for Education, 2013).
CURRICULUM = {
    "ai": "rain wait train paid afraid",
    "oi": "oil join coin point soil",
    "ay": "day play say way stay",
    "oy": "boy toy enjoy annoy",
    "a-e": "made came same take safe",
    "e-e": "these theme complete",
    "i-e": "five ride like time side",
    "o-e": "home those woke hope hole",
    "u-e": "June rule rude use tube tune",
    "ar": "car start park arm garden",
    "ee": "see tree green meet week",
    "oa": "boat coat road coach goal",
    "igh": "high night light bright right",
    "ir": "girl bird shirt first third",
    "aw": "saw draw yawn crawl",
}


@pytest.mark.parametrize("grapheme", sorted(CURRICULUM))
def test_the_curriculums_words_are_decodable_once_their_sound_has_been_taught(
    grapheme: str,
) -> None:
    reception = ORDER.gpcs[: ORDER.place(named("y /IY/", ORDER)[0])]
    taught = Taught(frozenset({*reception, *named(grapheme, ORDER)}))
    broken = {word: gap(word, taught) for word in CURRICULUM[grapheme].split()}
    assert {word: why for word, why in broken.items() if why} == {}


@pytest.mark.parametrize("grapheme", ["a-e", "ai", "igh", "oa", "aw"])
def test_the_same_words_break_while_their_sound_is_untaught_and_the_reason_names_it(
    grapheme: str,
) -> None:
    taught = Taught(frozenset(set(ORDER.gpcs) - set(named(grapheme, ORDER))))
    for word in CURRICULUM[grapheme].split():
        found = gap(word, taught)
        assert found is not None
        assert named(grapheme, ORDER)[0] in found.untaught
        assert grapheme in found.why


@pytest.mark.parametrize("name", [name for name in names() if name not in ("pseudo-words",)])
def test_bundled_lists_and_captions_are_decodable_at_their_place(name: str) -> None:
    words = load(name)
    newest = words.target.grapheme if words.target else "u-e"
    taught = taught_up_to(newest)
    text = " ".join([*words.words, words.caption or ""])
    assert check(text, taught).broken == ()


def test_made_up_words_are_decodable_after_all_five_split_digraphs() -> None:
    assert check(" ".join(load("pseudo-words").words), taught_up_to("u-e")).share == 1.0


def test_a_page_is_measured_and_its_breaking_words_come_commonest_first() -> None:
    page = "Pete had a cat.\nThe knight and the cat met 12 knights; the chef sat.\nKnight!"
    found = check(page, taught_up_to("e-e"))
    assert [(b.word, b.times, b.line) for b in found.broken] == [
        ("knight", 2, 2),
        ("knights", 1, 2),
        ("chef", 1, 2),
    ]
    assert (found.words, found.decodable) == (15, 11)
    assert found.share == pytest.approx(11 / 15)


def test_an_exception_word_counts_once_taught_and_says_which_part_breaks_it_before() -> None:
    taught = taught_up_to("igh")
    assert gap("said", Taught(taught.gpcs, frozenset({"said"}))) is None
    before = gap("said", taught)
    assert before is not None and "ai" in before.why


def test_exception_words_arrive_with_the_order() -> None:
    assert "the" in exception_words(ORDER.gpcs[:20])
    assert "friend" not in exception_words(ORDER.gpcs[:20])
    # The common exception words of Year 1 in English Appendix 1: Spelling (DfE, 2013).
    year_1 = (
        "the a do to today of said says are were was is his has I you your they be he me she we "
        "no go so by my here there where love come some one once ask friend school put push pull "
        "full house our"
    )
    by_end_of_year_1 = taught_up_to("are").words
    assert {word.lower() for word in year_1.split()} <= by_end_of_year_1


def test_a_homograph_is_decodable_if_one_of_its_readings_is() -> None:
    taught = taught_up_to("igh")
    sounds = Taught(taught.gpcs | {Gpc("ea", ("EH",))})
    assert gap("read", taught) is not None
    assert gap("read", sounds) is None


def test_words_joined_by_hyphens_and_curly_apostrophes_are_read() -> None:
    found = check("red-hot, ten o’clock: Dad’s cat", taught_up_to("ck"))
    assert found.words == 6


@pytest.mark.parametrize("word", ["café", "пин", "a" * 60])
def test_a_token_that_is_no_english_word_breaks_the_text_and_says_why(word: str) -> None:
    found = check(f"a cat {word}", taught_up_to("u-e"))
    assert [b.word for b in found.broken] == [word]
    assert found.broken[0].gap.why


def test_a_grapheme_alone_means_the_values_taught_together() -> None:
    assert [str(gpc) for gpc in named("u-e", ORDER)] == ["u-e /UW/", "u-e /Y UW/"]
    assert [str(gpc) for gpc in named("ow", ORDER)] == ["ow /AW/"]
    assert [str(gpc) for gpc in named("ow /OW/", ORDER)] == ["ow /OW/"]
    with pytest.raises(TableError, match="ze"):
        named("zq", ORDER)


@given(st.text(max_size=200))
def test_any_text_is_measured(text: str) -> None:
    found = check(text, taught_up_to("u-e"))
    assert 0 <= found.decodable <= found.words
    assert sum(each.times for each in found.broken) == found.words - found.decodable


@given(st.integers(1, len(ORDER.gpcs)), st.integers(0, 40))
def test_teaching_more_never_breaks_a_word(place: int, more: int) -> None:
    text = " ".join(load("review").words + load("i-e").words)
    less = check(text, Taught(frozenset(ORDER.gpcs[:place])))
    after = check(text, Taught(frozenset(ORDER.gpcs[: place + more])))
    assert after.decodable >= less.decodable


def test_the_command_reports_a_file_as_text_and_json(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "page.txt"
    page.write_text("Pete had a knight.\n", encoding="utf-8")
    home = ["--home", str(tmp_path)]
    assert main(["decodable", str(page), "--taught", "e-e", *home]) == 0
    assert "3 of 4 words" in capsys.readouterr().out
    assert main(["decodable", str(page), "--taught", "e-e", "--json", *home]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["share"] == 0.75
    assert record["broken"][0]["word"] == "knight"
    assert record["broken"][0]["untaught"] == ["kn /N/"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["no such file.txt"], "no such file"),
        (["PAGE", "--taught", "zq"], "not in the teaching order"),
        (["PAGE", "--order", "ORDER"], "line 2"),
        (["PAGE", "--exceptions", "BAD"], "line 1"),
    ],
)
def test_the_command_refuses_what_it_cannot_use_and_says_what_to_do(
    arguments: list[str], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = {"PAGE": "a cat", "ORDER": "s\nqqq\n", "BAD": "th3\n"}
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    full = [str(tmp_path / each) if each in files else each for each in arguments]
    assert main(["decodable", *full, "--home", str(tmp_path)]) == 1
    assert says in capsys.readouterr().err


def test_a_school_order_and_exception_words_of_its_own_are_used(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "order.txt").write_text("c\na\nt\ni-e\nk\n", encoding="utf-8")
    (tmp_path / "sight.txt").write_text("one\n", encoding="utf-8")
    (tmp_path / "page.txt").write_text("one kite the cat\n", encoding="utf-8")
    own = ["--order", str(tmp_path / "order.txt"), "--exceptions", str(tmp_path / "sight.txt")]
    page = str(tmp_path / "page.txt")
    home = ["--home", str(tmp_path)]
    assert main(["decodable", page, "--taught", "k", "--json", *own, *home]) == 0
    record = json.loads(capsys.readouterr().out)
    assert [each["word"] for each in record["broken"]] == ["the"]
