"""How a sitting ends: a caption to read, and one thing to do off screen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from random import Random
from typing import ClassVar

from companion.phonics.captions import best_for, decodable_captions
from companion.practice.choosing import Shown
from companion.practice.teaching import Teaching

LINES = {
    "say": "Say a sentence with the word {word} in it. Count its words on your fingers.",
    "write": (
        "Write a sentence with the word {word} in it. "
        "A capital letter first, a finger space between words, and a full stop at the end."
    ),
}
"""What to do with a word: English, programmes of study, Year 1, writing: composing a sentence
orally before writing it, spaces between words, capital letters and full stops (Department for
Education, 2013; from memory)."""


@dataclass(frozen=True)
class OffScreen:
    """One thing to do once the screen is off.

    Attributes
    ----------
    how : str
        ``say`` or ``write``.
    word : str
        A word of the sitting.
    line : str
        What to do, in a sentence or two.
    """

    name: ClassVar[str] = "off screen"
    how: str
    word: str
    line: str


def caption_for(teaching: Teaching, day: date, seed: int) -> str | None:
    """The teacher's caption, or else a decodable one with today's GPC, another every day."""
    if teaching.words is not None and teaching.words.caption is not None:
        return teaching.words.caption
    best = best_for(decodable_captions(teaching.taught, teaching.splitter), teaching.today)
    return best[(day.toordinal() + seed) % len(best)] if best else None


def off_screen(
    words: Sequence[Shown], teaching: Teaching, day: date, seed: int, rng: Random
) -> OffScreen:
    """Something to say or, every other time, to write with a word of the sitting.

    Parameters
    ----------
    words : sequence of Shown
        Those of the sitting; one with today's GPC is taken before another, and none made up.
    """
    real = [each for each in words if not each.pseudo and each.why != "contrast"]
    with_today = [each for each in real if each.gpc is not None and each.gpc in teaching.today]
    word = rng.choice(with_today or real).word
    how = tuple(LINES)[(day.toordinal() + seed) % len(LINES)]
    return OffScreen(how, word, LINES[how].format(word=word))
