"""A sitting on a stage: from the hello to the goodbye, each turn committed before the next word."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any, TypeVar

from companion.pages.ear import muted, nothing_said
from companion.pages.lettering import Lettered, joined, lettered
from companion.pages.resting_run import AllDone, RestingRun
from companion.pages.troubles import told
from companion.phonics.reading import Reading
from companion.practice import cut_off, kind_words, spoken_words
from companion.practice.after_me import own_of
from companion.practice.cut_off import CutOff
from companion.practice.ending import OffScreen
from companion.practice.keeping import keeping
from companion.practice.listening import live_turn
from companion.practice.plan import Apply, Meet, Part, Plan, SightWord
from companion.practice.sitting import Keeping, Sitting, Step
from companion.practice.turn import judge
from companion.record.consent_text import child_line
from companion.record.home import ChildFolder
from companion.record.settings import Settings
from companion.record.trouble import ConsentMissing, LogTrouble
from speech.audio import Utterance
from speech.capture import EarLost, EarMissing
from speech.ears import Ears
from speech.live import LiveTurn

LONGEST_S = 300.0
"""A sitting takes 3 to 5 minutes; after five, rests not counted, no further word is begun."""
QUIET_ROUNDS = 3
"""How often nothing at all may be heard, some ten seconds each, before the sitting rests."""
SILENT_PRESSES = 2
"""How often the button may be pressed without a word before the word is told."""
HELLO_S, MOVE_ON_S, MOVE_ON_AFTER_HELP_S = 2.0, 0.9, 2.2
"""How long a scene stays once the voice has spoken, where it moves on by itself."""

_MUTED = EarLost(
    "The microphone gives no sound at all",
    "it is muted, switched off, or turned down to nothing",
    "Look for a switch on the microphone or headset, and at the computer's sound settings.",
)

ADULT_SAID = {"as written": "as_written", "not as written": "not", "skip": "skip", "go on": None}
"""What is pressed when the listener could not tell, and what is recorded."""


T = TypeVar("T")


@dataclass(frozen=True)
class Order:
    """What a sitting is to be.

    Attributes
    ----------
    folder : ChildFolder
        The child.
    plan : Plan
        Its parts and words.
    settings : Settings
        How the pages are set.
    goes_on : CutOff or None
        The sitting that was cut off and now goes on.
    """

    folder: ChildFolder
    plan: Plan
    settings: Settings
    goes_on: CutOff | None = None


def now() -> datetime:
    """The time here, with its offset."""
    return datetime.now().astimezone()


class SittingRun(RestingRun):
    """One sitting.

    Parameters
    ----------
    order : Order
        What it is to be.
    ears : Future of Ears
        Loaded by the time the first word has been read, as a rule.
    """

    def __init__(self, order: Order, ears: Future[Ears]) -> None:
        super().__init__(order.folder, order.plan.title, order.settings.volume)
        self._order = order
        self._ears = ears
        self._own = own_of(order.folder)
        self._hard: dict[str, tuple[int, ...]] = {
            part.word.word: part.hard for part in order.plan.parts if isinstance(part, SightWord)
        }

    def play(self) -> None:
        """Play the sitting."""
        try:
            with self._listening, keeping(self._order.folder) as kept:
                self._sit(kept)
        finally:
            self._voice.close()

    # -- the course of it --------------------------------------------------------------------

    def _sit(self, kept: Keeping | None) -> None:
        plan, settings, goes_on = self._order.plan, self._order.settings, self._order.goes_on
        readings = plan.readings(settings.accent)
        read = goes_on.words if goes_on else ()
        places = cut_off.left_over([each.word for each in plan.words], read)
        number = goes_on.number if goes_on else None
        words = [readings[place] for place in places]
        sitting = Sitting(plan.name, words, kept, now(), settings.accent, number)
        if kept is not None:
            cut_off.close(kept.log, kept.permit, leave=sitting.number)
        line = child_line(kept is not None, kept is not None and kept.clips is not None)
        hello = f"{spoken_words.HELLO} {line}"
        self._voice.prepare_lines(hello, *map(spoken_words.part, plan.parts))
        self._wait_for_page()
        begun = time.monotonic()
        try:
            self._hello(hello, line)
            for place in places:
                if time.monotonic() - begun - self._rested_s > LONGEST_S:
                    break
                for part in plan.before(place):
                    self._part(part)
                self._place = (place + 1, len(readings))
                self._word(sitting)
            self._place = None
            for part in plan.before(len(readings)):
                self._part(part)
        except AllDone:
            pass
        self._listening.close()
        self._place = None
        self._close(sitting, line)

    def _hello(self, spoken: str, line: str) -> None:
        self._show("hello", ("go on",), line=line)
        self._voice.line(spoken, self.stage.pressed)
        self._answer(HELLO_S)

    def _part(self, part: Part) -> None:
        spoken = spoken_words.part(part)
        match part:
            case Meet():
                self._meet(part, spoken)
            case SightWord():
                self._show("part", ("go on",), lines=[spoken])
                self._voice.line(spoken, self.stage.pressed)
                self._answer(MOVE_ON_S)
            case Apply():
                self._show("caption", ("go on",), caption=part.caption)
                self._voice.line(spoken, self.stage.pressed)
                self._answer()
            case OffScreen():
                return  # the goodbye shows it
            case _:
                self._show("part", ("go on",), lines=[spoken])
                self._voice.line(spoken, self.stage.pressed)
                self._answer(MOVE_ON_S)

    def _meet(self, part: Meet, spoken: str) -> None:
        grapheme = part.gpcs[0].grapheme
        aid = part.aid
        while True:
            self._show(
                "meet",
                ("go on", "hear"),
                grapheme=joined(grapheme),
                exemplars=part.exemplars,
                together=kind_words.together(grapheme),
                phrase=aid.phrase if aid else None,
                picture=aid.picture if aid else None,
            )
            self._voice.line(spoken, self.stage.pressed)
            for gpc, exemplar in zip(part.gpcs, part.exemplars, strict=False):
                for phone in gpc.phonemes:
                    self._voice.sound(phone, self.stage.pressed)
                self._voice.line(exemplar, self.stage.pressed)
            if aid and aid.phrase:
                self._voice.line(aid.phrase, self.stage.pressed)
            if self._answer() != "hear":
                return

    def _close(self, sitting: Sitting, line: str) -> None:
        try:
            sitting.close(now())
        except (ConsentMissing, LogTrouble) as error:
            self._show("stopped", (), **told(error))
            return
        words = [done.turn.word for done in sitting.done]
        off = next((p for p in self._order.plan.parts if isinstance(p, OffScreen)), None)
        earlier = list(self._order.goes_on.words) if self._order.goes_on else []
        shown = off if words else None
        self._show(
            "end",
            (),
            farewell=kind_words.farewell([]) if not words else spoken_words.GOODBYE,
            words=[*earlier, *words],
            off=shown.line if shown else None,
            line=line,
        )
        if words and not self.ending.is_set():
            self._voice.line(spoken_words.GOODBYE, self.stage.pressed)
            self._voice.line(shown.line if shown else "", self.stage.pressed)

    # -- one word ----------------------------------------------------------------------------

    def _word(self, sitting: Sitting) -> None:
        reading = sitting.word
        assert reading is not None, "there is a word for each place"
        self._voice.prepare(reading)
        line, spoken, step = "", "", Step.AGAIN
        while step is Step.AGAIN:
            utterance = self._hear(reading, line, spoken, bool(sitting.tries))
            if utterance is None:
                self._passed_by(sitting, reading)
                return
            judgement = judge(utterance.samples, reading, self._ears.result().scorer, own=self._own)
            hear = partial(sitting.hear, judgement, now(), utterance)
            step = self._committed(hear, partial(sitting.decide, None, now()), Step.NEXT)
            line = kind_words.try_again(judgement, reading)
            spoken = spoken_words.again(judgement, reading)
        if step is Step.ASK_ADULT:
            decide = partial(sitting.decide, self._ask_adult(reading), now())
            self._committed(decide, decide, None)
        done = sitting.done[-1]
        outcome = done.turn.outcome
        helped = outcome is None or outcome.verdict != "as_written"
        self._tell(reading, kind_words.turn_end(done.turn, done.reading), helped)

    def _passed_by(self, sitting: Sitting, reading: Reading) -> None:
        """The button was pressed and nothing was said: the word is told, and nothing marked."""
        if sitting.tries:
            decide = partial(sitting.decide, None, now())
            self._committed(decide, decide, None)
        else:
            sitting.pass_by()
        graphemes = kind_words.graphemes(reading)
        self._tell(reading, f"The word is {reading.word}: {graphemes}.", helped=True)

    def _hear(self, reading: Reading, line: str, spoken: str, help_shown: bool) -> Utterance | None:
        """One try at a word, with as many rests before it as are needed.

        None when the button was pressed twice without a word.
        """
        facts = {
            "word": self._lettered(reading),
            "buttons": help_shown or self._order.settings.buttons,
            "pseudo": reading.pseudo,
        }
        quiet = pressed = 0
        while True:
            if spoken:
                self._show("word", ("read",), **facts, line=line, listening=False)
                self._voice.line(spoken, self.stage.pressed)
                if self._turned_away(self.stage.answer(0), left_alone=False):
                    continue
                spoken = ""
            try:
                self._listening.open()
                live = self._live_turn(reading)
                self._show("word", ("read",), **facts, line=line, listening=True)
                utterance, left_alone = self._listening.hear(live)
            except (EarMissing, EarLost) as error:
                self._trouble(error)
                continue
            answer = self.stage.answer(0)
            if self._turned_away(answer, left_alone):
                continue
            if not nothing_said(utterance):
                return utterance
            if answer is not None:
                pressed += 1
                if pressed >= SILENT_PRESSES:
                    return None
            elif muted(utterance):
                self._trouble(_MUTED)
                continue
            else:
                quiet += 1
            if quiet >= QUIET_ROUNDS:
                self._rest("quiet")
                quiet = 0
            line = spoken = spoken_words.READ_ON

    def _live_turn(self, reading: Reading) -> LiveTurn | None:
        """The live listener's turn for a word; None while the listeners are still being loaded."""
        if not self._ears.done():
            return None
        return live_turn(self._ears.result().live, reading)

    def _committed(self, act: Callable[[], T], repeat: Callable[[], Any], then: T) -> T:
        """Do what ends in a commit; where the log could not be written, `repeat` until it can.

        Returns
        -------
        T
            What `act` gave, or `then` once a repetition went well.
        """
        try:
            return act()
        except LogTrouble as error:
            trouble = error
        while True:
            self._trouble(trouble)
            try:
                repeat()
                return then
            except LogTrouble as error:
                trouble = error

    def _ask_adult(self, reading: Reading) -> str | None:
        self._show("ask", tuple(ADULT_SAID), word=self._lettered(reading), buttons=True)
        self._voice.line("I could not tell. Grown-up, what did you hear?", self.stage.pressed)
        return ADULT_SAID[self._answer() or "go on"]

    def _tell(self, reading: Reading, line: str, helped: bool) -> None:
        """What the computer says to a word whose turn is over."""
        word = self._lettered(reading)
        while True:
            self._show("answer", ("go on", "hear"), word=word, buttons=True, line=line)
            if helped:
                self._voice.sounds(reading, self.stage.pressed)
            self._voice.word(reading, self.stage.pressed)
            stays = MOVE_ON_AFTER_HELP_S if helped else MOVE_ON_S
            if self._answer(stays if self._order.settings.by_itself else None) != "hear":
                return
            helped = True

    def _lettered(self, reading: Reading) -> Lettered:
        return lettered(reading, self._hard.get(reading.word, ()))
