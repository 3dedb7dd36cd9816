"""Saying words after the computer, with recordings said after it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from reading_aloud import LISTENS, Tab, agreed, room_of, spoken
from served_pages import Served

from companion.practice import repeating
from companion.record.home import ChildFolder

NOW_YOU = "Now you say it"


@pytest.fixture
def gull(home: Path) -> ChildFolder:
    return agreed(home)


@pytest.fixture
def tab(pages: Served, gull: ChildFolder) -> Iterator[Tab]:
    assert pages.post("/child/gull/after-me").headers["location"] == "/child/gull/read"
    found = Tab(pages)
    yield found
    room_of(pages).leave()
    found.close()


@pytest.fixture(autouse=True)
def few_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """Four of the words, of which two are enough: the whole go takes two minutes."""
    monkeypatch.setattr(repeating, "WORDS", ("cat", "cake", "pig", "kite"))
    monkeypatch.setattr(repeating, "LEAST", 2)


def say_after(card: Any, tab: Tab, word: str, folder: Path) -> None:
    tab.wait("word", NOW_YOU)
    assert f">{word}<" not in tab.html  # it is said after the voice, and not read
    time.sleep(0.3)
    number = tab.scene[0]
    card.play(spoken(word, folder)).wait(timeout=10)
    deadline = time.monotonic() + 60
    while tab.scene[0] == number:
        assert time.monotonic() < deadline
        time.sleep(0.05)


def test_words_said_after_the_computer_leave_five_numbers_and_no_sound(
    sound_card: Any, pages: Served, gull: ChildFolder, tab: Tab, tmp_path: Path
) -> None:
    run = room_of(pages).run
    assert run is not None
    while run.is_alive():
        if NOW_YOU in tab.html:
            word = run._after_me.word  # type: ignore[attr-defined]
            say_after(sound_card, tab, word.word, tmp_path)
        time.sleep(0.05)
    assert "words were heard well" in tab.wait("end")
    assert "Five small numbers are kept" in tab.html
    assert sorted(path.name for path in gull.path.iterdir()) == [
        "consent.json", gull.own_vowels.name
    ]  # fmt: skip


def test_a_child_who_is_done_at_once_leaves_nothing(
    sound_card: Any, gull: ChildFolder, tab: Tab
) -> None:
    tab.wait("word")
    tab.press("done")
    assert "nothing is kept" in tab.wait("end")
    assert not gull.own_vowels.exists()
    assert LISTENS not in tab.html
