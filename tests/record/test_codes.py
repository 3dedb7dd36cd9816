"""Codes: the check character against a published example, and what it notices."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.record import codes
from companion.record.trouble import BadCode


def test_the_check_character_is_that_of_iso_7064() -> None:
    """The example of a Global Release Identifier, which uses ISO/IEC 7064 MOD 37,36: its last
    character checks the others (IFPI, 'Global Release Identifier (GRid) Standard'; from memory)."""
    assert codes.check_character("A12425GABC1234002") == "M"


def test_every_code_drawn_is_one() -> None:
    drawn = {codes.draw() for _ in range(300)}
    assert len(drawn) > 290
    assert all(codes.is_code(code) and codes.read(code) == code for code in drawn)


@given(st.integers(0, codes.LENGTH - 1), st.sampled_from(codes.ALPHABET))
def test_one_miswritten_character_is_always_noticed(place: int, other: str) -> None:
    for code in ("7K3QFY", codes.draw(), codes.draw()):
        changed = code[:place] + other + code[place + 1 :]
        assert codes.is_code(changed) == (changed == code)


def test_nearly_every_exchange_of_neighbours_is_noticed() -> None:
    """A hybrid system of the standard misses a few; every exchange of two of 21 is tried."""
    tried = missed = 0
    for one, other in product(codes.ALPHABET, repeat=2):
        for before, after in (("", "3"), ("C", "C"), ("XY", "")):
            body = before + one + other + after
            swapped = before + other + one + after
            if one != other:
                tried += 1
                missed += codes.check_character(body) == codes.check_character(swapped)
    assert missed / tried < 0.02


@given(st.sampled_from(("-", " ", "")))
def test_a_code_may_be_written_by_hand(gap: str) -> None:
    code = codes.draw()
    assert codes.read(f" {gap.join(code).lower()}\n") == code


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("7K3Q", "has 6 characters, and this has 4"),
        ("7K3QFO", "no code holds O"),
        ("7K3QFW", "one of them was miswritten"),
        ("", "this has 0"),
        ("7" * 100_000, "this has 100000"),
    ],
)
def test_what_is_no_code_is_told_apart(text: str, why: str) -> None:
    with pytest.raises(BadCode) as told:
        codes.read(text)
    assert why in told.value.why
    assert len(str(told.value)) < 300


def test_no_vowel_can_make_a_word_of_a_code() -> None:
    assert not set(codes.ALPHABET) & set("AEIOU") and not set(codes.ALPHABET) & set("01258BILOSZUV")
