"""Readings whose truth is known, from a corpus prepared for training: for fitting and measuring.

Single words are cut from children whom training never heard. Each is judged against its own
spelling (as written), against the spelling that its short or long partner would have (a slip),
and against an unlike word (another word). Hiss and hum stand for silence.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein

from companion.phonics.reading import Reading, WordError, reading
from speech import audio
from speech.training import corpus, measure
from speech.training.partition import Partition, partition, stem

LETTER = {"AE": "a", "EY": "a", "EH": "e", "IY": "e", "IH": "i", "AY": "i",
          "AA": "o", "OW": "o", "AH": "u", "UW": "u"}  # fmt: skip


@dataclass(frozen=True)
class Trial:
    """One clip against one word.

    ``said`` is the corpus's phone string of the clip; ``verdict`` the truth; ``new`` whether the
    word was kept out of training.
    """

    samples: NDArray[np.float32]
    reading: Reading
    said: str
    verdict: str
    new: bool
    speaker: str
    age: int


def partner_spelling(word: str, phones: str, partner: str) -> str:
    """How the partner of a word would be spelt: the e taken off, or put on; else as it was."""
    vowel = next(p for p, q in zip(phones.split(), partner.split(), strict=True) if p != q)
    if len(word) > 3 and word.endswith("e") and word[-3] == LETTER[vowel]:
        return word[:-1]
    if len(word) >= 2 and word[-1] not in "aeiouy" and word[-2] == LETTER[vowel]:
        return word + "e"
    return word


def load(folder: Path, part: str) -> Iterator[Trial]:
    """Trials of the ``"calibration"`` or the ``"test"`` children of a prepared folder."""
    rows = [json.loads(line) for line in (folder / "corpus.jsonl").read_text().splitlines()]
    parts: Partition = partition(rows)
    speakers, stems = {
        "calibration": (parts.calibration_speakers, parts.calibration_stems),
        "test": (parts.test_speakers, parts.test_stems),
    }[part]
    rng = random.Random(part)
    words = [
        (spoken, number, word)
        for spoken in corpus.load(folder)
        if spoken.speaker in speakers
        for number, word in enumerate(spoken.words)
    ]
    for spoken, number, word in words:
        clip = corpus.cut(spoken, *corpus.word_range(spoken, number))
        if len(clip.samples) < 1600 or not measure.partners(clip.phones):
            continue
        fixed = (clip.phones, stem(word) in stems, spoken.speaker, spoken.age)
        other = next(
            w for _ in range(1000)
            if Levenshtein.distance((w := rng.choice(words)[2]), word) >= max(4, len(word) - 1)
        )  # fmt: skip
        pairs = [(word, [clip.phones], "as_written"), (other, None, "other_word")]
        pairs += [
            (partner_spelling(word, clip.phones, partner), [partner], "slip")
            for partner in measure.partners(clip.phones)
        ]
        for spelling, phones, verdict in pairs:
            try:
                yield Trial(clip.samples, reading(spelling, phones), fixed[0], verdict, *fixed[1:])
            except WordError:
                continue
    noise = np.random.default_rng(11)
    for number in range(60):
        level = 10 ** noise.uniform(-4.5, -1.3)
        hiss = noise.standard_normal(int(noise.uniform(0.5, 2.5) * 16000))
        slope = np.fft.rfft(hiss) / np.arange(1, len(hiss) // 2 + 2) ** (number % 3 / 2)
        hiss = np.fft.irfft(slope, len(hiss))
        sound = (hiss / np.abs(hiss).max() * level).astype(np.float32)
        yield Trial(sound, reading(words[number * 7 % len(words)][2]), "", "silent", True, "", 0)


def made(folder: Path) -> Iterator[Trial]:
    """Trials of what ``fixtures_audio.make_conditions`` made, by espeak-ng or with nobody reading.

    Its other voices, and the children's clips among it, are left for measuring.
    """
    for line in (folder / "manifest.jsonl").read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        if row["voice"].startswith("espeak") or row["condition"].startswith("nobody"):
            word = reading(row["word"], row.get("phones"), row.get("accent"))
            samples = audio.read(folder / row["audio"]).samples
            yield Trial(samples, word, row.get("said") or "", row["truth"], True, row["voice"], 0)
