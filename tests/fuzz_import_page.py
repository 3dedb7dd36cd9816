"""Throw damaged files, names and forms at the page where a teacher takes summaries in.

    python tests/fuzz_import_page.py --minutes 2

The class pages are served for real, behind their guard, on a free port. Hypothesis damages true
files as `fuzz_school` does and gives them names that no family would; it also damages the form
around them. No answer may be a fault of the program (500 and above), none may take more than 1 s of
work, the process must stay below 200 MB, and no file may be written but the class book and its
journal.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from fuzz_school import MEMORY_MAX_MB, NOW, WORK_MAX_S, World, damage, listing, peak_mb
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent / "pages"))
from served_pages import Served

from companion.pages.school_site import site

NAMES = st.sampled_from(
    ("x.sealed", "../../../x.sealed", "C:\\x.sealed", "\x1b[2J", "a" * 3000, "<script>x</script>",
     "{{ 7 * 7 }}", "\u202ecod.exe", "%2e%2e%2fx", "x\r\nSet-Cookie: a=b", "nul", "=1+1.csv")
) | st.text(min_size=1, max_size=40)  # fmt: skip


class Page:
    """The page where files are taken in, open, and what it answered."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.served = Served(site(world.path, lambda: NOW), world.folder)
        assert self.served.post("/class/open", {"x": "x"}).status_code == 303
        self.answers: Counter[str] = Counter()
        self.slowest_s = 0.0
        self.at_first_mb = peak_mb()

    def send(self, what: str, address: str, fields: Any = None, **options: Any) -> str:
        began = time.process_time()
        headers = options.pop("headers", {}) | {"Origin": self.served.launch.origin}
        answer = self.served.client.post(
            address, data=fields, headers=headers, follow_redirects=True, **options
        )
        took = time.process_time() - began
        self.slowest_s = max(self.slowest_s, took)
        self.answers[f"{what}: {answer.status_code}"] += 1
        assert answer.status_code < 500, answer.text[:500]
        assert took <= WORK_MAX_S, f"{what} took {took:.2f} s"
        assert peak_mb() <= MEMORY_MAX_MB
        assert "<script>x" not in answer.text and "49</" not in answer.text
        return answer.text


@st.composite
def files(draw: st.DrawFn, world: World) -> list[tuple[str, tuple[str, bytes, str]]]:
    true = (world.sealed, world.csv, world.signed(world.json), world.family.encode())
    found = []
    for _ in range(draw(st.integers(1, 3))):
        data = draw(damage(draw(st.sampled_from(true))))
        found.append(("files", (draw(NAMES), data, "application/octet-stream")))
    return found


def run(page: Page, seconds: float) -> None:
    before = listing(page.world.folder)
    until = time.monotonic() + seconds
    number = 0
    while time.monotonic() < until:
        number += 1

        @seed(number)
        @settings(
            max_examples=25,
            deadline=None,
            database=None,
            phases=(Phase.generate, Phase.shrink),
            suppress_health_check=list(HealthCheck),
        )
        @given(st.data())
        def once(data: st.DataObject) -> None:
            page.send("files", "/class/take-in/look", files=data.draw(files(page.world)))
            tick = data.draw(st.lists(st.sampled_from(("0", "1", "99", "-1", "x", "٣", "9" * 99))))
            do = data.draw(st.sampled_from(("take", "forget", "")))
            page.send("ticks", "/class/take-in/take", {"take": tick, "do": do})
            body = b"--b\r\nContent-Disposition: form-data; name=files; filename=x\r\n\r\n"
            body = data.draw(damage(body + page.world.sealed + b"\r\n--b--\r\n"))
            kind = "multipart/form-data; boundary=b" + data.draw(st.sampled_from(("", "c", '"')))
            page.send("form", "/class/take-in/look", content=body, headers={"Content-Type": kind})

        once()
    assert listing(page.world.folder) == before, "a file appeared beside the book"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=2.0)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="wordhearth-fuzz-") as folder:
        world = World(Path(folder))
        world.book.close()
        page = Page(world)
        run(page, args.minutes * 60)
        page.served.close()
    print(f"{page.answers.total():,} forms, slowest {page.slowest_s:.3f} s of work, "
          f"memory from {page.at_first_mb:.0f} to {peak_mb():.0f} MB")  # fmt: skip
    for name, count in sorted(page.answers.items()):
        print(f"  {name}: {count:,}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
