"""What the household's commands share: which child, which folder, and how trouble is told."""

from __future__ import annotations

import argparse
import sys
from contextlib import ExitStack
from datetime import datetime

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn

from companion.record.home import FIRST_CHILD, HOME_VARIABLE, ChildFolder, child_folder
from companion.record.log import Log
from companion.record.retention import tidy


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add ``--child`` and ``--home``."""
    parser.add_argument(
        "--child",
        metavar="LABEL",
        help="a nickname or the name of a picture, where more than one child reads here; "
        f"please no full names (default: {FIRST_CHILD})",
    )
    parser.add_argument(
        "--home",
        metavar="FOLDER",
        help="where everything is kept (default: this user's data folder, or what the variable "
        f"{HOME_VARIABLE} names)",
    )


def folder(args: argparse.Namespace) -> ChildFolder:
    """The folder of the child that the arguments name."""
    return child_folder(args.child, args.home)


MUCH = 5_000
"""Readings that take more than a moment to turn into weekly counts (some 10,000 a second)."""


def tidy_aloud(folder: ChildFolder, log: Log) -> None:
    """Let go of what has outlived its time, and show on standard error how far it is.

    A family that comes back after years has many old readings; the bar is shown only then.
    """
    with ExitStack() as shown:
        bar: tuple[Progress, TaskID] | None = None

        def told(done: int, total: int) -> None:
            nonlocal bar
            if total < MUCH:
                return
            if bar is None:
                columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
                progress = Progress(*columns, console=Console(stderr=True))
                shown.enter_context(progress)
                title = "Turning old readings into weekly counts, once"
                bar = progress, progress.add_task(title, total=total)
            bar[0].update(bar[1], completed=done)

        tidy(folder, log, now().date(), told)


def now() -> datetime:
    """The time here, with its offset: the one clock of these commands."""
    return datetime.now().astimezone()


def tell(error: Exception, also: str = "") -> None:
    """Say what happened, why, and what to do next, on standard error.

    Parameters
    ----------
    error : Exception
        With ``what``, ``why`` and ``mend``.
    also : str
        A further thing to do.
    """
    what, why, mend = (str(getattr(error, part)) for part in ("what", "why", "mend"))
    print(f"{what}.\nWhy: {why}.\nWhat to do: {mend} {also}".rstrip(), file=sys.stderr)
