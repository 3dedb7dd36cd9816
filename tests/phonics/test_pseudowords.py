import codecs
import re
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.phonics.gpc import table
from companion.phonics.pseudowords import fitting, make, real_sounds, spell
from companion.phonics.reading import reading
from companion.phonics.split import split
from companion.phonics.suitable import is_blocked, known_words, lines, sounds_blocked
from companion.phonics.wordlists import load, names

ORDER = table().order()
YEAR_1 = ORDER.gpcs[: ORDER.place(table().first("are") or ORDER.gpcs[-1])]


def some(seed: int, count: int = 12) -> tuple[str, ...]:
    return tuple(each.word for each in make(YEAR_1, count, Random(seed)))


# What English Appendix 1: Spelling (Department for Education, 2013) prints of where spellings
# stand, Year 1: ff ll ss zz ck after a single short vowel; tch after a single vowel letter; ai oi
# never at the end; oa very rare at the end; no English word ends in v; k before e i y; c not.
AGAINST_THE_CURRICULUM = {
    "double after anything but one short vowel": r"(^|[^aeiou]|[aeiou]{2})(ff|ll|ss|zz|ck|tch)$",
    "double or ck at the start": r"^(ff|ll|ss|zz|ck|tch)",
    "ai, oi, oa, ou, au at the end": r"(ai|oi|oa|ou|au)$",
    "v or j at the end": r"[vj]$",
    "c before e, i, y": r"(?<!s)c[eiy]",
    "one f, l, s, z after a short vowel at the end": r"(^|[^aeiou])[aeiou][flsz]$",
    "plain k after a short vowel at the end": r"(^|[^aeiou])[aeiou]k$",
    "q without u": r"q(?!u)",
}


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_made_up_words_keep_the_curriculums_rules_of_spelling(seed: int) -> None:
    for word in some(seed):
        for rule, pattern in AGAINST_THE_CURRICULUM.items():
            assert not re.search(pattern, word), f"{word}: {rule}"


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_made_up_words_are_no_real_words_nor_said_like_one_in_any_accent(seed: int) -> None:
    for each in make(YEAR_1, 8, Random(seed)):
        assert reading(each.word).pseudo
        assert each.sounds
        assert real_sounds().isdisjoint(each.sounds)


def test_every_plausible_value_of_a_grapheme_is_a_right_reading() -> None:
    # The check's published scoring: all plausible pronunciations of a pseudo-word are accepted
    # (Phonics screening check: scoring guidance, Standards and Testing Agency, 2013).
    assert {"Z AW D", "Z OW D"} <= set(reading("zowd").accepted)
    assert {"V UW B", "V Y UW B"} <= set(reading("vube").accepted)


@pytest.mark.parametrize("like", ["nite", "wate", "hoam", "shue", "kat", "gote", "bair", "sed"])
def test_a_spelling_that_sounds_like_a_real_word_is_refused(like: str) -> None:
    assert fitting(like) is None


@pytest.mark.parametrize("real", ["cake", "pin", "Pete", "ship"])
def test_a_real_word_is_refused(real: str) -> None:
    assert fitting(real) is None


def test_nothing_made_up_sounds_like_a_blocked_word_even_misread() -> None:
    words = [word for seed in range(20) for word in some(seed)]
    for word in words:
        read = reading(word)
        for phones in (*read.accepted, *(slip.phones for slip in read.slips)):
            assert not sounds_blocked(phones), word


def test_every_blocked_word_is_refused_and_none_can_be_read_in_the_file() -> None:
    coded = [line.split(",")[0] for _, line in lines("blocked.txt")]
    plain = [codecs.decode(word, "rot13") for word in coded]
    assert len(plain) > 100
    assert all(is_blocked(word) and is_blocked(word.upper()) for word in plain)
    assert [word for word in plain if fitting(word) is not None] == []
    assert set(plain).isdisjoint(coded)


@pytest.mark.parametrize("name", names())
def test_bundled_made_up_words_fit(name: str) -> None:
    assert [word for word in load(name).pseudo if fitting(word) is None] == []


def test_only_taught_graphemes_are_used() -> None:
    taught = set(ORDER.gpcs[:36])
    for each in make(taught, 12, Random(4), blends=False):
        assert set(split(each.word)[0].gpcs) <= taught


@pytest.mark.parametrize("grapheme", ["a-e", "u-e", "sh", "ck", "oi", "aw", "tch", "le"])
def test_a_target_is_in_every_word_made_for_it(grapheme: str) -> None:
    targets = [row.gpc for row in table().values(grapheme) if row.place is not None]
    made = make(ORDER.gpcs, 4, Random(2), targets=targets)
    assert len(made) == 4
    assert all(grapheme in each.graphemes for each in made)
    assert all(spell(each.graphemes) == each.word for each in made)


def test_the_same_seed_makes_the_same_words_and_another_seed_others() -> None:
    assert some(7) == some(7)
    assert some(7) != some(8)


def test_words_to_avoid_are_not_made_again() -> None:
    first = some(3)
    again = make(YEAR_1, 12, Random(3), avoid=first)
    assert set(first).isdisjoint(each.word for each in again)


def test_sounds_that_allow_no_made_up_word_give_none() -> None:
    assert make(ORDER.gpcs[:1], 3, Random(0)) == ()


def test_the_real_sounds_hold_words_children_know_in_other_accents_too() -> None:
    assert "B AE TH" in real_sounds() and "B AA TH" in real_sounds()
    assert len(known_words()) > 2500
