from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from invented_homes import BOOK, MONDAY, PASSPHRASE, QUICK, WEEK, Place

from companion.phonics.wordlists import load
from companion.school import teaching
from companion.school.book import Book, unlock
from companion.school.lock import Passphrase


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """A class book without pupils: taught up to u-e, this week's list is i-e."""
    with Book.start(tmp_path / BOOK, Passphrase(PASSPHRASE), MONDAY, **QUICK) as started:
        teaching.teach(started, teaching.order(started).gpcs[:92], MONDAY.date())
        teaching.set_weekly_list(started, WEEK, load("i-e"))
        yield started


@pytest.fixture(scope="session")
def settled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a class book and two homes that have practised, made once."""
    path = tmp_path_factory.mktemp("saltmarrow")
    Place.settle(path)
    return path


@pytest.fixture
def place(settled: Path, tmp_path: Path) -> Iterator[Place]:
    """The same, in a copy that the test may change."""
    path = tmp_path / "saltmarrow"
    shutil.copytree(settled, path)
    with Book.open(path / BOOK, unlock(path / BOOK, Passphrase(PASSPHRASE))) as book:
        yield Place.at(path, book)
