"""Each kind of slip has one thing to do about it: by hand, in words that teach nothing amiss."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from companion.phonics.slips import SLIP_KINDS
from companion.phonics.split import split
from companion.report.advice import MORE_WORDS, PAIRS, SOUNDED_OUT, TABLE, advice, listed

GRAPHEMES = ("i-e", "a-e", "e-e", "o-e", "u-e", "a", "i", "ai", "ow", "c", "d", "ed", "sh", "")


def whole(kind: str, grapheme: str = "i-e") -> str:
    row = advice(kind, grapheme)
    return " ".join((row.name, row.meaning, *row.steps))


def test_every_kind_of_slip_has_its_row_and_nothing_else_has() -> None:
    assert [row.kind for row in TABLE] == [*SLIP_KINDS, SOUNDED_OUT]


@pytest.mark.parametrize("kind", [*SLIP_KINDS, SOUNDED_OUT])
@pytest.mark.parametrize("grapheme", GRAPHEMES)
def test_nothing_is_left_to_fill_in(kind: str, grapheme: str) -> None:
    text = whole(kind, grapheme)
    assert "{" not in text and "}" not in text and "  " not in text


@pytest.mark.parametrize("kind", [*SLIP_KINDS, SOUNDED_OUT])
def test_a_row_is_a_few_steps_that_need_no_computer(kind: str) -> None:
    row = advice(kind, "i-e")
    assert 3 <= len(row.steps) <= 5
    assert len(" ".join(row.steps).split()) <= 100, "five minutes are not enough for more"
    assert not re.search(r"screen|click|computer|tablet|app\b|video", whole(kind), re.IGNORECASE)
    assert row.source


@pytest.mark.parametrize("kind", [*SLIP_KINDS, SOUNDED_OUT])
def test_no_row_blames_or_ranks_a_child_or_gives_the_e_magic(kind: str) -> None:
    """The e of a split digraph is half of one grapheme and makes nothing happen by itself
    (Letters and Sounds, DfES, 2007, from a school's account of it)."""
    unkind = r"wrong|fail|bad\b|lazy|poor|behind|should have|magic|silent e|bossy|better than"
    assert not re.search(unkind, whole(kind), re.IGNORECASE)


@pytest.mark.parametrize(("grapheme", "pair"), PAIRS.items())
def test_the_pairs_differ_in_the_split_digraph_alone(grapheme: str, pair: tuple[str, str]) -> None:
    short, long = pair
    assert long == f"{short[0].upper() if long[0].isupper() else short[0]}{short[1:]}e"
    units = [unit.grapheme for unit in split(long.lower())[0].units]
    assert grapheme in units
    assert grapheme not in [unit.grapheme for unit in split(short)[0].units]


@pytest.mark.parametrize("grapheme", PAIRS)
def test_further_words_hold_the_split_digraph_or_are_its_short_partners(grapheme: str) -> None:
    words = re.split(r", | and ", MORE_WORDS[grapheme])
    holds = [grapheme in [unit.grapheme for unit in split(word)[0].units] for word in words]
    assert sum(holds) >= 2
    partners = [(one, other) for one, other in pairwise(words) if other == f"{one}e"]
    assert all(held or any(word == one for one, _ in partners)
               for word, held in zip(words, holds, strict=True))  # fmt: skip


def test_the_childs_own_words_come_last() -> None:
    row = advice("short_for_split", "o-e", ("hope", "rope", "bone"))
    assert row.steps[-1].endswith("hope, rope and bone.")
    assert "hop" in row.steps[0] and "hope" in row.steps[0]
    assert "curved line from the o to the e" in row.steps[1]


def test_the_ending_ed_is_not_spoken_of_as_a_split_digraph() -> None:
    assert "jumped" in whole("e_sounded", "ed") and "pine" not in whole("e_sounded", "ed")


def test_words_are_listed_as_people_list_them() -> None:
    assert listed(("kite",)) == "kite"
    assert listed(("kite", "nine")) == "kite and nine"
    assert listed(("kite", "nine", "pine")) == "kite, nine and pine"
