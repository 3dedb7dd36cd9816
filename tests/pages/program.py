"""The program itself, started as a family starts it, in a process of its own."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

import httpx

ROOT = Path(__file__).parents[2]
COMMAND = (sys.executable, "-c", "from companion.cli import main; raise SystemExit(main())")


class Program:
    """`wordhearth` with no command, from its start to its end.

    Parameters
    ----------
    home : Path
        The data home; the user's other folders are beside it.
    arguments : sequence of str
        Further ones.
    under : sequence of str
        A command that runs it.
    """

    def __init__(self, home: Path, *arguments: str, under: Sequence[str] = ()) -> None:
        folders = {
            "WORDHEARTH_HOME": str(home),
            "XDG_CACHE_HOME": str(home.parent / "cache"),
            "PYTHONPATH": str(ROOT),
        }
        self.process = subprocess.Popen(
            [*under, *COMMAND, "--no-browser", *arguments],
            env=os.environ | folders,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.said: list[str] = []
        self.link = self._link()

    def _link(self) -> str:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line)
            if found := re.search(r"http://127\.0\.0\.1:\d+/open\?key=\S+", line):
                return found[0]
        raise AssertionError(f"no address: {self.said} {self.process.communicate()[1]}")

    @property
    def origin(self) -> str:
        return self.link.split("/open")[0]

    @contextmanager
    def client(self) -> Iterator[httpx.Client]:
        """A client that has opened the link."""
        headers = {"Origin": self.origin}
        with httpx.Client(base_url=self.origin, timeout=20, headers=headers) as client:
            assert client.get(self.link).status_code == 303
            yield client

    def end(self, how: signal.Signals = signal.SIGINT) -> tuple[int, str, str]:
        """Stop it; its status, and what more it said."""
        self.process.send_signal(how)
        assert self.process.stdout is not None and self.process.stderr is not None
        out, errors = self.process.stdout.read(), self.process.stderr.read()
        return self.process.wait(timeout=20), out, errors

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.communicate(timeout=20)
