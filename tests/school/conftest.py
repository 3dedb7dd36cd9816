from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from invented_homes import MONDAY, PASSPHRASE, QUICK, WEEK

from companion.phonics.wordlists import load
from companion.school import teaching
from companion.school.book import Book
from companion.school.lock import Passphrase


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """Class 1 of Saltmarrow Primary: taught up to u-e, this week's list is i-e."""
    path = tmp_path / "school" / "class-book.db"
    with Book.start(path, Passphrase(PASSPHRASE), MONDAY, **QUICK) as started:
        order = teaching.order(started)
        teaching.teach(
            started, [gpc for gpc in order.gpcs if order.place(gpc) <= 92], MONDAY.date()
        )
        teaching.set_weekly_list(started, WEEK, load("i-e"))
        yield started
