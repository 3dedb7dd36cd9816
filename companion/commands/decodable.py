"""``wordhearth decodable``: how much of a text the taught sounds can decode."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from companion.commands import teaching
from companion.phonics.decodable import Decodability, check
from companion.phonics.gpc import TableError
from companion.phonics.wordlists import WordListError, read_text

NAME = "decodable"
HELP = "check how much of a text the taught sounds can decode"

SHOWN = 20
"""Words that break a text shown unless --all is given."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add FILE, --all and --json, and what has been taught."""
    parser.add_argument("file", metavar="FILE", help="a text file, UTF-8; - reads what is piped in")
    teaching.add_taught(parser)
    teaching.add_school(parser)
    parser.add_argument("--all", action="store_true", help="show every word that breaks the text")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.epilog = (
        "Example: wordhearth decodable page.txt --taught igh. A grapheme stands for everything "
        "taught up to it, in the default order or in your own (--order)."
    )


def run(args: argparse.Namespace) -> int:
    """Measure the file; 0 done, 1 refused with a message."""
    try:
        taught, _ = teaching.taught_by(args, args.taught)
        corrections = teaching.corrections(args)
        text = sys.stdin.read() if args.file == "-" else read_text(Path(args.file), args.file)
    except (WordListError, TableError) as error:
        print(error, file=sys.stderr)
        return 1
    found = check(text, taught, corrections.split)
    print(_json(found) if args.json else _report(found, args))
    return 0


def _report(found: Decodability, args: argparse.Namespace) -> str:
    if not found.words:
        return "There are no words in this text."
    lines = [
        f"{found.decodable} of {found.words} words can be decoded "
        f"({found.share:.1%}) by what is taught up to {args.taught}."
    ]
    shown = found.broken if args.all else found.broken[:SHOWN]
    if shown:
        lines += ["", "Words that break it (times, first line):"]
    width = max((len(each.word) for each in shown), default=0)
    lines += [
        f"  {each.word:<{width}}  x{each.times}, line {each.line}: {each.gap.why}" for each in shown
    ]
    if len(shown) < len(found.broken):
        lines.append(f"  and {len(found.broken) - len(shown)} more; --all shows them.")
    return "\n".join(lines)


def _json(found: Decodability) -> str:
    return json.dumps(
        {
            "words": found.words,
            "decodable": found.decodable,
            "share": round(found.share, 4),
            "broken": [
                {
                    "word": each.word,
                    "times": each.times,
                    "line": each.line,
                    "why": each.gap.why,
                    "untaught": [str(gpc) for gpc in each.gap.untaught],
                }
                for each in found.broken
            ],
        },
        ensure_ascii=False,
    )
