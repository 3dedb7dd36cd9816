"""What the household's commands share: which child, which folder, and how trouble is told."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime

from companion.record.home import FIRST_CHILD, HOME_VARIABLE, ChildFolder, child_folder


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
