"""How long a verdict takes: ``python tests/time_judging.py``. Prints figures, asserts nothing."""

from __future__ import annotations

import resource
import statistics
import time
from pathlib import Path

import numpy as np

from companion.phonics.reading import reading
from companion.practice.turn import judge
from speech import audio
from speech.audio import RATE
from speech.scorer import PhoneScorer

CLIP = Path(__file__).parent.parent / "fixtures_audio/synthesised/cape.K-EY-P.gb-a.opus"


def main() -> None:
    """Judge one word padded to 2 s, fifty times, on onnxruntime's one thread."""
    began = time.perf_counter()
    scorer = PhoneScorer.load()
    loaded_ms = (time.perf_counter() - began) * 1000
    word = reading("cape")
    said = audio.read(CLIP).samples
    clip = np.pad(said, (RATE // 2, 2 * RATE - RATE // 2 - len(said)))
    judge(clip, word, scorer)
    times = []
    for _ in range(50):
        began = time.perf_counter()
        judge(clip, word, scorer)
        times.append((time.perf_counter() - began) * 1000)
    resident_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"model loaded in {loaded_ms:.0f} ms")
    print(f"verdict on 2 s: median {statistics.median(times):.0f}, slowest {max(times):.0f} ms")
    print(f"resident at most {resident_mb:.0f} MB")


if __name__ == "__main__":
    main()
