"""Next week's lists for the class and its groups."""

from __future__ import annotations

from datetime import date

import pytest

from companion.phonics.decodable import Taught, named
from companion.phonics.gpc import Order, table
from companion.phonics.listmaker import ListMakerError
from companion.phonics.split import split
from companion.record.weeks import Week
from companion.school.week_plan import CHECK_WORDS, WHOLE_CLASS, Wanted, plan_week

WEEK = Week.of(date(2025, 12, 1))


@pytest.fixture(scope="module")
def order() -> Order:
    return table().order()


@pytest.fixture(scope="module")
def taught(order: Order) -> Taught:
    return Taught.up_to(named("u-e", order)[-1], order)


def wanted(order: Order, *graphemes: str) -> list[Wanted]:
    whom = [WHOLE_CLASS, *(f"Group {n}" for n in range(1, len(graphemes)))]
    return [Wanted(name, named(each, order)) for name, each in zip(whom, graphemes, strict=True)]


def test_every_list_is_decodable_at_that_point_of_the_order(order: Order, taught: Taught) -> None:
    found = plan_week(WEEK, wanted(order, "u-e", "a-e", "igh"), taught, order)
    assert [each.whom for each in found.lists] == ["Whole class", "Group 1", "Group 2"]
    for each in found.lists:
        assert each.measured.broken == () and each.measured.words > 12
        assert len(each.made.words.words) == 12


def test_lists_of_one_week_share_no_word(order: Order, taught: Taught) -> None:
    found = plan_week(WEEK, wanted(order, "i-e", "a-e", "o-e"), taught, order)
    words = [word for each in found.lists for word in each.made.words.words]
    assert len(set(words)) == len(words) == 36


def test_recent_words_stay_away_while_there_are_others(order: Order, taught: Taught) -> None:
    first = plan_week(WEEK, wanted(order, "a-e"), taught, order)
    used = first.lists[0].made.words.words
    after = Week.of(date(2025, 12, 8))
    second = plan_week(after, wanted(order, "a-e"), taught, order, recent=used)
    assert set(second.lists[0].made.words.words).isdisjoint(used)
    assert second.lists[0].made.words.name == "a-e-2025-W50"


def test_a_scarce_grapheme_gets_its_own_words_again_rather_than_others(
    order: Order, taught: Taught
) -> None:
    """e-e has few words that children know; a list with one of them would practise nothing."""
    found = plan_week(WEEK, wanted(order, "e-e", "e-e", "e-e", "e-e"), taught, order)
    for each in found.lists:
        holding = [w for w in each.made.words.words if "e-e" in split(w)[0].__str__()]
        assert len(holding) >= 4
    assert any("no others" in n or "too few others" in n for n in found.lists[-1].made.notes)


def test_check_words_hold_the_target_and_are_real(order: Order, taught: Taught) -> None:
    for each in plan_week(WEEK, wanted(order, "i-e", "oa"), taught, order).lists:
        words = each.made.words
        assert 4 <= len(each.check_words) <= CHECK_WORDS
        assert set(each.check_words).isdisjoint(words.pseudo)
        assert all(words.target in split(word)[0].gpcs for word in each.check_words)


def test_the_same_week_gives_the_same_plan_and_another_week_another(
    order: Order, taught: Taught
) -> None:
    asked = wanted(order, "i-e", "a-e")
    once = plan_week(WEEK, asked, taught, order)
    assert plan_week(WEEK, asked, taught, order) == once
    other = plan_week(Week.of(date(2026, 1, 5)), asked, taught, order)
    assert other.lists[0].made.words.words != once.lists[0].made.words.words


def test_a_target_that_is_not_taught_is_refused_with_its_reason(
    order: Order, taught: Taught
) -> None:
    later = next(gpc for gpc in order.gpcs if gpc not in taught.gpcs)
    with pytest.raises(ListMakerError, match="not among the sounds taught"):
        plan_week(WEEK, [Wanted(WHOLE_CLASS, (later,))], taught, order)
