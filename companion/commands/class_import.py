"""``wordhearth class import``: take in families' summaries, first a preview, then all at once."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from companion.commands import classroom, household
from companion.report.home_school import fingerprint
from companion.school import importing, register
from companion.school.arrivals import Item, from_paths
from companion.school.book import Book
from companion.school.importing import Preview, Taken
from speech.trouble import Trouble

NAME = "class import"
HELP = "take in families' summaries: first a preview, then all at once"

LONG = 40
"""Files that take more than a moment: the bar is shown from here on."""

HEADS = {
    "new": "New",
    "changed": "Later summaries of weeks that are in the book",
    "suspicious": "To be looked at",
    "unknown": "Of pupils this book does not know",
    "refused": "Not taken",
    "older": "Earlier than what is in the book",
    "same": "In the book already",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.add_argument(
        "paths", nargs="+", metavar="FILE", type=Path, help="summaries, or folders of them"
    )
    parser.add_argument("--preview", action="store_true", help="show only; change nothing")
    parser.add_argument(
        "--yes", action="store_true", help="take what is new or changed, without asking"
    )
    parser.add_argument(
        "--accept",
        action="append",
        default=[],
        type=classroom.code,
        metavar="CODE",
        help="with --yes: also take of this pupil what asks for a look (a first key, an odd date); "
        "may be repeated",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object a file")
    classroom.add_book(parser)


def run(args: argparse.Namespace) -> int:
    """Preview, ask, take."""
    try:
        with classroom.opened(args, key=True) as book:
            return _import(args, book)
    except Trouble as error:
        household.tell(error)
        return 1


def _import(args: argparse.Namespace, book: Book) -> int:
    now = household.now()
    sources = list(from_paths(args.paths))
    with _bar("Reading", len(sources)) as progress:
        found = importing.preview(book, sources, now, progress)
    for line in _records(found) if args.json else _lines(book, found):
        print(line)
    if args.preview:
        return 0
    take = _accepted(args, found) if args.yes else _asked(found)
    with _bar("Taking in", len(take)) as progress:
        taken = importing.commit(book, found, now, take, progress)
    if args.json:
        print(json.dumps({"new": taken.new, "changed": taken.changed, "keys": taken.keys}))
    else:
        _tell(taken)
    left = len(found.ready) + len(found.asks) - len(take) + len(taken.left)
    return 1 if left or found.count("refused") or found.count("unknown") else 0


def _accepted(args: argparse.Namespace, found: Preview) -> tuple[int, ...]:
    accepted = [
        place
        for place in found.asks
        if (summary := found.items[place].summary) and summary.pupil in args.accept
    ]
    return (*found.ready, *accepted)


def _asked(found: Preview) -> tuple[int, ...]:
    if not found.ready and not found.asks:
        print("There is nothing to take in.")
        return ()
    take = [*found.ready]
    first = [place for place in found.asks if found.items[place].standing != "suspicious"]
    if first and classroom.yes(
        f"{len(first)} from homes whose key is not known yet. Did they come from those families?"
    ):
        take += first
    take += [
        place
        for place in found.asks
        if found.items[place].standing == "suspicious"
        and classroom.yes(f"Take {found.items[place].name} all the same?")
    ]
    if not take or not classroom.yes(f"Take {len(take)} into the book?"):
        return ()
    return tuple(take)


def _lines(book: Book, found: Preview) -> Iterator[str]:
    called = {each.code: classroom.called(each) for each in register.pupils(book, hidden=True)}
    for standing, head in HEADS.items():
        items = [item for item in found.items if item.standing == standing]
        if items:
            yield f"{head}: {len(items)}"
        for item in items:
            yield from _item(item, called)


def _item(item: Item, called: dict[str, str]) -> Iterator[str]:
    summary = item.summary
    if summary is not None and item.standing in ("new", "changed"):
        whose = called.get(summary.pupil, summary.pupil)
        key = ""
        if item.first_key and item.family_key is not None:
            key = f", first key {fingerprint(item.family_key)}"
        yield f"  {whose}, {summary.week}: {summary.words} words on {summary.days} days{key}"
    elif item.note is not None:
        yield f"  {item.note.what}."
        yield f"    Why: {item.note.why}."
        yield f"    What to do: {item.note.mend}"


def _records(found: Preview) -> Iterator[str]:
    for item in found.items:
        record: dict[str, object] = {"file": item.name, "standing": item.standing}
        if item.summary is not None:
            record |= {"pupil": item.summary.pupil, "week": str(item.summary.week)}
            record |= {"source": item.source, "first_key": item.first_key}
        if item.note is not None:
            record |= {"what": item.note.what, "why": item.note.why, "mend": item.note.mend}
        yield json.dumps(record)


def _tell(taken: Taken) -> None:
    print(f"Taken in: {taken.new} new, {taken.changed} changed, {taken.keys} homes' keys.")
    for item in taken.left:
        print(f"Left out after all: {item.note.what if item.note else item.name}.")


@contextmanager
def _bar(title: str, total: int) -> Iterator[Callable[[int, int], None] | None]:
    if total < LONG:
        yield None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=Console(file=sys.stderr), transient=True) as progress:
        task = progress.add_task(title, total=total)
        yield lambda done, total: progress.update(task, completed=done, total=total)
