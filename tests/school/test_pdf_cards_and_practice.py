"""Word cards and the practice sheet, as they come out of the printer."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pdf_reading import about, fonts, ink, needs_poppler, pages, picture, text

from companion.phonics.decodable import Taught, named
from companion.phonics.gpc import Gpc, table
from companion.phonics.listmaker import MadeList, make
from companion.phonics.wordlists import WordList
from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS
from companion.report.paper import MARGIN, MM, TooMuch
from companion.school.cards import Card, cards_of, cards_pdf
from companion.school.practice_sheet import PracticeSheet, practice_sheet_pdf

pytestmark = needs_poppler

WEEK = Week.of(date(2025, 12, 1))
EDGE_MM = MARGIN / MM - 0.6
LETTERS = "abcdefghijklmnopqrstuvwxyz"
anything = st.one_of(
    st.text(LETTERS, min_size=1, max_size=24),
    st.sampled_from(["said", "ice-cream", "don't", "Mr", "I", "throughout", "telephone", "wwwwww"]),
)


@pytest.fixture(scope="module")
def made() -> MadeList:
    order = table().order()
    targets = named("i-e", order)
    taught = Taught.up_to(named("u-e", order)[-1], order)
    return make(targets, taught, order, count=12, seed=4)


def stays_inside(pdf: bytes, page: int = 1) -> bool:
    found = ink(pdf, page)
    return (
        found.left >= EDGE_MM
        and found.top >= EDGE_MM
        and found.right <= 210 - EDGE_MM
        and found.bottom <= 297 - EDGE_MM
    )


def test_eight_cards_stand_on_a_sheet_and_the_rest_on_the_next(made: MadeList) -> None:
    pdf = cards_pdf(cards_of(made), "Words with i-e")
    found = pages(pdf)
    assert len(found) == 2
    assert [word for word in made.words.words[:8] if word not in found[0].split()] == []
    assert [word for word in made.words.words[8:] if word not in found[1].split()] == []
    assert fonts(pdf) == {"Andika": True}
    assert about(pdf)["Title"] == "Words with i-e"


def test_made_up_cards_say_so_in_words_and_by_a_frame(made: MadeList) -> None:
    assert text(cards_pdf(cards_of(made), "x")).count("made-up word") == len(made.words.pseudo) == 2
    plain = picture(cards_pdf([Card("mife")], "x"))
    framed = picture(cards_pdf([Card("mife", made_up=True)], "x"))
    assert (framed < 128).sum() > (plain < 128).sum() + 200


def test_buttons_on_the_back_lie_behind_their_own_word() -> None:
    """Printed on both sides and turned along the long edge, left and right change places."""
    pdf = cards_pdf([Card("pine"), Card("boat"), Card("these")], "x", "back")
    front, back = (picture(pdf, page) for page in (1, 2))
    assert pages(pdf) == ["pine boat these", "pine boat these"]
    half = front.shape[1] // 2
    third_row = slice(front.shape[0] // 4, front.shape[0] // 2)
    assert (front[third_row, 40 : half - 5] < 100).any()
    assert not (front[third_row, half + 5 : -40] < 100).any()
    assert (back[third_row, half + 5 : -40] < 100).any()
    assert not (back[third_row, 40 : half - 5] < 100).any()


def test_the_back_names_the_gpc_and_never_puts_it_behind_a_contrast_word() -> None:
    i_e = Gpc.parse("i-e /AY/")
    assert "i-e as in kite" in text(cards_pdf([Card("pine", gpc=i_e)], "x", "back"))
    order = table().order()
    made = make((i_e,), Taught.up_to(i_e, order), order, count=12, seed=1)
    partners = {short for short, _ in made.words.pairs}
    assert partners
    assert all(card.gpc is None for card in cards_of(made) if card.word in partners)


def test_no_cards_are_refused() -> None:
    with pytest.raises(TooMuch, match="Choose a list first"):
        cards_pdf([], "x")


@settings(max_examples=15, deadline=None)
@given(st.lists(anything, min_size=1, max_size=17), st.sampled_from(["below", "back", "none"]))
def test_no_card_runs_over_its_sheet(words: list[str], buttons: str) -> None:
    pdf = cards_pdf([Card(word, made_up=len(word) % 2 == 0) for word in words], "x", buttons)
    sheets = -(-len(words) // 8)
    assert len(pages(pdf)) == sheets * (2 if buttons == "back" else 1)
    assert all(stays_inside(pdf, page + 1) for page in range(len(pages(pdf))))


def test_a_practice_sheet_is_read_out_in_its_order(made: MadeList) -> None:
    sheet = PracticeSheet(WEEK, made.words, "Group 2", phrase="i and e hold a line")
    pdf = practice_sheet_pdf(sheet)
    found = text(pdf)
    wanted = [
        "Words with i-e",
        "Monday 1 December 2025 · Group 2",
        "i-e as in kite",
        "i and e hold a line",
        "two letters apart, one sound together",
        *made.words.words[:10],
        "Made-up words",
        *made.words.pseudo,
        str(made.words.caption),
        "How to help",
        "One thing to do",
        CAUTIONS[0],
        CAUTIONS[-1],
    ]
    at = 0
    for each in wanted:
        at = found.index(each, at)
    assert about(pdf)["Pages"] == "1"
    assert set(fonts(pdf)) == {"Andika", "Andika-Bold"} and all(fonts(pdf).values())


def test_the_teachers_aids_stand_by_exception_words_and_only_where_they_are_in_the_list() -> None:
    words = WordList("w", "Some words", ("said", "pin"), caption="A pin.")
    aids = {"said": "a and i in the middle", "was": "not in this list"}
    found = text(practice_sheet_pdf(PracticeSheet(WEEK, words, word_aids=aids)))
    assert "said: a and i in the middle" in found and "not in this list" not in found
    assert "the part to know by heart" in found and "two letters apart" not in found


@settings(max_examples=20, deadline=None)
@given(
    st.lists(anything, min_size=1, max_size=40, unique=True),
    st.integers(0, 40),
    st.one_of(st.none(), st.text(LETTERS + " ", min_size=1, max_size=90)),
    st.one_of(st.none(), st.text(LETTERS + " <&>", min_size=1, max_size=60)),
)
def test_any_list_fits_on_one_page_within_the_margins(
    words: list[str], made_up: int, caption: str | None, phrase: str | None
) -> None:
    pseudo = tuple(words[-made_up:]) if made_up else ()
    asked = WordList("w", "Words", tuple(words), Gpc.parse("i-e /AY/"), caption, pseudo)
    pdf = practice_sheet_pdf(PracticeSheet(WEEK, asked, "Group 1", phrase, {"said": "an aid"}))
    assert about(pdf)["Pages"] == "1"
    assert stays_inside(pdf)
    found = text(pdf).split()
    assert [word for word in words if word not in found] == []
