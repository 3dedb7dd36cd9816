"""A family in a browser: from the first run to a finished sitting, and a program killed in it."""

from __future__ import annotations

import signal
import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page
from program import Program
from reading_aloud import agreed, spoken
from served_pages import Served, accessible, too_small

from companion.pages.door import planned
from companion.record import consent, settings
from companion.record.consent import LogPermit, PractisePermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.settings import Settings
from companion.record.turns import Try, Turn

LISTENS = ".sign.listening"


def scene(page: Page) -> tuple[str, str]:
    """Name and number of the scene shown."""
    found = page.query_selector(".scene")
    assert found is not None
    classes = str(found.get_attribute("class")).split()
    return classes[1].removeprefix("scene-"), str(found.get_attribute("data-scene"))


def next_scene(page: Page, number: str) -> None:
    """Wait for the scene after one."""
    page.wait_for_selector(f'.scene:not([data-scene="{number}"])')


def go_to_word(page: Page) -> None:
    """Press the big button until a word is listened to."""
    for _ in range(10):
        name, number = scene(page)
        if page.query_selector(LISTENS):
            return
        if name != "word":
            page.click(".big-button")
        next_scene(page, number)
    page.wait_for_selector(LISTENS)


def read_a_word(page: Page, card: Any, folder: Path) -> str:
    """Read the next word, twice where it is asked for again, until the computer tells it."""
    go_to_word(page)
    word = page.inner_text(".word .hidden-text").split(":")[0]
    while scene(page)[0] != "answer":
        name, number = scene(page)
        if page.query_selector(LISTENS):
            time.sleep(0.3)
            assert card.play(spoken(word, folder)).wait(timeout=10) == 0
        elif name == "ask":
            page.click(".big-button")
        next_scene(page, number)
    return word


def checked(page: Page, least: int = 44) -> None:
    accessible(page)
    assert too_small(page, least) == []


def test_from_the_first_run_to_a_finished_sitting(
    sound_card: Any, pages: Served, browser_page: Page, tmp_path: Path
) -> None:
    page = browser_page
    checked(page)
    page.get_by_role("link", name="Begin").click()
    checked(page)
    page.check("#sign-puffin")
    page.get_by_role("button", name="Next").click()
    checked(page)
    page.check("#practise")
    page.check("#keep_log")
    page.get_by_role("button", name="Record my answers").click()
    checked(page)
    page.get_by_role("button", name="Listen for five seconds").click()
    page.wait_for_selector(".scene-check .sign.listening")
    time.sleep(1.2)
    sound_card.play(spoken("lighthouse", tmp_path)).wait(timeout=10)
    page.wait_for_selector(".scene-checked")
    assert "All is well" in page.inner_text("h1")
    page.get_by_role("link", name="Next").click()
    checked(page)
    page.get_by_role("button", name="Next").click()
    checked(page)
    page.select_option("#today", "i-e")
    page.get_by_role("button", name="Next").click()
    checked(page)
    page.get_by_role("link", name="Not now").click()
    checked(page, 64)
    page.get_by_role("link", name="Settings").click()
    checked(page)
    page.uncheck("#by_itself")
    page.get_by_role("button", name="Keep").click()
    page.get_by_role("button", name="Start reading").click()
    page.wait_for_selector(".scene-hello")
    assert "Nobody else can" in page.inner_text("#stage")
    read = [read_a_word(page, sound_card, tmp_path) for _ in range(2)]
    page.click("#done")
    page.wait_for_selector(".scene-end")
    shown = [each.inner_text() for each in page.query_selector_all(".words li")]
    assert shown == read
    checked(page, 64)
    folder = ChildFolder(pages.home, "puffin")
    with Log.open(folder.log) as log:
        assert [kept.turn.word for kept in log.turns()] == read
        assert [sitting.ended is not None for sitting in log.sittings()] == [True]
    assert consent.read(folder).holds("keep_log")
    page.get_by_role("link", name="Finish").click()
    checked(page)
    assert "puffin" in page.inner_text("main")


@pytest.fixture
def looking(chromium: Browser) -> Iterator[BrowserContext]:
    with chromium.new_context(viewport={"width": 1280, "height": 800}) as context:
        context.set_default_timeout(30_000)
        yield context


def cut_off_sitting(home: Path, left: int) -> tuple[ChildFolder, list[str]]:
    """A log in which today's sitting was cut off; the words that were left."""
    folder = agreed(home, label="gull")
    settings.keep(PractisePermit(folder), Settings(by_itself=False))
    now = datetime.now().astimezone() - timedelta(minutes=5)
    plan = planned(folder, None)
    words = [each.word for each in plan.words]
    permit = LogPermit(folder)
    with Log.open(folder.log) as log:
        sitting = log.start_sitting(permit, plan.name, None, now)
        for word in words[:-left]:
            one = Try("as_written", None, None, "", None, None, {}, {}, 1.0, ())
            log.add_turn(permit, sitting, Turn(word, (), (one,)), now)
    return folder, words[-left:]


def test_a_program_killed_in_mid_word_loses_nothing_and_the_sitting_goes_on(
    sound_card: Any, home: Path, looking: BrowserContext, tmp_path: Path
) -> None:
    folder, left = cut_off_sitting(home, 3)
    page = looking.new_page()
    with Program(home) as program:
        page.goto(program.link)
        page.get_by_role("link", name="gull", exact=True).click()
        page.get_by_role("button", name="Go on").click()
        assert read_a_word(page, sound_card, tmp_path) == left[0]
        go_to_word(page)  # the next word is being listened to
        program.end(signal.SIGKILL)
    with Log.open(folder.log) as log:
        kept = [each.turn.word for each in log.turns()]
        assert kept[-1] == left[0]
    with Program(home) as program:
        page.goto(f"{program.link}")
        page.goto(f"{program.origin}/child/gull")
        assert left[0] in page.inner_text(".door")
        page.get_by_role("button", name="Go on").click()
        go_to_word(page)
        page.close()  # the browser goes away as well
        page = looking.new_page()
        page.goto(f"{program.origin}/child/gull/read")
        assert [read_a_word(page, sound_card, tmp_path) for _ in left[1:]] == left[1:]
        page.click(".big-button")
        page.wait_for_selector(".scene-caption")
        page.click(".big-button")
        page.wait_for_selector(".scene-end")
        assert program.end()[0] == 130
    with Log.open(folder.log) as log:
        assert len(log.turns()) == len(kept) + 2
        (sitting,) = log.sittings()
        assert sitting.ended is not None
