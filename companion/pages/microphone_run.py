"""The microphone check on a stage: five seconds of it, and what to change."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from companion.pages.room import Run
from companion.pages.stage import Stage
from companion.pages.troubles import told
from companion.practice.listening import open_microphone
from companion.record.consent import PractisePermit
from companion.record.home import ChildFolder
from speech import soundcheck, voice
from speech.audio import Samples
from speech.capture import EarLost, EarMissing, Microphone
from speech.levels import FRAME, decibels
from speech.soundcheck import CHECK_S


class ShownEar:
    """A microphone whose level is shown on a stage as it is listened to."""

    def __init__(self, microphone: Microphone, stage: Stage) -> None:
        self._microphone = microphone
        self._stage = stage
        self.lost_pieces = 0
        self.latency_s = microphone.latency_s

    def pieces(self) -> Iterator[Samples]:
        """Yield sound as it comes."""
        for piece in self._microphone.pieces():
            if len(piece):
                self._stage.level(float(decibels(np.mean(np.square(piece, dtype=np.float64)))))
            self.lost_pieces = self._microphone.lost_pieces
            yield piece


class MicrophoneRun(Run):
    """One check.

    Parameters
    ----------
    folder : ChildFolder
        The child whose adult agreed to the microphone.
    """

    def __init__(self, folder: ChildFolder) -> None:
        super().__init__(folder, "The microphone")
        self._permit = PractisePermit(folder)

    def play(self) -> None:
        """Listen, and say what was found."""
        try:
            with open_microphone(self._permit) as microphone:
                self.stage.show("check", seconds=round(CHECK_S))
                ear = ShownEar(microphone, self.stage)
                heard = soundcheck.take(ear, voice.play)
                device = microphone.device_name
        except (EarMissing, EarLost) as error:
            self.stage.show("checked", device=None, advice=(), trouble=told(error))
            return
        if len(heard.samples) < FRAME:
            advice: tuple[str, ...] = (soundcheck.ADVICE["muted"],)
        else:
            advice = soundcheck.weigh(heard).advice
        self.stage.show("checked", device=device, advice=advice, trouble=None)
