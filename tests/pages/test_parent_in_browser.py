"""A parent with a browser: the week, one tap to correct, print, take away, and erase."""

from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from invented_week import TUESDAY, WEEK, practise, settle, with_sound
from playwright.sync_api import Page, expect
from served_pages import Served, accessible, too_small

from companion.pages.family import SITE
from companion.pages.serve import Site
from companion.record import consent
from companion.record.home import ChildFolder
from companion.record.log import Log

PAGES = (
    f"week?week={WEEK}",
    f"readings?week={WEEK}",
    "school",
    "kept",
    "take-back?choice=all",
    "take-back?choice=hand_in",
)
SCREENS = {"laptop": (1280, 800), "tablet": (1024, 768), "laptop at 200%": (640, 400)}
"""A browser's zoom of 200% halves the page's width and height in CSS pixels."""


@pytest.fixture
def pages(home: Path) -> Iterator[Served]:
    """The family's pages without the listener, which nothing here needs."""
    served = Served(Site("family", "Wordhearth's pages", SITE.routes), home)
    yield served
    served.close()


@pytest.fixture(scope="module")
def week_read(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("week")
    puffin = settle(home)
    consent.give(puffin, consent.NAMES, TUESDAY)
    with_sound(puffin, practise(puffin)[0])
    return home


@pytest.fixture
def puffin(pages: Served, week_read: Path) -> ChildFolder:
    shutil.copytree(week_read, pages.home, dirs_exist_ok=True)
    return ChildFolder(pages.home, "puffin")


@pytest.fixture
def page(browser_page: Page, pages: Served, puffin: ChildFolder) -> Page:
    """The browser, at a start page that knows puffin."""
    browser_page.goto(pages.launch.origin)
    return browser_page


def go(page: Page, pages: Served, path: str) -> None:
    page.goto(f"{pages.launch.origin}/child/puffin/{path}")


def wider_than_the_screen(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth > window.innerWidth"))


@pytest.mark.parametrize("screen", SCREENS)
def test_every_page_is_accessible_and_fits_the_screen(
    page: Page, pages: Served, screen: str
) -> None:
    width, height = SCREENS[screen]
    page.set_viewport_size({"width": width, "height": height})
    for path in PAGES:
        go(page, pages, path)
        for details in page.locator("details").all():
            details.evaluate("each => each.open = true")
        if screen == "laptop":
            accessible(page)
        assert too_small(page) == [], path
        assert not wider_than_the_screen(page), path


def test_a_parent_finds_the_week_and_corrects_a_reading_with_one_press(
    page: Page, pages: Served, puffin: ChildFolder
) -> None:
    page.get_by_role("link", name="Grown-up’s page").first.click()
    expect(page.get_by_text("This is the last week with readings")).to_be_visible()
    expect(page.get_by_role("heading", level=3).first).to_contain_text("i-e as in kite")
    page.get_by_role("link", name="See and correct every reading").click()
    row = page.locator("#turn-1")
    expect(row).to_contain_text("with a slip in i-e")
    row.get_by_role("button", name="As written", exact=True).click()
    expect(row.get_by_role("button", name="As written", pressed=True)).to_be_visible()
    assert page.url.endswith("#turn-1")
    expect(row).to_be_in_viewport()
    expect(page.get_by_text("you corrected 1 of these (14%)")).to_be_visible()
    row.get_by_role("button", name="Undo").click()
    expect(row.get_by_role("button", name="Undo")).to_have_count(0)
    with Log.open(puffin.log) as log:
        assert log.turn(1).turn.overrule is None


def test_a_reading_is_corrected_by_keyboard_alone_and_the_next_is_near(
    page: Page, pages: Served, puffin: ChildFolder
) -> None:
    go(page, pages, f"readings?week={WEEK}")
    row = page.locator("#turn-20")
    row.get_by_role("button", name="Not as written").focus()
    page.keyboard.press("Enter")
    expect(row.get_by_role("button", name="Not as written", pressed=True)).to_be_visible()
    page.keyboard.press("Tab")
    inside = page.evaluate("document.activeElement.closest('li')?.id")
    assert inside == "turn-20", "the keyboard goes on at the reading that was corrected"
    with Log.open(puffin.log) as log:
        assert log.turn(20).turn.overrule == "not"


def test_a_clip_plays_beside_its_reading(page: Page, pages: Served) -> None:
    go(page, pages, f"readings?week={WEEK}")
    sound = page.get_by_label("The sound of pine, try 1")
    played = sound.evaluate(
        """async each => { await each.play(); await new Promise(f => setTimeout(f, 300));
        return [each.duration, each.currentTime]; }"""
    )
    assert played[0] == pytest.approx(1.0, abs=0.05) and played[1] > 0.05


def test_the_week_is_kept_as_pdf_and_everything_as_zip(
    page: Page, pages: Served, tmp_path: Path
) -> None:
    go(page, pages, f"week?week={WEEK}")
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Save as PDF, to print").click()
    waiting.value.save_as(tmp_path / "week.pdf")
    assert (tmp_path / "week.pdf").read_bytes().startswith(b"%PDF-")
    assert waiting.value.suggested_filename == f"reading-week-{WEEK}.pdf"
    page.get_by_role("link", name="What is kept").click()
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Save everything as a ZIP file").click()
    waiting.value.save_as(tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as archive:
        assert len(json.loads(archive.read("everything.json"))["readings"]) == 20
        assert any(name.startswith("clips/") for name in archive.namelist())


def test_one_answer_is_taken_back_and_then_everything_is_erased_with_proof(
    page: Page, pages: Served, puffin: ChildFolder
) -> None:
    go(page, pages, "kept")
    page.get_by_role("link", name="Take back Keep the sound").click()
    expect(page.get_by_text("1 sound clip")).to_be_visible()
    page.get_by_role("button", name="Take back and erase").click()
    expect(page.get_by_role("heading", name="Taken back")).to_be_visible()
    expect(page.get_by_text("_turn000001_try1.flac")).to_be_visible()
    accessible(page)
    assert not puffin.clips.exists() and not consent.read(puffin).holds("keep_clips")
    page.get_by_role("link", name="Back to what is kept").click()
    page.get_by_role("link", name="Stop and erase everything").click()
    page.get_by_role("link", name="Leave it as it is").click()
    assert puffin.log.exists()
    page.get_by_role("link", name="Stop and erase everything").click()
    page.get_by_role("button", name="Stop and erase everything").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing is kept of puffin any more")
    expect(page.get_by_text("No file at all is left")).to_be_visible()
    accessible(page)
    assert list(pages.home.iterdir()) == []
    page.reload()
    expect(page.get_by_text("No file at all is left")).to_be_visible()
    page.get_by_role("link", name="Go to the start").click()
    expect(page.get_by_role("link", name="puffin")).to_have_count(0)


def test_the_print_of_the_page_itself_leaves_out_what_is_pressed(page: Page, pages: Served) -> None:
    go(page, pages, f"week?week={WEEK}")
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Show")).to_be_hidden()
    expect(page.get_by_role("heading", level=1)).to_be_visible()
