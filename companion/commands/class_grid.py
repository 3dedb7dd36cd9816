"""``wordhearth class grid``: the class grid, child by GPC, with evidence on request."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from pathlib import Path

from companion.commands import classroom, household
from companion.phonics.gpc import Gpc, TableError
from companion.record.files import write_durably
from companion.report.week import STATES
from companion.school import grid_csv, grid_text, register
from companion.school.asking import asks
from companion.school.book import Book
from companion.school.grid import Grid, class_grid
from companion.school.grid_json import grid_json
from companion.school.grid_page import grid_pdf
from companion.school.grid_view import SHEET_COLUMNS, filtered, fitting
from companion.school.trouble import BadEntry
from speech.trouble import Trouble

NAME = "class grid"
HELP = "the class grid: each child and GPC in one of four states, with its evidence"

_NARROWEST = 40


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        "Each child and each GPC: practise, not enough listened, secure or not yet taught, from\n"
        "the last six weeks of what families handed in and from your own checks, which outrank\n"
        "it. Days practised are shown neutrally: a home without the tool is no gap."
    )
    classroom.add_week(parser, "this", "the week that has ended or is ending")
    parser.add_argument(
        "--child", metavar="CODE", type=classroom.code, action="append", help="only this child"
    )
    parser.add_argument("--gpc", metavar="GPC", action="append", help="only this GPC")
    parser.add_argument(
        "--state", choices=STATES, action="append", help="only children and GPCs with this state"
    )
    parser.add_argument(
        "--changed", action="store_true", help="only what changed since the week before"
    )
    parser.add_argument(
        "--all", action="store_true", help=f"every column, not the {SHEET_COLUMNS} most telling"
    )
    parser.add_argument(
        "--evidence", action="store_true", help="what each cell rests on; with --child or --gpc"
    )
    parser.add_argument(
        "--ask", action="store_true", help="whom to hear read what, for a minute each, and why"
    )
    parser.add_argument("--width", type=int, metavar="N", help="characters in a line")
    parser.add_argument("--csv", metavar="FILE", type=Path, help="write the whole grid as CSV")
    parser.add_argument(
        "--pdf", metavar="FILE", type=Path, help="write what is shown as one page of A4"
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    classroom.add_book(parser)
    parser.epilog = (
        "examples:\n"
        "  wordhearth class grid --state practise          who needs what\n"
        "  wordhearth class grid --child 7K3QFY --evidence  one child, cell by cell\n"
        "  wordhearth class grid --ask                     checks worth a minute this week\n"
    )


def run(args: argparse.Namespace) -> int:
    """Draw the grid."""
    try:
        week = classroom.week(args.week)
        with classroom.opened(args, key=False) as book:
            whole = class_grid(book, week)
            shown = _shown(args, book, whole)
        if args.csv:
            write_durably(args.csv.expanduser(), grid_csv.to_bytes(whole))
        if args.pdf:
            write_durably(args.pdf.expanduser(), grid_pdf(shown))
    except (Trouble, TableError) as error:
        household.tell(error)
        return 1
    _print(args, whole, shown)
    return 0


def _shown(args: argparse.Namespace, book: Book, whole: Grid) -> Grid:
    for code in args.child or ():
        register.one(book, code)
    gpcs = None
    if args.gpc:
        gpcs = [gpc for text in args.gpc for gpc in _columns(text, whole)]
    shown = filtered(whole, pupils=args.child, gpcs=gpcs, states=args.state, changed=args.changed)
    narrow = not (args.all or args.gpc or args.evidence or args.json)
    return fitting(shown) if narrow else shown


def _columns(text: str, whole: Grid) -> list[Gpc]:
    """The columns a teacher means: one GPC, or every value of a grapheme."""
    found = [
        column.gpc for column in whole.columns if text in (str(column.gpc), column.gpc.grapheme)
    ]
    if not found:
        raise BadEntry(
            f"The grid has no column {text!r}",
            "it holds the GPCs of the teaching order up to the last one taught",
            "Write one as the grid does, such as i-e or 'ow /OW/'.",
        )
    return found


def _print(args: argparse.Namespace, whole: Grid, shown: Grid) -> None:
    if args.json:
        print(json.dumps(grid_json(shown, asks(whole)), ensure_ascii=False, indent=2))
        return
    if args.evidence:
        print(_evidence(shown), end="")
        return
    if args.ask:
        found = asks(whole)
        print(f"Worth a minute each this week ({len(found)}), for you to choose from:")
        for ask in found:
            print(f"  {ask.pupil}  {ask.gpc}: {ask.why}")
        print("Words to hear: wordhearth class check CODE GPC")
        return
    width = args.width or shutil.get_terminal_size((grid_text.WIDTH, 24)).columns
    symbols = _can_show(sys.stdout.encoding)
    print(grid_text.to_text(shown, max(width, _NARROWEST), symbols=symbols), end="")


def _evidence(shown: Grid) -> str:
    lines = []
    for row in shown.rows:
        lines.append(f"{row.child.code}")
        for cell in row.cells:
            if cell.decided_by == "nothing" and len(row.cells) > 1:
                continue
            lines.append(f"  {cell.gpc}: {cell.state}")
            lines += [f"    {line}" for line in grid_text.evidence_lines(cell, row.accents)]
    return "\n".join(lines) + "\n" if lines else "Nothing to show.\n"


def _can_show(encoding: str | None) -> bool:
    try:
        "■○–".encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True
