"""Forced choice and phone error rate on held-out children, while training."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein
from torch.nn import functional as F

from speech.features import log_mel
from speech.phones import PAUSE, SHORT_LONG, SYMBOLS, VOWELS, encode
from speech.training import corpus
from speech.training.network import PhoneNetwork
from speech.training.partition import Partition, stem


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
def scores(network: PhoneNetwork, samples: NDArray[np.float32]) -> torch.Tensor:
    """Symbol log-probabilities (frames, symbols) of one clip with 0.1 s of silence around it."""
    padded = np.pad(samples, 1600)
    device = next(network.parameters()).device
    mel = torch.from_numpy(log_mel(padded))[None].to(device)
    out: torch.Tensor = network(mel)[0].cpu()
    return out


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


def held_out(network: PhoneNetwork, folder: Path, partition: Partition) -> dict[str, float]:
    """Figures on the calibration and test children."""
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
            whole = scores(network, spoken.samples)
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
                part = scores(network, clip.samples)
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
