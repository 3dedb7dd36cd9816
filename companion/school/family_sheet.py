"""The family's sheet of paper: the pupil code, a QR code of all that a home needs, three steps.

It carries no name. The teacher hands it out by the register.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import segno

from companion.phonics.wordlists import WordList
from companion.record.weeks import Week
from companion.report.family_file import SHORT_MAX, file_name, for_paper, short_text
from companion.report.family_lines import FamilyFile
from companion.report.paper import BOLD, INK, MM, Bold, Box, Paper, TooMuch
from companion.report.trouble import NotForPaper
from companion.school.cards import split_of
from companion.school.word_grid import draw_words

_QR = 80 * MM
"""The fullest square has about 110 modules, 0.7 mm each here: a telephone reads that off paper
(0.5 mm is the least usual for print, common practice)."""
_QUIET = 4
"""Modules left white around it (ISO/IEC 18004:2015, 9.1)."""

_SQUARE = (
    "The square holds the code, this week's words and your teacher's aids, and no name. Keep it to "
    "yourselves: whoever has it can hand in a week under your code."
)
_NO_SQUARE = "This week's words and aids are too many for a square to read: please open the file."

STEPS: tuple[tuple[str, str], ...] = (
    (
        "Start Wordhearth.",
        "It runs on your own computer and works without the internet. School tells you where to "
        "get it.",
    ),
    (
        "Read what is listened to and kept, and choose.",
        "Each choice is yours, and every one can be taken back. Choosing no changes nothing at "
        "school.",
    ),
    (
        "Tell it your code by this sheet.",
        "Open the small file that came with it, {file}. Or read the square with a telephone and "
        "paste all of its text.",
    ),
)
PRIVACY = (
    "No name is on this sheet or in its file. Sound never leaves your computer, and is kept only "
    "if you choose so, for seven days. School sees a week only if you hand it over, and then only "
    "counts for each sound."
)


@dataclass(frozen=True)
class FamilySlip:
    """What one family's sheet shows.

    Attributes
    ----------
    code : str
        The pupil code.
    text : str
        What the QR code carries: the family file in its short form. Empty where that does not fit
        on paper; the sheet then says to open the file.
    file : str
        The name of the small file that goes with the sheet.
    week : Week
        The week its list is for.
    words : WordList or None
        That list, so that a family can begin on paper.
    """

    code: str
    text: str
    file: str
    week: Week
    words: WordList | None


def slip_of(file: FamilyFile) -> FamilySlip:
    """The sheet of a family file, with the aids that its list calls for."""
    try:
        text = short_text(for_paper(file))
    except NotForPaper:
        text = ""
    return FamilySlip(file.pupil, text, file_name(file), file.week, file.words)


def family_sheets_pdf(slips: Sequence[FamilySlip]) -> bytes:
    """Print a sheet for each family, a page each, in the order given.

    Raises
    ------
    TooMuch
        No family, or a QR text longer than `SHORT_MAX`.
    """
    if not slips:
        raise TooMuch("No sheet was printed", "no pupil was chosen", "Choose one or more")
    paper = Paper("Sheets for families", "Pupil codes and how to start; no names.")
    for slip in slips:
        _sheet(paper, slip)
    return paper.finish()


def _sheet(paper: Paper, slip: FamilySlip) -> None:
    monday = slip.week.monday
    body = paper.page(
        "Reading practice at home",
        f"Five minutes a day, an adult near. Made for the week from {monday.day} {monday:%B %Y}.",
    )
    left, right = body.columns(2, 8 * MM)
    right = Box(body.right - _QR, right.bottom, _QR, right.height)
    left = Box(left.left, left.bottom, body.width - _QR - 8 * MM, left.height)
    left = paper.write("Your code", left, "heading")
    code = paper.canvas.beginText(left.left, left.top - 40)
    code.setFont(BOLD, 44)
    code.setFillColor(INK)
    code.textOut(slip.code)
    paper.canvas.drawText(code)
    left = left.split_top(54)[1]
    left = paper.write(
        "It stands for your child in place of a name. Keep this sheet; school can print it again.",
        left,
        "small",
    )
    left = left.split_top(4 * MM)[1]
    for number, (head, more) in enumerate(STEPS, 1):
        left = paper.write([Bold(f"{number}. {head}")], left)
        left = paper.write(more.format(file=slip.file), left, "small")
        left = left.split_top(2 * MM)[1]
    square, below = right.split_top(_QR)
    if slip.text:
        _qr(paper, slip.text, square)
    else:
        below = right
    below = paper.write(_SQUARE if slip.text else _NO_SQUARE, below, "small")
    low = min(left.top, below.top) - 4 * MM
    rest = Box(body.left, body.bottom, body.width, low - body.bottom)
    rest = paper.rule(rest)
    rest = paper.write([Bold("Private by design")], rest)
    rest = paper.write(PRIVACY, rest)
    if slip.words is not None:
        rest = paper.rule(rest.split_top(3 * MM)[1])
        rest = paper.write([Bold(f"To begin on paper: {slip.words.title}")], rest)
        made_up = slip.words.pseudo
        splits = [split_of(word, made_up=word in made_up) for word in slip.words.words]
        draw_words(paper, splits, made_up, rest)


def _qr(paper: Paper, text: str, square: Box) -> None:
    """Draw a QR code with runs of dark modules as one bar each."""
    if len(text) > SHORT_MAX:
        raise TooMuch(
            "The family's QR code was not printed",
            f"it would carry {len(text)} characters, and {SHORT_MAX} can be read off paper",
            "Give shorter memory phrases, or hand out the file instead",
        )
    code = segno.make(text, error="l", boost_error=False, micro=False)
    modules = len(code.matrix) + 2 * _QUIET
    side = square.width / modules
    canvas = paper.canvas
    canvas.saveState()
    canvas.setFillColor(INK)
    for down, row in enumerate(code.matrix):
        start = 0
        while start < len(row):
            end = start
            while end < len(row) and row[end] == row[start]:
                end += 1
            if row[start]:
                canvas.rect(
                    square.left + (start + _QUIET) * side,
                    square.top - (down + 1 + _QUIET) * side,
                    (end - start) * side,
                    side * 1.02,
                    stroke=0,
                    fill=1,
                )
            start = end
    canvas.restoreState()
