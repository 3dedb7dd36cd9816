"""The paper that every sheet is printed on: frame, lettering, cautions and sound buttons."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pdf_reading import about, fonts, ink, needs_poppler, pages, text

from companion.phonics.split import Split, WordError, split
from companion.report.cautions import CAUTIONS
from companion.report.paper import MARGIN, MM, Bold, Box, Paper, TooMuch
from companion.report.sound_buttons import in_words, marks
from companion.report.word_drawing import draw_word, fitting_size

pytestmark = needs_poppler

A4 = (210, 297)
ROOT = Path(__file__).parents[2]


def drawn(word: str) -> Split | str:
    try:
        return split(word)[0]
    except WordError:
        return word


def one_page(words: list[str]) -> bytes:
    paper = Paper("Words", "Words to look at.")
    body = paper.page("Words to read", "for a look")
    size = min(fitting_size(words, row) for row in body.rows(len(words), 4))
    for row, word in zip(body.rows(len(words), 4), words, strict=True):
        draw_word(paper, drawn(word), row, size=size)
    return paper.finish()


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        # Shapes: common practice in Year 1. Splits: Letters and Sounds, DfES, 2007, phase 5.
        ("pin", [("dot", (0,)), ("dot", (1,)), ("dot", (2,))]),
        ("pine", [("dot", (0,)), ("tie", (1, 3)), ("dot", (2,))]),
        ("these", [("bar", (0, 1)), ("tie", (2, 4)), ("dot", (3,))]),
        ("light", [("dot", (0,)), ("bar", (1, 2, 3)), ("dot", (4,))]),
        ("said", [("dot", (0,)), ("wave", (1, 2)), ("dot", (3,))]),
    ],
)
def test_each_grapheme_has_the_button_a_teacher_would_draw(
    word: str, expected: list[tuple[str, tuple[int, ...]]]
) -> None:
    assert [(mark.kind, mark.letters) for mark in marks(split(word)[0])] == expected


def test_the_buttons_can_be_said_for_somebody_who_does_not_see_them() -> None:
    assert in_words(split("pine")[0]) == "p; i and e together; n"
    assert in_words(split("said")[0]) == "s; ai by heart; d"


def test_a_page_is_read_out_from_heading_to_cautions() -> None:
    found = text(one_page(["pine", "these"]))
    wanted = ["Words to read", "for a look", "pine", "these", "Please keep in mind", *CAUTIONS]
    places = [found.index(each) for each in wanted]
    assert all(before < after for before, after in pairwise(places))


def test_every_letter_used_is_embedded_and_is_andika() -> None:
    assert fonts(one_page(["pine"])) == {"Andika": True, "Andika-Bold": True}


def test_the_document_says_its_title_and_language_and_no_time() -> None:
    pdf = one_page(["pine"])
    told = about(pdf)
    assert told["Title"] == "Words"
    assert told["Page size"].endswith("(A4)")
    assert b"/Lang (en-GB)" in pdf and b"/DisplayDocTitle true" in pdf
    assert told["CreationDate"].startswith("Sat Jan  1 00:00:00 2000")


def test_the_same_content_gives_the_same_bytes_in_another_process() -> None:
    code = (
        f"import sys, hashlib; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        "from test_pdf_paper import one_page\n"
        "print(hashlib.sha256(one_page(['pine', 'said'])).hexdigest())"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == hashlib.sha256(one_page(["pine", "said"])).hexdigest()


LETTERS = "".join(map(chr, range(ord("a"), ord("z") + 1)))


@settings(max_examples=25, deadline=None)
@example(["yaaaaat"])
@example(["jaaaaat"])
@example(["jat"])
@given(st.lists(st.text(LETTERS, min_size=1, max_size=24).map(lambda w: w + "at"), min_size=1,
                max_size=12))  # fmt: skip
def test_no_list_of_words_is_drawn_over_the_margin(words: list[str]) -> None:
    found = ink(one_page(words))
    edge = MARGIN / MM - 0.6
    assert found.left >= edge and found.top >= edge
    assert found.right <= A4[0] - edge and found.bottom <= A4[1] - edge


def test_a_tie_runs_below_the_button_of_the_letter_between() -> None:
    def lowest(word: str) -> float:
        paper = Paper("One", "One word.")
        paper.page("x", cautions=())
        draw_word(paper, split(word)[0], Box(100, 300, 300, 300), size=100)
        return ink(paper.finish()).bottom

    base_mm = lowest("cub")
    assert 3.0 < lowest("cube") - base_mm < 10.0


def test_text_that_looks_like_markup_is_printed_as_it_is() -> None:
    paper = Paper("Odd", "Odd characters.")
    body = paper.page("<b>&amp;</b>", "a < b & c > d")
    paper.write([Bold("<i>x"), " </para>"], body)
    assert text(paper.finish()).startswith("<b>&amp;</b> a < b & c > d <i>x </para>")


def test_text_too_long_for_its_place_is_refused_and_says_what_to_do() -> None:
    paper = Paper("Long", "Long text.")
    body = paper.page("Long", "")
    with pytest.raises(TooMuch, match=r"does not fit on the page: it needs .* mm"):
        paper.write("word " * 5000, body)


def test_text_a_little_too_long_is_written_smaller() -> None:
    paper = Paper("Long", "Long text.")
    body = paper.page("Long", "")
    parts = [("lamp " * 600, "text"), ("end", "text")]
    strip = body.split_top(paper.height_of("lamp " * 600, body.width) * 0.8)[0]
    rest = paper.write_fitting(parts, strip)
    assert rest.height >= 0
    found = text(paper.finish())
    assert found.count("lamp") == 600 and "lamp end" in found


def test_a_second_page_has_its_own_heading_and_cautions() -> None:
    paper = Paper("Two", "Two pages.")
    paper.page("First")
    paper.page("Second")
    found = pages(paper.finish())
    assert [page.split()[0] for page in found] == ["First", "Second"]
    assert all(CAUTIONS[0] in page for page in found)


def test_settings_that_lie_about_on_the_computer_do_not_change_a_sheet(tmp_path: Path) -> None:
    """ReportLab runs such files when it is loaded, from the home and from the current folder."""
    for name in (".reportlab_settings", ".reportlab_mods", "reportlab_mods.py",
                 "reportlab_settings.py"):  # fmt: skip
        (tmp_path / name).write_text("raise SystemExit('it was run')\n")
    code = (
        "import sys, hashlib; from companion.report.paper import Paper\n"
        "paper = Paper('a', 'b.'); paper.page('c')\n"
        "print(hashlib.sha256(paper.finish()).hexdigest())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env={**os.environ, "HOME": str(tmp_path), "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    paper = Paper("a", "b.")
    paper.page("c")
    assert done.stdout.strip() == hashlib.sha256(paper.finish()).hexdigest()
