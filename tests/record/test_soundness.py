"""A log is read through whenever anything but this program may have touched it, else once a day."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import textwrap
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from companion.record import soundness
from companion.record.consent import LogPermit
from companion.record.log import Log
from companion.record.trouble import LogCorrupt
from companion.record.turns import Turn

MakeTurn = Callable[..., Turn]
Later = Callable[[float], datetime]


@pytest.fixture
def closed(permit: LogPermit, turn: MakeTurn, later: Later) -> Path:
    """A log of some pages, closed as it should be."""
    path = permit.folder.log
    with Log.open(path) as log:
        sitting = log.start_sitting(permit, "i-e", None, later(0))
        for number in range(12):
            log.add_turn(permit, sitting, turn(word=f"w{number}"), later(0))
    return path


def looked_s(path: Path) -> float | None:
    """When the log was last read through, as it is remembered after opening it now."""
    with Log.open(path) as log:
        return log._watch.looked_s


def memory(path: Path) -> Path:
    return path.with_name("log.db.whole")


def remembered(path: Path) -> dict[str, object]:
    found: dict[str, object] = json.loads(memory(path).read_text())
    return found


def damage(path: Path) -> None:
    """Overwrite the middle of the file in place."""
    with path.open("r+b") as file:
        file.seek(8192)
        file.write(b"\xaa" * 8192)


def test_a_log_that_nobody_touched_is_not_read_through_again(closed: Path) -> None:
    first = remembered(closed)["looked_s"]
    assert first is not None
    assert looked_s(closed) == first
    assert looked_s(closed) == first


def test_what_this_program_wrote_itself_is_trusted(
    closed: Path, permit: LogPermit, turn: MakeTurn, later: Later
) -> None:
    first = remembered(closed)["looked_s"]
    with Log.open(closed) as log:
        sitting = log.start_sitting(permit, "i-e", None, later(1))
        log.add_turn(permit, sitting, turn(), later(1))
        log.roll_up(later(100).date())
    assert looked_s(closed) == first


def test_damage_of_the_same_size_and_time_is_noticed(closed: Path) -> None:
    before = closed.stat()
    damage(closed)
    os.utime(closed, ns=(before.st_atime_ns, before.st_mtime_ns))
    after = closed.stat()
    assert (after.st_size, after.st_mtime_ns) == (before.st_size, before.st_mtime_ns)
    with pytest.raises(LogCorrupt):
        Log.open(closed)


def test_damage_that_cannot_be_seen_from_outside_is_found_within_a_day(closed: Path) -> None:
    """A failing disk changes bytes and no date: written here as a memory of the damaged file."""
    damage(closed)
    sight = soundness.seen(closed)
    data = remembered(closed) | {"file": list(vars(sight).values())}
    memory(closed).write_text(json.dumps(data))
    with Log.open(closed):
        pass  # not read through yet
    data["looked_s"] = float(str(data["looked_s"])) - soundness.LOOK_EVERY_S
    memory(closed).write_text(json.dumps(data))
    with pytest.raises(LogCorrupt):
        Log.open(closed)


@pytest.mark.parametrize("text", ["", "{}", '{"format": 1, "looked_s": "never", "file": []}'])
def test_a_memory_that_says_nothing_means_reading_the_log_through(closed: Path, text: str) -> None:
    first = remembered(closed)["looked_s"]
    memory(closed).write_text(text)
    assert looked_s(closed) != first
    damage(closed)
    memory(closed).write_text(text)
    with pytest.raises(LogCorrupt):
        Log.open(closed)


def test_a_clock_put_back_means_reading_the_log_through(closed: Path) -> None:
    data = remembered(closed)
    ahead = float(str(data["looked_s"])) + 1e6
    memory(closed).write_text(json.dumps(data | {"looked_s": ahead}))
    assert looked_s(closed) != ahead


def test_a_log_is_read_through_after_a_program_was_killed_with_it_open(
    closed: Path, permit: LogPermit
) -> None:
    first = remembered(closed)["looked_s"]
    writer = textwrap.dedent(
        """
        import os, signal, sys
        from datetime import datetime, timezone
        from pathlib import Path
        from companion.record.consent import LogPermit
        from companion.record.home import ChildFolder
        from companion.record.log import Log

        permit = LogPermit(ChildFolder(Path(sys.argv[1]), "puffin"))
        log = Log.open(permit.folder.log)
        log.start_sitting(permit, "i-e", None, datetime.now(timezone.utc))
        os.kill(os.getpid(), signal.SIGKILL)
        """
    )
    command = [sys.executable, "-c", writer, str(permit.folder.home)]
    assert subprocess.run(command, check=False).returncode == -signal.SIGKILL
    assert looked_s(closed) != first


def test_a_log_is_read_through_after_another_program_wrote_beside_this_one(closed: Path) -> None:
    first = remembered(closed)["looked_s"]
    with Log.open(closed):
        other = sqlite3.connect(closed)
        other.execute("UPDATE turn SET overrule = 'skip'")
        other.commit()
        other.close()
    assert looked_s(closed) != first


def test_a_log_that_was_open_twice_is_read_through(
    closed: Path, permit: LogPermit, later: Later
) -> None:
    """Two windows write in turn: neither can answer for what the other wrote."""
    first = remembered(closed)["looked_s"]
    with Log.open(closed) as one, Log.open(closed) as two:
        one.start_sitting(permit, "i-e", None, later(0))
        two.start_sitting(permit, "i-e", None, later(0))
    assert looked_s(closed) != first


def test_a_journal_beside_the_log_means_reading_it_through(closed: Path) -> None:
    first = remembered(closed)["looked_s"]
    closed.with_name("log.db-journal").write_bytes(b"")
    assert looked_s(closed) != first
