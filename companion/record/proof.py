"""Proof of an erasure: what was there before, what is gone, and a search that finds nothing of it.

Before erasing, `look` lists the child's files and notes some of the moments at which readings were
kept: they are told to the microsecond, so no other child's file holds the same one by chance.
Afterwards `search` lists again, and reads every file in the data home for those moments.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.trouble import RecordTrouble

MOMENTS_MAX = 24
"""Enough to notice a file that was forgotten; each costs a look through every file that is left."""
_CHUNK = 1 << 22


@dataclass(frozen=True)
class FileSeen:
    """A file of the child's: its name below the child's folder, and its size in bytes."""

    name: str
    size: int


@dataclass(frozen=True)
class Before:
    """What was kept before an erasure.

    Attributes
    ----------
    files : tuple of FileSeen
        In alphabetical order.
    moments : tuple of str
        When some of the readings were kept, as the log has it.
    """

    files: tuple[FileSeen, ...]
    moments: tuple[str, ...]


@dataclass(frozen=True)
class Proof:
    """What an erasure left.

    Attributes
    ----------
    removed, remaining : tuple of FileSeen
        The files that were there and are gone, and those that the child's folder still holds.
    searched : int
        Files of the data home that were read from end to end.
    moments : int
        Moments that were looked for in each.
    found_in : tuple of str
        Files in which one was found, below the data home; empty after an erasure of everything.
    """

    removed: tuple[FileSeen, ...]
    remaining: tuple[FileSeen, ...]
    searched: int
    moments: int
    found_in: tuple[str, ...]


def look(folder: ChildFolder) -> Before:
    """Note what is kept of a child; a log that cannot be read has no moments to look for."""
    moments: tuple[str, ...] = ()
    if folder.log.exists():
        try:
            with Log.open(folder.log) as log:
                moments = log.moments(MOMENTS_MAX)
        except RecordTrouble:
            moments = ()
    return Before(files(folder), moments)


def search(folder: ChildFolder, before: Before) -> Proof:
    """List again, and look for what was noted in every file of the data home.

    Raises
    ------
    OSError
        A file of the data home cannot be read, so nothing can be said of it.
    """
    after = files(folder)
    names = {each.name for each in after}
    wanted = [moment.encode() for moment in before.moments]
    home = folder.home
    everything = sorted(path for path in home.rglob("*") if path.is_file()) if home.is_dir() else []
    return Proof(
        removed=tuple(each for each in before.files if each.name not in names),
        remaining=after,
        searched=len(everything),
        moments=len(wanted),
        found_in=tuple(
            path.relative_to(home).as_posix() for path in everything if _holds(path, wanted)
        ),
    )


def files(folder: ChildFolder) -> tuple[FileSeen, ...]:
    """Every file of a child's, in alphabetical order."""
    if not folder.path.is_dir():
        return ()
    return tuple(
        FileSeen(path.relative_to(folder.path).as_posix(), path.stat().st_size)
        for path in sorted(folder.path.rglob("*"))
        if path.is_file()
    )


def _holds(path: Path, wanted: list[bytes]) -> bool:
    if not wanted:
        return False
    overlap = max(map(len, wanted)) - 1
    tail = b""
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            block = tail + chunk
            if any(each in block for each in wanted):
                return True
            tail = block[-overlap:]
    return False
