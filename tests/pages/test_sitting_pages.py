"""A sitting as a child has it: real microphone, real voice, real log, and what can go wrong."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from reading_aloud import (
    AGAIN,
    ENDING,
    LISTENS,
    SAID,
    Tab,
    agreed,
    begin,
    clip,
    read_aloud,
    room_of,
    short_plan,
)
from served_pages import Served

from companion.pages import ear, resting_run, sitting_run
from companion.pages.ear import WatchedEar
from companion.pages.stage import Stage
from companion.practice import cut_off
from companion.record import consent, erasure
from companion.record.home import ChildFolder
from companion.record.log import Log


@pytest.fixture
def gull(home: Path) -> ChildFolder:
    return agreed(home)


@pytest.fixture
def tabs(pages: Served) -> Iterator[list[Tab]]:
    """Open tabs, closed at the end with whatever they showed."""
    found: list[Tab] = []
    yield found
    room_of(pages).leave()
    for tab in found:
        tab.close()


def words_kept(folder: ChildFolder) -> list[str]:
    with Log.open(folder.log) as log:
        return [kept.turn.word for kept in log.turns()]


def listeners(card: Any) -> int:
    """How many programs take sound from the microphone at this moment."""
    listed: str = card._pactl("list", "short", "source-outputs").stdout
    return len(listed.splitlines())


def until(condition: Any, within_s: float = 30.0) -> None:
    deadline = time.monotonic() + within_s
    while not condition():
        assert time.monotonic() < deadline, "it never came about"
        time.sleep(0.05)


def started(pages: Served, folder: ChildFolder, words: list[str], tabs: list[Tab]) -> Tab:
    """A tab with a sitting at its first word."""
    begin(pages, folder, short_plan(words))
    tab = Tab(pages, folder.label)
    tabs.append(tab)
    tab.wait("hello")
    tab.press("go on")
    tab.wait("part")
    tab.press("go on")
    tab.wait("word", LISTENS)
    return tab


def test_a_sitting_goes_from_hello_to_goodbye(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    begin(pages, gull, short_plan(["pine", "kite"], *ENDING))
    tab = Tab(pages)
    tabs.append(tab)
    assert "The grown-ups at home can see the words you read. Nobody else can." in tab.wait("hello")
    assert listeners(sound_card) == 0  # nothing is listened to before the child has been told
    tab.press("go on")
    tab.wait("part")
    tab.press("go on")
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    answer = tab.wait("answer")
    assert "Yes: pine." in answer
    assert words_kept(gull) == ["pine"]  # committed before the next word is shown
    tab.press("go on")
    read_aloud(sound_card, tab, clip("kite", "K-AY-T"))
    tab.wait("answer")
    tab.press("go on")
    assert "The kite is mine." in tab.wait("caption")
    tab.press("go on")
    end = tab.wait("end")
    assert ">pine<" in end and ">kite<" in end
    assert "Say a sentence with kite in it." in end
    assert max(tab.levels) >= 3  # the sign moved with the voice
    until(lambda: not listeners(sound_card))
    with Log.open(gull.log) as log:
        (sitting,) = log.sittings()
        assert sitting.ended is not None
        assert [t.turn.outcome.verdict for t in log.turns() if t.turn.outcome] == ["as_written"] * 2


def test_a_slip_is_met_kindly_and_the_second_try_counts(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    tab = started(pages, gull, ["pine"], tabs)
    read_aloud(sound_card, tab, clip("pine", "P-IH-N"))
    again = tab.wait("word", AGAIN)
    assert 'class="mark tie from-2 to-5"' in again  # i and e of pine are joined
    assert "wrong" not in again.lower()
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    assert "Yes: pine." in tab.wait("answer")
    with Log.open(gull.log) as log:
        (kept,) = log.turns()
    assert len(kept.turn.tries) == 2
    assert kept.turn.outcome is not None and kept.turn.outcome.verdict == "as_written"


def test_the_big_button_alone_leads_through_a_sitting(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    """A child who says nothing and presses: the word is told, and nothing is marked."""
    begin(pages, gull, short_plan(["pine"], SAID, *ENDING))
    tab = Tab(pages)
    tabs.append(tab)
    pressed = 0
    for _ in range(60):
        until(lambda pressed=pressed: tab.scene[0] != pressed)
        pressed, name = tab.scene
        if name == "end":
            break
        tab.press("read" if name == "word" else "go on", pressed)
    tab.wait("end")
    assert tab.seen.count("answer") == 2
    assert words_kept(gull) == []


def test_an_exception_word_shows_its_hard_part_and_the_teachers_aid(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    begin(pages, gull, short_plan([], SAID))
    tab = Tab(pages)
    tabs.append(tab)
    tab.wait("hello")
    tab.press("go on")
    tab.wait("part")
    tab.press("go on")
    until(lambda: "Sailors and Ida dream" in tab.html)
    tab.press("go on")
    assert 'class="mark wave from-2 to-4"' in tab.wait("word")  # the ai of said


@pytest.mark.parametrize(("answer", "then"), [("done", "end"), ("pause", "rest")])
def test_pressing_while_the_computer_speaks_counts(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab], answer: str, then: str
) -> None:
    tab = started(pages, gull, ["pine"], tabs)
    read_aloud(sound_card, tab, clip("pine", "P-IH-N"))
    tab.wait("word", "Listen to me")
    tab.press(answer)
    tab.wait(then)


def test_a_rest_closes_the_microphone_and_carrying_on_opens_it(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    tab = started(pages, gull, ["pine"], tabs)
    assert listeners(sound_card) == 1
    tab.press("pause")
    tab.wait("rest")
    until(lambda: not listeners(sound_card))
    tab.press("carry on")
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    assert "Yes: pine." in tab.wait("answer")


def test_a_closed_page_ends_the_listening_and_opening_it_again_goes_on(
    sound_card: Any,
    pages: Served,
    gull: ChildFolder,
    tabs: list[Tab],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(ear, "UNWATCHED_S", 0.5)
    begin(pages, gull, short_plan(["pine"]))
    tab = Tab(pages)
    tab.wait("hello")
    tab.press("go on")
    tab.wait("part")
    tab.press("go on")
    tab.wait("word", LISTENS)
    tab.close()
    until(lambda: not listeners(sound_card), 30)
    again = Tab(pages)
    tabs.append(again)
    assert "Every word you read is safe" in again.wait("rest")
    again.press("carry on")
    assert again.wait("word", LISTENS)


def test_two_tabs_show_the_same_and_a_press_counts_once(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    begin(pages, gull, short_plan(["pine", "kite"]))
    one, other = Tab(pages), Tab(pages)
    tabs += [one, other]
    one.wait("hello")
    other.wait("hello")
    number = one.scene[0]
    one.press("go on", number)
    one.wait("part")
    other.press("go on", number)  # of a scene that is gone
    other.wait("part")
    assert one.scene == other.scene
    assert one.scene[0] == number + 1
    read = pages.get("/child/gull/read")  # a reload, or the back button
    assert f'data-scene="{one.scene[0]}"' in read.text


def test_beginning_again_while_a_sitting_is_open_leads_to_that_one(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    run = begin(pages, gull, short_plan(["pine"]))
    answer = pages.post("/child/gull/begin", {"begin": "anew"})
    assert answer.headers["location"] == "/child/gull/read"
    assert room_of(pages).run is run
    agreed(pages.home, label="crab")
    other = pages.post("/child/crab/begin", {"begin": "anew"})
    assert other.status_code == 409
    assert "Somebody is reading already" in other.text


def test_an_unplugged_microphone_says_so_and_the_word_is_read_once_it_is_back(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    tab = started(pages, gull, ["pine"], tabs)
    tab.wait("word", LISTENS)
    sound_card.pull_out()
    assert "Plug it back in" in tab.wait("trouble")
    sound_card.plug_in()
    tab.press("again")
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    assert "pine" in tab.wait("answer")
    assert words_kept(gull) == ["pine"]


@pytest.fixture
def full(monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """While set, the log has no room: SQLite's own limit on pages, reached by a turn that is large.

    SQLite then reports SQLITE_FULL, as it does when the disk is.
    """
    event = threading.Event()
    add = Log.add_turn

    def limited(log: Log, permit: Any, sitting: int, turn: Any, now: datetime) -> int:
        pages = log._db.execute("PRAGMA page_count").fetchone()[0]
        log._db.execute(f"PRAGMA max_page_count = {pages if event.is_set() else 1_000_000}")
        large = replace(turn, word=turn.word * 5_000) if event.is_set() else turn
        return add(log, permit, sitting, large, now)

    monkeypatch.setattr(Log, "add_turn", limited)
    return event


def test_a_full_disk_is_told_and_the_turn_is_kept_once_there_is_room(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab], full: threading.Event
) -> None:
    tab = started(pages, gull, ["pine"], tabs)
    full.set()
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    assert "the disk is full or failing" in tab.wait("trouble")
    assert words_kept(gull) == []
    full.clear()
    tab.press("again")
    tab.wait("answer")
    assert words_kept(gull) == ["pine"]


def test_leaving_while_the_disk_is_full_says_what_is_kept(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab], full: threading.Event
) -> None:
    tab = started(pages, gull, ["pine"], tabs)
    full.set()
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    tab.wait("trouble")
    tab.press("done")
    assert "Every turn committed before is kept; the last one is not" in tab.wait("stopped")


def test_a_consent_taken_back_in_another_tab_ends_the_listening(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    tab = started(pages, gull, ["pine", "kite"], tabs)
    consent.take_back(gull, ["practise", "keep_log"])
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    assert "no adult has said yes" in tab.wait("stopped")
    until(lambda: not listeners(sound_card))
    assert words_kept(gull) == []


def test_without_a_log_a_sitting_is_the_same_and_nothing_is_kept(
    sound_card: Any, pages: Served, home: Path, tabs: list[Tab]
) -> None:
    folder = agreed(home, "practise")
    begin(pages, folder, short_plan(["pine"]))
    tab = Tab(pages)
    tabs.append(tab)
    assert "Nothing you read is kept." in tab.wait("hello")
    tab.press("go on")
    tab.wait("part")
    tab.press("go on")
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    assert "Yes: pine." in tab.wait("answer")
    tab.press("done")
    tab.wait("end")
    assert [path.name for path in folder.path.iterdir()] == ["consent.json"]


def test_a_program_told_to_stop_closes_the_sitting_with_its_tries(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    tab = started(pages, gull, ["pine", "kite"], tabs)
    read_aloud(sound_card, tab, clip("pine", "P-IH-N"))
    tab.wait("word", AGAIN)  # the first of two tries has been heard
    room_of(pages).leave()
    with Log.open(gull.log) as log:
        assert log.sittings()[0].ended is not None
    assert words_kept(gull) == ["pine"]


def test_a_sitting_that_was_cut_off_goes_on_where_it_stopped(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    tab = started(pages, gull, ["pine", "kite", "hope"], tabs)
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    tab.wait("answer")
    with Log.open(gull.log) as log:  # as a killed program leaves it: the turn, and no end
        found = cut_off.find(log, datetime.now().astimezone())
    assert found is not None and found.words == ("pine",)
    room_of(pages).leave()
    begin(pages, gull, short_plan(["pine", "kite", "hope"]), goes_on=found)
    again = Tab(pages)
    tabs.append(again)
    again.wait("hello")
    again.press("go on")
    again.wait("word", LISTENS)
    assert again.word == "kite"
    read_aloud(sound_card, again, clip("kite", "K-AY-T"))
    again.wait("answer")
    with Log.open(gull.log) as log:
        assert [kept.sitting for kept in log.turns()] == [found.number] * 2


def test_words_of_a_child_who_was_erased_are_not_shown_to_the_next_of_that_name(
    sound_card: Any, pages: Served, gull: ChildFolder, tabs: list[Tab]
) -> None:
    tab = started(pages, gull, ["pine"], tabs)
    read_aloud(sound_card, tab, clip("pine", "P-AY-N"))
    tab.wait("answer")
    tab.press("done")
    tab.wait("end", ">pine<")
    until(lambda: not room_of(pages).run.is_alive())
    erasure.withdraw_all(gull)
    assert pages.get("/child/gull/read").status_code == 404
    pages.post("/new/answers", {"label": "gull", "practise": "yes"})
    assert pages.get("/child/gull/read").headers["location"] == "/child/gull"


def test_a_sitting_that_nobody_comes_back_to_closes(
    sound_card: Any,
    pages: Served,
    gull: ChildFolder,
    tabs: list[Tab],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(resting_run, "LEFT_S", 0.5)
    tab = started(pages, gull, ["pine"], tabs)
    tab.press("pause")
    assert "No words this time" in tab.wait("end")
    with Log.open(gull.log) as log:
        assert log.sittings()[0].ended is not None


def test_after_five_minutes_no_further_word_is_begun(
    sound_card: Any,
    pages: Served,
    gull: ChildFolder,
    tabs: list[Tab],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sitting_run, "LONGEST_S", 0.0)
    begin(pages, gull, short_plan(["pine"], *ENDING))
    tab = Tab(pages)
    tabs.append(tab)
    tab.wait("hello")
    tab.press("go on")
    tab.wait("caption")
    assert "word" not in tab.seen


class Pieces:
    """An ear that hears three pieces."""

    lost_pieces = 0

    def pieces(self) -> Iterator[Any]:
        yield from ([0.0], [0.0], [0.0])


@pytest.mark.parametrize(
    ("times", "heard", "alone"), [((0, 1, 2, 3), 3, False), ((0, 1, 3600, 3601), 1, True)]
)
def test_a_computer_that_slept_does_not_go_on_listening(
    times: tuple[float, ...], heard: int, alone: bool
) -> None:
    clock = iter(times)
    listening = WatchedEar(Pieces(), Stage(), clock=lambda: next(clock))  # type: ignore[arg-type]
    assert (len(list(listening.pieces())), listening.left_alone) == (heard, alone)
