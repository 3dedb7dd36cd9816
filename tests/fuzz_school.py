"""Throw damaged and hostile files at all that reads what arrives from outside.

    python tests/fuzz_school.py --minutes 10

Half of the time hypothesis damages true files in ways that people and programs do (cut, spliced,
edited, checks and signatures made right again), the other half atheris looks for new paths through
the code, where it is installed (``pip install 'wordhearth[fuzz]'``). Each call must end in a value
or in words (`FileTrouble`), within 1 s of work, and the process must stay below 200 MB. While the
files go through a real import, no file may be written but the class book and its journal. Ends with
the counts, or with the input that broke a rule.
"""

from __future__ import annotations

import argparse
import base64
import os
import random
import re
import resource
import subprocess
import sys
import tempfile
import time
import zlib
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from nacl.public import PublicKey, SealedBox
from nacl.signing import SigningKey

from companion.phonics.gpc import table
from companion.phonics.wordlists import load
from companion.record.weeks import Week
from companion.report import family_file, plain_csv, sealed, summary_csv
from companion.report.family_lines import FamilyFile
from companion.report.summary import Summary, SummaryRow
from companion.report.trouble import FileTrouble
from companion.school import importing, register, teaching
from companion.school.arrivals import Source
from companion.school.book import Book
from companion.school.lock import Login

TALLY = "tally.txt"
WORK_MAX_S = 1.0
MEMORY_MAX_MB = 200
NOW = datetime(2026, 11, 28, 10, tzinfo=UTC)
WEEK = Week(2026, 48)


class World:
    """A class book with one pupil, a home's key, and a true file of every kind."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.path = folder / "class-book.db"
        self.book = Book.start(self.path, Login(folder), NOW)
        teaching.set_csv_taken(self.book, True)
        self.pupil = register.add(self.book, NOW).code
        self.private = self.book.private_key()
        self.key = self.book.public_key
        self.home = SigningKey(bytes(32))
        gpcs = sorted(str(gpc) for gpc in table().order().gpcs)[:12]
        rows = [SummaryRow(gpc, 8, {"sound_missed": 2}, 1, 0, 1, 3, 5, 9, 1) for gpc in gpcs]
        made_at = NOW - timedelta(days=1)
        verdicts = {"as_written": 30, "slip": 9}
        self.summary = Summary(
            self.book.code, self.pupil, WEEK, made_at, 2, ("welsh",), 4, verdicts, 1, 2, tuple(rows)
        )
        self.json = sealed._to_json(self.summary)
        self.sealed = sealed.seal(self.summary, self.key, self.home)
        self.csv = summary_csv.to_bytes(self.summary)
        order = table().order()
        aid = {order.gpcs[3]: "a puffin on the pier"}
        words = load("i-e")
        self.family = family_file.to_text(
            FamilyFile(
                self.book.code, self.pupil, self.key, WEEK, "welsh", order,
                frozenset(order.gpcs[:80]), words, aid, aid, {"said": "sea anchors"},
            )
        )  # fmt: skip
        self.square = family_file.short_text(family_file.parse(self.family))

    def signed(self, text: bytes) -> bytes:
        """A summary's text with a right signature, in a right box."""
        size = next((size for size in (4096, 8192, 16384) if len(text) + 100 <= size), 16384)
        inner = bytes(self.home.verify_key) + len(text).to_bytes(4, "big") + text
        inner = inner.ljust(size - 64, b"\0")[: size - 64]
        message = b"wordhearth sealed summary 1\n" + self.key + inner
        box = SealedBox(PublicKey(self.key)).encrypt(self.home.sign(message).signature + inner)
        head = sealed.MAGIC + b"\x01" + sealed.key_id(self.key)
        return head + (29 + len(box)).to_bytes(4, "big") + box

    def checked_csv(self, data: bytes) -> bytes:
        """A CSV with its checksum made right again, where it is one."""
        try:
            rows = plain_csv.from_bytes(data, summary_csv.FILE_MAX)
        except FileTrouble:
            return data
        rows[-1][-1:] = [summary_csv._checksum([*rows[:-1], rows[-1][:-1]])]
        return plain_csv.to_bytes(rows)

    def checked_family(self, data: bytes) -> str:
        """A family file with its check line made right again."""
        lines = [line.strip() for line in data.decode("utf-8", "replace").splitlines()]
        lines = [line for line in lines if line and line[0] != "#" and line[:6] != "check "]
        return "\n".join([*lines, family_file._check(lines)])

    def imported(self, name: str, data: bytes) -> str:
        """Preview a file and take it in; its standing."""
        found = importing.preview(self.book, [Source(name, data)], NOW)
        importing.commit(self.book, found, NOW, (*found.ready, *found.asks))
        return found.items[0].standing


Target = Callable[[World, bytes], object]

TARGETS: dict[str, tuple[Target, Callable[[World], bytes]]] = {
    "sealed file": (
        lambda world, data: sealed.open_(data, world.private),
        lambda world: world.sealed,
    ),
    "sealed text, signed": (
        lambda world, data: sealed.open_(world.signed(data), world.private),
        lambda world: world.json,
    ),
    "csv": (
        lambda world, data: summary_csv.from_bytes(data),
        lambda world: world.csv,
    ),
    "csv, checked": (
        lambda world, data: summary_csv.from_bytes(world.checked_csv(data)),
        lambda world: world.csv,
    ),
    "family file": (
        lambda world, data: family_file.parse(data.decode("utf-8", "replace")),
        lambda world: world.family.encode(),
    ),
    "family file, checked": (
        lambda world, data: family_file.parse(world.checked_family(data)),
        lambda world: world.family.encode(),
    ),
    "square": (
        lambda world, data: family_file.parse(data.decode("utf-8", "replace")),
        lambda world: world.square.encode(),
    ),
    "square, packed": (
        lambda world, data: family_file.parse(
            "WHF1" + base64.b32encode(zlib.compress(data)).decode().rstrip("=")
        ),
        lambda world: world.family.encode(),
    ),
    "import of a sealed file": (
        lambda world, data: world.imported("x.sealed", data),
        lambda world: world.sealed,
    ),
    "import of a signed text": (
        lambda world, data: world.imported("x.sealed", world.signed(data)),
        lambda world: world.json,
    ),
    "import of a csv": (
        lambda world, data: world.imported("x.csv", world.checked_csv(data)),
        lambda world: world.csv,
    ),
}
"""What is fuzzed: the call, and the true input that is damaged for it."""


class Watch:
    """Counts calls and outcomes, and holds each call to its rules."""

    def __init__(self, world: World, *, holds_files: bool) -> None:
        self.world = world
        self.holds_files = holds_files
        self.outcomes: Counter[str] = Counter()
        self.slowest_s = 0.0
        self.armed = False
        allowed = (str(world.path), str(world.path) + "-journal")
        sys.addaudithook(lambda event, args: self._look(event, args, allowed))

    def call(self, name: str, target: Target, data: bytes) -> None:
        began = time.process_time()
        self.armed = self.holds_files
        try:
            answer = target(self.world, data)
            outcome = answer if isinstance(answer, str) else "value"
        except FileTrouble as error:
            outcome = type(error).__name__
            assert error.what and error.why and error.mend
        finally:
            self.armed = False
        took = time.process_time() - began
        self.slowest_s = max(self.slowest_s, took)
        self.outcomes[f"{name}: {outcome}"] += 1
        assert took <= WORK_MAX_S, f"{name} took {took:.2f} s for {data[:200]!r}"
        assert peak_mb() <= MEMORY_MAX_MB, f"{name} took {peak_mb():.0f} MB for {data[:200]!r}"

    def told(self, engine: str) -> str:
        """The counts so far, as lines."""
        head = f"{engine}: {self.outcomes.total():,} calls, slowest {self.slowest_s:.3f} s of work"
        lines = [f"{head}, peak {peak_mb():.0f} MB"]
        lines += [f"  {name}: {count:,}" for name, count in sorted(self.outcomes.items())]
        return "\n".join(lines) + "\n"

    def _look(self, event: str, args: tuple[object, ...], allowed: Sequence[str]) -> None:
        """Forbid every write to a file that is not the book."""
        if not self.armed:
            return
        if event == "open":
            path, _, flags = args
            writes = isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            if writes and str(path) not in (*allowed, os.devnull):
                raise AssertionError(f"a file was opened for writing: {path!r}")
        elif event in ("os.rename", "os.mkdir", "os.symlink", "os.link", "subprocess.Popen"):
            raise AssertionError(f"{event} {args!r}")
        elif event == "sqlite3.connect" and str(args[0]) not in allowed:
            raise AssertionError(f"another database was opened: {args[0]!r}")


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@st.composite
def damage(draw: st.DrawFn, true: bytes) -> bytes:
    """A true file after a few things that happen to files, or something else altogether."""
    data = bytearray(true)
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, 2**20)) % max(1, len(data))
        until = min(len(data), at + draw(st.sampled_from((1, 2, 8, 64, 999))))
        match draw(st.sampled_from("ttttttttbbbbcdrin")):
            case "t":
                data = bytearray(swapped(bytes(data), at, draw(st.sampled_from(SPICE))))
            case "b" if data:
                data[at] ^= 1 << draw(st.integers(0, 7))
            case "c":
                del data[at:]
            case "d":
                data[at:at] = data[at:until] * draw(st.sampled_from((1, 2, 50)))
            case "r":
                data[at:until] = draw(st.binary(max_size=12))
            case "i":
                data[at:at] = draw(st.sampled_from(SPICE))
            case "n":
                data = bytearray(draw(st.binary(max_size=200)))
    return bytes(data)


def swapped(data: bytes, at: int, new: bytes) -> bytes:
    """The word, number or cell at a place, and another in its stead."""
    parts = re.split(rb"([^0-9A-Za-z_+./-]+)", data)
    place = 0
    for number, part in enumerate(parts):
        place += len(part)
        if place > at and number % 2 == 0:
            return b"".join([*parts[:number], new, *parts[number + 1 :]])
    return data + new


SPICE = (
    b"0", b"1", b"2", b"7", b"8", b"35", b"9999", b"10000", b"a", b"e-e /IY/", b"sound_missed",
    b"[" * 5000, b"{" * 900, b'"', b"9" * 400, b"-1", b"1e999", b"NaN", b"null", b"true", b"\0",
    b"\xff\xfe", b"\xef\xbb\xbf", b"\r\n", b"\n" * 3000, b",", b"=cmd|' /C calc'!A0", b"../../x",
    b"2026-W53", b"0000-W00", b"9999-12-31T23:59:59+23:59", b"i-e /AY/", b"taught 1-9999 " * 400,
    "٣".encode(), "\u202e".encode(), b"\x1b[2J", b"'" * 70, b"a" * 60_000, b'"end"', b"WHF1",
)  # fmt: skip


def damaged(
    watch: Watch, name: str, target: Target, true: bytes, examples: int, number: int
) -> None:
    """One round: so many damaged files at one target."""

    @seed(number)
    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    @given(damage(true))
    def once(data: bytes) -> None:
        watch.call(name, target, data)

    once()


def run_hypothesis(world: World, seconds: float) -> None:
    watch = Watch(world, holds_files=True)
    chance = random.Random(2026)
    before = listing(world.folder)
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        for name, (target, true) in TARGETS.items():
            examples = 20 if name.startswith("import") else 120  # an import ends on the disk

            damaged(watch, name, target, true(world), examples, chance.getrandbits(32))
    assert listing(world.folder) == before, "a file appeared beside the book"
    print(watch.told("hypothesis"), end="")


IN_CHILD = """
import sys
import atheris
sys.path.insert(0, sys.argv[1])
with atheris.instrument_imports(include=["companion"]):
    import fuzz_school
fuzz_school.atheris_child(sys.argv[2], float(sys.argv[3]), sys.argv[4])
"""
"""Atheris counts the branches of what is imported under its eyes, and ends its process itself."""


def run_atheris(name: str, seconds: float) -> int:
    """Fuzz one target in a process of its own; the process's exit status."""
    with tempfile.TemporaryDirectory(prefix="wordhearth-fuzz-") as folder:
        words = [str(Path(__file__).parent), name, str(seconds), folder]
        done = subprocess.run(
            [sys.executable, "-c", IN_CHILD, *words], stderr=subprocess.PIPE, text=True
        )
        print((Path(folder) / TALLY).read_text(), end="")
        if done.returncode:
            print(done.stderr[-4000:])
        return done.returncode


def atheris_child(name: str, seconds: float, folder: str) -> None:
    """What the child does: never returns."""
    import atheris

    world = World(Path(folder))
    target, true = TARGETS[name]
    watch = Watch(world, holds_files=False)  # atheris writes its own files
    told = time.monotonic()

    def once(data: bytes) -> None:
        nonlocal told
        watch.call(name, target, data)
        if time.monotonic() - told > 0.5:
            told = time.monotonic()
            (Path(folder) / TALLY).write_text(watch.told("atheris"))

    corpus = Path(folder) / "corpus"
    corpus.mkdir()
    (corpus / "true").write_bytes(true(world))
    limits = [f"-max_total_time={max(1, int(seconds))}", "-max_len=70000", "-timeout=60"]
    atheris.Setup([name, str(corpus), f"-artifact_prefix={folder}/", *limits], once)
    atheris.Fuzz()


def listing(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    args = parser.parse_args()
    seconds = args.minutes * 60
    with tempfile.TemporaryDirectory(prefix="wordhearth-fuzz-") as folder:
        world = World(Path(folder))
        run_hypothesis(world, seconds / 2)
    if find_spec("atheris") is None:
        print("atheris is not installed: only hypothesis was run")
        return 0
    pure = [name for name in TARGETS if not name.startswith("import")]
    for name in pure:
        if status := run_atheris(name, seconds / 2 / len(pure)):
            return status
    return 0


if __name__ == "__main__":
    sys.exit(main())
