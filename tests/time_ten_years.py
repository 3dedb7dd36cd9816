"""A log of ten years: ``python tests/time_ten_years.py``. Prints figures, asserts nothing.

200,000 readings of a child who read 55 words every day for ten years, none of them rolled up yet:
more than a family that opens its pages now and then will ever have, since what is older than eight
weeks is turned into weekly counts.
"""

from __future__ import annotations

import json
import os
import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent / "pages"))

from served_pages import Served

from companion.pages.family import SITE
from companion.record import consent
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.weeks import Week
from companion.report.parent_week import read

DAYS, WORDS_A_DAY = 3650, 55
PAGES = ("", "week", "readings", "week.pdf", "school", "kept", "take-back?choice=all")
OLD = ("week?week={}", "week.pdf?week={}", "readings?week={}")
WORDS = {
    "pine": ("p /P/", "i-e /AY/", "n /N/"),
    "kite": ("k /K/", "i-e /AY/", "t /T/"),
    "ship": ("sh /SH/", "i /IH/", "p /P/"),
    "home": ("h /HH/", "o-e /OW/", "m /M/"),
    "rain": ("r /R/", "ai /EY/", "n /N/"),
    "frog": ("f /F/", "r /R/", "o /AA/", "g /G/"),
    "jump": ("j /JH/", "u /AH/", "m /M/", "p /P/"),
}


def fill(folder: ChildFolder, now: datetime) -> int:
    """Ten years of readings in one stroke; how many."""
    chance = random.Random(1)
    consent.give(folder, ["practise", "keep_log"], now)
    Log.open(folder.log).close()
    db = sqlite3.connect(folder.log)
    number = 0
    shares = json.dumps(dict.fromkeys(("as_written", "slip", "unsure", "silent"), 1 / 6))
    for day in range(DAYS):
        at = now - timedelta(days=DAYS - day, microseconds=1)
        ids = (day + 1, at.isoformat(), at.date().isoformat())
        db.execute("INSERT INTO sitting VALUES (?, ?, ?, 'i-e', NULL, ?)", (*ids, ids[1]))
        for place in range(WORDS_A_DAY):
            number += 1
            word = chance.choice(list(WORDS))
            gpcs = json.dumps(WORDS[word])
            then = (at + timedelta(seconds=9 * place)).isoformat()
            db.execute("INSERT INTO turn VALUES (?, ?, ?, ?, ?, ?, NULL)",
                       (number, day + 1, then, ids[2], word, gpcs))  # fmt: skip
            verdict = chance.choice(["as_written"] * 8 + ["slip", "unsure"])
            slip = ("short_for_split", WORDS[word][1]) if verdict == "slip" else (None, None)
            evidence = {"as_written": gpcs, "slip": json.dumps(WORDS[word][1:2])}
            for n in range(1, chance.choice((1, 1, 1, 2)) + 1):
                db.execute(
                    "INSERT INTO try VALUES"
                    " (?, ?, ?, ?, ?, 'P AY N', NULL, NULL, NULL, ?, ?, 9, ?)",
                    (number, n, verdict, *slip, shares, shares, evidence.get(verdict, "[]")),
                )
    db.commit()
    db.close()
    return number


def timed(what: str, work: Callable[[], object], times: int = 5) -> None:
    """Print the median and the slowest of some runs, and the median of the work itself.

    The work (processor time of this program, whatever runs beside it included) says more than the
    clock where the computer is busy with something else.
    """
    taken, worked = [], []
    for _ in range(times):
        began, spent = time.perf_counter(), time.process_time()
        work()
        taken.append((time.perf_counter() - began) * 1000)
        worked.append((time.process_time() - spent) * 1000)
    print(
        f"  {what:34} median {statistics.median(taken):7.1f}   slowest {max(taken):7.1f}"
        f"   work {statistics.median(worked):7.1f}"
    )


def opened(folder: ChildFolder) -> None:
    """Open and close."""
    Log.open(folder.log).close()


def ask(served: Served, path: str) -> None:
    """One page, whole."""
    found = served.get(f"/child/puffin/{path}".rstrip("/"))
    assert found.status_code in (200, 303, 404), f"{path}: {found.status_code}"


def pages(served: Served, week: Week, title: str) -> None:
    """Every page of the grown-ups, and the child's door."""
    print(title)
    for path in (*PAGES, *(each.format(week) for each in OLD)):
        timed(path or "the child's door", lambda path=path: ask(served, path))


def main() -> None:
    """Fill a log, and time what a family waits for."""
    now = datetime.now().astimezone()
    with tempfile.TemporaryDirectory() as home:
        folder = ChildFolder(Path(home), "puffin")
        count = fill(folder, now)
        load = os.getloadavg()[0]
        print(f"{count:,} readings, {folder.log.stat().st_size / 1e6:.0f} MB; times in ms")
        print(f"{os.cpu_count()} cores, on average {load:.1f} programs wanting one")
        (folder.path / "log.db.whole").unlink()
        timed("opened, and read through", lambda: opened(folder), times=1)
        timed("opened again", lambda: opened(folder))
        with Log.open(folder.log) as log:
            timed("this week, from the log", lambda: read(log, Week.of(now.date())))
        old = Week.of((now - timedelta(weeks=300)).date())
        served = Served(SITE, folder.home)
        try:
            began = time.perf_counter()
            ask(served, "week")
            print(f"  {'first page ever asked for':34} {(time.perf_counter() - began) * 1000:.1f}")
            pages(served, old, "while ten years of readings are being rolled up beside it:")
            served.starlette.state.tidying.wait(folder)
            taken = time.perf_counter() - began
            print(f"  rolled up {taken:.1f} s after the first page, to "
                  f"{folder.log.stat().st_size / 1e6:.1f} MB")  # fmt: skip
            pages(served, old, "afterwards, 520 weeks of counts and 8 of readings:")
        finally:
            served.close()


if __name__ == "__main__":
    main()
