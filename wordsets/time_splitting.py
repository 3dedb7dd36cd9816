"""Measure how long loading and splitting take: ``python wordsets/time_splitting.py``.

Needs wordfreq, as the tests do. Times are wall clock, best of several runs in fresh processes,
so that a busy machine spoils them less.
"""

from __future__ import annotations

import json
import subprocess
import sys
import time

from wordfreq import top_n_list

RUNS, WORDS = 7, 10_000


def once() -> dict[str, float]:
    """Load and split in this process; milliseconds to the first word, seconds for the rest."""
    start = time.perf_counter()
    from companion.phonics.split import WordError, split  # timed: part of loading

    split("pine")
    loaded = time.perf_counter()
    words = [w for w in top_n_list("en", WORDS + 4000) if w.isascii() and w.isalpha()][:WORDS]
    begin = time.perf_counter()
    for word in words:
        try:
            split(word)
        except WordError:
            continue
    return {"load_ms": (loaded - start) * 1000, "split_s": time.perf_counter() - begin}


def main() -> None:
    """Run in fresh processes and print the best and the median."""
    runs = []
    for _ in range(RUNS):
        done = subprocess.run(
            [sys.executable, __file__, "once"], capture_output=True, text=True, check=True
        )
        runs.append(json.loads(done.stdout))
    for name in ("load_ms", "split_s"):
        values = sorted(run[name] for run in runs)
        print(f"{name}: best {values[0]:.2f}, median {values[RUNS // 2]:.2f} of {RUNS} runs")
    print(f"{WORDS} different words")


if __name__ == "__main__":
    print(json.dumps(once())) if sys.argv[1:] == ["once"] else main()
