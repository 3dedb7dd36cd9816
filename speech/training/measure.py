"""Forced choice and phone error rate on held-out children, while training."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein
from torch import nn
from torch.nn import functional as F

from speech.features import log_mel
from speech.phones import PAUSE, SHORT_LONG, SYMBOLS, VOWELS, encode
from speech.training import corpus
from speech.training.partition import Partition, stem

Hear = Callable[[nn.Module, NDArray[np.float32]], torch.Tensor]
"""Network and samples to symbol log-probabilities, shape (frames, symbols)."""


def partners(phones: str) -> list[str]:
    """The string with one vowel changed for its short/long partner, each such string.

    AH is changed only where it is the only vowel: elsewhere it is mostly the schwa.
    """
    symbols = phones.split()
    vowels = [symbol for symbol in symbols if symbol in VOWELS]
    changed = []
    for place, symbol in enumerate(symbols):
        if symbol in SHORT_LONG and (symbol != "AH" or len(vowels) == 1):
            changed.append(" ".join([*symbols[:place], SHORT_LONG[symbol], *symbols[place + 1 :]]))
    return changed


def found_at(margins: NDArray[np.float64], false_share: float) -> float:
    """Share of slips found at the threshold where ``false_share`` of right readings are flagged.

    ``margins`` (trials,): log-likelihood as written less that of the partner. Judging the same
    sound against the partner's spelling turns the sign, and is then a slip.
    """
    threshold = np.quantile(margins, false_share)
    return float(np.mean(-margins < threshold))


@torch.no_grad()
def scores(network: nn.Module, samples: NDArray[np.float32], views: Sequence[int]) -> torch.Tensor:
    """Symbol log-probabilities (frames, symbols) of one clip with 0.1 s of silence around it.

    Those of several ``views`` are averaged in the logarithm and scaled to sum to 1 again.
    """
    padded = np.pad(samples, 1600)
    device = next(network.parameters()).device
    mel = torch.from_numpy(log_mel(padded)).to(device)
    mel = mel[:, : mel.shape[1] // 2 * 2]
    heard: torch.Tensor = network(
        mel.expand(len(views), -1, -1), torch.tensor(views, device=device)
    )
    return heard.mean(0).log_softmax(-1).cpu()


def log_likelihood(frame_scores: torch.Tensor, phones: str) -> float:
    """CTC log-likelihood of a phone string (torch's own implementation)."""
    label = torch.tensor([encode(phones)])
    return -float(
        F.ctc_loss(
            frame_scores[:, None], label, torch.tensor([len(frame_scores)]),
            torch.tensor([label.shape[1]]), reduction="sum",
        )
    )  # fmt: skip


def greedy(frame_scores: torch.Tensor) -> list[str]:
    """Best symbol a frame, repeats and blanks dropped, pauses left out."""
    best = frame_scores.argmax(1).tolist()
    kept = [b for before, b in zip([0, *best], best, strict=False) if b and b != before]
    return [SYMBOLS[k] for k in kept if SYMBOLS[k] != PAUSE]


def held_out(
    network: nn.Module, folder: Path, partition: Partition, hear: Hear
) -> dict[str, float]:
    """Figures on the calibration and test children; ``hear`` is how the network hears a clip."""
    network = network.eval()
    figures: dict[str, float] = {}
    utterances = corpus.load(folder)
    for name, speakers, stems in (
        ("calibration", partition.calibration_speakers, partition.calibration_stems),
        ("test", partition.test_speakers, partition.test_stems),
    ):
        margins: dict[str, list[float]] = {"new words": [], "seen words": [], "utterances": []}
        wrong = total = 0
        for spoken in (s for s in utterances if s.speaker in speakers):
            whole = hear(network, spoken.samples)
            expected = [s.phone for s in spoken.segments]
            wrong += Levenshtein.distance(greedy(whole), expected)
            total += len(expected)
            said = corpus.said(spoken.segments)
            right = log_likelihood(whole, said)
            margins["utterances"] += [right - log_likelihood(whole, p) for p in partners(said)]
            for number, word in enumerate(spoken.words):
                clip = corpus.cut(spoken, *corpus.word_range(spoken, number))
                group = "new words" if stem(word) in stems else "seen words"
                if len(clip.samples) < 1600 or not partners(clip.phones):
                    continue
                part = hear(network, clip.samples)
                right = log_likelihood(part, clip.phones)
                margins[group] += [right - log_likelihood(part, p) for p in partners(clip.phones)]
        figures[f"{name} PER"] = round(wrong / total, 4)
        for group, values in margins.items():
            array = np.array(values)
            figures[f"{name} {group} trials"] = len(array)
            figures[f"{name} {group} FC"] = round(float(np.mean(array > 0)), 4)
            if group != "utterances":
                for share in (0.02, 0.03, 0.05):
                    figures[f"{name} {group} found at {share:.0%}"] = round(
                        found_at(array, share), 3
                    )
    return figures
