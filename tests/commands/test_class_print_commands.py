"""`wordhearth class plan`, `cards`, `sheet` and `history`: the printed week without the pages."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from companion.cli import main
from companion.phonics.decodable import named
from companion.school import planning, register, teaching
from companion.school.book import Book, unlock
from companion.school.lock import Passphrase

PASSPHRASE = "seven grey herring gulls"
NOW = datetime.now(UTC)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder with a class book of one pupil, taught up to u-e."""
    path = tmp_path / "class-book.db"
    with Book.start(path, Passphrase(PASSPHRASE), NOW, passes=1, memory_bytes=8192) as book:
        order = teaching.order(book)
        teaching.teach(book, order.up_to(named("u-e", order)[-1]), NOW.date())
        register.add(book, NOW, "Merryn")
    (tmp_path / "passphrase").write_text(PASSPHRASE + "\n")
    return tmp_path


def run(home: Path, *words: str) -> int:
    return main(["class", *words, "--home", str(home)])


def test_a_plan_is_shown_and_kept_only_if_asked(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(home, "plan", "i-e", "--week", "2026-W49") == 0
    shown = capsys.readouterr().out
    assert "title: Words with i-e" in shown and "Not kept" in shown
    with Book.open(home / "class-book.db") as book:
        assert planning.lists(book, planning.Week(2026, 49)) == {}
    assert run(home, "plan", "i-e", "--week", "2026-W49", "--keep") == 0
    with Book.open(home / "class-book.db") as book:
        kept = planning.lists(book, planning.Week(2026, 49))
    assert set(kept) == {0} and all(word in shown for word in kept[0].words)


def test_a_plan_without_a_gpc_is_for_the_newest_taught(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(home, "plan", "--json") == 0
    made = json.loads(capsys.readouterr().out)
    (whole,) = made["lists"]
    assert whole["for"] == "Whole class" and whole["target"].startswith("u-e")
    assert whole["decodable"] == 1.0 and len(whole["words"]) == 12


def test_cards_and_practice_sheet_are_printed_from_the_weeks_list(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(home, "plan", "i-e", "--week", "this", "--keep")
    assert run(home, "cards", "--out", str(home / "cards.pdf"), "--buttons", "back") == 0
    assert run(home, "sheet", "--out", str(home / "sheet.pdf")) == 0
    assert "12 cards on 2 sheets" in capsys.readouterr().out
    assert (home / "cards.pdf").read_bytes().count(b"/Type /Page\n") == 4
    assert (home / "sheet.pdf").read_bytes().count(b"/Type /Page\n") == 1


def test_a_week_without_a_list_says_how_to_make_one(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(home, "cards", "--week", "2026-W20", "--out", str(home / "cards.pdf")) == 1
    assert "wordhearth class plan --keep" in capsys.readouterr().err
    assert not (home / "cards.pdf").exists()


def test_a_history_has_the_name_only_if_asked_and_the_book_opened(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Book.open(
        home / "class-book.db", unlock(home / "class-book.db", Passphrase(PASSPHRASE))
    ) as book:
        code = register.pupils(book)[0].code
    page = home / "history.pdf"
    assert run(home, "history", code, "--out", str(page)) == 0
    plain = page.read_bytes()
    opened = ("--with-name", "--passphrase-file", str(home / "passphrase"))
    assert run(home, "history", code, "--out", str(page), *opened) == 0
    assert len(page.read_bytes()) > len(plain)
    assert code in capsys.readouterr().out
    unknown = "AAAAAA" if code != "AAAAAA" else "BBBBBB"
    with pytest.raises(SystemExit):
        run(home, "history", unknown, "--out", str(page))


def test_the_grid_is_printed_as_it_is_shown(home: Path) -> None:
    page = home / "grid.pdf"
    assert run(home, "grid", "--pdf", str(page)) == 0
    assert page.read_bytes().count(b"/Type /Page\n") == 1


def test_groups_made_anew_leave_no_list_of_another_gpc_behind(home: Path) -> None:
    week = planning.Week(2026, 49)
    with Book.open(home / "class-book.db") as book:
        words = planning.plan(book, week, planning.newest(book)).lists[0].made.words
        teaching.set_weekly_list(book, week, words, number=2)
    assert run(home, "groups", "--form", "--week", "2026-W49") == 0
    with Book.open(home / "class-book.db") as book:
        assert planning.lists(book, week) == {}
