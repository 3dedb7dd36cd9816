"""The family's sheet: its code in large letters, its QR code as a reader sees it, and no name."""

from __future__ import annotations

from datetime import date

import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from pdf_reading import about, fonts, ink, needs_poppler, pages, picture, text

from companion.phonics.gpc import table
from companion.phonics.wordlists import WordList
from companion.record import codes
from companion.record.weeks import Week
from companion.report.cautions import CAUTIONS
from companion.report.family_file import SHORT_MAX, parse
from companion.report.family_lines import FamilyFile
from companion.report.paper import MARGIN, MM, TooMuch
from companion.school.family_sheet import FamilySlip, family_sheets_pdf, slip_of

pytestmark = needs_poppler

WEEK = Week.of(date(2025, 12, 1))
QR_LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
"""What QR's alphanumeric mode carries (ISO/IEC 18004:2015, table 5)."""
LIST = WordList(
    "i-e", "Words with i-e", ("said", "pine", "bike", "mife"), caption=None, pseudo=("mife",)
)


def slip(payload: str, words: WordList | None = LIST, code: str = "") -> FamilySlip:
    code = code or codes.draw()
    return FamilySlip(code, payload, f"{code}.txt", WEEK, words)


def read_qr(pdf: bytes, page: int = 1, dots_per_inch: int = 100) -> list[str]:
    return [each.text for each in zxingcpp.read_barcodes(picture(pdf, page, dots_per_inch))]


def test_the_sheet_says_in_this_order_code_steps_privacy_and_words() -> None:
    found = slip("TEXT")
    told = text(family_sheets_pdf([found]))
    at = 0
    for each in (
        "Reading practice at home", "Your code", found.code, "1. Start Wordhearth.",
        "2. Read what is listened to and kept, and choose.", "3. Tell it your code by this sheet.",
        found.file, "No name is on this sheet", "said", "pine", "Made-up words", "mife",
        CAUTIONS[0],
    ):  # fmt: skip
        at = told.index(each, at)


def test_each_family_gets_a_page_with_its_own_code_and_qr() -> None:
    slips = [slip(f"SHEET {n}") for n in range(3)]
    pdf = family_sheets_pdf(slips)
    found = pages(pdf)
    assert [one.code in page for one, page in zip(slips, found, strict=True)] == [True] * 3
    assert [read_qr(pdf, n + 1) for n in range(3)] == [[one.text] for one in slips]
    assert all(fonts(pdf).values())
    assert not any(one.code in str(about(pdf)) for one in slips)


def test_the_fullest_qr_is_still_read_at_the_sharpness_of_a_poor_telephone() -> None:
    """100 dots to the inch is 3 for each module; a telephone at arm's length sees more."""
    payload = (QR_LETTERS * 40)[:SHORT_MAX]
    assert read_qr(family_sheets_pdf([slip(payload)])) == [payload]


def test_more_than_a_qr_can_carry_is_refused_and_says_what_to_do() -> None:
    with pytest.raises(TooMuch, match="shorter memory phrases"):
        family_sheets_pdf([slip("A" * (SHORT_MAX + 1))])
    with pytest.raises(TooMuch, match="no pupil was chosen"):
        family_sheets_pdf([])


@settings(max_examples=10, deadline=None)
@given(
    st.text(QR_LETTERS, min_size=1, max_size=SHORT_MAX),
    st.lists(st.text("abcdeimnpst", min_size=1, max_size=20), max_size=40, unique=True),
)
def test_any_list_and_payload_fit_on_one_page_and_the_qr_reads_back(
    payload: str, words: list[str]
) -> None:
    made = WordList("x", "Words", tuple(words)) if words else None
    pdf = family_sheets_pdf([slip(payload, made)])
    assert about(pdf)["Pages"] == "1"
    edge, found = MARGIN / MM - 0.6, ink(pdf)
    assert found.left >= edge and found.top >= edge
    assert found.right <= 210 - edge and found.bottom <= 297 - edge
    assert read_qr(pdf) == [payload]


def test_a_home_reads_the_square_back_into_what_school_sent() -> None:
    gpcs = table().order().gpcs
    sent = FamilyFile(
        class_code=codes.draw(),
        pupil=codes.draw(),
        public_key=bytes(range(32)),
        week=WEEK,
        accent=None,
        order=table().order(),
        taught=frozenset(gpcs[:70]),
        words=LIST,
        phrases={},
        pictures={},
        exceptions={"said": "a and i stand in the middle", "was": "not in this week's list"},
    )
    (carried,) = read_qr(family_sheets_pdf([slip_of(sent)]))
    found = parse(carried)
    assert found.pupil == sent.pupil and found.public_key == sent.public_key
    assert found.taught == sent.taught and found.words is not None
    assert found.words.words == LIST.words
    assert found.exceptions == {"said": "a and i stand in the middle"}


def test_where_no_square_fits_the_sheet_says_to_open_the_file() -> None:
    found = slip("")
    pdf = family_sheets_pdf([found])
    assert read_qr(pdf) == []
    assert "please open the file" in text(pdf) and found.file in text(pdf)
