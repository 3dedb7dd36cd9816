"""Compare listeners on the same clips and the same forced choice: ``python -m speech.benchmark``.

Each listener runs in a process of its own and chooses, for every clip of a manifest, between what
was said and the same with one vowel changed for its short or long partner. Printed: how often it
chose right, how many slips it would find, CPU seconds for a second of sound, memory, start-up.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from speech import audio
from speech.benchmark_listeners import LISTENERS, Choice
from speech.curves import Detection, Share
from speech.evaluate_listening import choices
from speech.evaluate_rows import AS_WRITTEN, Row, parse
from speech.trouble import Trouble

BUNDLED: Final = Path(__file__).parent.parent / "fixtures_audio" / "manifest.jsonl"
FALSE_SLIPS: Final = 0.03
TIMEOUT_S: Final = 3_600


@dataclass(frozen=True)
class Result:
    """What one listener did.

    Attributes
    ----------
    margins : tuple of float or None
        For each choice, by how much what was said beat its partner; None where it cannot tell.
    audio_s, cpu_s : float
        Seconds of sound heard, and of processor time spent on hearing it.
    start_s : float
        Seconds from an empty process, Python's own start included, until it could listen.
    memory_mb : float
        The most that the process had in memory.
    """

    margins: tuple[float | None, ...]
    audio_s: float
    cpu_s: float
    start_s: float
    memory_mb: float


def find_choices(rows: Sequence[Row]) -> tuple[Choice, ...]:
    """Every forced choice of a manifest, each clip's once.

    A string is a word where some row reads a word by it. A recogniser of words prefers any word
    to what is none, whatever is said: it is asked only where both are words.
    """
    spelt: dict[str, str] = {}
    for row in rows:
        if row.truth == AS_WRITTEN and "/" not in row.said:
            spelt.setdefault(row.said, row.word)
    found: dict[tuple[Any, str], Choice] = {}
    for row in rows:
        for partner in choices(row):
            pair = (spelt.get(row.said, ""), spelt.get(partner, ""))
            told = pair if all(pair) else None
            found.setdefault(
                (row.clip, partner),
                Choice(*row.clip, row.about.get("voice", row.audio), row.said, partner, told),
            )
    return tuple(found.values())


def listen(name: str, chosen: Sequence[Choice], folder: Path, began_s: float) -> Result:
    """Let one listener choose; ``began_s`` is when its process was started (``time.time``)."""
    listener = LISTENERS[name](chosen)
    start_s = time.time() - began_s
    listener.prepare((each.voice, _samples(each, folder)) for each in _clips(chosen))
    margins: list[float | None] = []
    audio_s = cpu_s = 0.0
    for each in chosen:
        samples = _samples(each, folder)
        before = time.process_time()
        scores = listener.score(samples, each)
        if scores is not None:
            cpu_s += time.process_time() - before
            audio_s += len(samples) / audio.RATE
        margins.append(None if scores is None else scores[0] - scores[1])
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return Result(tuple(margins), audio_s, cpu_s, start_s, memory_mb)


def _clips(chosen: Sequence[Choice]) -> Iterator[Choice]:
    yield from {(each.audio, each.start_s, each.end_s): each for each in chosen}.values()


def _samples(choice: Choice, folder: Path) -> audio.Samples:
    return audio.read(folder / choice.audio, choice.start_s, choice.end_s).samples


def table(results: dict[str, Result], chosen: Sequence[Choice]) -> Iterator[str]:
    """The lines that are printed."""
    spelt = [each.spelt is not None for each in chosen]
    yield (
        f"{'listener':18}{'forced choice':28}{'found at 3%':13}{'of pairs of words':28}"
        f"{'found at 3%':13}{'CPU s/s':>8}{'MB':>6}{'start s':>9}"
    )
    for name, result in results.items():
        whole = [margin for margin in result.margins if margin is not None]
        words = [
            margin
            for margin, is_spelt in zip(result.margins, spelt, strict=True)
            if is_spelt and margin is not None
        ]
        if len(whole) < len(chosen):
            whole = []  # it was asked about words alone
        speed = f"{result.cpu_s / result.audio_s:.4f}" if result.audio_s else "-"
        yield (
            f"{name:18}{_right(whole)!s:28}{_found(whole):13}{_right(words)!s:28}"
            f"{_found(words):13}{speed:>8}{result.memory_mb:6.0f}{result.start_s:9.2f}"
        )


def _right(margins: Sequence[float]) -> Share:
    return Share.of([margin > 0 for margin in margins])


def _found(margins: Sequence[float]) -> str:
    """Slips found at 3% false slips: the same sound against its partner turns the margin's sign."""
    if not margins:
        return "-"
    curve = Detection.of([-margin for margin in margins], margins)
    return f"{curve.found_at(FALSE_SLIPS):.1%}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Compare listeners; 1 where one of them could not be had."""
    parser = argparse.ArgumentParser(
        prog="python -m speech.benchmark", description=(__doc__ or "").split("\n\n")[1]
    )
    parser.add_argument("manifest", type=Path, nargs="?", default=BUNDLED, metavar="MANIFEST",
                        help="rows as in fixtures_audio/manifest.jsonl (the default)")  # fmt: skip
    parser.add_argument("--only", nargs="+", choices=LISTENERS, metavar="LISTENER",
                        help=", ".join(LISTENERS))  # fmt: skip
    parser.add_argument(
        "--most", type=int, metavar="N", help="choices, evenly spread over the file"
    )
    parser.add_argument("--listen", choices=LISTENERS, help=argparse.SUPPRESS)
    parser.add_argument("--began", type=float, help=argparse.SUPPRESS)
    args = parser.parse_args(arguments)
    try:
        rows, _ = parse(args.manifest.read_text(encoding="utf-8").splitlines())
        chosen = find_choices(rows)
        chosen = chosen[:: max(1, len(chosen) // args.most)][: args.most] if args.most else chosen
        if args.listen:
            result = listen(args.listen, chosen, args.manifest.parent, args.began)
            print(json.dumps(asdict(result)))
            return 0
    except (Trouble, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    results, missing = _all(args, args.only or list(LISTENERS))
    clips, spelt = len(list(_clips(chosen))), sum(each.spelt is not None for each in chosen)
    print(f"{len(chosen)} choices of {clips} clips, {spelt} of them between two words")
    for line in (*table(results, chosen), *missing):
        print(line)
    return 1 if missing else 0


def _all(args: argparse.Namespace, names: Sequence[str]) -> tuple[dict[str, Result], list[str]]:
    """Each listener in turn, in a process of its own: one that crashes takes no other with it."""
    results: dict[str, Result] = {}
    missing: list[str] = []
    for name in names:
        print(f"listening: {name}", file=sys.stderr)
        command = [sys.executable, "-m", "speech.benchmark", str(args.manifest), "--listen", name]
        command += ["--most", str(args.most)] if args.most else []
        done = subprocess.run(
            [*command, "--began", str(time.time())],
            capture_output=True, text=True, encoding="utf-8", timeout=TIMEOUT_S,
        )  # fmt: skip
        if done.returncode:
            last = (done.stderr.strip().splitlines() or [f"stopped with {done.returncode}"])[-1]
            missing.append(f"{name}: not compared. {last}")
            continue
        told = json.loads(done.stdout.splitlines()[-1])
        results[name] = Result(**{**told, "margins": tuple(told["margins"])})
    return results, missing


if __name__ == "__main__":
    sys.exit(main())
