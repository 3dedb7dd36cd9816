"""The CSV summary: as RFC 4180 and a spreadsheet want it, and every edit noticed."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up import summaries
from test_sealed_summary import ONE

from companion.report import plain_csv, summary_csv
from companion.report.summary import KIND_NOT_GIVEN, Summary
from companion.report.trouble import (
    FileTrouble,
    OtherKind,
    Oversize,
    Tampered,
    Truncated,
    Untrue,
    WrongVersion,
)

FILE = summary_csv.to_bytes(ONE)


@given(summaries())
@settings(max_examples=30)
def test_the_counts_of_each_gpc_come_back(summary: Summary) -> None:
    found = summary_csv.from_bytes(summary_csv.to_bytes(summary))
    assert (found.class_code, found.pupil, found.week) == (
        summary.class_code, summary.pupil, summary.week
    )  # fmt: skip
    assert found.made_at == summary.made_at
    for mine, true in zip(found.rows, summary.rows, strict=True):
        assert mine == replace(
            true,
            slips={KIND_NOT_GIVEN: true.slipped} if true.slipped else {},
            sounded_out=0,
            other=0,
            words_lately=true.words,
        )


def test_the_file_is_rfc_4180_in_utf_8_with_a_byte_order_mark() -> None:
    """RFC 4180, section 2: CRLF after each record, the same number of fields in each, quotes."""
    assert FILE.startswith(b"\xef\xbb\xbf")
    text = FILE[3:].decode("utf-8")
    assert text.endswith("\r\n") and not re.search(r"(?<!\r)\n|\r(?!\n)", text)
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert {len(row) for row in rows} == {12}
    assert rows[0] == [
        "format_version", "class_code", "pupil_code", "week_start", "gpc", "readings",
        "heard_right", "maybe", "could_not_tell", "days", "distinct_words", "parent_reviewed",
    ]  # fmt: skip
    assert rows[1] == ["1", "W7T7Y6", "7K3QFY", "2026-11-23", "i-e /AY/", "35", "30", "5", "2",
                       "4", "9", "2"]  # fmt: skip
    assert date.fromisoformat(rows[1][3]).weekday() == 0
    assert '"i-e /AY/"' in text


def test_the_file_says_itself_that_anybody_can_read_it() -> None:
    assert b"anybody who has this file can read it" in FILE


@given(st.text(max_size=20))
def test_no_text_starts_a_formula_in_a_spreadsheet(text: str) -> None:
    """The characters are those of OWASP's page on CSV injection (from memory)."""
    written = plain_csv.to_bytes([["a", text]]).decode("utf-8-sig")
    cells = next(csv.reader(io.StringIO(written, newline="")))
    assert cells[1][:1] not in ("=", "+", "-", "@", "\t", "\r")
    assert plain_csv.guarded(text) == text or plain_csv.guarded(text) == f"'{text}"


@given(st.lists(st.lists(st.text(max_size=12), min_size=3, max_size=3), min_size=1, max_size=5))
def test_any_table_comes_back_as_it_was(rows: list[list[str]]) -> None:
    clean = [[cell.replace("\0", "") for cell in row] for row in rows]
    ambiguous = [cell for row in clean for cell in row if plain_csv.unguarded(cell) != cell]
    back = plain_csv.from_bytes(plain_csv.to_bytes(clean), 10_000)
    assert ambiguous or back == clean


@given(st.integers(3, len(FILE) - 2), st.integers(32, 126))
@settings(max_examples=200)
def test_an_edited_character_is_noticed(place: int, new: int) -> None:
    changed = bytearray(FILE)
    if changed[place] in (new, 13, 10, 34):
        return
    changed[place] = new
    with pytest.raises(FileTrouble):
        summary_csv.from_bytes(bytes(changed))


@pytest.mark.parametrize(
    ("change", "kind", "word"),
    [
        (lambda text: text.replace("2026-11-23", "23/11/2026"), Tampered, "rewrites dates"),
        (lambda text: text.replace(",30,5,", ",35,0,"), Tampered, "checksum"),
        (lambda text: text[: text.index('"end"')], Truncated, "last record"),
        (lambda text: text.replace("\r\n1,", "\r\n2,"), WrongVersion, "version '2'"),
        (lambda text: text.replace(",", ";"), OtherKind, "CSV"),
        (lambda text: text.replace('"', "", 1), OtherKind, "CSV"),
        (lambda text: text + "\0", OtherKind, "CSV"),
        (lambda text: text + "1,2\r\n", OtherKind, "one length"),
        (lambda text: text + "\r\n" * 40_000, Oversize, "65,536"),
        (lambda text: "", OtherKind, "CSV"),
        (lambda text: "name,mark\r\nPip,3\r\n", OtherKind, "columns"),
    ],
)  # fmt: skip
def test_each_fault_has_its_own_message(
    change: Callable[[str], str], kind: type[FileTrouble], word: str
) -> None:
    with pytest.raises(kind) as told:
        summary_csv.from_bytes(change(FILE.decode()).encode(), "pip.csv")
    assert word in f"{told.value.what} {told.value.why}" and "pip.csv" in told.value.what


def test_a_file_in_another_encoding_is_not_guessed_at() -> None:
    with pytest.raises(OtherKind, match="UTF-8"):
        summary_csv.from_bytes(FILE[3:].decode().encode("utf-16"))


def resealed(change: Callable[[list[list[str]]], None]) -> bytes:
    """An edited file with its checksum worked out again, as anybody can."""
    rows = plain_csv.from_bytes(FILE, 65_536)
    change(rows)
    rows[-1][-1] = summary_csv._checksum([*rows[:-1], rows[-1][:-1]])
    return plain_csv.to_bytes(rows)


def _put(row: int, column: int, text: str) -> Callable[[list[list[str]]], None]:
    def change(rows: list[list[str]]) -> None:
        rows[row][column] = text

    return change


@pytest.mark.parametrize(
    "change",
    [
        _put(1, 5, "36"),
        _put(1, 6, "3e1"),
        _put(1, 9, "٤"),
        _put(1, 4, "pippin"),
        _put(1, 2, "W7T7Y6"),
        _put(-1, 3, "2026-11-24"),
        _put(-1, 6, "yesterday"),
        _put(1, 10, "99999"),
    ],
)
def test_a_forged_checksum_does_not_make_nonsense_a_summary(
    change: Callable[[list[list[str]]], None],
) -> None:
    with pytest.raises(Untrue):
        summary_csv.from_bytes(resealed(change))
