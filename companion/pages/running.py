"""Finding a launch that is already running, so that a second one need not begin.

A small file in this user's cache folder, readable by this user only, says where a home's pages
are served. It holds nothing of a child, and it is gone when the program ends; one left by a
program that was killed is noticed because nobody answers there.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import platformdirs

from companion.pages.launch import HOST, ONCE_PATH, Launch, link

ANSWER_S = 1.0
"""How long the other program may take to answer."""


def _file(home: Path, name: str) -> Path:
    mark = hashlib.sha256(str(home.expanduser().resolve()).encode()).hexdigest()[:16]
    return Path(platformdirs.user_cache_dir("wordhearth")) / f"{name}-{mark}.json"


def find(home: Path, name: str) -> str | None:
    """A link for one browser to a launch that serves `home` and answers; None if there is none."""
    try:
        found = json.loads(_file(home, name).read_text("utf-8"))
        port, key = int(found["port"]), str(found["key"])
    except (OSError, ValueError, TypeError, KeyError):
        return None
    once = _ask(port, key)
    return None if once is None else link(port, once)


@contextmanager
def note(home: Path, name: str, launch: Launch) -> Iterator[None]:
    """Leave the note while the pages are served; where none can be written there is none."""
    path = _file(home, name)
    with suppress(OSError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.unlink(missing_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump({"port": launch.port, "key": launch.link_key}, file)
    try:
        yield
    finally:
        with suppress(OSError):
            path.unlink(missing_ok=True)
            path.parent.rmdir()  # only when nothing else is in it


def _ask(port: int, key: str) -> str | None:
    """Ask the launch of that key for a key of one use; None where no such launch answers."""
    connection = http.client.HTTPConnection(HOST, port, timeout=ANSWER_S)
    try:
        connection.request("GET", f"{ONCE_PATH}?key={key}")
        answer = connection.getresponse()
        return answer.read().decode("ascii") if answer.status == 200 else None
    except (OSError, ValueError, http.client.HTTPException):
        return None
    finally:
        connection.close()
