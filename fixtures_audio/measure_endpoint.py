"""Measure how well `speech.endpoint` finds the turns in the clips of the manifest.

Run from the top of the repository::

    python -m fixtures_audio.measure_endpoint

Each clip that has speech in it is put after 0.6 s of a room and before 3 s of it, at several
distances between speech and room noise, and played through `speech.endpoint.Watch` 30 ms at a
time, as a microphone would. Where the speech really is comes from the clip before any noise is
added: the frames within 40 dB of its loudest. Printed, for each room: turns ended before the
child had finished, turns not ended at all, and how far the end lay from the truth.
"""

import argparse
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from speech.audio import RATE, Samples, read
from speech.endpoint import MARGIN_S, Watch
from speech.levels import FRAME_S, frame_levels

Floats = npt.NDArray[np.float64]
Noise = Callable[[int, np.random.Generator], Floats]

HERE: Final = Path(__file__).parent
BEFORE_S: Final = 0.6
AFTER_S: Final = 3.0
REACH_DB: Final = 40.0
STEP: Final = 480
CLEAN: Final = ("quiet room", "tight")


def clean_clips(manifest: Path) -> Iterator[Samples]:
    """Yield the clips with speech and no noise to speak of."""
    for line in manifest.read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        if row["truth"] != "silent" and row["condition"] in CLEAN:
            yield read(manifest.parent / row["audio"]).samples


def span_s(clean: Samples) -> tuple[float, float]:
    """Return start and end of the speech in a clip without noise, in seconds."""
    levels = frame_levels(clean).max(axis=1)
    heard = np.flatnonzero(levels > max(levels.max() - REACH_DB, levels.min() + 6))
    return heard[0] * FRAME_S, (heard[-1] + 1) * FRAME_S


def rumble(count: int, rng: np.random.Generator) -> Floats:
    """Return room noise: mostly below 500 Hz, with some hiss."""
    low = np.convolve(rng.standard_normal(count + 31), np.ones(32) / 32, mode="valid")
    return np.asarray(0.7 * low / low.std() + 0.3 * rng.standard_normal(count))


def voices(count: int, rng: np.random.Generator) -> Floats:
    """Return six voices at once, from the manifest's clip of babble, starting anywhere in it."""
    clip = read(HERE / "synthesised" / "pine.nothing.babble.opus").samples.astype(np.float64)
    return np.roll(np.resize(clip, count), -int(rng.integers(len(clip))))


def in_room(clean: Samples, noise: Floats, above_db: int) -> Samples:
    """Put a clip `BEFORE_S` after the start of a noise, so many dB above it."""
    sound = np.zeros(len(noise))
    first = round(BEFORE_S * RATE)
    sound[first : first + len(clean)] = clean
    loud = np.sqrt(np.mean(clean[np.abs(clean) > 0.1 * np.abs(clean).max()] ** 2))
    noise = noise * (loud * 10 ** (-above_db / 20) / noise.std())
    return np.asarray(sound + noise, dtype=np.float32)


def play(sound: Samples) -> tuple[float | None, float | None, float | None]:
    """Return start and end of the turn that was found and when it was over, or None for each."""
    watch = Watch()
    for first in range(0, len(sound), STEP):
        turn = watch.hear(sound[first : first + STEP])
        if turn.over:
            return turn.start_s, turn.end_s, (first + STEP) / RATE
    return turn.start_s, turn.end_s, None


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--manifest", type=Path, default=HERE / "manifest.jsonl")
    choice = parser.parse_args()
    clips = list(clean_clips(choice.manifest))
    print(f"{len(clips)} clips from {choice.manifest.name}")
    print("room            cut short  never over  start cut  end cut  end late: 5%, 50%, 95% (s)")
    for name, noise, above_db in (
        *((f"rumble {db} dB", rumble, db) for db in (50, 30, 20, 15, 10)),
        *((f"voices {db} dB", voices, db) for db in (30, 20, 15, 10)),
    ):
        print(f"{name:14}  {measure(clips, noise, above_db)}", flush=True)


def measure(clips: list[Samples], noise: Noise, above_db: int) -> str:
    """Play every clip in one room; return its line of the table."""
    rng = np.random.default_rng(above_db)
    early = never = late_start = lost_end = 0
    errors = []
    for clean in clips:
        start_s, end_s = (BEFORE_S + time_s for time_s in span_s(clean))
        around = noise(len(clean) + round((BEFORE_S + AFTER_S) * RATE), rng)
        found_start, found_end, over = play(in_room(clean, around, above_db))
        never += over is None
        early += over is not None and over < end_s
        if found_start is not None and found_end is not None:
            late_start += found_start - MARGIN_S > start_s
            lost_end += found_end + MARGIN_S < end_s
            errors.append(found_end - end_s)
    low, middle, high = np.quantile(errors, [0.05, 0.5, 0.95])
    return (
        f"{early:9d}  {never:10d}  {late_start:9d}  {lost_end:7d}"
        f"  {low:+.2f} {middle:+.2f} {high:+.2f}"
    )


if __name__ == "__main__":
    main()
