from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.phonics.accents import ACCENTS, accepted
from companion.phonics.decodable import words_of
from companion.phonics.gpc import Gpc, table
from companion.phonics.lexicon import said
from companion.phonics.reading import reading
from companion.phonics.suitable import is_blocked, known_words, lines
from companion.phonics.wordlists import WordList, WordListError, load, names, parse, to_text

SPLIT_DIGRAPHS = ("a-e", "e-e", "i-e", "o-e", "u-e")
WORD = st.from_regex(r"[A-Za-z]{1,8}(?:['-][a-z]{1,4})?", fullmatch=True)


@pytest.mark.parametrize("name", SPLIT_DIGRAPHS)
def test_each_split_digraph_has_a_list_of_a_dozen_words_with_made_up_ones_and_a_caption(
    name: str,
) -> None:
    words = load(name)
    assert words.target is not None and words.target.grapheme == name
    assert 12 <= len(words.words) - len(words.pseudo) <= 16
    assert len(words.pseudo) >= 4
    assert words.caption


@pytest.mark.parametrize(
    "pair", [("pin", "pine"), ("cap", "cape"), ("hop", "hope"), ("cub", "cube"), ("pet", "Pete")]
)
def test_contrast_pairs_are_listed_and_never_read_one_after_the_other(
    pair: tuple[str, str],
) -> None:
    words = load("contrast-pairs")
    assert pair in words.pairs
    places = sorted(words.words.index(word) for word in pair)
    assert places[1] - places[0] > 1


def test_the_names_offered_are_the_lists_that_load() -> None:
    assert {"contrast-pairs", "pseudo-words", "review", *SPLIT_DIGRAPHS} <= set(names())
    assert all(load(name).words for name in names())


def test_a_teachers_own_file_is_a_list(tmp_path: Path) -> None:
    file = tmp_path / "week 5.txt"
    file.write_bytes(
        b"\xef\xbb\xbftitle: Our week\r\ntarget: i-e /AY/\r\n\r\n"
        b"[words]\r\npin, pine\r\nkite\r\n[pairs]\r\npin pine\r\n"
    )
    assert load(str(file)) == WordList(
        name="week 5",
        title="Our week",
        words=("pin", "pine", "kite"),
        target=Gpc("i-e", ("AY",)),
        pairs=(("pin", "pine"),),
    )


def test_bare_words_without_any_heading_are_a_list() -> None:
    assert parse("pin\npine, don\u2019t\n", "mine").words == ("pin", "pine", "don't")


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("[words]\npin\npi9ne\n", 3, "digits"),
        ("[words]\nпин\n", 2, "letters outside English"),
        ("[words]\nfête\n", 2, "letters outside English"),
        ("[words]\npin!\n", 2, "no letters"),
        ("[words]\n'pin\n", 2, "between letters"),
        ("[words]\npin\n\npin\n", 4, "twice"),
        ("[words]\n" + "a" * 60 + "\n", 2, "more than 24 letters"),
        ("[wrods]\npin\n", 1, "no heading"),
        ("colour: blue\n[words]\npin\n", 1, "not known"),
        ("title: a\ntitle: b\n[words]\npin\n", 2, "twice"),
        ("title:\n[words]\npin\n", 1, "nothing after it"),
        ("target: ie\n[words]\npin\n", 1, "is no GPC"),
        ("[words]\npin\n[pairs]\npin pine\n", 4, "not in the list"),
        ("[words]\npin\n[pairs]\npin\n", 4, "not a pair"),
    ],
)
def test_a_broken_line_is_named_with_its_mend(text: str, line: int, says: str) -> None:
    with pytest.raises(WordListError) as caught:
        parse(text, "mine")
    assert caught.value.what == f"mine, line {line}"
    assert says in caught.value.why
    assert caught.value.mend.endswith(".")


@pytest.mark.parametrize("text", ["", "\n\n", "# only a note\n", "title: Empty\n[words]\n"])
def test_a_list_without_words_is_refused(text: str) -> None:
    with pytest.raises(WordListError, match="no words"):
        parse(text, "mine")


def test_an_unknown_list_names_the_lists_there_are() -> None:
    with pytest.raises(WordListError, match="contrast-pairs"):
        load("i_e")


def test_a_file_that_is_no_text_is_refused_at_its_line(tmp_path: Path) -> None:
    file = tmp_path / "odd.txt"
    file.write_bytes(b"pin\npine\n\xff\xfe\x00")
    with pytest.raises(WordListError, match=r"line 3 is not UTF-8"):
        load(str(file))


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(WordListError, match="cannot be read"):
        load(str(tmp_path))


@given(
    words=st.lists(WORD, min_size=1, max_size=8, unique=True),
    made_up=st.integers(0, 8),
    caption=st.none() | st.just("Jake came to the gate: he gave a wave."),
)
def test_a_list_written_out_reads_back_the_same(
    words: list[str], made_up: int, caption: str | None
) -> None:
    split = max(0, len(words) - made_up)
    whole = WordList(
        name="made",
        title="Made",
        words=tuple(words),
        target=Gpc("u-e", ("Y", "UW")),
        caption=caption,
        pseudo=tuple(words[split:]),
        pairs=((words[0], words[-1]),),
    )
    assert parse(to_text(whole, ["a note"]), "made") == whole


@given(st.text(max_size=80))
def test_any_text_is_a_list_or_a_message_that_says_what_to_do(text: str) -> None:
    try:
        assert parse(text, "any").words
    except WordListError as error:
        assert error.what and error.why and error.mend


def every_word() -> list[str]:
    """Every word of `wordsets`: known, listed, made up, exceptions, exemplars and captions."""
    words = {each.word for each in known_words()}
    words |= {word for name in names() for word in load(name).words}
    words |= {line.split(",")[0] for _, line in lines("exception_words.csv")[1:]}
    words |= {row.exemplar for row in table().rows}
    words |= {word for _, caption in lines("captions.txt") for word in words_of(caption)}
    return sorted(words)


def test_no_slip_of_any_word_is_right_in_an_accent_and_every_slip_differs() -> None:
    clashing = []
    for word in every_word():
        read = reading(word)
        slips = [slip.phones for slip in read.slips]
        right = {*read.accepted, *(p for a in ACCENTS for s in read.splits for p in accepted(s, a))}
        if len(set(slips)) != len(slips) or right.intersection(slips) or not right:
            clashing.append(word)
    assert clashing == []


def test_known_words_are_listed_once_with_a_band_and_none_is_unsuitable() -> None:
    words = [each.word for each in known_words()]
    assert len({word.lower() for word in words}) == len(words)
    assert {each.band for each in known_words()} == {1, 2, 3}
    assert [word for word in words if is_blocked(word)] == []
    assert [word for word in words if not said(word.lower())] == []
