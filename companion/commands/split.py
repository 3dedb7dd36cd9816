"""wordhearth split: words into graphemes, as text or as JSON."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from companion.commands import household, teaching
from companion.phonics.gpc import TableError, load_table
from companion.phonics.split import Split, WordError, split, use_table
from companion.phonics.wordlists import WordListError

NAME = "split"
HELP = "split words into graphemes and show their GPCs"

_EXAMPLES = """examples:
  wordhearth split pine said use     p · i-e · n, and what is not decodable
  wordhearth split --json hoped      one JSON object a word
  wordhearth split --phones "V AY M" vime

In the JSON, letters are places in the word from 0 and phonemes are ARPAbet
(southern British). An e that two graphemes share is listed with the first:
hoped is h, o-e, p, ed."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = _EXAMPLES
    parser.add_argument("words", nargs="+", metavar="WORD", help="a word; names keep their capital")
    parser.add_argument("--json", action="store_true", help="print one JSON object a word")
    parser.add_argument(
        "--table", type=Path, metavar="FILE", help="your own GPC table, a copy of gpc.csv edited"
    )
    teaching.add_home(parser)
    parser.add_argument(
        "--phones", metavar="ARPABET", help="how the words are said, if no dictionary has them"
    )


def run(args: argparse.Namespace) -> int:
    """Split every word; a word that cannot be split is named and the rest are done."""
    if args.table is not None:
        try:
            use_table(load_table(args.table))
        except TableError as error:
            print(f"{error.what}: {error.why}.\n  {error.mend}.", file=sys.stderr)
            return 1
    try:
        corrections = teaching.corrections(args)
    except WordListError as error:
        household.tell(error)
        return 1
    failed = 0
    for word in args.words:
        try:
            readings = split(word, args.phones) if args.phones else corrections.split(word)
        except WordError as error:
            failed += 1
            if args.json:
                print(json.dumps({"word": word, "error": str(error)}, ensure_ascii=False))
            print(f"{error.what}: {error.why}.\n  {error.mend}.", file=sys.stderr)
            continue
        if args.json:
            print(json.dumps(as_json(word, readings), ensure_ascii=False))
        else:
            print(as_text(word, readings))
    return 1 if failed else 0


def as_json(word: str, readings: tuple[Split, ...]) -> dict[str, Any]:
    """The object that ``--json`` prints: the first reading, and all of them under ``readings``."""
    return {"word": word, **_one(readings[0]), "readings": [_one(r) for r in readings]}


def _one(reading: Split) -> dict[str, Any]:
    return {
        "graphemes": [
            {
                "grapheme": unit.grapheme,
                "letters": list(unit.letters),
                "phonemes": list(unit.phonemes),
            }
            for unit in reading.units
        ],
        "gpcs": [str(gpc) for gpc in reading.gpcs],
        "phones": reading.phones,
        "regular": reading.regular,
        "exception_part": reading.exception_part,
    }


def as_text(word: str, readings: tuple[Split, ...]) -> str:
    """A few lines for a person: graphemes, GPCs and what is not decodable."""
    lines = [word]
    for reading in readings:
        lines.append(f"  {reading}")
        lines.append("  " + "  ".join(str(gpc) for gpc in reading.gpcs))
        if reading.exception_part:
            lines.append(f"  not decodable: {reading.exception_part}")
    return "\n".join(lines)
