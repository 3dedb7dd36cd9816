"""Measure how loud, noisy and clipped a folder of recordings is.

Run from the top of the repository::

    python -m fixtures_audio.measure_levels FOLDER

The bounds of `speech.levels.remarks` rest on its table. Clipping is measured on each recording
brought to full scale and on the same one driven over it, played through a sound card of 48 kHz.
"""

import argparse
from pathlib import Path
from typing import Final

import numpy as np
import soxr

from speech.audio import RATE, Samples, read
from speech.levels import loudness

QUANTILES: Final = (0.02, 0.05, 0.5, 0.95, 0.98, 1.0)
KINDS: Final = (".wav", ".flac", ".opus", ".ogg", ".mp3")


def drive(samples: Samples, over_db: float) -> Samples:
    """Amplify to so many dB above full scale and cut off what is above it."""
    loud = samples / np.abs(samples).max() * 10 ** (over_db / 20)
    at_48_khz = np.clip(soxr.resample(loud, RATE, 48_000), -1, 1)
    return np.asarray(soxr.resample(at_48_khz, 48_000, RATE), dtype=np.float32)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path, help="folder of recordings, searched to its depths")
    parser.add_argument("--most", type=int, default=200, help="recordings taken, evenly spread")
    choice = parser.parse_args()
    paths = sorted(p for p in choice.folder.rglob("*") if p.suffix in KINDS)
    chosen = paths[:: max(1, len(paths) // choice.most)][: choice.most]
    if not chosen:
        raise SystemExit(f"no {', '.join(KINDS)} file in {choice.folder}: name another folder")
    found: dict[str, list[float]] = {}
    for path in chosen:
        samples = read(path).samples
        measured = loudness(samples)
        found.setdefault("peak (dBFS)", []).append(measured.peak_dbfs)
        found.setdefault("speech (dBFS)", []).append(measured.speech_dbfs)
        found.setdefault("noise (dBFS)", []).append(measured.noise_dbfs)
        found.setdefault("above noise (dB)", []).append(measured.above_noise_db)
        for over_db in (0, 3, 6, 12):
            share = loudness(drive(samples, over_db)).clipped_share
            found.setdefault(f"clipped share, driven {over_db} dB", []).append(share)
    print(f"{len(chosen)} recordings" + " " * 14 + "".join(f"{q:>10.0%}" for q in QUANTILES))
    for name, values in found.items():
        digits = 4 if "share" in name else 1
        row = np.quantile(values, QUANTILES)
        print(f"{name:30}" + "".join(f"{value:10.{digits}f}" for value in row))


if __name__ == "__main__":
    main()
