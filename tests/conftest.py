"""What all tests share: settings, no skipping in CI, and a virtual sound card."""

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

# Disks and shared machines are slow at times; a failure in CI must fail again on the next run.
settings.register_profile("unhurried", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "unhurried")

APT = "sudo apt install pulseaudio pulseaudio-utils libasound2-plugins libportaudio2"
FIXTURES = Path(__file__).parents[1] / "fixtures_audio"


def pytest_sessionfinish(session: pytest.Session) -> None:
    """In CI a skipped test fails the run: everything that a test needs is installed there."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("CI") and reporter is not None and reporter.stats.get("skipped"):
        reporter.write_line("\nSkipped in CI, where nothing may be skipped:", red=True)
        for report in reporter.stats["skipped"]:
            reporter.write_line(f"  {report.nodeid}: {report.longrepr[-1]}", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


class VirtualSoundCard:
    """PulseAudio with one null sink: what is played into it comes out of its monitor.

    It runs as whoever runs the tests, root included, with a socket and files of its own.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.server = f"unix:{folder / 'native'}"
        (folder / "asound.conf").write_text(
            'pcm.!default { type pulse hint { show on description "Virtual sound card" } }\n'
            "ctl.!default { type pulse }\n"
        )
        home = {
            "HOME": str(folder),
            "XDG_CONFIG_HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
            "PULSE_RUNTIME_PATH": str(folder),
        }
        self.daemon = subprocess.Popen(
            [
                "pulseaudio",
                "-n",
                "--daemonize=no",
                "--exit-idle-time=-1",
                "--use-pid-file=no",
                "--disable-shm=yes",
                f"--load=module-native-protocol-unix socket={folder / 'native'} auth-anonymous=1",
            ],
            env=os.environ | home,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self._await_answer()
        self.plug_in()

    def _await_answer(self) -> None:
        for _ in range(100):
            if self.daemon.poll() is None and self._pactl("info").returncode == 0:
                return
            time.sleep(0.1)
        self.close()
        raise RuntimeError("pulseaudio did not answer within 10 s")

    def _pactl(self, *command: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["pactl", f"--server={self.server}", *command],
            capture_output=True,
            text=True,
            timeout=10,
            check=False,
        )

    def plug_in(self) -> None:
        """Add the loudspeaker and the microphone."""
        # norewinds: without it a null sink hands sound over in lumps of two seconds
        self._pactl(
            "load-module", "module-null-sink", "sink_name=playground", "rate=48000", "norewinds=1"
        ).check_returncode()

    def pull_out(self) -> None:
        """Take both away, as when a headset is unplugged."""
        self._pactl("unload-module", "module-null-sink").check_returncode()

    def play(self, path: Path) -> "subprocess.Popen[bytes]":
        """Start playing a sound file into the loudspeaker."""
        return subprocess.Popen(
            ["paplay", f"--server={self.server}", "--device=playground", str(path)]
        )

    def close(self) -> None:
        """Stop PulseAudio."""
        self.daemon.terminate()
        self.daemon.wait(timeout=10)


@pytest.fixture(scope="session")
def sound_system() -> Iterator[VirtualSoundCard]:
    """One PulseAudio for the whole run, which PortAudio takes for the sound card."""
    if not all(shutil.which(name) for name in ("pulseaudio", "pactl", "paplay")):
        message = f"a virtual microphone needs PulseAudio: {APT}"
        (pytest.fail if os.environ.get("CI") else pytest.skip)(message)
    import sounddevice

    with tempfile.TemporaryDirectory(prefix="wh-") as folder, pytest.MonkeyPatch.context() as patch:
        card = VirtualSoundCard(Path(folder))
        patch.setenv("ALSA_CONFIG_PATH", str(Path(folder) / "asound.conf"))
        patch.setenv("PULSE_SERVER", card.server)
        sounddevice._terminate()
        sounddevice._initialize()
        yield card
        sounddevice._terminate()
        card.close()
    sounddevice._initialize()


@pytest.fixture
def sound_card(sound_system: VirtualSoundCard) -> Iterator[VirtualSoundCard]:
    """The virtual sound card, plugged in at the start and the end of the test."""
    yield sound_system
    sources = sound_system._pactl("list", "short", "sources").stdout
    if "playground" not in sources:
        sound_system.plug_in()
