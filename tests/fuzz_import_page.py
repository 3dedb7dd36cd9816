"""Throw damaged files, names and forms at the page where a teacher takes summaries in.

    python tests/fuzz_import_page.py --minutes 2

The class pages are the program itself, in a process of its own. Hypothesis damages true files as
`fuzz_school` does and gives them names that no family would; it also damages the form around them.
No answer may be a fault of the program (500 and above), none may take more than 1 s of the
program's work, its memory may never pass 200 MB, and no file may appear but the class book.
"""

from __future__ import annotations

import argparse
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

import httpx
from fuzz_school import MEMORY_MAX_MB, WORK_MAX_S, World, damage, listing
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

NAMES = st.sampled_from(
    ("x.sealed", "../../../x.sealed", "Q:\\x.sealed", "\x1b[2J", "a" * 3000, "<script>x</script>",
     "{{ 7 * 7 }}", "\u202ecod.exe", "%2e%2e%2fx", "x\r\nSet-Cookie: a=b", "nul", "=1+1.csv")
) | st.text(min_size=1, max_size=40)  # fmt: skip


class Page:
    """The page where files are taken in, open, and what it answered."""

    def __init__(self, world: World) -> None:
        self.world = world
        command = [sys.executable, "-m", "companion", "class", "--no-browser"]
        self.process = subprocess.Popen(
            [*command, "--home", str(world.folder)],
            cwd=Path(__file__).parents[1], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        link = next(
            found[0]
            for line in self.process.stdout
            if (found := re.search(r"http://127\.0\.0\.1:\d+/open\?key=\S+", line))
        )
        origin = link.split("/open")[0]
        self.client = httpx.Client(base_url=origin, timeout=60, headers={"Origin": origin})
        self.client.get(link)
        assert self.client.post("/class/open", data={"x": "x"}).status_code == 303
        self.answers: Counter[str] = Counter()
        self.slowest_s = 0.0

    def send(self, what: str, address: str, fields: Any = None, **options: Any) -> None:
        began = self.work_s()
        answer = self.client.post(address, data=fields, follow_redirects=True, **options)
        took = self.work_s() - began
        self.slowest_s = max(self.slowest_s, took)
        self.answers[f"{what}: {answer.status_code}"] += 1
        assert answer.status_code < 500, answer.text[:500]
        assert took <= WORK_MAX_S, f"{what} took {took:.2f} s"
        assert self.peak_mb() <= MEMORY_MAX_MB, f"{self.peak_mb():.0f} MB after {what}"
        assert "<script>x" not in answer.text and ">49<" not in answer.text

    def work_s(self) -> float:
        """Seconds of processor time the program has used (Linux, proc(5): fields 14 and 15)."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def peak_mb(self) -> float:
        """The most memory the program ever held (proc(5): VmHWM)."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(status.partition("VmHWM:")[2].split()[0]) / 1024

    def close(self) -> None:
        self.client.close()
        self.process.send_signal(signal.SIGINT)
        self.process.wait(30)


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
        at_first_mb = page.peak_mb()
        run(page, args.minutes * 60)
        told = f"memory from {at_first_mb:.0f} to {page.peak_mb():.0f} MB"
        page.close()
    print(f"{page.answers.total():,} forms, slowest {page.slowest_s:.2f} s of work, {told}")
    for name, count in sorted(page.answers.items()):
        print(f"  {name}: {count:,}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
