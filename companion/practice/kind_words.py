"""What is said to a child and to the adult beside them. Nothing here says 'wrong'."""

from __future__ import annotations

from collections.abc import Sequence

from companion.phonics.reading import Reading
from companion.practice.verdicts import Judgement
from companion.record.turns import Turn

SEPARATOR = " · "


def graphemes(reading: Reading) -> str:
    """The word in its graphemes, a split digraph joined: ``p · i-e · n``."""
    return SEPARATOR.join(unit.grapheme for unit in reading.splits[0].units)


def try_again(judgement: Judgement, reading: Reading) -> str:
    """What to say before a second try."""
    look = graphemes(reading)
    match judgement.verdict:
        case "slip":
            return f"Have another look: {look}. {_hint(judgement, reading)}Read it once more."
        case "sounded_out":
            return f"Good sounding out: {look}. Now say it all together."
        case "silent":
            return "I didn't hear anything. Take your time, sound it out, then read it."
        case "unsure":
            return "I couldn't quite hear. Please read it once more."
    return f"I heard another word. Have a look: {look}. Read it once more."


def turn_end(turn: Turn, reading: Reading) -> str:
    """What to say when a word's turn is over."""
    outcome = turn.outcome
    if outcome is not None and outcome.verdict == "as_written":
        return f"Yes: {reading.word}."
    if outcome is None or outcome.verdict == "unsure":
        return f"Thank you for reading. The word is {reading.word}: {graphemes(reading)}."
    return f"Good try. The word is {reading.word}: {graphemes(reading)}. We'll meet it again."


def ask_adult(reading: Reading) -> str:
    """The question to the adult when the listener could not tell."""
    return (
        f"I can't tell how '{reading.word}' was read. Grown-up, what did you hear?\n"
        "  a = as written   n = not as written   s = skip it   Enter = you aren't sure either: "
    )


ADULT_ANSWERS: dict[str, str | None] = {"a": "as_written", "n": "not", "s": "skip", "": None}
"""What the adult types to what is recorded."""


def farewell(words: Sequence[str]) -> str:
    """The end of a sitting: the words that were practised, and no score."""
    if not words:
        return "No words this time. That's fine: come back when you like."
    return f"Thank you for reading. Today you practised: {', '.join(words)}. All done!"


def _hint(judgement: Judgement, reading: Reading) -> str:
    """Point at the grapheme a slip fell in, where the listener placed it in one."""
    units = reading.splits[0].units
    if judgement.unit is None or not 0 <= judgement.unit < len(units):
        return ""
    return f"{together(units[judgement.unit].grapheme)} "


def together(grapheme: str) -> str:
    """A sentence on the letters of a grapheme."""
    first, dash, last = grapheme.partition("-")
    if dash:
        return f"The {first} and the {last} work together."
    if len(grapheme) > 1:
        return f"The letters {' and '.join(grapheme)} work together."
    return f"Look at the {grapheme}."
