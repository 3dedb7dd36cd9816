"""``wordhearth words``: a teacher's own words, split, warned about and corrected."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from companion.commands import teaching
from companion.phonics.gpc import TableError
from companion.phonics.own_words import (
    Corrections,
    OwnWord,
    correct,
    look_at,
    save_corrections,
)
from companion.phonics.split import WordError
from companion.phonics.wordlists import WordListError, read_text

NAME = "words"
HELP = "split your own words, see what is untaught, and correct a split"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words, --file, --set, --unset and --json, and what has been taught."""
    parser.add_argument("words", metavar="WORD", nargs="*", help="words, in any order and case")
    parser.add_argument(
        "--file", metavar="FILE", help="words pasted into a text file; - for a pipe"
    )
    teaching.add_taught(parser)
    teaching.add_school(parser)
    parser.add_argument(
        "--set",
        metavar=("WORD", "GRAPHEMES"),
        nargs=2,
        action="append",
        default=[],
        help="correct a split and keep it, such as: --set chef 'ch /SH/ e f'; may be repeated",
    )
    parser.add_argument(
        "--unset", metavar="WORD", action="append", default=[], help="take a correction back"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object a word")
    parser.epilog = "Example: wordhearth words cake 'chef, boat' --taught i-e"


def run(args: argparse.Namespace) -> int:
    """Correct, then look at the words; 0 done, 1 refused or a word could not be split."""
    try:
        taught, _ = teaching.taught_by(args, args.taught)
        corrections = _corrected(args)
        pasted = " ".join(args.words) + "\n" + (_pasted(args.file) if args.file else "")
    except (WordListError, TableError, WordError) as error:
        print(error, file=sys.stderr)
        return 1
    set_now = " ".join(word for word, _ in args.set)
    looked = look_at(f"{pasted}\n{set_now}", taught, corrections)
    if not looked and not args.unset:
        print("There are no words. Give some, or --file FILE.", file=sys.stderr)
        return 1
    for own in looked:
        print(_json(own) if args.json else _line(own))
    return 1 if any(own.fault for own in looked) else 0


def _pasted(name: str) -> str:
    return sys.stdin.read() if name == "-" else read_text(Path(name), name)


def _corrected(args: argparse.Namespace) -> Corrections:
    corrections = teaching.corrections(args)
    for word, graphemes in args.set:
        corrections = corrections.plus(correct(word, graphemes))
    for word in args.unset:
        if corrections.find(word) is None:
            raise WordListError(
                f"--unset {word}", "its split has not been corrected", "Check the spelling."
            )
        corrections = corrections.minus(word)
    if args.set or args.unset:
        save_corrections(teaching.corrections_file(args), corrections)
    return corrections


def _line(own: OwnWord) -> str:
    if own.fault is not None:
        return f"{own.word}: {own.fault}"
    split = str(own.readings[0])
    mark = " (your split)" if own.corrected else ""
    said = "".join(f"\n    {warning}" for warning in own.warnings)
    return f"{own.word}: {split}{mark}{said}"


def _json(own: OwnWord) -> str:
    record = {
        "word": own.word,
        "readings": [
            {"graphemes": str(each), "gpcs": [str(gpc) for gpc in each.gpcs]}
            for each in own.readings
        ],
        "corrected": own.corrected,
        "untaught": [str(gpc) for gpc in own.untaught],
        "exception_part": own.exception_part,
        "taught_by_sight": own.sight,
        "listed": own.listed,
        "warnings": list(own.warnings),
    }
    if own.fault is not None:
        record["error"] = str(own.fault)
    return json.dumps(record, ensure_ascii=False)
