"""Who and what is held out: speakers and words for calibration and for test.

Both sets are children of 11 or under, and no word of theirs (nor an inflection of it) is in
training from any voice, real or synthetic. Only words that training can spare are held out:
those that the remaining speakers say at most ``MOST_IN_TRAINING`` times.
"""

from __future__ import annotations

import collections
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

SEED = 132
MOST_IN_TRAINING = 15
_SUFFIXES = (
    "ings", "ing", "ies", "ied", "ers", "est", "ed", "es", "er", "ly", "s", "d", "y", "e",
)  # fmt: skip


@dataclass(frozen=True)
class Partition:
    """Speakers and word stems kept out of training."""

    test_speakers: frozenset[str]
    calibration_speakers: frozenset[str]
    test_stems: frozenset[str]
    calibration_stems: frozenset[str]

    @property
    def held_stems(self) -> frozenset[str]:
        """Stems that no training clip may contain."""
        return self.test_stems | self.calibration_stems


def stem(word: str) -> str:
    """A word without its commonest inflections, so that *likes* goes wherever *like* goes."""
    word = word.lower().replace("'s", "").replace("'", "")
    for suffix in _SUFFIXES:
        if word.endswith(suffix) and len(word) - len(suffix) >= 3:
            word = word[: -len(suffix)]
            break
    return word[:-1] if len(word) > 3 and word[-1] == word[-2] else word


def partition(utterances: Sequence[Mapping[str, object]]) -> Partition:
    """Split a corpus listing (rows with ``speaker``, ``age``, ``text``) the same way each time."""
    age = {str(row["speaker"]): int(str(row["age"])) for row in utterances}
    children = sorted(speaker for speaker in age if age[speaker] <= 11)
    rng = random.Random(SEED)
    young = [speaker for speaker in children if age[speaker] <= 8]
    older = [speaker for speaker in children if age[speaker] > 8]
    rng.shuffle(young)
    rng.shuffle(older)
    test = frozenset(young[:5] + older[:4])
    calibration = frozenset(young[5:8] + older[4:7])
    counts: dict[str, collections.Counter[str]] = {
        part: collections.Counter() for part in ("train", "test", "calibration")
    }
    for row in utterances:
        speaker = str(row["speaker"])
        part = "test" if speaker in test else "calibration" if speaker in calibration else "train"
        counts[part].update(stem(word) for word in str(row["text"]).split())
    spare = {word for part in counts for word in counts[part]} - {
        word for word, count in counts["train"].items() if count > MOST_IN_TRAINING
    }
    test_stems = frozenset(spare & set(counts["test"]))
    return Partition(
        test_speakers=test,
        calibration_speakers=calibration,
        test_stems=test_stems,
        calibration_stems=frozenset(spare & set(counts["calibration"])) - test_stems,
    )
