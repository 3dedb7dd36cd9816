"""How long groups take and how near the optimum they are: ``python tests/time_groups.py``.

30 children, 40 GPCs, gaps drawn at random: as a class might have them (a child's ability and a
GPC's difficulty decide), and at even density up to every second cell. Prints seconds of wall and
of processor, the worst gap to the bound, and whether a second run gave the same; asserts nothing.
"""

from __future__ import annotations

import argparse
import statistics
import time

import numpy as np
from rich.console import Console
from rich.progress import track
from rich.table import Table

from companion.phonics.gpc import table
from companion.school.groups import group
from companion.school.wishes import Room, Wish

CHILDREN, GPCS = 30, 40
ROOMS = (Room(1, 1, 1), Room(1, 5, 1), Room(2, 3, 1), Room(2, 5, 1), Room(2, 5, 2), Room(3, 3, 2))
KINDS = {"like a class": 0.0, "1 cell in 10": 0.1, "1 in 4": 0.25, "1 in 2": 0.5}


def main() -> None:
    """Time every room on every kind of class."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seeds", type=int, default=10)
    args = parser.parse_args()
    shown = Table(title=f"{CHILDREN} children, {GPCS} GPCs, {args.seeds} classes each")
    for name in ("gaps", "adults x slots, each", "median s", "slowest s", "cpu s", "gap", "same"):
        shown.add_column(name, justify="right")
    jobs = [(kind, room) for kind in KINDS for room in ROOMS]
    for kind, room in track(jobs, description="rooms"):
        walls, cpus, gaps, same = [], [], [], True
        for seed in range(args.seeds):
            wishes = invented(KINDS[kind], seed)
            began, used = time.perf_counter(), time.process_time()
            made = group(wishes, table().order(), room)
            walls.append(time.perf_counter() - began)
            cpus.append(time.process_time() - used)
            gaps.append(made.gap)
            if seed == 0:
                same = made == group(wishes, table().order(), room)
        shown.add_row(
            kind, f"{room.adults} x {room.slots}, {room.each}", f"{statistics.median(walls):.2f}",
            f"{max(walls):.2f}", f"{max(cpus):.2f}", f"{100 * max(gaps):.2f}%",
            "yes" if same else "NO",
        )  # fmt: skip
    Console(width=100).print(shown)


def invented(density: float, seed: int) -> list[Wish]:
    """Wishes of a class; density 0 draws them by ability and difficulty, about one cell in five."""
    chance = np.random.default_rng(seed)
    likely = np.full((CHILDREN, GPCS), density)
    if not density:
        able, hard = chance.normal(0, 1, CHILDREN), chance.normal(0, 0.7, GPCS)
        likely = 1 / (1 + np.exp(1.6 + 1.1 * able[:, None] - hard[None, :]))
    gpcs = table().order().gpcs[52 : 52 + GPCS]
    return [
        Wish(f"CHILD{n:02}", gpc, float(chance.uniform(0.7, 1)), bool(chance.random() < 0.7))
        for n in range(CHILDREN)
        for g, gpc in enumerate(gpcs)
        if chance.random() < likely[n, g]
    ]


if __name__ == "__main__":
    main()
