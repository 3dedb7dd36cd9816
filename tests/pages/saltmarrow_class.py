"""An invented class at Saltmarrow Primary: a book with a register, lessons and weeks of summaries.

No child is behind it. Each invented child knows each GPC, or slips in it at a rate of its own;
readings are drawn by chance from a fixed seed. Counts are written as an import writes them.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from companion.phonics.decodable import named
from companion.phonics.gpc import Gpc, table
from companion.record.weeks import Week
from companion.report.summary import Summary, SummaryRow
from companion.school import evidence, register, teaching
from companion.school.book import Book
from companion.school.evidence import KeptSummary
from companion.school.lock import Passphrase

SECRET = Passphrase("lamp gull rope tide")
TODAY = datetime(2025, 12, 5, 14, 40, tzinfo=UTC)
"""A Friday."""
NAMES = (
    "Tamsin", "Pip", "Merryn", "Jory", "Elowen", "Digory", "Kerra", "Perran", "Lowenna", "Cubert",
    "Demelza", "Piran", "Senara", "Ruan", "Morwenna", "Jago", "Tegen", "Denzil", "Wenna", "Clemo",
    "Nessa", "Gerren", "Zennor", "Talan", "Bryluen", "Hedra", "Massen", "Ysella", "Branok", "Kitto",
)  # fmt: skip
PRACTISED = ("ai", "igh", "oa", "ee", "or", "ar", "ow", "ea", "a-e", "e-e", "i-e", "o-e", "u-e")
SLIPS = {True: "short_for_split", False: "one_letter_of_digraph"}


def practised() -> tuple[Gpc, ...]:
    """The GPCs that the invented homes read."""
    order = table().order()
    return tuple(gpc for each in PRACTISED for gpc in named(each, order))


def class_book(path: Path, names: Sequence[str] = NAMES, weeks: int = 5, seed: int = 7) -> Book:
    """Start a class book and fill it; the caller closes it."""
    chance = random.Random(seed)
    book = Book.start(path, SECRET, TODAY - timedelta(weeks=12), passes=1, memory_bytes=8192)
    pupils = [register.add(book, TODAY - timedelta(weeks=12), name).code for name in names]
    order = table().order()
    gpcs = order.gpcs[: order.gpcs.index(named("u-e", order)[-1]) + 1]
    first = date(2025, 9, 8)
    for place, gpc in enumerate(gpcs):
        teaching.teach(book, [gpc], first + timedelta(days=place * 80 // len(gpcs)))
    teaching.set_aid(book, "phrase", "i-e /AY/", "a kite in the night sky, tied by one line")
    teaching.set_aid(book, "exception", "said", "a and i wait in the middle")
    with book.change() as db:
        for place, pupil in enumerate(pupils):
            if place % 10 == 9:
                continue  # a home without the program: never a gap
            rates = _rates(chance)
            for back in range(weeks):
                if chance.random() < 0.12:
                    continue
                monday = TODAY.date() - timedelta(days=TODAY.weekday(), weeks=back)
                evidence.write(db, _kept(book.code, pupil, Week.of(monday), rates, chance, place))
    return book


def _rates(chance: random.Random) -> dict[Gpc, float]:
    """How often the child slips in each GPC: most are known, later ones less often."""
    gpcs = practised()
    return {
        gpc: chance.choice((0.4, 0.55, 0.7)) if chance.random() < 0.08 + 0.25 * n / len(gpcs)
        else chance.choice((0.0, 0.02, 0.05))
        for n, gpc in enumerate(gpcs)
    }  # fmt: skip


def _kept(
    class_code: str, pupil: str, week: Week, rates: dict[Gpc, float], chance: random.Random,
    place: int,
) -> KeptSummary:  # fmt: skip
    days = chance.choice((3, 4, 4, 5))
    rows = []
    for gpc, rate in rates.items():
        readings = chance.choice((0, 2, 3, 4, 5))
        if not readings:
            continue
        slips = sum(chance.random() < rate for _ in range(readings))
        kinds = {SLIPS["-" in gpc.grapheme]: slips} if slips else {}
        some = min(readings, days)
        rows.append(
            SummaryRow(
                gpc=str(gpc), as_written=readings - slips, slips=kinds,
                could_not_tell=int(chance.random() < 0.3), sounded_out=0, other=0, days=some,
                words=some, words_lately=some + 3, overruled=int(chance.random() < 0.1),
            )
        )  # fmt: skip
    made = datetime.combine(week.sunday, datetime.min.time(), UTC) - timedelta(days=2)
    read = sum(row.readings for row in rows)
    summary = Summary(
        class_code, pupil, week, made, week.number, (), days, {"as_written": read} if read else {},
        0, sum(row.overruled for row in rows), tuple(sorted(rows, key=lambda row: row.gpc)),
    )  # fmt: skip
    return KeptSummary(summary, "sealed", bytes([place]) * 32, TODAY)
