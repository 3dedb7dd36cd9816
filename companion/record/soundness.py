"""When a log must be looked through before it is used, and what is remembered of the last look.

SQLite's `quick_check` reads the whole file, which takes 0.6 s for ten years of single readings
(`python tests/time_ten_years.py`). It need not be done again where the file is, byte for byte as
far as the file system can tell, the one that was found whole: same inode, size, and times of
change to the nanosecond, and no journal beside it. Whatever else touches the file (a program that
was killed after it wrote, another program, a disk put back from a backup) changes one of these. A
disk that fails silently changes none, so the look is taken again once a day all the same, and
SQLite itself reports a broken page whenever it meets one.

The memory is a small file beside the log. It is never trusted further than that: missing, damaged
or unwritable, it only means that the log is looked through again.
"""

from __future__ import annotations

import contextlib
import json
import os
import time
from dataclasses import dataclass
from pathlib import Path

LOOK_EVERY_S = 24 * 60 * 60
FORMAT = 1


@dataclass(frozen=True)
class Sight:
    """How a file looked from outside: inode, size in bytes, times of change in nanoseconds."""

    inode: int
    size: int
    modified_ns: int
    changed_ns: int


def seen(path: Path) -> Sight | None:
    """How a file looks now; None where it cannot be looked at."""
    try:
        found = path.stat()
    except OSError:
        return None
    return Sight(found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns)


class Watch:
    """Follows one open log, so that only what this program changed counts as unharmed.

    `looked_s` is when the log was last looked through, in seconds of `time.time`; None until then.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._memory = path.with_name(path.name + ".whole")
        self._known: Sight | None = None
        self._remembered: Sight | None = None
        self.looked_s: float | None = None

    def trusts(self) -> bool:
        """Whether the log is the one last found whole, not longer ago than a day."""
        found = self._recall()
        if found is None or self._path.with_name(self._path.name + "-journal").exists():
            return False
        sight, looked_s = found
        if not 0 <= time.time() - looked_s < LOOK_EVERY_S or sight != seen(self._path):
            return False
        self._known, self._remembered, self.looked_s = sight, sight, looked_s
        return True

    def looked(self) -> None:
        """The log has just been found whole."""
        self._known, self.looked_s = seen(self._path), time.time()

    def before_change(self) -> None:
        """This program is about to write, and holds the lock."""
        if self._known != seen(self._path):
            self._known = None  # somebody else wrote: whole or not, this program cannot say

    def after_change(self) -> None:
        """This program has written, and the write is on disk."""
        if self._known is not None:
            self._known = seen(self._path)

    def close(self) -> None:
        """Remember the log as whole if nobody but this program changed it."""
        known = self._known
        if known is None or known == self._remembered or known != seen(self._path):
            return
        self._known = None
        data = {"format": FORMAT, "looked_s": self.looked_s, "file": list(vars(known).values())}
        fresh = self._memory.with_name(self._memory.name + ".new")
        # a folder that may only be read: the log is looked through each time, as before
        with contextlib.suppress(OSError):
            with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as to:
                json.dump(data, to)
            fresh.replace(self._memory)

    def _recall(self) -> tuple[Sight, float] | None:
        try:
            data = json.loads(self._memory.read_text(encoding="utf-8"))
            if data["format"] != FORMAT:
                return None
            return Sight(*data["file"]), float(data["looked_s"])
        except (OSError, ValueError, TypeError, KeyError):
            return None
