"""Where a sitting's turns go: the log, where an adult agreed to one, and clips, where chosen."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from companion.practice.sitting import Keeping
from companion.record import consent
from companion.record.consent import ClipPermit, LogPermit
from companion.record.home import ChildFolder
from companion.record.log import Log


@contextmanager
def keeping(folder: ChildFolder) -> Iterator[Keeping | None]:
    """Open what a sitting keeps its turns in; None where no log was agreed to.

    Parameters
    ----------
    folder : ChildFolder
        The child.

    Raises
    ------
    LogTrouble
        The log cannot be opened: said before the child reads.
    ConsentUnreadable
        The consent record is damaged.
    """
    given = consent.read(folder)
    if not given.holds(LogPermit.choice):
        yield None
        return
    clips = ClipPermit(folder) if given.holds(ClipPermit.choice) else None
    with Log.open(folder.log) as log:
        yield Keeping(log, LogPermit(folder), clips)
