"""Whole captions, heard by a standard Vosk model that the user has downloaded and names.

Such a model knows whole words and repairs a misreading into the word it expects. It serves to
follow a caption, never to judge how a single word was read: that is ``speech.live``'s part.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

import numpy as np

from speech import vosk_gate
from speech.audio import RATE, Samples
from speech.vosk_gate import ListenerTrouble

WHAT: Final = "The model for captions"
MEND: Final = (
    "Name the folder that came out of a Vosk model's archive: the one that holds 'am' and 'graph'."
)


class CaptionListener:
    """A standard Vosk model: speech into words."""

    def __init__(self, model: Any) -> None:
        self._model = model

    @classmethod
    def load(cls, folder: Path) -> CaptionListener:
        """Open a model's folder.

        Raises
        ------
        ListenerTrouble
            The folder is missing, incomplete, damaged, or no model of words.
        """
        # What vosk 0.3.45 asks for in Model::ConfigureV2; missing, some of it ends the program.
        vosk_gate.whole(folder, ("am/final.mdl", "conf/model.conf"), WHAT, MEND)
        features = [folder / "conf" / name for name in ("mfcc.conf", "fbank.conf")]
        graphs = [
            [folder / "graph" / "HCLG.fst", folder / "graph" / "words.txt"],
            [folder / "graph" / "HCLr.fst", folder / "graph" / "Gr.fst"],
        ]
        if not any(file.is_file() for file in features):
            raise _incomplete(folder, "conf/mfcc.conf")
        if not any(all(file.is_file() for file in graph) for graph in graphs):
            raise _incomplete(folder, "graph/HCLG.fst with its words, nor graph/HCLr.fst")
        return cls(vosk_gate.model(folder, WHAT, MEND))

    def hear(self, samples: Samples) -> tuple[str, ...]:
        """The words of a clip (mono, float32, 16 kHz), in order."""
        recogniser = vosk_gate.recogniser(self._model, RATE)
        whole = np.clip(np.round(samples * 32768.0), -32768, 32767).astype("<i2")
        words: list[str] = []
        if recogniser.AcceptWaveform(whole.tobytes()):
            words += json.loads(recogniser.Result())["text"].split()
        words += json.loads(recogniser.FinalResult())["text"].split()
        return tuple(word for word in words if not word.startswith("["))


def _incomplete(folder: Path, lacking: str) -> ListenerTrouble:
    return ListenerTrouble(f"{WHAT} is not complete", f"{folder} has no {lacking}", MEND)
