"""Read the network's scores of every frame out of libvosk, to compare them with PyTorch's.

Vosk gives no frame scores. A graph whose paths take the best symbol in all frames but one, and a
named symbol in that one, makes it list them all.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from speech import vosk_gate
from speech.audio import RATE, Samples
from speech.kaldi import EPSILON, Arc, enter, fst_bytes
from speech.live import FILES, WHAT, frames_of
from speech.live_graph import ANYTHING
from speech.phones import SYMBOLS


def frame_scores(folder: Path, samples: Samples, step: int) -> NDArray[np.float64]:
    """Log-probabilities that libvosk computes, less the best one of each frame.

    Parameters
    ----------
    folder : Path
        A live listener's model.
    samples : ndarray, shape (n,), float32
    step : int
        Samples handed over at a time.

    Returns
    -------
    ndarray, shape (frames of 30 ms, 41)
        ``-inf`` where a symbol lies beyond the reach of the model's settings.
    """
    frames = frames_of(len(samples))
    out = np.full((frames, len(SYMBOLS)), -np.inf)
    words = [f"{frame}.{symbol}" for frame in range(frames) for symbol in range(len(SYMBOLS))]
    recogniser = _recogniser(folder, _graph(frames), words)
    recogniser.SetMaxAlternatives(len(words))
    whole = _pcm(samples)
    for first in range(0, len(whole), step):
        recogniser.AcceptWaveform(whole[first : first + step].tobytes())
    for each in json.loads(recogniser.FinalResult())["alternatives"]:
        frame, symbol = map(int, each["text"].split("."))
        out[frame, symbol] = each["confidence"]
    return out - out.max()


def best_symbols(folder: Path, samples: Samples) -> list[int]:
    """Number of the best symbol of each frame, as libvosk computes it."""
    words = [str(symbol) for symbol in range(len(SYMBOLS))]
    loop = [[Arc(enter(symbol), 1 + symbol, 0.0, 0) for symbol in range(len(SYMBOLS))]]
    # Only the best path is wanted: a lattice of all of them would be endless.
    recogniser = _recogniser(folder, fst_bytes(loop, {0: 0.0}), words, "--lattice-beam=0.01\n")
    recogniser.AcceptWaveform(_pcm(samples).tobytes())
    return [int(word) for word in json.loads(recogniser.FinalResult())["text"].split()]


def _recogniser(folder: Path, graph: bytes, words: list[str], settings: str = "") -> Any:
    """The model with another graph and further settings."""
    with tempfile.TemporaryDirectory() as name:
        probe = Path(name)
        for file in FILES:
            (probe / file).parent.mkdir(exist_ok=True)
            shutil.copyfile(folder / file, probe / file)
        with (probe / "conf" / "model.conf").open("a") as conf:
            conf.write(settings)
        (probe / "graph").mkdir()
        (probe / "graph" / "HCLG.fst").write_bytes(graph)
        table = "".join(f"{word} {n}\n" for n, word in enumerate(["<eps>", *words]))
        (probe / "graph" / "words.txt").write_text(table)
        return vosk_gate.recogniser(vosk_gate.model(probe, WHAT), RATE)


def _pcm(samples: Samples) -> NDArray[np.int16]:
    return np.clip(np.round(samples * 32768.0), -32768, 32767).astype("<i2")


def _graph(frames: int) -> bytes:
    """States 0..frames before the frame looked at, then as many after it."""
    arcs: list[list[Arc]] = [[] for _ in range(2 * frames + 1)]
    after = frames
    for frame in range(frames):
        if frame + 1 < frames:
            arcs[frame].append(Arc(enter(ANYTHING), EPSILON, 0.0, frame + 1))
            arcs[after + frame + 1].append(Arc(enter(ANYTHING), EPSILON, 0.0, after + frame + 2))
        for symbol in range(len(SYMBOLS)):
            word = 1 + frame * len(SYMBOLS) + symbol
            arcs[frame].append(Arc(enter(symbol), word, 0.0, after + frame + 1))
    return fst_bytes(arcs, {2 * frames: 0.0})
