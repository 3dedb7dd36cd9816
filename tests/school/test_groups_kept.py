"""Grid and groups out of a real class book, by function and from the command line."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from invented_homes import MONDAY, WEEK

from companion.cli import main
from companion.phonics.gpc import Gpc, Order
from companion.phonics.split import split
from companion.record.weeks import Week
from companion.report.summary import Summary, SummaryRow
from companion.school import evidence, register, teaching
from companion.school.book import Book
from companion.school.evidence import HeardInClass, KeptSummary
from companion.school.grid import class_grid
from companion.school.groups_kept import load, regroup
from companion.school.planning import recent, taught_by
from companion.school.teacher_check import note, words_for
from companion.school.trouble import BadEntry, BookDamaged, UnknownPupil
from companion.school.wishes import GroupsImpossible, Move, Room

NEXT = Week.of(WEEK.monday + timedelta(weeks=1))
AE, IE = Gpc.parse("a-e /EY/"), Gpc.parse("i-e /AY/")


def hand_in(book: Book, pupil: str, week: Week, slips: dict[Gpc, int]) -> None:
    rows = tuple(
        SummaryRow(str(gpc), 12 - count, {"short_for_split": count} if count else {}, 0, 0, 0,
                   4, 6, 6, 0)
        for gpc, count in sorted(slips.items(), key=lambda item: str(item[0]))
    )  # fmt: skip
    made = datetime.combine(week.sunday, datetime.min.time(), UTC)
    summary = Summary(book.code, pupil, week, made, 1, (), 4, {}, 0, 0, rows)
    with book.change() as db:
        evidence.write(db, KeptSummary(summary, "csv", None, MONDAY))


@pytest.fixture
def taught(book: Book) -> tuple[Book, list[str]]:
    """Eight pupils: five slip on i-e, three of those and two more on a-e, one is all right."""
    codes = sorted(register.add(book, MONDAY).code for _ in range(8))
    for n, code in enumerate(codes[:6]):
        hand_in(book, code, WEEK, {IE: 11 if n < 5 else 0, AE: 11 if 2 <= n < 5 else 0})
    return book, codes


def test_groups_are_formed_from_the_week_before_and_kept(taught: tuple[Book, list[str]]) -> None:
    book, codes = taught
    assert load(book, NEXT) is None
    made = regroup(book, NEXT, Room(adults=2, slots=2, each=1))
    kept = load(book, NEXT)
    assert kept is not None
    assert kept.groups == made.groups
    assert kept.keep_up == made.keep_up
    assert kept.room == Room(2, 2, 1)
    placed = {pupil for each in kept.groups for pupil in each.pupils}
    assert placed <= set(codes[:5])
    order, known = teaching.order(book), taught_by(book, NEXT)
    for each in kept.groups:
        words = kept.check_words[each.number]
        assert len(words) == 6 == len(set(words))
        assert all(each.gpc in split(word)[0].gpcs for word in words)
        seed, used = NEXT.monday.toordinal(), recent(book, NEXT)
        assert words == words_for(each.gpc, known, order, seed=seed, avoid=used)


def test_moves_are_kept_and_the_rest_is_made_around_them(taught: tuple[Book, list[str]]) -> None:
    book, codes = taught
    moves = [Move(codes[7], IE, 2, 1, True), Move(codes[0], IE, 0, 0, False)]
    regroup(book, NEXT, Room(1, 2, 1), moves)
    kept = load(book, NEXT)
    assert kept is not None
    assert set(kept.moves) == set(moves)
    where = next(each for each in kept.groups if codes[7] in each.pupils)
    assert (where.slot, where.gpc, where.held) == (2, IE, (codes[7],))
    assert codes[0] not in where.pupils
    assert (codes[0], IE) in {(each.pupil, each.gpc) for each in kept.keep_up}
    again = regroup(book, NEXT, kept.room, kept.moves)
    assert again.groups == kept.groups


def test_impossible_moves_leave_the_groups_as_they_were(taught: tuple[Book, list[str]]) -> None:
    book, codes = taught
    regroup(book, NEXT, Room())
    before = load(book, NEXT)
    with pytest.raises(GroupsImpossible):
        regroup(book, NEXT, Room(), [Move(codes[0], IE, 5, 1, True)])
    assert load(book, NEXT) == before


def test_moves_of_a_pupil_who_has_left_are_dropped(taught: tuple[Book, list[str]]) -> None:
    book, codes = taught
    register.hide(book, codes[0], MONDAY.date())
    regroup(book, NEXT, Room(), [Move(codes[0], IE, 1, 1, True)])
    kept = load(book, NEXT)
    assert kept is not None
    assert kept.moves == ()
    assert codes[0] not in {pupil for each in kept.groups for pupil in each.pupils}


def test_groups_that_nobody_wrote_so_are_a_damaged_book(taught: tuple[Book, list[str]]) -> None:
    book, _ = taught
    regroup(book, NEXT, Room())
    with book.change() as db:
        db.execute("UPDATE week_group SET detail = '{}'")
    with pytest.raises(BookDamaged):
        load(book, NEXT)


def test_a_check_changes_the_grid_of_its_week(taught: tuple[Book, list[str]]) -> None:
    book, codes = taught
    assert class_grid(book, WEEK).cell(codes[7], IE).decided_by == "nothing"
    kept = note(book, codes[7], IE, WEEK.monday, 6, 1)
    assert kept == HeardInClass(codes[7], str(IE), WEEK.monday, 6, 1, "ear")
    cell = class_grid(book, WEEK).cell(codes[7], IE)
    assert (cell.state, cell.decided_by) == ("practise", "check")
    with pytest.raises(BadEntry):
        note(book, codes[7], IE, WEEK.monday, 6, 7)
    with pytest.raises(UnknownPupil):
        note(book, "7K3QFY", IE, WEEK.monday, 6, 1)


def test_a_check_has_six_words_of_its_own_where_there_are_six(book: Book) -> None:
    order, known = teaching.order(book), taught_by(book, WEEK)
    words = words_for(IE, known, order)
    other = words_for(IE, known, order, avoid=words[:4])
    assert len(words) == len(other) == 6
    assert not set(words[:4]) & set(other)
    scarce = words_for(Gpc.parse("ure /Y UH AH/"), known, order)
    assert 0 < len(scarce) <= 6
    short = Order(order.gpcs[:6])
    assert words_for(order.gpcs[0], known.__class__(frozenset(short.gpcs)), short)


# -- from the command line -------------------------------------------------------------------


def run(book: Book, *words: str) -> int:
    return main(["class", *words, "--book", str(book.path)])


def test_the_command_shows_the_grid_in_the_ways_asked_for(
    taught: tuple[Book, list[str]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, codes = taught
    week = ("--week", str(WEEK))
    assert run(book, "grid", *week, "--width", "80") == 0
    text = capsys.readouterr().out
    assert all(code in text for code in codes)
    assert max(map(len, text.splitlines())) <= 80
    assert run(book, "grid", *week, "--child", codes[0], "--evidence") == 0
    assert "12 readings on 4 days in 6 words, 1 as written, 11 slips" in capsys.readouterr().out
    assert run(book, "grid", *week, "--ask") == 0
    assert codes[7] in capsys.readouterr().out
    out = tmp_path / "grid.csv"
    assert run(book, "grid", *week, "--json", "--state", "practise", "--csv", str(out)) == 0
    record = json.loads(capsys.readouterr().out)
    assert [each["pupil"] for each in record["rows"]] == codes[:5]
    assert out.read_bytes().startswith(b"\xef\xbb\xbf")
    assert run(book, "grid", *week, "--gpc", "q") == 1
    assert "no column 'q'" in capsys.readouterr().err


def test_the_command_forms_groups_and_keeps_what_was_decided(
    taught: tuple[Book, list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    book, codes = taught
    week = ("--week", str(NEXT))
    assert run(book, "groups", *week) == 0
    assert "no groups" in capsys.readouterr().out
    assert run(book, "groups", *week, "--adults", "2", "--slots", "1") == 0
    text = capsys.readouterr().out
    assert "Group 1: " in text
    assert "Hear when it has met: " in text
    assert "SENCo" in text
    assert run(book, "groups", *week, "--hold", codes[7], "i-e", "1", "2") == 0
    assert f"{codes[7]} (held)" in capsys.readouterr().out
    assert run(book, "groups", *week, "--keep-out", codes[0], "i-e", "--json") == 0
    record = json.loads(capsys.readouterr().out)
    assert {(move["pupil"], move["keep"]) for move in record["moves"]} == {
        (codes[7], True), (codes[0], False),
    }  # fmt: skip
    assert record["room"] == {"adults": 2, "slots": 1, "each": 1}
    assert run(book, "groups", *week, "--free", codes[7], "--free", codes[0], "--json") == 0
    assert json.loads(capsys.readouterr().out)["moves"] == []
    assert run(book, "groups", *week, "--hold", codes[7], "i-e", "9", "1") == 1
    assert "take one move back" in capsys.readouterr().err.lower()


def test_the_command_shows_check_words_and_keeps_what_was_heard(
    taught: tuple[Book, list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    book, codes = taught
    assert run(book, "check", codes[7], "i-e") == 0
    assert capsys.readouterr().out.count("\n  ") == 6
    day = WEEK.monday.isoformat()
    assert run(book, "check", codes[7], "i-e", "--read", "1", "--day", day) == 0
    assert "1 of 6" in capsys.readouterr().out
    assert class_grid(book, WEEK).cell(codes[7], IE).state == "practise"
    assert run(book, "check", codes[7], "u-e", "--read", "1") == 1
    assert "stands for 2 GPCs" in capsys.readouterr().err
    assert run(book, "check", codes[7], "i-e", "--read", "9", "--of", "6") == 1
    assert "not kept" in capsys.readouterr().err
