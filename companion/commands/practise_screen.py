"""What a sitting shows: lines for people in a terminal, or one JSON object a line."""

from __future__ import annotations

import json
import sys
from contextlib import suppress
from dataclasses import asdict
from typing import Any, Protocol

from rich.console import Console
from rich.text import Text

from companion.commands.practise_plan import part_json
from companion.phonics.reading import Reading
from companion.practice import kind_words, part_words
from companion.practice.plan import Apply, Meet, Part
from companion.practice.sitting import Done, Step
from companion.practice.verdicts import Judgement
from speech.trouble import Trouble

BAR_MARKS = 20
QUIET_DBFS = -60.0


class Screen(Protocol):
    """Where a sitting is shown."""

    def start(self, title: str, lines: list[str]) -> None:
        """Before the first word."""

    def part(self, part: Part) -> None:
        """A part of a planned sitting begins."""

    def word(self, reading: Reading, place: tuple[int, int]) -> None:
        """A word to be read."""

    def level(self, dbfs: float) -> None:
        """How loud it is, while listening."""

    def tried(self, judgement: Judgement, reading: Reading, step: Step) -> None:
        """After a try."""

    def ask(self, reading: Reading) -> str | None:
        """Ask the adult what was read."""

    def done(self, done: Done) -> None:
        """After a committed turn."""

    def trouble(self, reading: Reading, trouble: Trouble) -> None:
        """A recording of the word that could not be heard."""

    def end(self, words: list[str], lines: list[str], facts: dict[str, Any]) -> None:
        """After the last word."""


class TerminalScreen:
    """Lines for the child and the adult beside it.

    Parameters
    ----------
    asks : bool
        Whether somebody is there to answer.
    """

    def __init__(self, asks: bool) -> None:
        self._asks = asks
        self._console = Console(highlight=False)
        self._bar_shown = False

    def start(self, title: str, lines: list[str]) -> None:
        """Before the first word."""
        self._print(title, style="bold")
        for line in lines:
            self._print(line)

    def part(self, part: Part) -> None:
        """What the part is, and time for it where nothing is listened to meanwhile."""
        self._print("")
        for line in part_words.lines(part):
            self._print(f"  {line}")
        if self._asks and isinstance(part, Meet | Apply):
            with suppress(EOFError):
                input("  Press Enter when you are ready. ")

    def word(self, reading: Reading, place: tuple[int, int]) -> None:
        """A word to be read."""
        number, count = place
        self._print("")
        self._print(
            f"{number:>3} of {count}   ", reading.word, f"   {kind_words.graphemes(reading)}"
        )

    def level(self, dbfs: float) -> None:
        """A bar that moves with the voice; nothing where the output is no terminal."""
        if self._console.is_terminal:
            marks = round(BAR_MARKS * max(0.0, 1 - dbfs / QUIET_DBFS))
            self._bar_shown = True
            print(f"\r  I'm listening {'|' * marks:<{BAR_MARKS}}", end="", flush=True)

    def tried(self, judgement: Judgement, reading: Reading, step: Step) -> None:
        """What to do next, where it is to be read again."""
        if self._bar_shown:
            print("\r" + " " * (BAR_MARKS + 18), end="\r")
            self._bar_shown = False
        if step is Step.AGAIN:
            self._print(f"  {kind_words.try_again(judgement, reading)}")

    def ask(self, reading: Reading) -> str | None:
        """Ask the adult, and again until the answer is one of those offered."""
        if not self._asks:
            return None
        question = kind_words.ask_adult(reading)
        while True:
            try:
                answer = input(question).strip().lower()
            except EOFError:
                return None
            if answer in kind_words.ADULT_ANSWERS:
                return kind_words.ADULT_ANSWERS[answer]
            question = "  Please type a, n, s or just Enter: "

    def done(self, done: Done) -> None:
        """A kind word."""
        self._print(f"  {kind_words.turn_end(done.turn, done.reading)}")

    def trouble(self, reading: Reading, trouble: Trouble) -> None:
        """Say what was wrong with the recording."""
        self._print(f"  {trouble}")

    def end(self, words: list[str], lines: list[str], facts: dict[str, Any]) -> None:
        """A calm end."""
        self._print("")
        self._print(kind_words.farewell(words))
        for line in lines:
            self._print(line)

    def _print(self, *parts: str, style: str = "") -> None:
        text = Text(style=style)
        for number, part in enumerate(parts):
            text.append(part, "bold" if number == 1 else "")
        self._console.print(text, soft_wrap=not self._console.is_terminal)


class JsonScreen:
    """One JSON object a line: each turn once it is committed, and the sitting at the end."""

    def start(self, title: str, lines: list[str]) -> None:
        """Nothing: the end says it all."""

    def part(self, part: Part) -> None:
        """The part, with what it holds."""
        self._line(part_json(part))

    def word(self, reading: Reading, place: tuple[int, int]) -> None:
        """Nothing until it has been read."""

    def level(self, dbfs: float) -> None:
        """Nothing."""

    def tried(self, judgement: Judgement, reading: Reading, step: Step) -> None:
        """Nothing until the turn is committed."""

    def ask(self, reading: Reading) -> str | None:
        """Nobody is asked: what could not be told stays so."""
        return None

    def done(self, done: Done) -> None:
        """The turn, with every try."""
        outcome = done.turn.outcome
        self._line(
            {
                "word": done.turn.word,
                "graphemes": [unit.grapheme for unit in done.reading.splits[0].units],
                "verdict": None if outcome is None else outcome.verdict,
                "slip": None if outcome is None else outcome.slip,
                "gpc": None if outcome is None else outcome.gpc,
                "turn": done.number,
                "tries": [asdict(each) for each in done.turn.tries],
            }
        )

    def trouble(self, reading: Reading, trouble: Trouble) -> None:
        """The word and what was wrong."""
        error = {"what": trouble.what, "why": trouble.why, "mend": trouble.mend}
        self._line({"word": reading.word, "error": error})

    def end(self, words: list[str], lines: list[str], facts: dict[str, Any]) -> None:
        """The sitting."""
        self._line({**facts, "words_read": words})

    @staticmethod
    def _line(data: dict[str, Any]) -> None:
        sys.stdout.write(json.dumps(data, ensure_ascii=False) + "\n")
        sys.stdout.flush()
