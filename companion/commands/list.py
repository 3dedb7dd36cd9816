"""``wordhearth list``: make a decodable list for a GPC."""

from __future__ import annotations

import argparse
import json
import sys

from companion.commands import teaching
from companion.phonics.decodable import named
from companion.phonics.gpc import TableError
from companion.phonics.listmaker import ListMakerError, MadeList, make
from companion.phonics.wordlists import WordListError, load, to_text

NAME = "list"
HELP = "make a decodable list for a GPC"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add --gpc, --count, --seed, --avoid and --json, and what has been taught."""
    parser.add_argument(
        "--gpc", required=True, help="the GPC the list is for, such as i-e or 'ow /OW/'"
    )
    parser.add_argument(
        "--taught", metavar="GPC", help="the newest GPC taught, if that is later than --gpc"
    )
    teaching.add_school(parser)
    parser.add_argument("--count", type=int, default=12, help="words in the list (default: 12)")
    parser.add_argument(
        "--seed", type=int, default=0, help="another number makes another list (default: 0)"
    )
    parser.add_argument(
        "--avoid",
        metavar="LIST",
        action="append",
        default=[],
        help="a recent list, by file or name, whose words are not used again; may be repeated",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.epilog = (
        "Example: wordhearth list --gpc i-e --seed 3 > week5.txt, then next week "
        "wordhearth list --gpc o-e --avoid week5.txt. What is printed is a list file: edit it, "
        "and read it with wordhearth practise --list week5.txt."
    )


def run(args: argparse.Namespace) -> int:
    """Make and print the list; 0 done, 1 refused with a message."""
    try:
        taught, order = teaching.taught_by(args, args.taught or args.gpc)
        avoid: list[str] = []
        for name in args.avoid:
            old = load(name)
            avoid += [*old.words, *([old.caption] if old.caption else [])]
        made = make(
            named(args.gpc, order),
            taught,
            order,
            count=args.count,
            seed=args.seed,
            recent=avoid,
            splitter=teaching.corrections(args).split,
        )
    except (WordListError, TableError, ListMakerError) as error:
        print(error, file=sys.stderr)
        return 1
    print(_json(made) if args.json else to_text(made.words, _notes(made, args)), end="")
    return 0


def _notes(made: MadeList, args: argparse.Namespace) -> list[str]:
    by_role: dict[str, list[str]] = {}
    for each in made.why:
        by_role.setdefault(each.role, []).append(each.word)
    return [
        f"Made by: wordhearth list --gpc {args.gpc} --count {args.count} --seed {args.seed}",
        *(f"{role}: {' '.join(words)}" for role, words in by_role.items()),
        *made.notes,
    ]


def _json(made: MadeList) -> str:
    words = made.words
    record = {
        "name": words.name,
        "title": words.title,
        "target": str(words.target),
        "words": [
            {"word": each.word, "role": each.role, "gpc": str(each.gpc) if each.gpc else None}
            for each in made.why
        ],
        "pairs": [list(pair) for pair in words.pairs],
        "caption": words.caption,
        "notes": list(made.notes),
    }
    return json.dumps(record, ensure_ascii=False) + "\n"
