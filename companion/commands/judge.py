"""``wordhearth judge``: judge recordings listed in a manifest; nothing is kept."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from companion.commands import household
from companion.phonics.accents import ACCENTS
from companion.phonics.reading import Reading, WordError, reading
from companion.practice.marking import Marking
from companion.practice.turn import judge
from companion.practice.verdicts import Judgement
from speech import audio
from speech.audio import Samples
from speech.scorer import PhoneScorer
from speech.trouble import Trouble

NAME = "judge"
HELP = "judge recordings listed in a manifest; keeps nothing"


class LineTrouble(Trouble):
    """A line of the manifest that cannot be used."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        "Each line of the manifest is a JSON object: one recording of one word. Nothing is kept,\n"
        "so no consent is needed. A line that cannot be judged gets an error of its own, the\n"
        "rest are judged, and the exit status is 1."
    )
    parser.epilog = (
        "keys of a line:\n"
        "  audio       path from the manifest's folder: WAV, FLAC, OGG/Opus, MP3, any rate\n"
        "  word        the word on the page\n"
        "  start, end  optional: seconds within the file\n"
        '  phones      optional: what counts as right, such as ["P AY N"]; slips still come\n'
        "              from the spelling\n"
        f"  accent      optional: {', '.join(ACCENTS)}\n"
        "\n"
        "example line:\n"
        '  {"audio": "pine.wav", "word": "pine"}\n'
        "\n"
        "A verdict is a listener's opinion, not a diagnosis of anything.\n"
    )
    parser.add_argument("manifest", type=Path, metavar="MANIFEST.jsonl", help="or - for stdin")
    parser.add_argument("--json", action="store_true", help="print one JSON object a line")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    try:
        lines, folder = _lines(args.manifest)
        scorer, marking = PhoneScorer.load(), Marking.load()
    except Trouble as error:
        household.tell(error)
        return 1
    all_judged = True
    for number, line in lines:
        row: dict[str, Any] = {}
        try:
            row = _row(line, number)
            ready = _reading(row)
            judgement = judge(_samples(row, folder), ready, scorer, marking)
        except (Trouble, WordError) as error:
            all_judged = False
            row = {**row, "error": f"{error.what}: {error.why}. {error.mend}", "line": number}
        else:
            row = {**row, **_result(judgement), "candidates": _candidates(ready)}
        print(json.dumps(row, ensure_ascii=False) if args.json else _text(row), flush=True)
    return 0 if all_judged else 1


def _lines(manifest: Path) -> tuple[Iterator[tuple[int, str]], Path]:
    if str(manifest) == "-":
        text, folder = sys.stdin.read(), Path()
    else:
        try:
            text, folder = manifest.read_text(encoding="utf-8"), manifest.parent
        except (OSError, UnicodeDecodeError) as error:
            raise LineTrouble(
                f"The manifest {manifest} cannot be read",
                f"{error}",
                "Name a text file (UTF-8) with one JSON object a line; see --help.",
            ) from error
    numbered = enumerate(text.splitlines(), 1)
    return ((number, line) for number, line in numbered if line.strip()), folder


def _row(line: str, number: int) -> dict[str, Any]:
    example = 'Write an object such as {"audio": "pine.wav", "word": "pine"}.'
    try:
        row = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise LineTrouble(f"Line {number} is not JSON", f"{error}", example) from error
    if not isinstance(row, dict):
        raise LineTrouble(f"Line {number} is not a JSON object", f"it is {line[:40]}", example)
    return row


def _reading(row: dict[str, Any]) -> Reading:
    word = _checked(row, "word", str)
    if word is None or _checked(row, "audio", str) is None:
        raise LineTrouble(
            "The line lacks a key", "both audio and word are needed", "Add what is missing."
        )
    accent = _checked(row, "accent", str)
    if accent is not None and accent not in ACCENTS:
        raise LineTrouble(
            f"The accent {accent!r} is not known", "it is not in the table",
            f"Write one of: {', '.join(ACCENTS)}; or leave it out.",
        )  # fmt: skip
    phones = _checked(row, "phones", list)
    if phones is not None and not (phones and all(isinstance(p, str) for p in phones)):
        raise LineTrouble(
            f"phones is {phones!r}", "it has to be a list of ARPAbet strings",
            'Write a list such as ["P AY N"], or leave it out.',
        )  # fmt: skip
    try:
        return reading(word, phones, accent)
    except WordError:
        raise
    except ValueError as error:
        raise LineTrouble(
            f"The phones of {word!r} cannot be used", f"{error}",
            'Write ARPAbet such as "P AY N", or leave phones out.',
        ) from error  # fmt: skip


def _samples(row: dict[str, Any], folder: Path) -> Samples:
    start, end = (_checked(row, key, (int, float)) for key in ("start", "end"))
    return audio.read(folder / row["audio"], start, end).samples


def _checked(row: dict[str, Any], key: str, kind: type | tuple[type, ...]) -> Any:
    value = row.get(key)
    if value is not None and (not isinstance(value, kind) or isinstance(value, bool)):
        raise LineTrouble(
            f"{key} is {value!r}", "it is not of the kind that is needed", "See judge --help."
        )
    return value


def _result(judgement: Judgement) -> dict[str, Any]:
    """The keys added to a line, in the order documented in README."""
    return {
        "verdict": judgement.verdict,
        "slip": judgement.slip,
        "gpc": judgement.gpc,
        "heard": judgement.heard,
        "p": {name: round(p, 6) for name, p in judgement.p.items()},
        "p_slip": {name: round(p, 6) for name, p in judgement.p_slip.items()},
        "loglik": {
            phones: round(value, 3) if value > -1e30 else None
            for phones, value in judgement.loglik.items()
        },
        "ms": round(judgement.ms, 1),
    }


def _candidates(ready: Reading) -> dict[str, str]:
    """Every string that the word may be said as: right, or the kind of slip it would be."""
    right = dict.fromkeys(ready.accepted, "as_written")
    return {slip.phones: slip.kind for slip in reversed(ready.slips)} | right


def _text(row: dict[str, Any]) -> str:
    if "error" in row:
        return f"{row.get('word', '?')}: could not be judged. {row['error']}"
    named = f" {row['slip']} at {row['gpc']}" if row["slip"] else ""
    share = row["p"][row["verdict"]]
    heard = row["heard"] or "nothing"
    return f"{row['word']}: {row['verdict']}{named} ({share:.0%}), heard {heard}"
