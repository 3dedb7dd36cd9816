"""Word cards: eight to a sheet of A4, to be cut out, with sound buttons on the back or below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from companion.phonics.decodable import Splitter
from companion.phonics.gpc import Gpc
from companion.phonics.letters import WordError
from companion.phonics.listmaker import MadeList
from companion.phonics.reading import reading
from companion.phonics.split import split
from companion.phonics.units import Split
from companion.phonics.wordlists import WordList
from companion.report.paper import MM, RULE, Box, Paper, TooMuch
from companion.report.word_drawing import draw_word, fitting_size
from companion.report.wording import gpc_words

COLUMNS, ROWS = 2, 4
CARDS_A_SHEET = COLUMNS * ROWS
MADE_UP = "made-up word"
LARGEST = 84.0
"""Points: a short word is read across a carpet, and is no louder than a long one."""

Buttons = Literal["below", "back", "none"]
"""Where a card's sound buttons stand. On the back means on the next page, mirrored, for printing on
both sides and turning along the long edge."""


@dataclass(frozen=True)
class Card:
    """One card: the word, whether it is made up, and the GPC it practises (for its back)."""

    word: str
    made_up: bool = False
    gpc: Gpc | None = None


def cards_of(made: MadeList) -> tuple[Card, ...]:
    """A card for each word of a list, in its order."""
    return tuple(
        Card(
            each.word,
            each.role == "made-up",
            each.gpc if each.role in ("target", "older") else None,
        )
        for each in made.why
    )


def cards_of_list(words: WordList, splitter: Splitter = split) -> tuple[Card, ...]:
    """A card for each word of a list that somebody wrote, in its order."""
    made_up = set(words.pseudo)
    splits = [split_of(each, made_up=each in made_up, splitter=splitter) for each in words.words]
    return tuple(
        Card(
            word,
            word in made_up,
            words.target if isinstance(each, Split) and words.target in each.gpcs else None,
        )
        for word, each in zip(words.words, splits, strict=True)
    )


def cards_pdf(
    cards: Sequence[Card], title: str, buttons: Buttons = "below", splitter: Splitter = split
) -> bytes:
    """Print cards.

    Parameters
    ----------
    cards : sequence of Card
        At least one; they fill sheets in their order.
    title : str
        What the document is called, such as ``Words with i-e``.
    buttons : str
        Where the sound buttons stand.
    splitter : callable
        Gives a word's readings: `split`, or one that knows a teacher's corrections.

    Returns
    -------
    bytes
        A PDF of A4 sheets with eight cards each; with buttons on the back, twice as many pages.

    Raises
    ------
    TooMuch
        There is no card.
    """
    if not cards:
        raise TooMuch("No cards were printed", "there is no word to print", "Choose a list first")
    paper = Paper(title, "Word cards to cut out.")
    size = _common_size(cards, with_buttons=buttons == "below")
    for start in range(0, len(cards), CARDS_A_SHEET):
        sheet = cards[start : start + CARDS_A_SHEET]
        boxes = _sheet(paper)
        splits = [split_of(card.word, made_up=card.made_up, splitter=splitter) for card in sheet]
        for card, word, box in zip(sheet, splits, boxes, strict=False):
            _draw_front(paper, card, word, box, size, with_buttons=buttons == "below")
        if buttons == "back":
            boxes = _sheet(paper)
            for place, (card, word) in enumerate(zip(sheet, splits, strict=True)):
                _draw_back(paper, card, word, boxes[place ^ 1], size)
    return paper.finish()


def split_of(word: str, *, made_up: bool, splitter: Splitter = split) -> Split | str:
    """A word in graphemes, or the bare word where nobody can split it."""
    try:
        return reading(word, pseudo=True).splits[0] if made_up else splitter(word)[0]
    except WordError:
        return word


def _sheet(paper: Paper) -> list[Box]:
    """Begin a sheet, draw its cutting lines, and give its places row by row."""
    frame = paper.bare_page()
    places = [box for row in frame.rows(ROWS) for box in row.columns(COLUMNS)]
    canvas = paper.canvas
    canvas.saveState()
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.setDash(4, 3)
    for n in range(COLUMNS + 1):
        x = frame.left + n * frame.width / COLUMNS
        canvas.line(x, frame.bottom, x, frame.top)
    for n in range(ROWS + 1):
        y = frame.bottom + n * frame.height / ROWS
        canvas.line(frame.left, y, frame.right, y)
    canvas.restoreState()
    return places


def _inner(box: Box) -> tuple[Box, Box]:
    """Of a card: where the word stands, and the line of small print at its foot."""
    return box.inside(5 * MM).split_bottom(6 * MM)


def _common_size(cards: Sequence[Card], *, with_buttons: bool) -> float:
    """One letter size for all cards, so that a short word is no louder than a long one."""
    frame = Box(0, 0, 180 * MM / COLUMNS, 267 * MM / ROWS)
    place = _inner(frame)[0]
    return min(fitting_size([card.word for card in cards], place, buttons=with_buttons), LARGEST)


def _draw_front(
    paper: Paper, card: Card, word: Split | str, box: Box, size: float, *, with_buttons: bool
) -> None:
    place, foot = _inner(box)
    draw_word(paper, word, place, buttons=with_buttons, size=size)
    if card.made_up:
        paper.frame(box.inside(2.5 * MM))
        paper.write(MADE_UP, foot, "small", "centre")


def _draw_back(paper: Paper, card: Card, word: Split | str, box: Box, size: float) -> None:
    place, foot = _inner(box)
    draw_word(paper, word, place, size=min(size, fitting_size([card.word], place)))
    told = MADE_UP if card.made_up else gpc_words(card.gpc) if card.gpc else ""
    if told:
        paper.write(told, foot, "small", "centre")
