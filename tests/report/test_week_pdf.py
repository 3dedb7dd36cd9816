"""The printed week: one A4 page whatever the week holds, with the cautions on it."""

from __future__ import annotations

import re
import subprocess
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.phonics.gpc import table
from companion.record.tally import tally
from companion.record.turns import KeptTurn, Try, Turn
from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS
from companion.report.parent_week import ParentWeek, parent_week
from companion.report.week_pdf import file_name, week_pdf

WEEK = Week(2026, 48)
MONDAY = datetime(2026, 11, 23, 16, 30, tzinfo=UTC)
ORDER = table().order()
GPCS = [str(gpc) for gpc in ORDER.gpcs]


def kept(number: int, gpcs: Sequence[str], slip: str | None) -> KeptTurn:
    evidence = gpcs if slip is None else gpcs[:1]
    verdict = "as_written" if slip is None else "slip"
    last = Try(verdict, slip, None, "", None, None, {}, {}, 1.0, tuple(evidence))
    at = MONDAY + timedelta(days=number % 5)
    word = ("pine", "kite", "nine", "ride", "time", "line")[number % 6]
    return KeptTurn(number, 1, at, at.date(), Turn(word, tuple(gpcs), (last,)))


def week_of(turns: list[KeptTurn]) -> ParentWeek:
    return parent_week({WEEK: tally(turns)} if turns else {}, turns, WEEK, ORDER)


def ordinary() -> list[KeptTurn]:
    slips = ["short_for_split"] * 4 + ["e_sounded"] * 3 + [None] * 8
    return [kept(n, ("i-e /AY/", "n /N/"), slip) for n, slip in enumerate(slips)]


def fullest() -> list[KeptTurn]:
    """Every GPC of the table read and slipped in a week, in more kinds than fit."""
    kinds = ["short_for_split", "e_sounded", "one_letter_of_digraph", "sound_added", None, None]
    return [kept(n, (gpc,), kinds[n % 6]) for gpc in GPCS for n in range(18)]


def text_of(data: bytes, tmp_path: Path) -> str:
    path = tmp_path / "week.pdf"
    path.write_bytes(data)
    info = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
    assert re.search(r"^Pages:\s+1$", info, re.MULTILINE), info
    assert "595." in info and "841." in info  # A4 in points, ISO 216
    found = subprocess.run(["pdftotext", "-layout", path, "-"],
                           capture_output=True, text=True, check=True).stdout  # fmt: skip
    return " ".join(found.split())


@pytest.mark.parametrize("turns", [[], ordinary(), fullest()], ids=["empty", "ordinary", "fullest"])
def test_it_is_one_a4_page_with_every_caution(turns: list[KeptTurn], tmp_path: Path) -> None:
    text = text_of(week_pdf(week_of(turns), "puffin"), tmp_path)
    assert "puffin: a week of reading" in text
    assert "Monday 23 November to Sunday 29 November 2026" in text
    for caution in CAUTIONS:
        assert caution in text


def test_an_ordinary_week_says_what_to_do_and_how_often(tmp_path: Path) -> None:
    text = text_of(week_pdf(week_of(ordinary()), "puffin"), tmp_path)
    assert "i-e as in kite. The e at the end was passed over" in text
    assert "Heard 4 times" in text
    assert "Worth practising: i-e as in kite 8 of 15" in text
    assert "The listener marked 7 as not read as written" in text


def test_the_same_week_makes_the_same_bytes_and_the_file_has_no_name_in_it() -> None:
    one, other = (week_pdf(week_of(ordinary()), "puffin") for _ in range(2))
    assert one == other
    assert file_name(WEEK) == "reading-week-2026-W48.pdf"
