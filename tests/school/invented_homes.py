"""Invented homes of Saltmarrow Primary, with real consent, logs and hand-in; no child is real."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from companion.phonics.split import split
from companion.phonics.wordlists import load
from companion.record import consent
from companion.record.consent import HandInPermit, LogPermit, PractisePermit
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.turns import Try, Turn
from companion.record.weeks import Week
from companion.report import family_file, home_school
from companion.report.home_school import Made
from companion.school import family, register, teaching
from companion.school.book import Book
from companion.school.lock import Passphrase

MONDAY = datetime(2026, 11, 23, 16, 30, tzinfo=UTC)
WEEK = Week(2026, 48)
PASSPHRASE = "seven grey herring gulls"
BOOK = Path("school") / "class-book.db"
QUICK = {"passes": 1, "memory_bytes": 8192}
"""The cheapest lock there is, for books that live for one test."""


@dataclass(frozen=True)
class Home:
    """A family's computer: one child, consent to everything but clips, a log."""

    folder: ChildFolder

    @classmethod
    def settle(cls, path: Path, label: str, now: datetime = MONDAY) -> Home:
        home = cls(ChildFolder(path, label))
        consent.give(home.folder, ["practise", "keep_log", "hand_in"], now)
        return home

    def join(self, text: str, *, new_key: bool = False) -> None:
        home_school.join(PractisePermit(self.folder), text, new_key=new_key)

    def read(
        self, words: Sequence[str], at: datetime, slip_rate: float = 0.2, seed: int = 0
    ) -> None:
        """One sitting: each word as written, or with a short vowel for a split digraph."""
        chance = random.Random(seed)
        permit = LogPermit(self.folder)
        with Log.open(self.folder.log) as log:
            sitting = log.start_sitting(permit, "i-e", None, at)
            for number, word in enumerate(words):
                turn = _turn(word, chance.random() < slip_rate, chance.random() < 0.05)
                log.add_turn(permit, sitting, turn, at + timedelta(seconds=10 * number))
            log.end_sitting(permit, sitting, at + timedelta(minutes=4))

    def practise(self, monday: datetime = MONDAY, days: int = 3, slip_rate: float = 0.3) -> None:
        """Some evenings of a week, eight words of a bundled list each."""
        words = load("i-e").words[:8]
        for day in range(days):
            self.read(words, monday + timedelta(days=day), slip_rate, seed=day)

    def hand_in(self, now: datetime, week: Week = WEEK, *, csv: bool = False) -> Made:
        permit = HandInPermit(self.folder)
        make = home_school.make_csv if csv else home_school.make_sealed
        with Log.open(self.folder.log) as log:
            return make(permit, log, week, now)


@dataclass(frozen=True)
class Place:
    """Class 1 of Saltmarrow Primary, open, and the homes of its pupils Wren and Pip."""

    book: Book
    homes: tuple[Home, Home]
    codes: tuple[str, str]

    @classmethod
    def settle(cls, path: Path) -> None:
        """A book in which i-e is this week's list, and two homes that have practised it."""
        with Book.start(path / BOOK, Passphrase(PASSPHRASE), MONDAY, **QUICK) as book:
            order = teaching.order(book)
            teaching.teach(book, order.gpcs[:92], MONDAY.date())  # up to u-e
            teaching.set_weekly_list(book, WEEK, load("i-e"))
            for name in ("Wren", "Pip"):
                code = register.add(book, MONDAY, name).code
                home = Home.settle(path / name, "puffin")
                home.join(family_file.to_text(family.family_file(book, code, WEEK)))
                home.practise()

    @classmethod
    def at(cls, path: Path, book: Book) -> Place:
        pupils = {pupil.name: pupil.code for pupil in register.pupils(book)}
        homes = tuple(Home(ChildFolder(path / name, "puffin")) for name in ("Wren", "Pip"))
        return cls(book, (homes[0], homes[1]), (pupils["Wren"], pupils["Pip"]))


def _turn(word: str, slips: bool, unsure: bool) -> Turn:
    gpcs = tuple(str(unit.gpc) for unit in split(word)[0].units)
    shown = next((gpc for gpc in gpcs if "-e" in gpc), None)
    verdict, slip, gpc, evidence = "as_written", None, None, gpcs
    if unsure:
        verdict, evidence = "unsure", ()
    elif slips and shown is not None:
        verdict, slip, gpc, evidence = "slip", "short_for_split", shown, (shown,)
    one = Try(verdict, slip, gpc, "P", None, None, {}, {}, 40.0, evidence)
    return Turn(word, gpcs, (one,))
