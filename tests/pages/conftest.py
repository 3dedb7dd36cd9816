"""Debian's Chromium, and the family's pages served to it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from served_pages import Served

from companion.pages.family import SITE


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.fixture
def pages(home: Path) -> Iterator[Served]:
    """The family's pages, with nothing recorded yet."""
    served = Served(SITE, home)
    yield served
    served.close()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    program = shutil.which("chromium")
    if program is None:
        message = "the pages are tried in a browser: sudo apt install chromium"
        (pytest.fail if os.environ.get("CI") else pytest.skip)(message)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def browser_page(chromium: Browser, pages: Served) -> Iterator[Page]:
    """A page of the browser, opened by the link; anything its console complains of fails."""
    with chromium.new_context(
        viewport={"width": 1280, "height": 800}, locale="en-GB", reduced_motion="reduce"
    ) as context:
        context.set_default_timeout(30_000)
        page = context.new_page()
        complaints: list[str] = []
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda line: complaints.append(line.text) if line.type == "error" else None,
        )
        page.goto(pages.link)
        yield page
        assert complaints == []
