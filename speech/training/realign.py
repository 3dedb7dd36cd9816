"""Check pocketsphinx's word places against an exported phone scorer, and mark the doubtful.

    python -m speech.training.realign PREPARED_FOLDER [MODEL.onnx]

The scorer's own CTC alignment says where each phone peaks. A word whose peaks lie outside its
place, or that fits far worse than what the network freely hears, is marked ``doubtful`` in
``doubtful.json`` (file to word numbers): training then uses it only inside whole utterances.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from tqdm import tqdm

from speech.audio import RATE
from speech.phones import encode
from speech.scorer import EDGE_S, PhoneScorer, ctc_log_likelihoods
from speech.training import corpus

SLACK_FRAMES = 3
"""20 ms frames a peak may lie outside its word."""
WORST_PER_PHONE = 6.0
"""Nats per phone by which a word may fit worse than the free path."""


def peaks(frame_scores: NDArray[np.float32], label: tuple[int, ...]) -> NDArray[np.int64]:
    """Frame at which each symbol of ``label`` is entered on the best CTC path (Viterbi)."""
    states = np.zeros(2 * len(label) + 1, np.int64)
    states[1::2] = label
    skip = np.zeros(len(states), bool)
    skip[2:] = (states[2:] != 0) & (states[2:] != states[:-2])
    score = np.full(len(states), -np.inf)
    score[:2] = frame_scores[0, states[:2]]
    back = np.zeros((len(frame_scores), len(states)), np.int8)
    for frame in range(1, len(frame_scores)):
        options = np.stack(
            [
                score,
                np.concatenate([[-np.inf], score[:-1]]),
                np.where(skip, np.concatenate([[-np.inf] * 2, score[:-2]]), -np.inf),
            ]
        )
        back[frame] = options.argmax(0)
        score = options.max(0) + frame_scores[frame, states]
    state = len(states) - (1 if score[-1] > score[-2] else 2)
    entered = np.zeros(len(label), np.int64)
    for frame in range(len(frame_scores) - 1, -1, -1):
        if state % 2:
            entered[state // 2] = frame
        state -= int(back[frame, state])
    return entered


def doubtful_words(scorer: PhoneScorer, spoken: corpus.Spoken) -> list[int]:
    """Word numbers whose place or phones the scorer does not confirm."""
    scores = scorer.hear(spoken.samples).frame_scores[0]
    label = encode(" ".join(s.phone for s in spoken.segments))
    edge = int(EDGE_S * RATE)
    places = peaks(scores, label) * 320 - edge  # in samples
    doubtful = []
    for word in range(len(spoken.words)):
        numbers = [i for i, s in enumerate(spoken.segments) if s.word == word]
        start, end = spoken.segments[numbers[0]].start, spoken.segments[numbers[-1]].end
        slack = SLACK_FRAMES * 320
        inside = (places[numbers] >= start - slack) & (places[numbers] <= end + slack)
        first = max(0, (start + edge) // 320 - 4)
        window = scores[first : (end + edge) // 320 + 5]
        phones = " ".join(spoken.segments[i].phone for i in numbers)
        fit = float(ctc_log_likelihoods(window, [encode(phones)])[0] - window.max(1).sum())
        if not inside.all() or fit < -WORST_PER_PHONE * len(numbers):
            doubtful.append(word)
    return doubtful


def main() -> None:
    """Write ``doubtful.json``."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("model", type=Path, nargs="?", help="the bundled one when left out")
    args = parser.parse_args()
    utterances = corpus.load(args.folder)
    _state.update(model=args.model, utterances=utterances)
    with multiprocessing.get_context("fork").Pool(initializer=_load) as workers:
        found = list(
            tqdm(
                workers.imap(_doubtful, range(len(utterances)), chunksize=8),
                desc="realign", total=len(utterances), unit="utterance", mininterval=10,
            )
        )  # fmt: skip
    rows = {spoken.file: words for spoken, words in zip(utterances, found, strict=True) if words}
    (args.folder / "doubtful.json").write_text(json.dumps(rows))
    print(sum(map(len, rows.values())), "doubtful words")


_state: dict[str, Any] = {}


def _load() -> None:
    # onnxruntime's threads do not survive a fork: each worker opens the model itself
    _state["scorer"] = PhoneScorer.load(_state["model"])


def _doubtful(number: int) -> list[int]:
    return doubtful_words(_state["scorer"], _state["utterances"][number])


if __name__ == "__main__":
    main()
