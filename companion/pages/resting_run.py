"""A run with a voice and a microphone that can rest: what waiting and carrying on are like."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from companion.pages.ear import SLEPT_S, UNWATCHED_S, Listening
from companion.pages.room import Run
from companion.pages.speaking import Speaking
from companion.pages.troubles import told
from companion.record.consent import PractisePermit
from companion.record.home import ChildFolder
from speech.trouble import Trouble

LEFT_S = 1200.0
"""A rest this long ends the run."""
LOOK_S = 0.25
"""How often a waiting run looks whether anybody is still there."""
FIRST_S = 30.0
"""How long a run waits for its page to be shown at first."""
STILL = ("rest", "trouble", "end", "stopped")
"""Scenes in which there is nothing to rest from."""


class AllDone(Exception):
    """The child is done, or has gone."""


class RestingRun(Run):
    """A run that speaks, hears and rests.

    Parameters
    ----------
    folder : ChildFolder
        The child.
    title : str
        What the page is called.
    volume : float
        Of the voice, 0 to 1.

    Raises
    ------
    ConsentMissing
        Nobody has agreed to the microphone.
    """

    def __init__(self, folder: ChildFolder, title: str, volume: float) -> None:
        super().__init__(folder, title)
        self._voice = Speaking(volume)
        self._listening = Listening(PractisePermit(folder), self.stage)
        self._place: tuple[int, int] | None = None
        self._shown: Callable[[], None] = lambda: None
        self._rested_s = 0.0

    def _wait_for_page(self) -> None:
        """Begin only once the page is there: a slow computer takes its time to show it."""
        until = time.monotonic() + FIRST_S
        while self.stage.unwatched_s and time.monotonic() < until and not self.ending.is_set():
            time.sleep(0.02)

    def _answer(self, within_s: float | None = None) -> str | None:
        """The answer to the scene shown; None when none came in time. Rests come in between.

        Raises
        ------
        AllDone
            That was the answer.
        """
        left = within_s
        while True:
            wait = LOOK_S if left is None else min(LOOK_S, left)
            began = time.time()
            answer = self.stage.answer(wait)
            slept = time.time() - began > SLEPT_S
            if self._turned_away(answer, slept or self.stage.unwatched_s > UNWATCHED_S):
                self._shown()
                left = within_s
            elif answer is not None:
                return answer
            elif left is not None:
                left -= wait
                if left <= 0:
                    return None

    def _turned_away(self, answer: str | None, left_alone: bool) -> bool:
        """Whether the sitting rested; it ends here when somebody is done."""
        if answer == "done" or self.ending.is_set():
            raise AllDone
        if answer == "pause" or left_alone:
            self._rest("left alone" if left_alone else "asked")
            return True
        return False

    def _rest(self, why: str) -> None:
        """Close the microphone until somebody carries on."""
        began = time.time()
        self._listening.close()
        before = self._shown
        self._show("rest", ("carry on", "done"), why=why)
        while True:
            answer = self.stage.answer(LOOK_S)
            if answer == "done" or self.ending.is_set() or time.time() - began > LEFT_S:
                raise AllDone
            if answer == "carry on":
                self._rested_s += time.time() - began
                self._shown = before
                return

    def _trouble(self, error: Trouble) -> None:
        """Say what is the matter, and wait until it has been seen to."""
        self._listening.close()
        before = self._shown
        self._show("trouble", ("again", "done"), **told(error))
        self._answer()
        self._shown = before

    def _show(self, name: str, answers: tuple[str, ...], **facts: Any) -> None:
        common = {"place": self._place, "silent": self._voice.missing is not None}
        resting = () if name in STILL else ("pause", "done")

        def show() -> None:
            self.stage.show(name, (*answers, *resting), **common, **facts)
            if self.ending.is_set():
                self.stage.pressed.set()  # nothing is to be waited for

        self._shown = show
        show()
