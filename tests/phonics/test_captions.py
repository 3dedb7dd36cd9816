"""Captions: enough decodable sentences for each GPC of Year 1, at the place where it is taught."""

from __future__ import annotations

from collections import Counter

import pytest

from companion.phonics.captions import best_for, decodable_captions, times
from companion.phonics.decodable import Taught, check, named, words_of
from companion.phonics.gpc import Gpc, table
from companion.phonics.split import split
from companion.phonics.suitable import lines

ORDER = table().order()
ALL = tuple(caption for _, caption in lines("captions.txt"))

# The graphemes of the Year 1 pages of English Appendix 1: Spelling (Department for Education,
# 2013), with the second values that it lists apart.
PRINTED = """
    ff ll ss zz ck tch ve ph wh ai oi ay oy a-e e-e i-e o-e u-e ar ee ea er ir ur oo oa oe ou
    ow ue ew ie igh or ore aw au air ear are
"""
SECOND = ("y /IY/", "n /NG/", "ow /OW/", "ie /IY/", "ea /EH/", "ear /EH AH/", "er /ER/", "oo /UH/")


def year_1() -> list[Gpc]:
    """What the appendix lists and what the table gives to Year 1 or to the handbook's phase 5."""
    listed = {gpc for name in (*PRINTED.split(), *SECOND) for gpc in named(name, ORDER)}
    listed |= {
        row.gpc
        for row in table().rows
        if row.gpc in ORDER.gpcs and row.taught in ("Year 1", "handbook phase 5")
    }
    return [gpc for gpc in ORDER.gpcs if gpc in listed]


@pytest.mark.parametrize("gpc", year_1(), ids=str)
def test_each_year_1_gpc_has_captions_that_are_decodable_once_it_is_taught(gpc: Gpc) -> None:
    taught = Taught.up_to(gpc, ORDER)
    whole = [each for each in decodable_captions(taught, split) if times(each, (gpc,))]
    assert all(check(each, taught).share == 1.0 for each in whole)
    assert len(whole) >= (4 if "-" in gpc.grapheme else 2)


def test_no_caption_comes_twice() -> None:
    assert [each for each, often in Counter(map(str.lower, ALL)).items() if often > 1] == []


def test_captions_are_short_sentences_with_a_capital_and_a_stop() -> None:
    for caption in ALL:
        assert caption[0].isupper(), caption
        assert caption[-1] in ".!?", caption
        assert 3 <= len(words_of(caption)) <= 12, caption


def test_the_captions_taken_are_those_with_most_words_of_the_sound() -> None:
    (gpc,) = named("a-e", ORDER)
    # By hand: 'Jake came to the gate and gave a wave.' has five, 'The rain ran off the sail.' none.
    five, none = "Jake came to the gate and gave a wave.", "The rain ran off the sail."
    assert (times(five, (gpc,)), times(none, (gpc,))) == (5, 0)
    assert best_for([none, five], (gpc,)) == [five]
    assert best_for([none], (gpc,)) == [none]
    assert best_for([], (gpc,)) == []
