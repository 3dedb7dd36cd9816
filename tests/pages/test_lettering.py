"""Sound buttons stand under their own letters.

A dot under one letter, a bar under letters side by side, a line joining the two of a split
digraph: Letters and Sounds, DfES, 2007 (joining line), and common practice in Year 1 (dots, bars).
"""

from __future__ import annotations

from importlib import resources

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.pages.lettering import Button, Lettered, joined, lettered
from companion.pages.render import html
from companion.phonics.reading import reading
from companion.phonics.suitable import known_words


def drawn(word: str) -> list[tuple[str, str]]:
    """Each mark's shape, and the letters above it."""
    found = lettered(reading(word))
    return [(b.kind, found.word[b.first - 1 : b.end - 1]) for b in found.buttons]


@pytest.mark.parametrize(
    ("word", "marks"),
    [
        ("pin", [("dot", "p"), ("dot", "i"), ("dot", "n")]),
        ("shout", [("bar", "sh"), ("bar", "ou"), ("dot", "t")]),
        ("night", [("dot", "n"), ("bar", "igh"), ("dot", "t")]),
        ("pine", [("dot", "p"), ("tie", "ine"), ("dot", "n")]),
        ("theme", [("bar", "th"), ("tie", "eme"), ("dot", "m")]),
    ],
)
def test_words_get_the_marks_a_teacher_draws(word: str, marks: list[tuple[str, str]]) -> None:
    assert drawn(word) == marks


def test_the_hard_part_of_an_exception_word_gets_a_wave_and_no_button() -> None:
    said = lettered(reading("said"), (1, 2))
    assert said.buttons == (Button("dot", 1, 2), Button("wave", 2, 4), Button("dot", 4, 5))
    assert said.by_heart
    assert "ai is to be known by heart" in said.said


@pytest.mark.parametrize(
    ("grapheme", "kind", "shown"), [("a-e", "tie", "a–e"), ("igh", "bar", "igh"), ("s", "dot", "s")]
)
def test_a_grapheme_by_itself_has_its_letters_joined(grapheme: str, kind: str, shown: str) -> None:
    found = joined(grapheme)
    assert (found.word, found.buttons) == (shown, (Button(kind, 1, len(shown) + 1),))


@given(st.sampled_from([each.word for each in known_words()]))
def test_every_letter_of_a_known_word_has_a_mark_above_which_it_stands(word: str) -> None:
    found = lettered(reading(word))
    under = {n for b in found.buttons for n in range(b.first, b.end)}
    assert under >= {n for n, letter in enumerate(found.word, start=1) if letter.isalpha()}
    assert all(1 <= b.first < b.end <= len(found.word) + 1 for b in found.buttons)
    assert [b.first for b in found.buttons] == sorted(b.first for b in found.buttons)


def shown(found: Lettered, buttons: bool) -> str:
    return html("scene_ask.html", label="x", number=1, answers=(), word=found, buttons=buttons,
                place=None)  # fmt: skip


def test_marks_are_drawn_when_asked_for_and_a_wave_always() -> None:
    said = lettered(reading("said"), (1, 2))
    assert "mark dot" in shown(said, True)
    assert "mark dot" not in shown(said, False)
    assert "mark wave" in shown(said, False)


def test_the_style_has_a_column_for_every_letter_of_the_longest_known_word() -> None:
    style = (resources.files("companion") / "pages/static/child.css").read_text("utf-8")
    longest = max(len(each.word) for each in known_words())
    assert f".from-{longest} " in style
    assert f".to-{longest + 1} " in style
