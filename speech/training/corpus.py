"""The real half of training: utterances with phone places, cut into words, parts and splices."""

from __future__ import annotations

import io
import json
import random
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from speech.audio import RATE, to_rate
from speech.phones import PAUSE, SHORT_LONG, VOWELS
from speech.training.partition import Partition, stem

FRAME = RATE // 100
MARGIN_S = 0.12
"""Seconds kept either side of a cut word where the neighbours allow."""
PAUSE_FRAMES = 12
"""A silence of this many 10 ms frames between phones is written as a pause."""


@dataclass(frozen=True)
class Segment:
    """One phone in place: name, word number, start and end in samples."""

    phone: str
    word: int
    start: int
    end: int


@dataclass(frozen=True)
class Spoken:
    """An aligned utterance. ``segments`` hold no silences; gaps between them are silence."""

    file: str
    speaker: str
    age: int
    words: tuple[str, ...]
    samples: NDArray[np.float32]
    segments: tuple[Segment, ...]
    doubtful: frozenset[int] = frozenset()
    """Numbers of words whose place or phones ``realign`` could not confirm."""

    def word_segments(self, word: int) -> tuple[Segment, ...]:
        """Segments of one word."""
        return tuple(s for s in self.segments if s.word == word)


@dataclass(frozen=True)
class Clip:
    """Samples (float32, 16 kHz) and what they say."""

    samples: NDArray[np.float32]
    phones: str


def load(folder: Path) -> list[Spoken]:
    """Every aligned utterance of the prepared folder."""
    listing = {
        row["file"]: row
        for row in map(json.loads, (folder / "corpus.jsonl").read_text().splitlines())
    }
    places = dict(map(json.loads, (folder / "alignment.jsonl").read_text().splitlines()))
    marks_file = folder / "doubtful.json"
    marks = json.loads(marks_file.read_text()) if marks_file.exists() else {}
    spoken = []
    with tarfile.open(folder / "corpus.tar") as tar:
        for member in tar:
            words = places.get(Path(member.name).name)
            file = tar.extractfile(member) if words else None
            if file is None or words is None:
                continue
            samples, rate = soundfile.read(io.BytesIO(file.read()), dtype="float32", always_2d=True)
            row = listing[Path(member.name).name]
            spoken.append(
                Spoken(
                    row["file"], row["speaker"], row["age"], tuple(row["text"].split()),
                    to_rate(samples[:, 0], rate),
                    tuple(
                        Segment(phone, word, start * FRAME, (start + length) * FRAME)
                        for word, phones in words
                        if word >= 0
                        for phone, start, length in phones
                    ),
                    frozenset(marks.get(row["file"], ())),
                )
            )  # fmt: skip
    return spoken


def said(segments: tuple[Segment, ...]) -> str:
    """Phone string of neighbouring segments, with pauses where there is silence between."""
    out: list[str] = []
    for before, segment in zip((None, *segments), segments, strict=False):
        if before is not None and segment.start - before.end >= PAUSE_FRAMES * FRAME:
            out.append(PAUSE)
        out.append(segment.phone)
    return " ".join(out)


def cut(spoken: Spoken, first: int, last: int, margin_s: float = MARGIN_S) -> Clip:
    """Segments ``first``..``last`` with up to ``margin_s`` of the silence around them."""
    parts = spoken.segments[first : last + 1]
    margin = int(margin_s * RATE)
    floor = spoken.segments[first - 1].end if first else 0
    ceiling = (
        spoken.segments[last + 1].start if last + 1 < len(spoken.segments) else len(spoken.samples)
    )
    start = max(parts[0].start - margin, min(floor, parts[0].start))
    end = min(parts[-1].end + margin, max(ceiling, parts[-1].end))
    return Clip(spoken.samples[start:end], said(parts))


def word_range(spoken: Spoken, word: int) -> tuple[int, int]:
    """First and last segment number of a word."""
    numbers = [i for i, s in enumerate(spoken.segments) if s.word == word]
    return numbers[0], numbers[-1]


def training_runs(spoken: Spoken, partition: Partition) -> Iterator[tuple[int, int]]:
    """Longest runs of segments whose words training may hear (first, last segment number)."""
    allowed = [stem(word) not in partition.held_stems for word in spoken.words]
    start = None
    for number, segment in enumerate((*spoken.segments, None)):
        fine = segment is not None and allowed[segment.word]
        if fine and start is None:
            start = number
        if not fine and start is not None:
            yield start, number - 1
            start = None


def joined(pieces: list[NDArray[np.float32]], fade: int = 96) -> NDArray[np.float32]:
    """Pieces one after another with crossfades of ``fade`` samples (6 ms)."""
    out = pieces[0]
    for piece in pieces[1:]:
        n = min(fade, len(out) // 2, len(piece) // 2)
        if n < 2:
            out = np.concatenate([out, piece])
            continue
        ramp = np.linspace(0, 1, n, dtype=np.float32)
        middle = out[-n:] * (1 - ramp) + piece[:n] * ramp
        out = np.concatenate([out[:-n], middle, piece[n:]])
    return out


class Splicer:
    """Makes strings that nobody said out of sounds that one speaker did say.

    A vowel changed for its partner or another, a beginning joined to another word's end, a sound
    left out, or gaps opened between sounds: real voices saying slips and pseudo-words.
    """

    def __init__(self, utterances: list[Spoken], partition: Partition) -> None:
        self._words: list[tuple[Spoken, tuple[Segment, ...]]] = []
        self._vowels: dict[str, list[tuple[Spoken, Segment]]] = {}
        for spoken in utterances:
            for number, word in enumerate(spoken.words):
                segments = spoken.word_segments(number)
                if number in spoken.doubtful or stem(word) in partition.held_stems:
                    continue
                self._words.append((spoken, segments))
                for segment in segments:
                    if segment.phone in VOWELS and segment.end - segment.start >= 4 * FRAME:
                        self._vowels.setdefault(segment.phone, []).append((spoken, segment))

    @property
    def usable(self) -> bool:
        """Whether the speaker said enough to be spliced."""
        return len(self._words) >= 8 and len(self._vowels) >= 4

    def clip(self, rng: random.Random) -> Clip:
        """One spliced word."""
        kind = rng.random()
        spoken, segments = rng.choice(self._words)
        vowel_places = [i for i, s in enumerate(segments) if s.phone in VOWELS]
        if kind < 0.45 and vowel_places:
            return self._vowel_swapped(spoken, segments, rng.choice(vowel_places), rng)
        if kind < 0.75 and vowel_places:
            other, ending = rng.choice(self._words)
            other_vowels = [i for i, s in enumerate(ending) if s.phone in VOWELS]
            if other_vowels:
                head = segments[: vowel_places[0]]
                tail = ending[other_vowels[-1] :]
                pieces = [_sound(spoken, head)] if head else []
                return _margins([*pieces, _sound(other, tail)], (*head, *tail), rng)
        if kind < 0.85 and len(segments) > 2:
            kept = segments[1:] if rng.random() < 0.5 else segments[:-1]
            return _margins([_sound(spoken, kept)], kept, rng)
        if kind < 0.93:
            return self._sounded_out(spoken, segments, rng)
        return _margins([_sound(spoken, segments)], segments, rng)

    def _vowel_swapped(
        self, spoken: Spoken, segments: tuple[Segment, ...], place: int, rng: random.Random
    ) -> Clip:
        old = segments[place]
        wanted = SHORT_LONG.get(old.phone, "") if rng.random() < 0.6 else rng.choice(VOWELS)
        if rng.random() < 0.25 or wanted not in self._vowels:
            wanted = old.phone  # same sound from elsewhere: a join alone must mean nothing
        if wanted not in self._vowels:
            return _margins([_sound(spoken, segments)], segments, rng)
        source, vowel = rng.choice(self._vowels[wanted])
        new = source.samples[vowel.start : vowel.end]
        was = spoken.samples[old.start : old.end]
        gain = np.sqrt((np.mean(was**2) + 1e-8) / (np.mean(new**2) + 1e-8))
        pieces = [new * np.float32(min(gain, 4.0))]
        if place:
            pieces.insert(0, _sound(spoken, segments[:place]))
        if place + 1 < len(segments):
            pieces.append(_sound(spoken, segments[place + 1 :]))
        changed = (*segments[:place], vowel, *segments[place + 1 :])
        return _margins(pieces, changed, rng)

    def _sounded_out(
        self, spoken: Spoken, segments: tuple[Segment, ...], rng: random.Random
    ) -> Clip:
        """Gaps at some of the joints of a word, each written as a pause."""
        out, phones = [], []
        for number, segment in enumerate(segments):
            if number and rng.random() < 0.8:
                length = int(rng.uniform(0.15, 0.6) * RATE)
                out.append(np.zeros(length, np.float32))
                phones.append(PAUSE)
            out.append(_sound(spoken, (segment,)))
            phones.append(segment.phone)
        return Clip(joined(out, 64), " ".join(phones))


def _sound(spoken: Spoken, segments: tuple[Segment, ...]) -> NDArray[np.float32]:
    return spoken.samples[segments[0].start : segments[-1].end]


def _margins(
    pieces: list[NDArray[np.float32]], segments: tuple[Segment, ...], rng: random.Random
) -> Clip:
    return Clip(joined(pieces, rng.choice((48, 96, 160))), " ".join(s.phone for s in segments))
