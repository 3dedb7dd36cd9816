"""How words are said: listed, inflected, British, compound."""

from __future__ import annotations

from importlib import resources

import pytest

from companion.phonics import lexicon
from companion.phonics.gpc import PHONES


def said(word: str) -> list[str]:
    return [" ".join(one.phones) for one in lexicon.said(word)]


def test_the_dictionary_is_sorted_and_uses_the_39_phones_only() -> None:
    text = resources.files("wordsets").joinpath("pronunciations.txt").read_text("utf-8")
    words = [line.split("\t")[0] for line in text.splitlines()]
    assert words == sorted(set(words))
    assert len(words) > 60_000
    phones = {phone for line in text.splitlines() for phone in line.split("\t")[1].split()}
    assert {phone.split(",")[0].rstrip("012") for phone in phones} <= set(PHONES)


@pytest.mark.parametrize(
    ("word", "phones"),
    [
        ("colour", "K AH1 L ER0"),
        ("mum", "M AH1 M"),
        ("tomatoes", "T AH0 M AA1 T OW0 Z"),
        ("realise", "R IH1 L AY0 Z"),
        ("lorries", "L AA1 R IY0 Z"),
    ],
)
def test_british_words_are_said_the_british_way(word: str, phones: str) -> None:
    assert said(word)[0] == phones


@pytest.mark.parametrize(
    ("word", "phones"),
    [
        ("blorping", []),
        ("snuffliest", []),
        ("giggliest", ["G IH1 G AH0 L IY0 IH0 S T"]),
        ("unbaked", ["AH0 N B EY1 K T"]),
        ("lighthouses", ["L AY1 T HH AW2 S IH0 Z", "L AY1 T HH AW2 S AH0 Z"]),
        ("sandcastles", ["S AE1 N D K AE2 S AH0 L Z"]),
    ],
)
def test_an_unlisted_form_comes_from_its_stem_or_parts_or_not_at_all(
    word: str, phones: list[str]
) -> None:
    assert not phones or said(word)[0] in phones
    assert bool(said(word)) == bool(phones)


def test_our_own_pronunciations_use_the_same_phones_with_stress_on_vowels() -> None:
    for word in lexicon.listed_words():
        for one in lexicon.said_exactly(word) if lexicon.known(word) else ():
            if one.british:
                assert {phone.rstrip("012") for phone in one.phones} <= set(PHONES)
                assert any(phone[-1].isdigit() for phone in one.phones)


def test_word_files_hold_small_letters_and_no_repeats() -> None:
    for words in (lexicon.bath_words(), lexicon.whole_words()):
        assert all(word.isalpha() and word.islower() for word in words)
    assert all(name[0].isupper() for name in lexicon.names().values())
