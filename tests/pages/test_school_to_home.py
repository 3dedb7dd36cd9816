"""From a class book to two homes and back: everything in a browser, the children by recordings.

Saltmarrow Primary sends a list home; two invented children read it, heard and judged by the real
listener; their families hand a week in; the teacher takes it in, sees the grid, hears two others,
makes a group, prints, and the next list reaches a home.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from reading_aloud import agreed, clip
from served_pages import Served

from companion.pages.family import SITE
from companion.pages.school_site import site
from companion.phonics.reading import reading
from companion.practice.sitting import Keeping, Sitting, Step
from companion.practice.turn import judge
from companion.record.consent import LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.weeks import Week
from companion.report import home_school
from speech import audio
from speech.scorer import PhoneScorer

NOW = datetime.now().astimezone()
LAST = Week.of(NOW.date() - timedelta(days=7))
THIS, NEXT = Week.of(NOW.date()), Week.of(NOW.date() + timedelta(days=7))
AS_WRITTEN = ("bite.B-AY-T", "kite.K-AY-T", "pine.P-AY-N", "shine.SH-AY-N")
SHORT_VOWEL = ("bite.B-IH-T", "kite.K-IH-T", "pine.P-IH-N", "shine.SH-AY-N")
WAIT_MS = 90_000


class Home:
    """A family's computer and its browser."""

    def __init__(self, folder: Path, browser: Browser) -> None:
        self.child = ChildFolder(folder, "gull")
        agreed(folder, "practise", "keep_log", "hand_in")
        self.pages = Served(SITE, folder)
        self.page = browser.new_page()
        self.page.set_default_timeout(WAIT_MS)
        self.page.goto(self.pages.link)

    def go(self, path: str) -> None:
        self.page.goto(f"{self.pages.launch.origin}/child/gull/{path}")

    def join(self, file: Path) -> None:
        self.go("school")
        loader = self.page.locator("#file")
        if not loader.is_visible():
            self.page.get_by_text("Load a file from school").click()
        loader.set_input_files(file)
        self.page.get_by_role("button", name="Load it").click()
        expect(self.page.get_by_text("sounds taught so far")).to_be_visible()

    def read(self, recordings: tuple[str, ...], ears: PhoneScorer) -> None:
        """Three evenings of last week; what is in the recordings is heard and judged."""
        for day in range(1, 4):
            evening = datetime.combine(LAST.monday + timedelta(days=day), time(17), NOW.tzinfo)
            words = [name.split(".")[0] for name in recordings]
            ready = [reading(word) for word in words]
            with Log.open(self.child.log) as log:
                keeping = Keeping(log, LogPermit(self.child))
                sitting = Sitting("i-e", ready, keeping, evening)
                for name, word in zip(recordings, ready, strict=True):
                    sound = audio.read(clip(*name.split(".")))
                    heard = judge(sound.samples, word, ears)
                    if sitting.hear(heard, evening, sound) is not Step.NEXT:
                        sitting.decide(None, evening)
                sitting.close(evening)

    def hand_in(self, folder: Path) -> Path:
        """Make the week's sealed summary, as an adult does, and save it."""
        self.go(f"school?week={LAST}")
        with self.page.expect_download() as saving:
            self.page.get_by_role("button", name="Make the sealed summary").click()
        path = folder / saving.value.suggested_filename
        saving.value.save_as(path)
        return path

    def close(self) -> None:
        self.page.close()
        self.pages.close()


@pytest.fixture
def homes(tmp_path: Path, chromium: Browser) -> Iterator[tuple[Home, Home]]:
    both = Home(tmp_path / "home one", chromium), Home(tmp_path / "home two", chromium)
    yield both
    for home in both:
        home.close()


@pytest.fixture
def school(tmp_path: Path) -> Iterator[Served]:
    served = Served(site(tmp_path / "class-book.db"), tmp_path)
    yield served
    served.close()


def family_file(page: Page, school: Served, code: str, week: Week, folder: Path) -> Path:
    """What the school gives a family, as the register's link gives it."""
    address = f"{school.launch.origin}/class/family-files?pupil={code}&week={week}"
    answer = page.request.get(address)
    path = folder / f"{code}-{week}.family"
    path.write_bytes(answer.body())
    return path


def start_class(page: Page) -> list[str]:
    """A class book with four pupils, taught up to u-e; gives their codes by name."""
    page.get_by_label("Passphrase", exact=True).fill("gull lamp rope tide")
    page.get_by_label("The same again").fill("gull lamp rope tide")
    page.get_by_role("button", name="Start the class book").click()
    page.get_by_label("Names, one on a line").fill("Wren\nPip\nSenara\nTalan")
    page.get_by_role("button", name="Add", exact=True).click()
    rows = page.locator("table.register tbody tr")
    expect(rows).to_have_count(4)
    names = [field.input_value() for field in page.locator("td input[name=name]").all()]
    codes = dict(zip(names, page.locator("th .code").all_inner_texts(), strict=True))
    page.get_by_role("link", name="Taught", exact=True).click()
    page.get_by_label("Starting in mid-year?").select_option(label=u_e(page))
    page.get_by_role("button", name="Mark all of these as taught").click()
    expect(page.get_by_role("button", name="Take back u-e as in cube")).to_be_visible()
    return [codes[name] for name in ("Wren", "Pip", "Senara", "Talan")]


def u_e(page: Page) -> str:
    """The last value of u-e, as the list of all GPCs names it with its place."""
    options = page.locator("#up-to option").all_inner_texts()
    return next(text.strip() for text in options if text.strip().endswith("u-e as in cube"))


def test_what_is_heard_at_home_changes_what_is_taught_at_school(
    school: Served, homes: tuple[Home, Home], chromium: Browser, tmp_path: Path
) -> None:
    page = chromium.new_page()
    page.set_default_timeout(WAIT_MS)
    expect.set_options(timeout=WAIT_MS)
    page.goto(school.link)
    wren, pip, senara, talan = start_class(page)

    ears = PhoneScorer.load()
    handed_in = []
    for home, code, recordings in zip(homes, (wren, pip), (AS_WRITTEN, SHORT_VOWEL), strict=True):
        home.join(family_file(page, school, code, THIS, tmp_path))
        home.read(recordings, ears)
        handed_in.append(home.hand_in(tmp_path))

    take_in(page, school, handed_in)
    page.goto(f"{school.launch.origin}/class/grid")
    expect(page.get_by_role("link", name="Wren, i-e as in kite: secure")).to_be_visible()
    expect(page.get_by_role("link", name="Pip, i-e as in kite: practise")).to_be_visible()
    expect(page.get_by_role("link", name="Senara, i-e as in kite: not enough")).to_be_visible()

    hear_none_as_written(page, school, senara, talan)
    page.get_by_role("link", name="Groups", exact=True).click()
    page.get_by_role("button", name="Make the groups").click()
    group = page.locator(".group")
    expect(group).to_have_count(1)
    expect(group.get_by_role("heading")).to_have_text("Group 1: i-e as in kite")
    for name in ("Pip", "Senara", "Talan"):
        expect(group.get_by_role("link", name=name)).to_be_visible()

    page.get_by_role("link", name="Plan", exact=True).click()
    page.get_by_role("button", name="Make the week's lists").click()
    sections = page.locator("section.panel")
    expect(sections).to_have_count(2)
    printed = [link.get_attribute("href") for link in page.locator("a[href*='.pdf']").all()]
    assert len(printed) >= 8
    for address in printed:
        answer = page.request.get(f"{school.launch.origin}{address}")
        assert answer.body()[:5] == b"%PDF-", address
    words = [re.split(r"\s+·\s+", text) for text in sections.locator(".words").all_inner_texts()]

    for home, code, own in zip(homes, (wren, pip), words, strict=True):
        home.join(family_file(page, school, code, NEXT, tmp_path))
        taught = home_school.joined(home.child)
        assert taught is not None and taught.words is not None
        assert list(taught.words.words) == own  # Wren has the class's list, Pip the group's
        today = home_school.teaching(taught)
        assert today.words == taught.words and set(today.gpcs) == set(taught.taught)
    assert words[0] != words[1]
    page.close()


def take_in(page: Page, school: Served, files: list[Path]) -> None:
    """Preview, tick the two first keys, and commit; the same files again change nothing."""
    page.get_by_role("link", name="Take in", exact=True).click()
    page.locator("#files").set_input_files(files)
    page.get_by_role("button", name="Look at them").click()
    expect(page.get_by_text("is the first sealed summary of")).to_have_count(2)
    for box in page.locator("input[name=take]").all():
        box.check()
    page.get_by_role("button", name="Put the ticked ones into the book").click()
    expect(page.get_by_role("status")).to_contain_text("2 weeks were put into the book")
    page.goto(f"{school.launch.origin}/class/take-in")
    page.locator("#files").set_input_files(files)
    page.get_by_role("button", name="Look at them").click()
    expect(page.get_by_text("In the book already", exact=True)).to_have_count(2)
    page.get_by_role("button", name="Forget these files").click()


def hear_none_as_written(page: Page, school: Served, *codes: str) -> None:
    """The teacher's check of two children from whose homes nothing came."""
    page.goto(f"{school.launch.origin}/class/check?gpc=i-e%20/AY/")
    for code in codes:
        page.locator(f"input[name=heard][value='{code}']").check()
    page.get_by_role("button", name="Keep what I heard").click()
    expect(page.get_by_role("status")).to_contain_text("heard from 2")
