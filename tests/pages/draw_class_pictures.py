"""Draw the pictures of the class grid and of a word card for README.md, by running this file."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright
from saltmarrow_class import SECRET, TODAY, class_book
from served_pages import Served

from companion.pages.school_site import site
from companion.phonics.gpc import Gpc
from companion.school.cards import Card, cards_pdf

PICTURES = Path(__file__).parents[2] / "companion" / "report" / "pictures"
BYTES_MAX = 150_000


def grid(folder: Path) -> None:
    """The grid of the invented class, as a teacher sees it."""
    class_book(folder / "class-book.db").close()
    served = Served(site(folder / "class-book.db", lambda: TODAY), folder)
    with sync_playwright() as playwright:
        program = shutil.which("chromium")
        browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1100, "height": 900})
        page.goto(served.link)
        page.fill("#secret", SECRET.text)
        page.press("#secret", "Enter")
        page.wait_for_url("**/class")
        page.goto(f"{served.launch.origin}/class/grid")
        page.screenshot(path=PICTURES / "class-grid.png")
        browser.close()
    served.close()


def card(folder: Path) -> None:
    """One word card, cut out of its sheet."""
    pdf = folder / "cards.pdf"
    pdf.write_bytes(cards_pdf([Card("pine", gpc=Gpc.parse("i-e /AY/"))], "Words with i-e"))
    left, top, wide, high = (round(each * 120 / 25.4) for each in (13, 13, 94, 71))  # millimetres
    place = ("-x", str(left), "-y", str(top), "-W", str(wide), "-H", str(high))
    picture = ("-r", "120", "-png", "-singlefile", str(pdf), str(PICTURES / "word-card"))
    subprocess.run(["pdftoppm", *place, *picture], check=True)


def main() -> None:
    """Draw both."""
    with tempfile.TemporaryDirectory() as folder:
        grid(Path(folder))
        card(Path(folder))
    for name in ("class-grid.png", "word-card.png"):
        size = (PICTURES / name).stat().st_size
        assert size <= BYTES_MAX, f"{name} has {size} bytes"


if __name__ == "__main__":
    main()
