"""How long a trust's roll-up takes: ``python tests/time_trust_roll_up.py [--schools 200]``.

Invents the grid exports of every school (30 classes of 30 children, 40 GPCs) through
`companion.school.grid_csv`, then runs ``companion/school/trust_roll_up.sql`` in DuckDB, from the
CSV files to the table. Prints figures, asserts nothing. About 1 GB of disk for 200 schools.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import tempfile
import time
from datetime import date
from pathlib import Path

import duckdb
from rich.progress import track

from companion.phonics.gpc import table
from companion.record.weeks import Week
from companion.report.summary import SummaryRow
from companion.report.week import STATES
from companion.school import grid_csv
from companion.school.evidence import HeardInClass
from companion.school.grid import Cell, Child, Column, Grid, GridRow

QUERY = Path(grid_csv.__file__).with_name("trust_roll_up.sql")
CLASSES, CHILDREN, GPCS = 30, 30, 40
WEEK = Week(2026, 48)
LETTERS = "34679CDFGHJKMNPQRTWXY"
CLASS, PUPILS = "CLASSX", [f"PUPL{n:02}" for n in range(CHILDREN)]
"""Codes to be replaced, six characters as all are."""


def main() -> None:
    """Write the exports, roll them up three times, and say how long each took."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--schools", type=int, default=200)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        size = write(Path(folder), args.schools)
        print(
            f"{args.schools} schools, {args.schools * CLASSES:,} classes, "
            f"{size / 1e6:.0f} MB of CSV, {os.cpu_count()} cores"
        )
        for _ in range(3):
            began, cpu = time.perf_counter(), time.process_time()
            rows = roll_up(f"{folder}/*/*.csv")
            took, used = time.perf_counter() - began, time.process_time() - cpu
            print(f"rolled up to {len(rows)} rows in {took:.1f} s ({used:.1f} s of processor)")
        print(f"memory at most {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
        for row in rows[:3]:
            print(row)


def roll_up(exports: str) -> list[tuple[object, ...]]:
    """The documented query over some files."""
    with duckdb.connect() as db:
        db.execute("SET VARIABLE exports = $1", [exports])
        return db.execute(QUERY.read_text("utf-8")).fetchall()


def write(folder: Path, schools: int) -> int:
    """Write every class's export, with codes of its own. Gives the bytes written.

    Thirty classes are exported as the program does; each further one is one of these bytes, with
    other codes in the place of its own.
    """
    chance = random.Random(5)
    exported = [grid_csv.to_bytes(invented(chance)) for _ in range(CLASSES)]
    size = 0
    for school in track(range(schools), description="schools"):
        inside = folder / f"school-{school:03d}"
        inside.mkdir()
        for number, data in enumerate(chance.choices(exported, k=CLASSES)):
            own = data.replace(CLASS.encode(), code(chance).encode())
            for pupil in PUPILS:
                own = own.replace(pupil.encode(), code(chance).encode())
            (inside / f"grid-{number:02d}-{WEEK}.csv").write_bytes(own)
            size += len(own)
    return size


def invented(chance: random.Random) -> Grid:
    """One class."""
    columns = tuple(Column(gpc, "", True) for gpc in table().order().gpcs[52 : 52 + GPCS])
    rows = tuple(
        GridRow(Child(pupil), 3, 5, (), tuple(cell(column, chance) for column in columns))
        for pupil in PUPILS
    )
    return Grid(CLASS, WEEK, columns, rows)


def cell(column: Column, chance: random.Random) -> Cell:
    """A cell with counts as in a busy week."""
    right, slips = chance.randint(0, 60), chance.randint(0, 12)
    heard = SummaryRow(str(column.gpc), right, {"short_for_split": slips}, 3, 0, 0, 12, 9, 9, 1)
    check = None
    if chance.random() < 0.05:
        check = HeardInClass("A", str(column.gpc), date(2026, 11, 27), 6, 4, "ear")
    state = chance.choice(STATES[:3])
    return Cell(column.gpc, state, state, "home", 0.5, heard, check, False)


def code(chance: random.Random) -> str:
    """Six characters of the codes' alphabet; the roll-up never checks them."""
    return "".join(chance.choices(LETTERS, k=6))


if __name__ == "__main__":
    main()
