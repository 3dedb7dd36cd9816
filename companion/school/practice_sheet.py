"""The practice sheet for home: one page with the week's words, a caption and one thing to do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from companion.phonics.decodable import Splitter
from companion.phonics.split import split
from companion.phonics.units import Split
from companion.phonics.wordlists import WordList
from companion.record.weeks import Week
from companion.report.paper import MM, RULE, Bold, Box, Paper
from companion.report.sound_buttons import Kind, marks
from companion.report.word_drawing import draw_key, draw_word, fitting_size
from companion.report.wording import gpc_words
from companion.school.cards import split_of
from companion.school.word_grid import draw_words, text_of

HOW_TO_HELP = (
    "Five minutes are enough. Stop while it is still going well.",
    "Let your child say the sounds first, if need be, and then the whole word.",
    "Stuck? Say the sounds yourself, read the word together, and go on.",
)
"""Common practice in Year 1, no source."""

_CAPTION = 22.0


@dataclass(frozen=True)
class PracticeSheet:
    """What a practice sheet shows; no name, no code, so that one print serves every home.

    Attributes
    ----------
    week : Week
        The week it is for.
    words : WordList
        The list; its caption is read together.
    whom : str
        ``Whole class`` or a group's name; empty leaves it out.
    phrase : str or None
        The teacher's memory phrase for the list's target.
    word_aids : mapping of str to str
        The teacher's aids to exception words, by word in small letters.
    """

    week: Week
    words: WordList
    whom: str = ""
    phrase: str | None = None
    word_aids: Mapping[str, str] = field(default_factory=dict)


def practice_sheet_pdf(sheet: PracticeSheet, splitter: Splitter = split) -> bytes:
    """Print a practice sheet: exactly one page of A4, whatever the list (up to 40 words).

    Raises
    ------
    TooMuch
        A caption or an aid so long that nothing would be readable.
    """
    paper = Paper(f"{sheet.words.title}, to practise at home", "Words to practise at home.")
    first = sheet.week.monday
    beneath = f"Week from Monday {first.day} {first:%B %Y}"
    if sheet.whom:
        beneath += f" · {sheet.whom}"
    body = paper.page(sheet.words.title, beneath)
    splits = [
        split_of(word, made_up=word in sheet.words.pseudo, splitter=splitter)
        for word in sheet.words.words
    ]
    body = _this_week(paper, sheet, splits, body)
    body, foot = body.split_bottom(47 * MM)
    caption = sheet.words.caption
    body, strip = body.split_bottom(23 * MM if caption else 0.0)
    _words(paper, sheet, splits, body)
    if caption:
        _caption(paper, caption, strip)
    _help_and_task(paper, task_word(sheet.words, splits), foot)
    return paper.finish()


def task_word(words: WordList, splits: Sequence[Split | str]) -> str:
    """The word for a sentence: the first real word of the list that holds its target."""
    real = [each for each in splits if text_of(each) not in words.pseudo] or list(splits)
    for each in real:
        if isinstance(each, Split) and words.target in each.gpcs:
            return each.word
    return text_of(real[0])


def _this_week(paper: Paper, sheet: PracticeSheet, splits: list[Split | str], body: Box) -> Box:
    """What the list is for, and the key of the buttons that its words have."""
    kinds: list[Kind] = [
        kind
        for kind in ("dot", "bar", "tie", "wave")
        if any(mark.kind == kind for each in splits if isinstance(each, Split)
               for mark in marks(each))
    ]  # fmt: skip
    left, right = body.columns(2, 8 * MM)
    if sheet.words.target is not None:
        left = paper.write(["This week: ", Bold(gpc_words(sheet.words.target))], left, "heading")
        if sheet.phrase:
            left = paper.write(["In class we say: ", Bold(sheet.phrase)], left)
    else:
        left = paper.write("Words of several weeks, mixed.", left)
    left = paper.write("The marks under a word show its sounds, one mark for each.", left, "small")
    lower = min(left.top, draw_key(paper, right, kinds).top)
    return body.split_bottom(max(lower - body.bottom - 2 * MM, 0))[1]


def _words(paper: Paper, sheet: PracticeSheet, splits: list[Split | str], body: Box) -> None:
    """The words, and under them the teacher's aids to exception words."""
    aids = _aids(sheet)
    body, below = body.split_bottom(sum(paper.height_of(aid, body.width, "small") for aid in aids))
    draw_words(paper, splits, sheet.words.pseudo, body)
    for aid in aids:
        below = paper.write(aid, below, "small")


def _aids(sheet: PracticeSheet) -> list[str]:
    """A line for each exception word of the list to which the teacher gave an aid."""
    found = ((word, sheet.word_aids.get(word.lower())) for word in sheet.words.words)
    return [f"{word}: {aid}" for word, aid in found if aid]


def _caption(paper: Paper, caption: str, strip: Box) -> None:
    strip = paper.rule(strip)
    strip = paper.write("Then read this together:", strip, "small")
    size = min(_CAPTION, fitting_size([caption], strip, buttons=False))
    draw_word(paper, caption, strip, buttons=False, size=size)


def _help_and_task(paper: Paper, word: str, foot: Box) -> None:
    foot = paper.rule(foot)
    left, right = foot.columns(2, 8 * MM)
    paper.write_fitting(
        [([Bold("How to help")], "text"), *((f"· {line}", "small") for line in HOW_TO_HELP)], left
    )
    right = paper.write([Bold("One thing to do, away from a screen")], right)
    right = paper.write(
        ["Say a sentence with ", Bold(word), ", then write it: a capital letter, finger spaces "
         "between the words, a full stop."], right, "small",
    )  # fmt: skip
    canvas = paper.canvas
    canvas.saveState()
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    for n in (1, 2):
        y = right.top - n * 11 * MM
        if y > right.bottom:
            canvas.line(right.left, y, right.right, y)
    canvas.restoreState()
