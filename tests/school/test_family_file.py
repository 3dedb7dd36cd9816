"""The family file: both forms say the same, and damage is noticed before anything is believed."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import pytest
import segno
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_homes import MONDAY, WEEK
from made_up import family_files

from companion.phonics.gpc import Gpc, Order, table
from companion.report import family_file
from companion.report.family_lines import FamilyFile
from companion.report.trouble import (
    FileTrouble,
    NotForPaper,
    OtherKind,
    Oversize,
    Tampered,
    Truncated,
    Untrue,
    WrongVersion,
)
from companion.school import family, register, teaching
from companion.school.book import Book
from companion.school.trouble import UnknownPupil


@given(family_files())
@settings(max_examples=40)
def test_both_forms_come_back_as_they_were(file: FamilyFile) -> None:
    assert family_file.parse(family_file.to_text(file)) == file
    assert family_file.parse(family_file.short_text(file)) == file


@given(family_files(), st.sampled_from(("\r\n", "\r", "\n\n", " \n", "\n# a note\n")))
@settings(max_examples=20)
def test_what_mail_does_to_lines_does_no_harm(file: FamilyFile, ending: str) -> None:
    assert family_file.parse("\ufeff" + family_file.to_text(file).replace("\n", ending)) == file
    short = family_file.short_text(file)
    wrapped = "\n".join(short[at : at + 60] for at in range(0, len(short), 60)).lower()
    assert family_file.parse(wrapped) == file


@pytest.fixture
def file(book: Book) -> FamilyFile:
    teaching.set_aid(book, "phrase", "i-e /AY/", "nice kite on the pier")
    teaching.set_aid(book, "phrase", "a-e /EY/", "bake a cake for the gulls")
    teaching.set_aid(book, "picture", "i-e /AY/", "a kite over a lighthouse")
    teaching.set_aid(book, "exception", "said", "sea anchors in daylight")
    teaching.set_accent(book, "northern")
    return family.family_file(book, register.add(book, MONDAY, "Wren Tidewell").code, WEEK)


def unpacked(short: str) -> str:
    """The square's text by the standard library alone, as the description says."""
    body = short.removeprefix("WHF1")
    return zlib.decompress(base64.b32decode(body + "=" * (-len(body) % 8))).decode()


def test_no_name_is_in_either_form(file: FamilyFile) -> None:
    text = family_file.to_text(file) + family_file.short_text(file)
    assert "Wren" not in text and "Wren" not in unpacked(family_file.short_text(file))


def test_the_short_form_fits_a_square_and_takes_its_tightest_mode(file: FamilyFile) -> None:
    """segno (an independent encoder of ISO/IEC 18004) chooses the alphanumeric mode by itself."""
    short = family_file.short_text(file)
    assert len(short) <= 700
    square = segno.make(short, error="m", micro=False)
    assert square.mode == "alphanumeric"


def test_the_short_form_is_deflated_text_in_base32(file: FamilyFile) -> None:
    """RFC 4648 and RFC 1950."""
    text = unpacked(family_file.short_text(file))
    assert text.splitlines()[0] == "wordhearth family file 1"
    assert f"pupil {file.pupil}" in text and "exception said = sea anchors in daylight" in text


def test_an_own_order_of_every_gpc_still_fits(file: FamilyFile) -> None:
    turned = Order(tuple(reversed(table().order().gpcs)))
    own = replace(file, order=turned)
    assert len(family_file.short_text(own)) <= family_file.SHORT_MAX
    assert family_file.parse(family_file.short_text(own)) == own


def test_what_does_not_fit_on_paper_says_so_and_the_needed_aids_alone_do(file: FamilyFile) -> None:
    aids = {gpc: f"{number}: {'abcdefghij'[number % 10] * 60}" for number, gpc in
            enumerate(table().order().gpcs)}  # fmt: skip
    much = replace(file, phrases=aids, pictures={gpc: text[::-1] for gpc, text in aids.items()})
    with pytest.raises(NotForPaper, match="1500 can be printed"):
        family_file.short_text(much)
    paper = family_file.for_paper(much)
    assert list(paper.phrases) == [Gpc("i-e", ("AY",))] and paper.exceptions == {}
    assert family_file.parse(family_file.short_text(paper)) == paper


def test_a_pupil_gets_the_list_of_the_group_and_else_the_class(book: Book) -> None:
    in_group, alone = (register.add(book, MONDAY).code for _ in range(2))
    words = teaching.weekly_list(book, WEEK)
    assert words is not None
    own = replace(words, words=("pin", "pine"), pseudo=(), pairs=(), title="for two")
    teaching.set_weekly_list(book, WEEK, own, number=2)
    with book.change() as db:
        for number in (1, 2):  # the first group has no list of its own
            db.execute(
                "INSERT INTO week_place (week, pupil, number, gpc, detail) VALUES (?, ?, ?, ?, '')",
                (str(WEEK), in_group, number, "i-e /AY/"),
            )
    assert family.family_file(book, in_group, WEEK).words == own
    assert family.family_file(book, alone, WEEK).words == words
    with pytest.raises(UnknownPupil):
        family.family_file(book, "7K3QFY", WEEK)


@pytest.mark.parametrize(
    ("change", "kind", "word"),
    [
        (lambda text: text.replace("kite", "kits", 1), Tampered, "check line"),
        (lambda text: text[: text.rindex("check")], Truncated, "last line"),
        (lambda text: text.replace("family file 1", "family file 2"), WrongVersion, "(2)"),
        (lambda text: "Dear parents,\nplease come", OtherKind, "some other kind"),
        (lambda text: "", OtherKind, "some other kind"),
        (lambda text: text + "x" * 70_000, Oversize, "60,000"),
        (lambda text: "WHF2ABCDEFGH", WrongVersion, "WHF2"),
        (lambda text: "WHF1ABCDEFGH", Tampered, "miswritten"),
        (lambda text: "WHF1!!!", Tampered, "miswritten"),
    ],
)  # fmt: skip
def test_each_fault_has_its_own_message(
    file: FamilyFile, change: Callable[[str], str], kind: type[FileTrouble], word: str
) -> None:
    with pytest.raises(kind) as told:
        family_file.parse(change(family_file.to_text(file)), "slip.family")
    assert word in f"{told.value.what} {told.value.why}" and "slip.family" in told.value.what


def checked(lines: list[str]) -> str:
    return "\n".join([*lines, family_file._check(lines)])


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("class ", "class X", "code"),
        ("accent northern", "accent martian", "accent"),
        ("taught 1-92", "taught 92-1", "places"),
        ("taught 1-92", "taught 1-9999", "places"),
        ("taught 1-92", "taught 1-91 92", "another way"),
        ("order s /S/, a /AE/", "order a /AE/, a /AE/", "twice"),
        ("order s /S/", "order pippin /S/", "table does not have"),
        ("words kite", "words kite kite", "one twice"),
        ("words kite", "words <script>", "is none"),
        ("title ", "title \x1b[2J", "unseen"),
        ("week 2026-W48", "week 2026-W99", "week"),
        ("key ", "key A", "key"),
        ("exception said = ", "exception said", "nothing after it"),
        ("picture i-e /AY/", "note pippin\npicture i-e /AY/", "another way"),
        ("phrase a-e", "week 2026-W48\nphrase a-e", "comes twice"),
        ("pupil ", "pupils ", "is missing"),
    ],
)  # fmt: skip
def test_only_what_a_school_writes_is_taken_even_with_a_right_check(
    file: FamilyFile, old: str, new: str, why: str
) -> None:
    lines = [line for line in family_file.to_text(file).splitlines() if line[0] != "#"][:-1]
    assert family_file.parse(checked(lines)) == file
    text = "\n".join(lines)
    assert old in text
    with pytest.raises(Untrue) as told:
        family_file.parse(checked(text.replace(old, new, 1).split("\n")))
    assert why in told.value.why and len(str(told.value)) < 400


def test_a_home_with_another_table_is_told_instead_of_guessing(file: FamilyFile) -> None:
    text = unpacked(family_file.short_text(file))
    lines = [
        f"{line[:-1]}{'0' if line[-1] != '0' else '1'}" if line.startswith("order ") else line
        for line in text.splitlines()
    ][:-1]
    with pytest.raises(Untrue, match="another version of Wordhearth"):
        family_file.parse(checked(lines))


def test_a_small_text_that_unpacks_to_a_huge_one_is_stopped() -> None:
    bomb = zlib.compress(b"wordhearth family file 1\n" + b"a" * 50_000_000, 9)
    text = "WHF1" + base64.b32encode(bomb).decode().rstrip("=")
    started = datetime.now(UTC)
    with pytest.raises((Tampered, Oversize)):
        family_file.parse(text)
    with pytest.raises(Tampered, match="more than a family file may"):
        smaller = zlib.compress(b"a" * 5_000_000, 9)
        family_file.parse("WHF1" + base64.b32encode(smaller).decode().rstrip("="))
    assert (datetime.now(UTC) - started).total_seconds() < 1
