"""What is erased is gone from the file's bytes, and whoever took over can open the book alone."""

from __future__ import annotations

import hashlib
import shutil
from datetime import timedelta

import pytest
from invented_homes import MONDAY, PASSPHRASE, QUICK, WEEK, Place

from companion.phonics.gpc import Gpc
from companion.record.weeks import Week
from companion.school import erasing, evidence, importing, register, teaching
from companion.school.arrivals import Source
from companion.school.book import Book, unlock
from companion.school.evidence import HeardInClass
from companion.school.groups import Group, Grouping, KeepUp
from companion.school.groups_kept import load, save
from companion.school.handover import hand_over
from companion.school.lock import Login, Passphrase
from companion.school.trouble import BookDamaged, BookLocked, BookMissing, UnknownPupil
from companion.school.wishes import Room

FRIDAY = MONDAY + timedelta(days=4)
NEW = Passphrase("four other plain words")


@pytest.fixture
def full(place: Place) -> Place:
    """Both homes have handed in, the teacher has heard both, and there is a group."""
    made = [home.hand_in(FRIDAY) for home in place.homes]
    sources = [Source(each.name, each.data) for each in made]
    found = importing.preview(place.book, sources, FRIDAY)
    importing.commit(place.book, found, FRIDAY, found.asks)
    for code in place.codes:
        check = HeardInClass(code, "i-e /AY/", FRIDAY.date(), 6, 4, "ear")
        evidence.add_heard(place.book, check)
        with place.book.change() as db:
            db.execute(
                "INSERT INTO week_place (week, pupil, number, gpc, detail) VALUES (?, ?, 1, ?, '')",
                (str(WEEK), code, "i-e /AY/"),
            )
    return place


def test_a_pupil_who_leaves_is_gone_and_the_others_stay(full: Place) -> None:
    gone, stays = full.codes
    key = register.one(full.book, gone).family_key
    assert key is not None and key in full.book.path.read_bytes()
    done = erasing.erase_pupil(full.book, gone, FRIDAY)
    assert (done.pupils, done.summaries, done.checks, done.places) == (1, 1, 1, 1)
    assert (done.marks, done.left) == (3, 0)
    data = full.book.path.read_bytes()
    assert gone.encode() not in data and key not in data and stays.encode() in data
    assert done.sha256 == hashlib.sha256(data).hexdigest() and done.file_bytes == len(data)
    assert [each.summary.pupil for each in evidence.summaries(full.book)] == [stays]
    with pytest.raises(UnknownPupil):
        erasing.erase_pupil(full.book, gone, FRIDAY)


def test_a_pupil_leaves_no_trace_in_groups_that_were_formed(full: Place) -> None:
    week = Week(2026, 49)
    codes = [*full.codes, *(register.add(full.book, FRIDAY).code for _ in range(3))]
    gpc = Gpc("i-e", ("AY",))
    grouping = Grouping(
        (Group(1, 1, 1, gpc, tuple(sorted(codes)), (codes[0],), tuple(sorted(codes)[:2]), "why"),),
        (KeepUp(codes[0], Gpc("a-e", ("EY",)), "too few others"),),
        1.0,
        1.0,
    )
    save(full.book, week, grouping, Room())
    for code in codes:
        assert erasing.erase_pupil(full.book, code, FRIDAY).left == 0
    found = load(full.book, week)
    assert found is not None and found.groups[0].pupils == () == found.keep_up


def test_a_proof_is_refused_while_a_trace_is_left(full: Place) -> None:
    teaching.set_aid(full.book, "exception", "said", f"for {full.codes[0]}")
    with pytest.raises(BookDamaged, match="can still be found"):
        erasing.erase_pupil(full.book, full.codes[0], FRIDAY)


def test_the_end_of_the_year_leaves_the_teaching_and_nobody(full: Place) -> None:
    old_code, old_key = full.book.code, full.book.public_key
    late = full.homes[0].hand_in(FRIDAY + timedelta(hours=1))
    done = erasing.erase_year(full.book, FRIDAY)
    assert (done.pupils, done.summaries, done.checks, done.places) == (2, 2, 2, 2)
    assert register.pupils(full.book, hidden=True) == () == evidence.summaries(full.book)
    assert len(teaching.taught(full.book)) == 92 and teaching.weekly_list(full.book, WEEK)
    assert full.book.code != old_code and full.book.public_key != old_key
    (item,) = importing.preview(full.book, [Source(late.name, late.data)], FRIDAY).items
    assert item.standing == "refused" and item.note and "one this class had before" in item.note.why
    assert unlock(full.book.path, Passphrase(PASSPHRASE)) == full.book.key


def test_the_end_of_the_year_needs_the_key(full: Place) -> None:
    with Book.open(full.book.path) as shut, pytest.raises(BookLocked):
        erasing.erase_year(shut, FRIDAY)
    assert len(register.pupils(full.book)) == 2


def test_the_whole_book_goes_with_its_login_key(full: Place) -> None:
    home = full.book.path.parent
    hand_over(full.book, Login(home), new_keys=False)
    full.book.close()
    assert erasing.erase_book(full.book.path, home) == 2
    assert list((home / "class-keys").iterdir()) == [] and not full.book.path.exists()
    with pytest.raises(BookMissing):
        erasing.erase_book(full.book.path)


def test_a_file_that_is_no_book_is_not_erased_in_its_place(full: Place) -> None:
    other = full.book.path.with_name("letter.txt")
    other.write_text("Dear parents")
    with pytest.raises(BookDamaged):
        erasing.erase_book(other)
    assert other.read_text() == "Dear parents"


def test_a_new_passphrase_changes_nothing_for_families(full: Place) -> None:
    key = full.book.public_key
    done = hand_over(full.book, NEW, new_keys=False, **QUICK)
    assert not done.new_keys and full.book.public_key == key
    with pytest.raises(BookLocked):
        unlock(full.book.path, Passphrase(PASSPHRASE))
    with Book.open(full.book.path, unlock(full.book.path, NEW)) as again:
        assert {pupil.name for pupil in register.pupils(again)} == {"Wren", "Pip"}
        assert bytes(again.private_key().public_key) == key


def test_after_new_keys_an_old_copy_and_its_passphrase_open_nothing_written_since(
    full: Place,
) -> None:
    copy = full.book.path.with_name("old-copy.db")
    shutil.copy(full.book.path, copy)
    done = hand_over(full.book, NEW, new_keys=True, **QUICK)
    assert done.new_keys and done.names_lost == 0
    old = unlock(copy, Passphrase(PASSPHRASE))
    with Book.open(full.book.path, old) as tried:
        with pytest.raises(BookDamaged, match="cannot be decrypted"):
            register.pupils(tried)
        with pytest.raises(BookDamaged):
            tried.private_key()
    with Book.open(full.book.path, unlock(full.book.path, NEW)) as again:
        assert {pupil.name for pupil in register.pupils(again)} == {"Wren", "Pip"}
        assert len(evidence.summaries(again)) == 2
        assert all(pupil.family_key for pupil in register.pupils(again))


def test_a_lost_passphrase_costs_the_names_and_not_the_counts(full: Place) -> None:
    with Book.open(full.book.path) as shut:
        with pytest.raises(BookLocked):
            hand_over(shut, NEW, new_keys=False, **QUICK)
        done = hand_over(shut, NEW, new_keys=True, **QUICK)
        assert done.names_lost == 2
    with Book.open(full.book.path, unlock(full.book.path, NEW)) as again:
        assert {pupil.name for pupil in register.pupils(again)} == {None}
        assert len(evidence.summaries(again)) == 2


def test_going_from_a_login_to_a_passphrase_erases_the_logins_key(full: Place) -> None:
    home = full.book.path.parent
    hand_over(full.book, Login(home), new_keys=False)
    assert len(list((home / "class-keys").iterdir())) == 1
    hand_over(full.book, NEW, new_keys=False, home=home, **QUICK)
    assert list((home / "class-keys").iterdir()) == []
    assert unlock(full.book.path, NEW) == full.book.key
