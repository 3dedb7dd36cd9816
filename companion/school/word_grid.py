"""A list's words in rows and columns on paper, all in one letter size, with their sound buttons."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from math import ceil

from companion.phonics.units import Split
from companion.report.paper import MM, Box, Paper
from companion.report.word_drawing import draw_word, fitting_size

MADE_UP = "Made-up words, to read by their letters; they mean nothing:"
LARGEST = 40.0
"""Points: read at arm's length, with room for twelve words on half a page."""
_GAP = 1.6 * MM
_COLUMNS = range(2, 9)


def draw_words(
    paper: Paper, words: Sequence[Split | str], made_up: Collection[str], body: Box
) -> None:
    """Draw words as large as they all fit in `body`; made-up ones stand apart, under a line.

    Parameters
    ----------
    paper : Paper
        A paper with a page begun.
    words : sequence of Split or str
        In reading order; a plain text gets no sound buttons.
    made_up : collection of str
        Those of them that are made up.
    body : Box
        Where they stand.
    """
    groups = [
        [each for each in words if text_of(each) not in made_up],
        [each for each in words if text_of(each) in made_up],
    ]
    if not words:
        return
    label = paper.height_of(MADE_UP, body.width, "small") + 1 * MM if groups[1] else 0.0
    texts = [text_of(each) for each in words]
    sizes = {
        columns: fitting_size(texts, _cell(body, label, groups, columns).inside(_GAP))
        for columns in _COLUMNS
    }
    columns = max(sizes, key=lambda number: sizes[number])
    high = _cell(body, label, groups, columns).height
    for place, group in enumerate(groups):
        if place == 1 and group:
            line, body = body.split_top(label)
            paper.write(MADE_UP, line, "small")
        for start in range(0, len(group), columns):
            strip, body = body.split_top(high)
            cells = strip.columns(columns)
            for word, cell in zip(group[start : start + columns], cells, strict=False):
                draw_word(paper, word, cell, size=min(sizes[columns], LARGEST))


def text_of(word: Split | str) -> str:
    """The word as it is written."""
    return word if isinstance(word, str) else word.word


def _cell(body: Box, label: float, groups: Sequence[Sequence[Split | str]], columns: int) -> Box:
    """The place of one word, with so many columns."""
    rows = sum(ceil(len(group) / columns) for group in groups)
    return Box(0, 0, body.width / columns, (body.height - label) / rows)
