"""Two minutes of saying words after the computer, on a stage: heard, and nothing of them shown."""

from __future__ import annotations

from concurrent.futures import Future

from companion.pages.ear import nothing_said
from companion.pages.resting_run import AllDone, RestingRun
from companion.phonics.reading import Reading
from companion.practice.repeating import AfterMe
from companion.record import own_vowels
from companion.record.consent import PractisePermit
from companion.record.home import ChildFolder
from companion.record.settings import Settings
from speech.audio import Utterance
from speech.capture import EarLost, EarMissing
from speech.ears import Ears

ONCE_MORE = "And once more."
QUIET_ROUNDS = 2
"""How often nothing may be said after a word before it is left out."""


class AfterMeRun(RestingRun):
    """One go at it.

    Parameters
    ----------
    folder : ChildFolder
        The child.
    settings : Settings
        Its loudness and accent.
    ears : Future of Ears
        Loaded by the time the first word has been said, as a rule.
    """

    def __init__(self, folder: ChildFolder, settings: Settings, ears: Future[Ears]) -> None:
        super().__init__(folder, "Say it after me", settings.volume)
        self._permit = PractisePermit(folder)
        self._after_me = AfterMe(settings.accent)
        self._ears = ears

    def play(self) -> None:
        """Say the words, hear them said after, and keep the few numbers that come of it."""
        after_me = self._after_me
        self._wait_for_page()
        try:
            with self._listening:
                while (reading := after_me.word) is not None:
                    self._place = after_me.place
                    heard = self._hear(reading)
                    if heard is None:
                        after_me.pass_by()
                    else:
                        after_me.hear(heard.samples, self._ears.result().scorer)
        except AllDone:
            pass
        finally:
            self._voice.close()
        self._place = None
        own = after_me.own()
        if own is not None:
            own_vowels.keep(self._permit, own)
        _, count = after_me.place
        self._show("after_end", (), heard=after_me.heard, count=count, kept=own is not None)

    def _hear(self, reading: Reading) -> Utterance | None:
        """What the child said after a word; None when it said nothing."""
        quiet = 0
        while quiet < QUIET_ROUNDS:
            self._show("after", (), listening=False)
            if self._after_me.again:
                self._voice.line(ONCE_MORE, self.stage.pressed)
            self._voice.word(reading, self.stage.pressed)
            if self._voice.missing is not None:
                raise self._voice.missing  # without a voice there is nothing to be said after
            if self._turned_away(self.stage.answer(0), left_alone=False):
                continue
            try:
                self._listening.open()
                self._show("after", ("read",), listening=True)
                utterance, left_alone = self._listening.hear(None)
            except (EarMissing, EarLost) as error:
                self._trouble(error)
                continue
            if self._turned_away(self.stage.answer(0), left_alone):
                continue
            if not nothing_said(utterance):
                return utterance
            quiet += 1
        return None
