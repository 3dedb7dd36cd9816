"""Measure the class book on a year of a class: ``python tests/time_class_book.py``.

Thirty pupils with forty weeks each, 25 GPCs a week, sealed by thirty keys: all of it is invented.
Prints the seconds of a preview and a commit, then of the same files again, and the most memory the
process took. The goal is 3 s for both steps together. On a busy computer the clock runs ahead of
the work: measure on an idle one.
"""

from __future__ import annotations

import random
import resource
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

from nacl.signing import SigningKey

from companion.phonics.gpc import table
from companion.record.weeks import Week
from companion.report import sealed
from companion.report.summary import Summary, SummaryRow
from companion.school import evidence, importing, register
from companion.school.arrivals import Source
from companion.school.book import Book
from companion.school.lock import Login

PUPILS, WEEKS, GPCS = 30, 40, 25
FIRST = datetime(2025, 9, 5, 16, tzinfo=UTC)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "class-book.db"
        with Book.start(path, Login(Path(folder)), FIRST) as book:
            codes = [register.add(book, FIRST).code for _ in range(PUPILS)]
            files = list(year(book, codes))
            size = sum(len(file.data) for file in files)
            print(f"{len(files)} sealed summaries of {GPCS} GPCs, {size / 1e6:.1f} MB")
            now = FIRST + timedelta(weeks=WEEKS)
            for name in ("the first time", "the same again"):
                with timed(f"{name}: preview"):
                    found = importing.preview(book, files, now)
                with timed(f"{name}: commit"):
                    taken = importing.commit(book, found, now, (*found.ready, *found.asks))
                print(f"  {taken.new} new, {taken.changed} changed, {found.count('same')} the same")
            with timed("reading all summaries back"):
                kept = evidence.summaries(book)
            assert len(kept) == PUPILS * WEEKS
        print(f"the book: {path.stat().st_size / 1e6:.1f} MB")
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


@contextmanager
def timed(what: str) -> Iterator[None]:
    """Print the seconds by the clock, and those of this process's own work."""
    wall, work = time.perf_counter(), time.process_time()
    yield
    wall, work = time.perf_counter() - wall, time.process_time() - work
    print(f"{what}: {wall:.2f} s by the clock, {work:.2f} s of work")


def year(book: Book, codes: list[str]) -> Iterator[Source]:
    """Every pupil's summary of every week, sealed."""
    chance = random.Random(6)
    gpcs = sorted(str(gpc) for gpc in table().order().gpcs)
    for code in codes:
        signer = SigningKey(chance.randbytes(32))
        for number in range(WEEKS):
            made_at = FIRST + timedelta(weeks=number)
            rows = [row(gpc, chance) for gpc in sorted(chance.sample(gpcs, GPCS))]
            verdicts = {"as_written": 48, "slip": 7, "unsure": 3}
            week = Week.of(made_at.date())
            summary = Summary(
                book.code, code, week, made_at, number + 1, (), 4, verdicts, 0, 1, tuple(rows)
            )
            data = sealed.seal(summary, book.public_key, signer)
            yield Source(sealed.file_name(summary), data)


def row(gpc: str, chance: random.Random) -> SummaryRow:
    right = chance.randint(4, 20)
    slips = {"short_for_split": 2} if chance.random() < 0.3 else {}
    return SummaryRow(gpc, right, slips, 1, 0, 0, 4, 4, 9, 0)


if __name__ == "__main__":
    main()
