"""``wordhearth export``: everything that is kept of a child, in one ZIP."""

from __future__ import annotations

import argparse
from pathlib import Path

from companion.commands import household
from companion.record.files import write_durably
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.trouble import RecordTrouble
from companion.report.export import export, file_name

NAME = "export"
HELP = "everything that is kept of a child, in one ZIP: tables, JSON and clips"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.description = (
        "Writes all that is kept of a child on this computer to one ZIP: tables as CSV for a\n"
        "spreadsheet, the same as JSON, sound clips where they were chosen, and a text that says\n"
        "what each column means. It is about a child and not locked: keep it as you would keep a\n"
        "school report. Nothing is changed or erased by it."
    )
    parser.epilog = (
        "examples:\n"
        "  wordhearth export                        into this folder\n"
        "  wordhearth export --to puffin.zip --child puffin\n"
    )
    parser.add_argument(
        "--to",
        metavar="FILE",
        type=Path,
        help="the file to write (default: wordhearth-DATE.zip in this folder)",
    )
    household.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    try:
        folder = household.folder(args)
        if not folder.path.is_dir():
            raise RecordTrouble(
                f"There is nothing of '{folder.label}' to export",
                f"nothing has been recorded in {folder.path}",
                "If another label or place was used, name it with --child or --home.",
            )
        now = household.now()
        path = args.to or Path(file_name(now))
        write_durably(path, _archive(folder))
    except RecordTrouble as error:
        household.tell(error)
        return 1
    print(f"Written: {path} ({path.stat().st_size / 1000:.0f} kB). Nothing was changed.")
    return 0


def _archive(folder: ChildFolder) -> bytes:
    now = household.now()
    if not folder.log.exists():
        return export(folder, None, now)
    with Log.open(folder.log) as log:
        return export(folder, log, now)
