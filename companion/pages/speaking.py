"""The voice of a sitting: rendered ahead in the background, and silent where there is none."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

from companion.phonics.reading import Reading
from speech.voice import Speech, Voice, VoiceMissing

FAILURES_MAX = 3
"""So often in a row the voice may fail before it is not tried again: a busy loudspeaker comes back,
a missing synthesiser does not, and each attempt takes time from the child."""


class Speaking:
    """Says words, sounds and lines; where there is no voice, it is silent and says why.

    Parameters
    ----------
    volume : float
        0 to 1.
    """

    def __init__(self, volume: float) -> None:
        self._voice = Voice(volume=volume)
        self._renderer = ThreadPoolExecutor(1, "voice")
        self._ready: dict[tuple[str, str], Future[Speech]] = {}
        self._failures = 0
        self.missing: VoiceMissing | None = None
        """Why the last thing was not said; None where it was."""

    def prepare(self, reading: Reading) -> None:
        """Render a word and its sounds while the child reads it."""
        self._word(reading)
        self._sounds(reading)

    def prepare_lines(self, *lines: str) -> None:
        """Render lines that will be said."""
        for text in lines:
            self._line(text)

    def word(self, reading: Reading, stop: threading.Event) -> None:
        """Say the word."""
        self._say(self._word(reading), stop)

    def sounds(self, reading: Reading, stop: threading.Event) -> None:
        """Say its sounds, one after another."""
        self._say(self._sounds(reading), stop)

    def sound(self, phones: str, stop: threading.Event) -> None:
        """Say one sound: ARPAbet, as in ``"AY"``."""
        self._say(self._render("sound", phones, lambda: self._voice.sounds([phones])), stop)

    def line(self, text: str, stop: threading.Event) -> None:
        """Say a line."""
        if text:
            self._say(self._line(text), stop)

    def close(self) -> None:
        """Drop what was to be rendered."""
        self._renderer.shutdown(wait=False, cancel_futures=True)

    def _word(self, reading: Reading) -> Future[Speech]:
        phones = reading.accepted[0] if reading.pseudo else None
        return self._render("word", reading.word, lambda: self._voice.word(reading.word, phones))

    def _sounds(self, reading: Reading) -> Future[Speech]:
        sounds = [said[0] for said in reading.sounds]
        return self._render("sounds", reading.word, lambda: self._voice.sounds(sounds))

    def _line(self, text: str) -> Future[Speech]:
        return self._render("line", text, lambda: self._voice.line(text))

    def _render(self, kind: str, text: str, render: Callable[[], Speech]) -> Future[Speech]:
        before = self._ready.get((kind, text))
        if before is None or (before.done() and before.exception() is not None):
            self._ready[kind, text] = self._renderer.submit(render)
        return self._ready[kind, text]

    def _say(self, speech: Future[Speech], stop: threading.Event) -> None:
        if self._failures >= FAILURES_MAX or stop.is_set():
            return
        try:
            self._voice.play(speech.result(), stop)
            self._failures, self.missing = 0, None
        except VoiceMissing as error:
            self._failures += 1
            self.missing = error
