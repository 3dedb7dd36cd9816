"""A sitting that was cut off goes on the same day, and is otherwise closed where it stopped."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.practice import cut_off
from companion.practice.cut_off import CutOff
from companion.practice.keeping import keeping
from companion.practice.sitting import Keeping
from companion.record import consent
from companion.record.home import ChildFolder
from companion.record.turns import Try, Turn

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
READ = Try("as_written", None, None, "P AY N", None, None, {"as_written": 1.0}, {}, 1.0, ())


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Keeping]:
    folder = ChildFolder(tmp_path, "gull")
    consent.give(folder, ["practise", "keep_log"], NOON)
    with keeping(folder) as found:
        assert found is not None
        yield found


def sitting(kept: Keeping, start: datetime, *words: str, ended: bool = False) -> int:
    number = kept.log.start_sitting(kept.permit, "i-e", None, start)
    for minute, word in enumerate(words, start=1):
        at = start + timedelta(minutes=minute)
        kept.log.add_turn(kept.permit, number, Turn(word, ("i-e /AY/",), (READ,)), at)
    if ended:
        kept.log.end_sitting(kept.permit, number, start + timedelta(minutes=9))
    return number


def test_todays_last_sitting_without_an_end_is_found_with_its_words(kept: Keeping) -> None:
    sitting(kept, NOON - timedelta(hours=2), "hope", ended=True)
    number = sitting(kept, NOON, "pine", "kite")
    found = cut_off.find(kept.log, NOON + timedelta(minutes=10))
    assert found == CutOff(number, ("pine", "kite"), "i-e", before=1)


def test_one_that_was_ended_or_of_another_day_or_without_a_word_is_not(kept: Keeping) -> None:
    assert cut_off.find(kept.log, NOON) is None
    sitting(kept, NOON - timedelta(days=1), "pine")
    assert cut_off.find(kept.log, NOON) is None
    sitting(kept, NOON)
    assert cut_off.find(kept.log, NOON) is None
    sitting(kept, NOON, "pine", ended=True)
    assert cut_off.find(kept.log, NOON) is None


def test_what_is_left_open_is_closed_when_the_child_last_read(kept: Keeping) -> None:
    early = sitting(kept, NOON - timedelta(days=3), "pine", "kite")
    empty = sitting(kept, NOON - timedelta(days=2))
    open_now = sitting(kept, NOON, "hope")
    assert cut_off.close(kept.log, kept.permit, leave=open_now) == 2
    ends = {each.id: each.ended for each in kept.log.sittings()}
    assert ends[early] == NOON - timedelta(days=3) + timedelta(minutes=2)
    assert ends[empty] == NOON - timedelta(days=2)
    assert ends[open_now] is None
    assert cut_off.close(kept.log, kept.permit, leave=open_now) == 0


WORDS = st.lists(st.sampled_from(["pine", "kite", "hope", "tape"]), max_size=8)


@given(WORDS, WORDS)
def test_what_is_left_over_with_what_was_read_is_all_that_was_planned(
    planned: list[str], read: list[str]
) -> None:
    places = cut_off.left_over(planned, read)
    left = Counter(planned[place] for place in places)
    assert left == Counter(planned) - Counter(read)
    assert list(places) == sorted(places)


def test_without_a_yes_to_a_log_nothing_is_opened(tmp_path: Path) -> None:
    folder = ChildFolder(tmp_path, "gull")
    consent.give(folder, ["practise"], NOON)
    with keeping(folder) as found:
        assert found is None
    assert not folder.log.exists()
