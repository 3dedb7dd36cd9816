"""What the computer's voice says to a child: whole sentences, without marks that are only seen."""

from __future__ import annotations

from companion.phonics.reading import Reading
from companion.practice import kind_words
from companion.practice.plan import Apply, Meet, Part, Practise, Revisit, SightWord
from companion.practice.verdicts import Judgement

HELLO = "Hello."
READ_THIS = "Please read this word."
READ_ON = "Take your time. Sound it out, then read it."
PAUSED = "We are having a rest."
GOODBYE = "Thank you for reading. All done."


def again(judgement: Judgement, reading: Reading) -> str:
    """Before a second try: `kind_words.try_again` without the row of graphemes."""
    shown = kind_words.try_again(judgement, reading)
    graphemes = kind_words.graphemes(reading)
    return shown.replace(f": {graphemes}.", ".")


def part(begun: Part) -> str:
    """At the beginning of a part of a sitting; empty where there is nothing to say."""
    match begun:
        case Revisit():
            return "First, some words with sounds you have met before."
        case Meet():
            return "Here is today's sound."
        case Practise():
            return "Now some words to read."
        case SightWord():
            aid = f" {begun.aid}" if begun.aid else ""
            return f"This word has a part to know by heart.{aid}"
        case Apply():
            return "Read this to your grown-up."
    return begun.line
