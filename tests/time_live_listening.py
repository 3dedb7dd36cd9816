"""Measure the live listener over hours of audio: `python tests/time_live_listening.py [--hours 8]`.

Bundled clips, each with its own word's candidates, are fed 30 ms at a time and faster than real
time, turn after turn, as a microphone would give them. Printed: processor time for each second of
audio, the time from the end of a turn to its scores, the wait for the turn to be over, and memory
at the start, on the way and at the end.
"""

from __future__ import annotations

import argparse
import itertools
import json
import os
import random
import resource
import time
from pathlib import Path

import numpy as np

from companion.phonics.reading import reading
from companion.practice.evidence import candidates, sounded_out
from fixtures_audio import measure_endpoint
from speech.audio import RATE, read
from speech.live import LiveListener

CLIPS = Path(__file__).parents[1] / "fixtures_audio"
STEP = 480


def resident_mb() -> float:
    """Memory of this process, in MB."""
    with Path("/proc/self/statm").open() as file:
        return int(file.read().split()[1]) * resource.getpagesize() / 1e6


def main() -> None:
    """Feed the hours and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=8.0)
    hours = parser.parse_args().hours
    rows = [json.loads(line) for line in (CLIPS / "manifest.jsonl").read_text().splitlines()]
    rows = [r for r in rows if r["truth"] != "silent" and r["condition"] == "quiet room"]
    random.Random(1).shuffle(rows)
    rng = np.random.default_rng(1)
    listener = LiveListener.load()
    print(f"{os.cpu_count()} processors, resident at the start {resident_mb():.0f} MB", flush=True)
    heard_s = spent_s = ready_s = 0.0
    waits: list[float] = []
    finishes: list[float] = []
    next_report = 0.0
    turns = 0
    for row in itertools.cycle(rows):
        if heard_s >= hours * 3600:
            break
        if heard_s >= next_report:
            print(f"{heard_s / 3600:5.2f} h, {turns} turns: {resident_mb():.0f} MB", flush=True)
            next_report += max(hours * 3600 / 16, 60)
        known = reading(row["word"])
        strings = dict.fromkeys([*candidates(known)[0], *sounded_out(known)])
        clean = read(CLIPS / row["audio"]).samples
        end_s = measure_endpoint.BEFORE_S + measure_endpoint.span_s(clean)[1]
        count = len(clean) + round((measure_endpoint.BEFORE_S + measure_endpoint.AFTER_S) * RATE)
        sound = measure_endpoint.in_room(clean, measure_endpoint.rumble(count, rng), 40)
        began = time.process_time()
        turn = listener.turn(tuple(strings), known.accepted)
        ready_s += time.process_time() - began
        began = time.process_time()
        for first in range(0, len(sound), STEP):
            if turn.accept(sound[first : first + STEP]).over:
                break
        ended = time.process_time()
        turn.finish()
        finishes.append(time.process_time() - ended)
        spent_s += time.process_time() - began
        over_s = min(first + STEP, len(sound)) / RATE
        heard_s += over_s
        turns += 1
        if row["truth"] == "as_written":
            waits.append(over_s - end_s)
    low, middle, high = np.quantile(waits, [0.05, 0.5, 0.95])
    print(f"{heard_s / 3600:.2f} h in {turns} turns; resident at the end {resident_mb():.0f} MB")
    print(f"processor time: {1000 * spent_s / heard_s:.1f} ms for each second of audio")
    print(f"                {1000 * ready_s / turns:.0f} ms to get ready for a turn")
    print(f"                {1000 * np.median(finishes):.0f} ms from its end to its scores")
    print(
        f"readings as written: over {middle:.2f} s after the last sound ({low:.2f} to {high:.2f})"
    )
    print(f"                     {np.mean(np.array(waits) < 0):.1%} cut off")


if __name__ == "__main__":
    main()
