"""`wordhearth` with no command: what it says, where it listens, its end, and a second launch."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from program import COMMAND, ROOT, Program
from reading_aloud import agreed

MAY_SERVE = (sys.executable, str(ROOT / "tests/house/internet_forbidden.py"), "--may-serve")

LOOPBACK = "0100007F"
"""127.0.0.1 as the kernel's table has it, its bytes in the machine's order."""


def listening(pid: int) -> list[str]:
    """Addresses at which a process takes connections, from the kernel's own table."""
    inodes = set()
    for handle in Path(f"/proc/{pid}/fd").iterdir():
        target = str(handle.readlink())
        if target.startswith("socket:["):
            inodes.add(target.removeprefix("socket:[").rstrip("]"))
    found = []
    for table in ("tcp", "tcp6", "udp", "udp6"):
        for row in Path(f"/proc/{pid}/net/{table}").read_text().splitlines()[1:]:
            cells = row.split()
            if cells[9] in inodes and (cells[3] == "0A" or table.startswith("udp")):
                found.append(cells[1].split(":")[0])
    return found


def test_it_says_where_it_is_and_how_to_stop_and_ends_by_ctrl_c(home: Path) -> None:
    with Program(home) as program:
        with program.client() as client:
            assert "Welcome" in client.get("/").text
        code, said, errors = program.end()
    assert "on this computer only" in said
    assert "Ctrl-C" in said
    assert code == 130
    assert errors == "\nStopped. Everything already marked is kept.\n"
    assert not home.exists()
    assert list(home.parent.rglob("family-*")) == []  # no note of a program that has ended


def test_it_listens_on_the_loopback_address_alone_and_calls_nobody(home: Path) -> None:
    """The kernel kills it as soon as it connects to anything, or makes a socket that need not."""
    agreed(home)
    with Program(home, under=MAY_SERVE) as program:
        assert listening(program.process.pid) == [
            "0100007F"
        ]  # 127.0.0.1, bytes in the host's order
        with program.client() as client:
            for path in ("/", "/new", "/child/gull", "/child/gull/week", "/child/gull/settings"):
                assert client.get(path).status_code == 200, path
            client.post("/child/gull/class", data={"today": "i-e"})
        assert program.process.poll() is None
        assert program.end()[0] == 130


@pytest.mark.parametrize("code", ["s.socket().connect(('127.0.0.1', 9))",
                                  "s.socket(s.AF_INET, s.SOCK_DGRAM)"])  # fmt: skip
def test_a_program_that_calls_somebody_is_killed(code: str) -> None:
    done = subprocess.run([*MAY_SERVE, sys.executable, "-c", f"import socket as s; {code}"])
    assert done.returncode == -signal.SIGSYS


def test_a_second_launch_leads_to_the_first_and_begins_nothing(home: Path) -> None:
    with Program(home) as first, Program(home) as second:
        assert second.process.wait(timeout=10) == 0
        assert "already there" in "".join(second.said)
        assert second.origin == first.origin
        assert second.link != first.link
        with second.client() as client:
            assert client.get("/").status_code == 200


def test_another_home_has_its_own_program(home: Path, tmp_path: Path) -> None:
    with Program(home) as first, Program(tmp_path / "second") as second:
        assert first.origin != second.origin


def test_after_a_program_was_killed_the_next_begins_anew(home: Path) -> None:
    with Program(home) as first:
        first.end(signal.SIGKILL)
        with Program(home) as second:
            assert second.link != first.link
            with second.client() as client:
                assert client.get("/").status_code == 200


def test_a_port_may_be_chosen_and_one_that_is_taken_is_told(home: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        done = subprocess.run(
            [*COMMAND, "--no-browser", "--port", port, "--home", str(home)],
            env=os.environ | {"PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(home.parent)},
            capture_output=True, text=True, timeout=20,
        )  # fmt: skip
    assert done.returncode == 1
    assert "Leave --port out" in done.stderr
    with Program(home, "--port", port) as program:
        assert program.origin.endswith(f":{port}")


def test_without_a_screen_no_browser_is_started(home: Path) -> None:
    """A browser for terminals would take the window over in which the address was printed."""
    plain = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    process = subprocess.Popen(
        [*COMMAND, "--home", str(home)],
        env=plain | {"PYTHONPATH": str(ROOT), "XDG_CACHE_HOME": str(home.parent)},
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    said = [process.stdout.readline() for _ in range(3)]
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=20)
    assert "No browser could be opened" in "".join(said)
