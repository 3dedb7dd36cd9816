"""The class book: who can open it, what a copy gives away, and what becomes of it in trouble."""

from __future__ import annotations

import shutil
import sqlite3
import stat
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_homes import MONDAY, PASSPHRASE, QUICK, WEEK
from nacl.public import PublicKey, SealedBox
from nacl.pwhash import argon2id
from nacl.secret import Aead

from companion.phonics.gpc import Gpc, Order, table
from companion.phonics.wordlists import load
from companion.school import lock, register, schema, teaching
from companion.school.book import Book, unlock
from companion.school.evidence import HeardInClass, add_heard, heard_in_class
from companion.school.lock import BookKey, Lock, Login, Passphrase
from companion.school.trouble import (
    BadEntry,
    BadPassphrase,
    BookBusy,
    BookDamaged,
    BookExists,
    BookLocked,
    BookMissing,
    BookTooNew,
    UnknownPupil,
)


def test_the_passphrase_opens_the_book_and_another_does_not(book: Book) -> None:
    added = register.add(book, MONDAY, "Wren Tidewell")
    key = unlock(book.path, Passphrase(f" {PASSPHRASE}\n"))
    with Book.open(book.path, key) as again:
        assert register.one(again, added.code).name == "Wren Tidewell"
        assert bytes(again.private_key().public_key) == book.public_key
    with pytest.raises(BookLocked, match="not the one"):
        unlock(book.path, Passphrase("seven grey herring gull"))
    with pytest.raises(BookLocked, match="by a passphrase"):
        unlock(book.path, Login(book.path.parent))


def test_without_its_key_codes_are_read_and_names_and_summaries_are_not(book: Book) -> None:
    added = register.add(book, MONDAY, "Wren Tidewell")
    with Book.open(book.path) as shut:
        assert register.one(shut, added.code).name is None
        with pytest.raises(BookLocked):
            shut.private_key()
        with pytest.raises(BookLocked):
            register.add(shut, MONDAY, "Pip")
        assert len(register.pupils(shut)) == 1


def test_the_lock_is_argon2id_and_xchacha20_as_its_description_says(book: Book) -> None:
    """Opened step by step with PyNaCl, from what lies in the file."""
    with sqlite3.connect(book.path) as db:
        text, private = db.execute("SELECT lock, private_key FROM book").fetchone()
    db.close()
    found = Lock.from_json(text)
    outer = argon2id.kdf(
        32, PASSPHRASE.encode(), found.salt, found.passes, found.memory_bytes
    )  # fmt: skip
    inner = Aead(outer).decrypt(found.wrapped, b"wordhearth class book key 1")
    secret = Aead(inner).decrypt(private, b"private key")
    assert secret == bytes(book.private_key())
    assert found.wrapped not in (outer, inner) and len(found.salt) == 16


def test_a_new_book_costs_64_mebibytes_and_three_passes_to_try(tmp_path: Path) -> None:
    with Book.start(tmp_path / "b.db", Passphrase(PASSPHRASE), MONDAY) as started:
        assert (started.lock.passes, started.lock.memory_bytes) == (3, 64 * 2**20)


def test_no_name_and_no_key_lies_open_in_the_file(book: Book) -> None:
    for name in ("Wren Tidewell", "Pip Saltmarsh", "Äsa Ö"):
        register.rename(book, register.add(book, MONDAY, name).code, f"{name} Again")
    secret = bytes(book.private_key())
    data = book.path.read_bytes()
    for part in (b"Wren", b"Saltmarsh", "Äsa".encode(), PASSPHRASE.encode(), secret):
        assert part not in data
    assert sorted(len(each.name or "") for each in register.pupils(book)) == [11, 19, 19]


def test_a_name_moved_to_another_pupil_is_noticed(book: Book) -> None:
    one, other = (register.add(book, MONDAY, name).code for name in ("Wren", "Pip"))
    with book.change() as db:
        db.execute(
            "UPDATE pupil SET name = (SELECT name FROM pupil WHERE code = ?) WHERE code = ?",
            (one, other),
        )
    with pytest.raises(BookDamaged, match="name of pupil"):
        register.pupils(book)


def test_a_login_opens_the_book_here_and_a_copy_elsewhere_stays_shut(tmp_path: Path) -> None:
    here, elsewhere = tmp_path / "here", tmp_path / "elsewhere"
    path = here / "class-book.db"
    with Book.start(path, Login(here), MONDAY, **QUICK) as started:
        register.add(started, MONDAY, "Wren")
    assert unlock(path, Login(here)).secret
    keys = list((here / "class-keys").iterdir())
    assert len(keys) == 1 and stat.S_IMODE(keys[0].stat().st_mode) == 0o600
    with pytest.raises(BookLocked, match="another login"):
        unlock(path, Login(elsewhere))
    with pytest.raises(BookLocked, match="this computer's login"):
        unlock(path, Passphrase(PASSPHRASE))


@pytest.mark.parametrize("text", ["", "short", " " * 40, "elevenchars"])
def test_a_short_passphrase_makes_no_book(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadPassphrase):
        Book.start(tmp_path / "b.db", Passphrase(text), MONDAY, **QUICK)
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_overwritten_by_a_new_book(tmp_path: Path) -> None:
    path = tmp_path / "b.db"
    path.write_text("my register")
    with pytest.raises(BookExists):
        Book.start(path, Passphrase(PASSPHRASE), MONDAY, **QUICK)
    assert path.read_text() == "my register"


def test_only_this_user_may_read_the_book(book: Book) -> None:
    assert stat.S_IMODE(book.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(book.path.parent.stat().st_mode) == 0o700


def test_a_file_that_is_no_book_is_left_as_it_is(book: Book, tmp_path: Path) -> None:
    with pytest.raises(BookMissing):
        Book.open(tmp_path / "none.db")
    other = tmp_path / "other.db"
    with sqlite3.connect(other) as db:
        db.execute("CREATE TABLE book (id)")
    db.close()
    damaged = tmp_path / "damaged.db"
    damaged.write_bytes(b"\0" * 3000 + book.path.read_bytes()[3000:])
    for path in (other, damaged):
        before = path.read_bytes()
        with pytest.raises(BookDamaged):
            Book.open(path)
        assert path.read_bytes() == before


def test_a_book_with_bytes_overwritten_opens_or_says_so(book: Book) -> None:
    """Whatever is in a file, opening it ends in a book or in words."""
    register.add(book, MONDAY, "Wren")
    whole = book.path.read_bytes()
    path = book.path.with_name("changed.db")

    @given(st.integers(0, len(whole) - 1), st.binary(min_size=1, max_size=64))
    @settings(max_examples=60)
    def opened(place: int, noise: bytes) -> None:
        path.write_bytes(whole[:place] + noise + whole[place + len(noise) :])
        try:
            with Book.open(path) as found:
                register.pupils(found, hidden=True)
                teaching.taught(found)
                assert found.lock and found.public_key
        except (BookDamaged, BookTooNew):
            pass

    opened()


def test_a_book_of_a_later_version_is_left_alone(book: Book) -> None:
    with book.change() as db:
        db.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    with pytest.raises(BookTooNew):
        Book.open(book.path)


def test_a_book_that_asks_for_a_ruinous_lock_is_refused(book: Book) -> None:
    huge = Lock("passphrase", b"0" * 16, 10, 2**40, b"x")
    with book.change() as db:
        db.execute("UPDATE book SET lock = ?", (huge.to_json(),))
    with pytest.raises(BookDamaged, match="lock"):
        unlock(book.path, Passphrase(PASSPHRASE))


def test_two_writers_at_once_are_told(book: Book) -> None:
    with Book.open(book.path, wait_s=0.05) as other, book.change():
        with pytest.raises(BookBusy), other.change():
            pass
        assert register.pupils(other) == ()


def test_a_change_that_fails_half_way_leaves_nothing(book: Book) -> None:
    with pytest.raises(RuntimeError), book.change() as db:
        db.execute("DELETE FROM taught")
        raise RuntimeError("the lights went out")
    assert len(teaching.taught(book)) == 92


def test_pupils_have_codes_of_their_own_and_can_be_hidden(book: Book) -> None:
    codes = [register.add(book, MONDAY).code for _ in range(30)]
    assert len(set(codes)) == 30
    register.hide(book, codes[0], MONDAY.date())
    assert len(register.pupils(book)) == 29 and len(register.pupils(book, hidden=True)) == 30
    register.hide(book, codes[0], None)
    assert len(register.pupils(book)) == 30
    with pytest.raises(UnknownPupil):
        register.hide(book, "7K3QFY", None)


@pytest.mark.parametrize("name", ["", " ", "x" * 61, "Wren\x00", "Wren\u202e"])
def test_a_name_that_cannot_be_seen_is_not_taken(book: Book, name: str) -> None:
    with pytest.raises(BadEntry):
        register.add(book, MONDAY, name)
    assert register.pupils(book) == ()


def test_what_is_taught_has_its_day_and_follows_the_order(book: Book) -> None:
    later = MONDAY.date() + timedelta(days=7)
    ow = Gpc("ow", ("OW",))
    assert teaching.teach(book, [ow, Gpc("s", ("S",))], later) == (ow,)
    assert ow not in teaching.taught(book, on=MONDAY.date()) and ow in teaching.taught(book)
    places = [teaching.order(book).place(gpc) for gpc in teaching.taught_since(book)]
    assert places == sorted(places)  # type: ignore[type-var]
    teaching.untaught(book, [ow])
    assert ow not in teaching.taught(book)


def test_an_own_order_holds_all_that_was_taught(book: Book) -> None:
    with pytest.raises(BadEntry, match="leaves out"):
        teaching.set_order(book, Order(table().order().gpcs[:10]))
    turned = Order(tuple(reversed(table().order().gpcs)))
    teaching.set_order(book, turned)
    assert teaching.order(book).gpcs == turned.gpcs
    teaching.set_order(book, None)
    assert teaching.order(book).gpcs == table().order().gpcs


def test_a_weeks_list_comes_back_as_it_was(book: Book) -> None:
    words = load("contrast-pairs")
    teaching.set_weekly_list(book, WEEK, words, number=3)
    found = teaching.weekly_list(book, WEEK, 3)
    assert found is not None
    assert (found.words, found.pairs, found.target) == (words.words, words.pairs, words.target)
    teaching.set_weekly_list(book, WEEK, None, number=3)
    assert teaching.weekly_list(book, WEEK, 3) is None


@pytest.mark.parametrize(
    ("kind", "subject", "text"),
    [
        ("phrase", "i-e", "no phones"),
        ("phrase", "i-e /AY/", "x" * 81),
        ("phrase", "i-e /AY/", " "),
        ("exception", "no word!", "aid"),
        ("song", "i-e /AY/", "aid"),
    ],
)
def test_an_aid_that_fits_no_sheet_is_not_taken(
    book: Book, kind: str, subject: str, text: str
) -> None:
    with pytest.raises(BadEntry):
        teaching.set_aid(book, kind, subject, text)


def test_a_teachers_check_of_the_same_day_is_replaced(book: Book) -> None:
    code = register.add(book, MONDAY).code
    for right in (3, 5):
        add_heard(book, HeardInClass(code, "i-e /AY/", MONDAY.date(), 6, right, "ear"))
    assert [each.as_written for each in heard_in_class(book, code)] == [5]
    with pytest.raises(UnknownPupil):
        add_heard(book, HeardInClass("7K3QFY", "i-e /AY/", MONDAY.date(), 6, 3, "ear"))
    with pytest.raises(ValueError, match="at least one word"):
        add_heard(book, HeardInClass(code, "i-e /AY/", MONDAY.date(), 6, 7, "ear"))


def test_a_key_is_not_shown_by_accident(book: Book) -> None:
    shown = f"{book.key!r} {Passphrase('seven grey')!r} {register.add(book, MONDAY, 'Wren')!r}"
    assert "Wren" not in shown and "grey" not in shown
    assert isinstance(book.key, BookKey) and repr(book.key.secret) not in shown


def test_the_public_key_seals_what_the_private_key_opens(book: Book) -> None:
    box = SealedBox(PublicKey(book.public_key)).encrypt(b"hello")
    assert SealedBox(book.private_key()).decrypt(box) == b"hello"


def test_a_copy_of_the_book_opens_with_the_same_passphrase(book: Book, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    shutil.copy(book.path, copy)
    assert unlock(copy, Passphrase(PASSPHRASE)) == book.key
    assert lock.unlock(book.lock, Passphrase(PASSPHRASE)) == book.key
