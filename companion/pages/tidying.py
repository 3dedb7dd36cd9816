"""Letting go of what has outlived its time, beside the pages: once a day for each child.

A family that comes back after years has 200,000 old readings to turn into weekly counts, which
takes some twenty seconds: no page waits for it. Erasing does, so that nothing is written into what
is being erased.
"""

from __future__ import annotations

import sys
import threading
import time
from dataclasses import dataclass
from datetime import date

from starlette.requests import Request

from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.retention import tidy
from companion.record.trouble import LogLocked, RecordTrouble

QUIET_S, PATIENCE_S = 1.0, 5.0
"""Pages go first: nothing is done until none was asked for so long, but the wait has an end."""
TRIES_MAX, WAIT_S = 5, 10.0
"""Where another window holds the log for long, it is tried again after so many seconds."""
STOP_S = 10.0
"""A week is rolled up in a few hundredths of a second, giving space back takes a second or so."""


@dataclass(frozen=True)
class Progress:
    """Readings turned into weekly counts so far, and all there are."""

    done: int
    total: int

    @property
    def percent(self) -> int:
        """0 to 100."""
        return 100 * self.done // self.total if self.total else 100


class _Stopped(Exception):
    """The rest is for another time: each week is a transaction of its own."""


class _Tidy(threading.Thread):
    """Tidies one child's folder."""

    def __init__(self, folder: ChildFolder, today: date) -> None:
        super().__init__(name=f"tidy {folder.label}", daemon=True)
        self._folder, self._today = folder, today
        self.stopping = threading.Event()
        self.progress: Progress | None = None
        self.asked_s = time.monotonic()

    def run(self) -> None:
        """Tidy; what cannot be tidied now is left to the next day, or the next command."""
        self._wait_for_pages()
        for again in range(0 if self.stopping.is_set() else TRIES_MAX):
            try:
                self._tidy()
                break
            except _Stopped:
                break
            except LogLocked as error:
                if self.stopping.wait(WAIT_S):
                    break
                if again == TRIES_MAX - 1:
                    _tell(error)
            except RecordTrouble as error:
                _tell(error)
                break
        self.progress = None

    def _tidy(self) -> None:
        if self._folder.log.exists():
            with Log.open(self._folder.log) as log:
                tidy(self._folder, log, self._today, self._told)
        else:
            tidy(self._folder, None, self._today)

    def _told(self, done: int, total: int) -> None:
        if self.stopping.is_set():
            raise _Stopped
        self.progress = Progress(done, total)
        self._wait_for_pages()

    def _wait_for_pages(self) -> None:
        began_s = time.monotonic()
        while not self.stopping.is_set() and time.monotonic() - began_s < PATIENCE_S:
            left_s = self.asked_s + QUIET_S - time.monotonic()
            if left_s <= 0:
                return
            self.stopping.wait(left_s)


def _tell(error: RecordTrouble) -> None:
    print(f"Old readings were not let go yet: {error}", file=sys.stderr)


class Tidying:
    """What is being tidied, and what has been today."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._last: dict[ChildFolder, tuple[date, _Tidy]] = {}

    def see_to(self, folder: ChildFolder, today: date) -> Progress | None:
        """Start tidying a child's folder unless begun today; how far it is, while it runs."""
        with self._lock:
            found = self._last.get(folder)
            if found is None or found[0] != today:
                found = today, _Tidy(folder, today)
                self._last[folder] = found
                found[1].start()
        found[1].asked_s = time.monotonic()
        return found[1].progress

    def stop(self, folder: ChildFolder) -> None:
        """Stop tidying a child's folder, and wait until nothing more is written there."""
        with self._lock:
            found = self._last.pop(folder, None)
        if found is not None:
            found[1].stopping.set()
            found[1].join(STOP_S)

    def wait(self, folder: ChildFolder) -> None:
        """Wait until the child's folder is tidy."""
        with self._lock:
            found = self._last.get(folder)
        if found is not None:
            found[1].join()


def tidying_of(request: Request) -> Tidying:
    """The launch's one."""
    state = request.app.state
    if not hasattr(state, "tidying"):
        state.tidying = Tidying()
    found = state.tidying
    assert isinstance(found, Tidying)
    return found
