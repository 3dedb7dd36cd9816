"""``wordhearth microphone``: through a real sound system, and on recordings."""

from __future__ import annotations

import json
import threading
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from companion.cli import main
from companion.record import consent
from companion.record.home import ChildFolder
from speech.audio import read

CLIPS = Path(__file__).parents[2] / "fixtures_audio"
PINE = CLIPS / "synthesised" / "pine.P-AY-N.scotland-a.opus"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ChildFolder:
    monkeypatch.setenv("WORDHEARTH_HOME", str(tmp_path / "home"))
    return ChildFolder(tmp_path / "home", "child")


@pytest.fixture
def willing(folder: ChildFolder) -> ChildFolder:
    consent.give(folder, ("practise",), datetime(2026, 11, 25, 17, tzinfo=UTC))
    return folder


def played_after(card: Any, seconds: float, path: Path) -> threading.Thread:
    """Play a clip into the loudspeaker while the check is running."""

    def play() -> None:
        time.sleep(seconds)
        card.play(path).wait(timeout=10)

    thread = threading.Thread(target=play)
    thread.start()
    return thread


def test_a_word_read_into_the_microphone_is_measured(
    sound_card: Any, willing: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    playing = played_after(sound_card, 2.0, PINE)
    began = time.monotonic()
    assert main(["microphone", "--json"]) == 0
    assert 5 <= time.monotonic() - began <= 9
    playing.join()
    found = json.loads(capsys.readouterr().out)
    assert found["said"]
    assert found["peak_dbfs"] == pytest.approx(
        20 * np.log10(np.abs(read(PINE).samples).max()), abs=1
    )
    assert 0 < found["round_trip_ms"] < 2500  # the null sink hands the whistle back
    assert found["latency_ms"] >= 0
    assert found["rate"] > 16_000
    assert found["clipped_share"] == 0
    assert set(found["findings"]) <= {"late"}
    assert list((willing.path).iterdir()) == [willing.consent]  # nothing was kept


def test_silence_says_what_to_do_and_plays_no_whistle_if_asked(
    sound_card: Any, willing: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["microphone", "--quiet"]) == 0
    out = capsys.readouterr().out
    assert "Listening for 5 seconds" in out
    assert "Switch the microphone on" in out
    assert "whistle to come back" not in out


def test_without_consent_no_microphone_is_opened(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("speech.capture.Microphone.__enter__", lambda _: pytest.fail("opened"))
    assert main(["microphone"]) == 1
    assert "wordhearth consent" in capsys.readouterr().err


def test_a_microphone_unplugged_in_mid_check_is_told(
    sound_card: Any, willing: ChildFolder, capsys: pytest.CaptureFixture[str]
) -> None:
    timer = threading.Timer(1.0, sound_card.pull_out)
    timer.start()
    assert main(["microphone", "--quiet"]) == 1
    timer.join()
    assert "unplugged" in capsys.readouterr().err


def test_a_recording_is_measured_without_consent(
    folder: ChildFolder, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert main(["microphone", "--audio", str(PINE)]) == 0
    assert "All is well" in capsys.readouterr().out
    loud = np.clip(read(PINE).samples * 12, -1, 1)
    soundfile.write(tmp_path / "loud.wav", loud, 16_000)
    assert main(["microphone", "--audio", str(tmp_path / "loud.wav")]) == 0
    told = capsys.readouterr().out
    assert "the tops are cut off" in told
    assert "delay" not in told


def test_a_recording_that_cannot_be_read_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["microphone", "--audio", str(tmp_path / "gone.wav")]) == 1
    assert "There is no sound file" in capsys.readouterr().err
    soundfile.write(tmp_path / "short.wav", np.zeros(100), 16_000)
    assert main(["microphone", "--audio", str(tmp_path / "short.wav")]) == 1
    assert "too short" in capsys.readouterr().err
