"""Figures of the exported live listener on held-out children, through libvosk itself.

    python -m speech.training.live_measure PREPARED_FOLDER

The trials are those of ``speech.training.measure``; here each string is scored by its best
alignment (Viterbi), as the program does.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein

from speech.audio import RATE, Samples
from speech.live import EDGE_S, MODEL, LiveListener
from speech.phones import PAUSE, SYMBOLS
from speech.training import corpus, measure
from speech.training.corpus import Spoken
from speech.training.live_probe import best_symbols
from speech.training.partition import partition, stem

Margins = NDArray[np.float64]


def greedy(samples: Samples) -> list[str]:
    """Best symbol a frame as libvosk computes it, repeats, blanks and pauses left out."""
    numbers = best_symbols(MODEL, np.pad(samples, round(EDGE_S * RATE)))
    kept = [b for a, b in zip([0, *numbers], numbers, strict=False) if b and b != a]
    return [SYMBOLS[number] for number in kept if SYMBOLS[number] != PAUSE]


def margins(listener: LiveListener, spoken: Spoken, word: int) -> list[float]:
    """By how much a word cut out of an utterance fits better as said than as each partner."""
    clip = corpus.cut(spoken, *corpus.word_range(spoken, word))
    others = measure.partners(clip.phones)
    if len(clip.samples) < 1600 or not others:
        return []
    loglik = listener.score(clip.samples, [clip.phones, *others]).loglik
    return [loglik[clip.phones] - loglik[other] for other in others]


def shown(name: str, found: Margins) -> str:
    """One line: trials, forced choice, and slips found at three shares of false ones."""
    shares = (0.02, 0.03, 0.05)
    at = ", ".join(f"{measure.found_at(found, share):.1%} at {share:.0%}" for share in shares)
    return f"{name:24s} {len(found):4d} trials, FC {np.mean(found > 0):.3f}, found {at}"


def main() -> None:
    """Print the figures of the calibration and of the test children."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="what speech.training.prepare wrote")
    folder = parser.parse_args().folder
    rows = [json.loads(line) for line in (folder / "corpus.jsonl").read_text().splitlines()]
    parts = partition(rows)
    listener = LiveListener.load()
    utterances = corpus.load(folder)
    for name, speakers, stems in (
        ("calibration", parts.calibration_speakers, parts.calibration_stems),
        ("test", parts.test_speakers, parts.test_stems),
    ):
        found: dict[bool, list[float]] = {True: [], False: []}
        wrong = total = 0
        for spoken in (each for each in utterances if each.speaker in speakers):
            expected = [segment.phone for segment in spoken.segments]
            wrong += Levenshtein.distance(greedy(spoken.samples), expected)
            total += len(expected)
            for number, word in enumerate(spoken.words):
                found[stem(word) in stems] += margins(listener, spoken, number)
        print(f"{name} children: PER {wrong / total:.3f}")
        print(shown("  words new to training", np.array(found[True])))
        print(shown("  words in training", np.array(found[False])), flush=True)


if __name__ == "__main__":
    main()
