"""Nothing opens a socket elsewhere, ever: the kernel kills the program if it tries."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import onnxruntime
import pytest
from source_tree import ROOT

import fixtures_audio

FORBIDDEN = [sys.executable, str(Path(__file__).with_name("internet_forbidden.py"))]
WORDHEARTH = [sys.executable, "-c", "import sys; from companion.cli import main; sys.exit(main())"]
CLIPS = Path(fixtures_audio.__file__).parent / "synthesised"

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="needs Linux's seccomp")


def run(home: Path, *command: str) -> subprocess.CompletedProcess[str]:
    """Run a program for which the internet is forbidden, with `home`'s folder as the user's own.

    Only these variables are handed on: a library that reports home keeps quiet where it sees that
    it is being tested, and must be caught.
    """
    handed_on = ("PATH", "LANG", "LD_LIBRARY_PATH", "ALSA_CONFIG_PATH", "PULSE_SERVER")
    environment = {name: os.environ[name] for name in handed_on if name in os.environ}
    environment |= {
        "HOME": str(home.parent),
        "PYTHONPATH": str(ROOT),
        "WORDHEARTH_HOME": str(home),
    }
    return subprocess.run(
        [*FORBIDDEN, *command], cwd=home.parent, env=environment, capture_output=True, text=True
    )


def wordhearth(home: Path, *arguments: str) -> str:
    done = run(home, *WORDHEARTH, *arguments)
    assert done.returncode == 0, f"{arguments}: {done.returncode}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


@pytest.mark.parametrize("family", ["AF_INET", "AF_INET6"])
def test_a_program_that_makes_an_internet_socket_is_killed(home: Path, family: str) -> None:
    code = f"import socket; socket.socket(socket.{family}, socket.SOCK_DGRAM)"
    assert run(home, sys.executable, "-c", code).returncode == -signal.SIGSYS


def test_a_child_of_the_program_is_killed_as_well(home: Path) -> None:
    code = (
        "import subprocess, sys; print(subprocess.run([sys.executable, '-c', "
        "'import socket; socket.create_connection((chr(49), 9))']).returncode)"
    )
    assert run(home, sys.executable, "-c", code).stdout.strip() == str(-signal.SIGSYS)


def test_a_local_socket_is_left_alone(home: Path) -> None:
    code = "import socket; socket.socket(socket.AF_UNIX); print('made')"
    assert run(home, sys.executable, "-c", code).stdout == "made\n"


def test_demo_needs_no_internet(home: Path) -> None:
    assert wordhearth(home, "demo")


def test_demo_leaves_nothing_behind(home: Path) -> None:
    wordhearth(home, "demo")
    assert list(home.parent.iterdir()) == []


def test_listening_on_needs_no_internet(home: Path) -> None:
    """Guards against libraries that report home after some seconds, as onnxruntime 1.32 does."""
    code = (
        "import time, numpy\nfrom speech.scorer import PhoneScorer\nscorer = PhoneScorer.load()\n"
        "for _ in range(15):\n    scorer.hear(numpy.zeros(16000, numpy.float32))\n"
        "    time.sleep(1)\nprint('heard')"
    )
    done = run(home, sys.executable, "-c", code)
    assert (done.returncode, done.stdout) == (0, "heard\n"), done.stderr
    assert list(home.parent.iterdir()) == []


def test_the_library_that_runs_the_network_has_nothing_to_report_with() -> None:
    libraries = list(Path(onnxruntime.__file__).parent.rglob("*.so*"))
    assert libraries
    reporting = [path.name for path in libraries if b"OneDsTelemetry" in path.read_bytes()]
    assert reporting == []


def test_judging_needs_no_internet(home: Path) -> None:
    manifest = home.parent / "one.jsonl"
    clip = min(CLIPS.glob("pine.P-AY-N.*.opus"))
    manifest.write_text(json.dumps({"audio": str(clip), "word": "pine"}) + "\n")
    assert json.loads(wordhearth(home, "judge", str(manifest), "--json"))["verdict"]


def test_a_sitting_its_week_and_its_end_need_no_internet(home: Path) -> None:
    clip = min(CLIPS.glob("kite.K-AY-T.*.opus"))
    wordhearth(home, "consent", "--yes", "practise,keep_log")
    wordhearth(home, "practise", "--list", "i-e", "--audio", str(clip))
    week = json.loads(wordhearth(home, "week", "--json"))
    assert week
    wordhearth(home, "consent", "--withdraw")


@pytest.mark.parametrize(
    "arguments",
    [
        ("split", "pine"),
        ("list", "--gpc", "i-e"),
        ("words", "cake", "chef"),
        ("consent", "--show"),
        ("--help",),
    ],
    ids=" ".join,
)
def test_a_teachers_commands_need_no_internet(home: Path, arguments: tuple[str, ...]) -> None:
    assert wordhearth(home, *arguments)


def test_joining_and_the_class_book_need_no_internet(home: Path) -> None:
    wordhearth(home, "class", "start", "--login", "--pupils", "1", "--taught", "u-e")
    wordhearth(home, "class", "list", "i-e")
    wordhearth(home, "class", "family", "--out", str(home / "slips"))
    (slip,) = (home / "slips").iterdir()
    wordhearth(home, "consent", "--yes", "practise,keep_log,hand_in")
    assert wordhearth(home, "join", str(slip))
    assert wordhearth(home, "class", "pupil", "list")


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="sudo apt install espeak-ng")
def test_speaking_needs_no_internet(home: Path) -> None:
    code = "from speech.voice import Voice; Voice().say_word('pine', to_file='pine.wav')"
    done = run(home, sys.executable, "-c", code)
    assert done.returncode == 0, done.stderr
    assert (home.parent / "pine.wav").stat().st_size > 1000


@pytest.mark.usefixtures("sound_card")
def test_the_microphone_needs_no_internet(home: Path) -> None:
    code = "from speech.capture import Microphone\nwith Microphone():\n    print('open')"
    done = run(home, sys.executable, "-c", code)
    assert (done.returncode, done.stdout) == (0, "open\n"), done.stderr
