"""Words into graphemes: inflected split digraphs, homographs, names, bad input, frequent words."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wordfreq import top_n_list

from companion.phonics.gpc import PHONES, Gpc, read_table, table
from companion.phonics.split import Split, WordError, by_graphemes, split, use_table


def shown(reading: Split) -> list[str]:
    return [unit.grapheme for unit in reading.units]


def letters_used(reading: Split) -> list[int]:
    return sorted(place for unit in reading.units for place in unit.letters)


@pytest.mark.parametrize(
    ("word", "graphemes", "letters"),
    [
        ("pine", "p i-e n", (1, 3)),
        ("hoped", "h o-e p ed", (1, 3)),
        ("cubes", "c u-e b s", (1, 3)),
        ("riding", "r i-e d i ng", (1,)),
        ("rider", "r i-e d er", (1, 3)),
        ("stated", "s t a-e t ed", (2, 4)),
        ("races", "r a-e c es", (1, 3)),
        ("homework", "h o-e m w or k", (1, 3)),
        ("bathe", "b a-e th", (1, 4)),
    ],
)
def test_a_split_digraph_is_joined_also_under_an_ending(
    word: str, graphemes: str, letters: tuple[int, ...]
) -> None:
    reading = split(word)[0]
    assert " ".join(shown(reading)) == graphemes
    assert next(u.letters for u in reading.units if "-" in u.grapheme) == letters


LOOK_SPLIT = "have give come some one gone there were done love once where are above glove none"


@pytest.mark.parametrize("word", LOOK_SPLIT.split())
def test_a_word_that_only_looks_split_has_no_split_digraph(word: str) -> None:
    assert not any("-" in grapheme for reading in split(word) for grapheme in shown(reading))


@pytest.mark.parametrize("word", ["paper", "newspaper", "Peter", "over", "clover", "ocean"])
def test_an_open_vowel_before_er_is_not_taken_for_a_split_digraph(word: str) -> None:
    assert not any("-" in grapheme for grapheme in shown(split(word)[0]))


@pytest.mark.parametrize(
    ("word", "readings"),
    [
        ("use", {"Y UW S", "Y UW Z"}),
        ("close", {"K L OW S", "K L OW Z"}),
        ("read", {"R EH D", "R IY D"}),
        ("live", {"L AY V", "L IH V"}),
        ("wind", {"W AY N D", "W IH N D"}),
    ],
)
def test_a_homograph_keeps_all_its_readings(word: str, readings: set[str]) -> None:
    assert {reading.phones for reading in split(word)} == readings


def test_a_name_keeps_its_capital_and_is_known_as_a_name() -> None:
    name = split("Pete")[0]
    assert (name.word, name.is_name, shown(name)) == ("Pete", True, ["p", "e-e", "t"])
    assert not split("pet")[0].is_name


@pytest.mark.parametrize(
    ("word", "say"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("7up", "digit"),
        ("café", "a to z"),
        ("two words", "more than one word"),
        ("what?", "mark"),
        ("--", "mark"),
        ("x" * 60, "60 letters"),
        ("xkcdqz", "cannot be"),
        ("brr", "no vowel"),
    ],
)
def test_what_is_no_word_is_told_what_why_and_how_to_mend_it(word: str, say: str) -> None:
    with pytest.raises(WordError) as caught:
        split(word)
    assert say in str(caught.value)
    assert caught.value.what and caught.value.why and caught.value.mend


@pytest.mark.parametrize("word", ["don't", "Ann's", "well-known", "PINE", "wOrD", "o’clock"])
def test_apostrophes_hyphens_and_mixed_case_are_read_as_words(word: str) -> None:
    reading = split(word)[0]
    assert letters_used(reading) == [n for n, x in enumerate(word) if x.isalpha()]


def test_phones_that_are_none_are_refused() -> None:
    for phones in ("", "P QQ N", "p ay n"):
        with pytest.raises(WordError):
            split("pine", phones)


def test_a_teachers_own_split_stands() -> None:
    reading = by_graphemes("walk", "W AO K", ["w", "a", "lk"])
    assert shown(reading) == ["w", "a", "lk"]
    with pytest.raises(WordError, match="does not spell"):
        by_graphemes("walk", "W AO K", ["w", "a", "k"])


def test_a_schools_own_table_changes_what_counts_as_regular() -> None:
    header = "grapheme,phonemes,position,kind,exemplar,place,reading,taught,switch\n"
    own = header + "s,S,any,letter,sun,1,1,,\na,AE,any,letter,ant,2,1,,\nt,T,any,letter,tap,,1,,\n"
    try:
        use_table(read_table(own, "own.csv"))
        assert split("sat")[0].exception_part == "t"
    finally:
        use_table(None)
    assert split("sat")[0].regular


words = st.text("abcdefghijklmnopqrstuvwxyz", min_size=1, max_size=12)
phone_strings = st.lists(st.sampled_from(PHONES), min_size=1, max_size=10).map(" ".join)


@given(words, phone_strings)
@settings(max_examples=150, deadline=None)
def test_any_letters_said_any_way_use_each_letter_once_or_are_refused(
    word: str, phones: str
) -> None:
    try:
        readings = split(word, phones)
    except WordError as error:
        assert "matches a GPC" in str(error)
        return
    for reading in readings:
        assert letters_used(reading) == list(range(len(word)))
        assert " ".join(phone for part in reading.said for phone in part) == phones or (
            "rr" in word or "ER" in phones
        )
        assert all(unit.phonemes for unit in reading.units)


def frequent(count: int) -> list[str]:
    found = [w for w in top_n_list("en", count + 1000) if w.isascii() and w.isalpha()]
    return [w for w in found if len(w) > 1 or w in "ai"][:count]


def test_nearly_all_of_3000_frequent_words_split_into_graphemes_of_the_table() -> None:
    """Frequencies: wordfreq 3 (Speer, 2022), its English list."""
    known = table().by_gpc
    good = 0
    words_seen = frequent(3000)
    assert len(words_seen) == 3000
    for word in words_seen:
        try:
            readings = split(word)
        except WordError:
            continue
        good += all(unit.gpc in known for reading in readings for unit in reading.units)
    assert good >= 0.98 * 3000


def test_the_gpcs_of_a_word_are_its_own_letters() -> None:
    for word in frequent(500):
        for reading in split(word):
            for unit, gpc in zip(reading.units, reading.gpcs, strict=True):
                assert isinstance(gpc, Gpc)
                if unit.decodable:
                    letters = "".join(word[place] for place in unit.letters)
                    assert letters in gpc.grapheme.replace("-", "")


def test_a_weak_vowel_counts_as_its_letters_own_gpc() -> None:
    carrot = split("carrot")[0]
    assert carrot.units[3].phonemes == ("AH",)
    assert str(carrot.units[3].gpc) == "o /AA/"
