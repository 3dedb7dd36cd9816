"""The microphone, heard through a real sound system with a virtual sound card."""

import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from speech import capture, portaudio
from speech.audio import RATE, Samples, Utterance, read
from speech.capture import EarLost, EarMissing, Microphone, record_turn
from speech.endpoint import look
from speech.levels import frame_levels

ROOT = Path(__file__).parents[2]
CLIPS = ROOT / "fixtures_audio" / "synthesised"
PINE = CLIPS / "pine.P-AY-N.scotland-a.opus"
SOUNDED = CLIPS / "mule.M_Y-UW_L_M-Y-UW-L.scotland-a.opus"  # its longest pause is 1.2 s


class PlayedFile:
    """A clip heard as a microphone would hear it, without a sound card."""

    lost_pieces = 0

    def __init__(self, samples: Samples, step: int = 480) -> None:
        self.samples = samples
        self.step = step
        self.given = 0

    def pieces(self) -> Iterator[Samples]:
        for first in range(0, len(self.samples), self.step):
            self.given = min(first + self.step, len(self.samples))
            yield self.samples[first : self.given]


def likeness(heard: Utterance, played: Utterance) -> float:
    """Return the largest normalised cross-correlation of the two."""
    size = len(heard.samples) + len(played.samples)
    product = np.fft.rfft(heard.samples, size) * np.conj(np.fft.rfft(played.samples, size))
    norm = np.linalg.norm(heard.samples) * np.linalg.norm(played.samples)
    return float(np.fft.irfft(product, size).max() / norm)


def record_while_playing(card: Any, path: Path, **options: Any) -> Utterance:
    with Microphone() as mic:
        player = card.play(path)
        try:
            utterance = record_turn(mic, **options)
        finally:
            player.terminate()
            player.wait(timeout=10)
    assert mic.lost_pieces == 0
    return utterance


def test_a_word_played_into_the_microphone_is_taken_whole(sound_card: Any) -> None:
    levels: list[float] = []
    heard = record_while_playing(sound_card, PINE, on_level=levels.append)
    played = read(PINE)
    assert likeness(heard, played) > 0.95
    assert np.abs(heard.samples).max() == pytest.approx(np.abs(played.samples).max(), rel=0.1)
    assert heard.rate == RATE
    assert heard.samples.dtype == np.float32
    assert max(levels) > -25 > -80 > min(levels)


def test_the_pauses_of_sounding_out_do_not_end_the_turn(sound_card: Any) -> None:
    heard = record_while_playing(sound_card, SOUNDED)
    assert likeness(heard, read(SOUNDED)) > 0.95


def test_the_device_keeps_its_own_rate_and_is_brought_to_16_khz(sound_card: Any) -> None:
    with Microphone() as mic:
        assert mic.device_rate > RATE
        count = sum(len(piece) for _, piece in zip(range(40), mic.pieces(), strict=False))
    assert count == pytest.approx(40 * capture.PIECE_S * RATE, rel=0.05)


def test_a_microphone_unplugged_in_mid_turn_is_reported(sound_card: Any) -> None:
    threading.Timer(0.7, sound_card.pull_out).start()
    with pytest.raises(EarLost) as caught, Microphone() as mic:
        record_turn(mic)
    assert "unplugged" in caught.value.why
    assert "words already marked are kept" in caught.value.mend


def test_listening_works_again_once_the_microphone_is_back(sound_card: Any) -> None:
    sound_card.pull_out()
    with pytest.raises((EarLost, EarMissing)), Microphone() as mic:
        record_turn(mic)
    sound_card.plug_in()
    assert likeness(record_while_playing(sound_card, PINE), read(PINE)) > 0.95


def test_silence_comes_back_whole_after_the_wait(sound_card: Any) -> None:
    with Microphone() as mic:
        heard = record_turn(mic, wait_s=1.0)
    assert heard.duration_s == pytest.approx(1.0, abs=0.1)
    assert np.abs(heard.samples).max() < 1e-3


def test_sound_lost_because_nobody_took_it_is_counted(
    sound_card: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(capture, "QUEUE_S", 0.1)
    with Microphone() as mic:
        for _ in range(100):
            if mic.lost_pieces:
                break
            time.sleep(0.05)
    assert mic.lost_pieces > 0


def test_what_was_said_before_the_word_was_shown_is_not_part_of_the_turn(sound_card: Any) -> None:
    with Microphone() as mic:
        player = sound_card.play(PINE)
        player.wait(timeout=10)
        time.sleep(0.2)
        heard = record_turn(mic, wait_s=1.0)
    assert np.abs(heard.samples).max() < 1e-3


def test_a_turn_ends_by_the_same_decision_as_a_file() -> None:
    sound = np.concatenate((read(PINE).samples, np.zeros(3 * RATE, np.float32)))
    ear = PlayedFile(sound)
    heard = record_turn(ear)
    turn = look(frame_levels(sound[: ear.given]))
    assert turn.over
    assert not look(frame_levels(sound[: ear.given - ear.step])).over
    assert turn.start_s is not None
    assert turn.end_s is not None
    assert heard.duration_s == pytest.approx(turn.end_s - turn.start_s + 0.5, abs=0.02)


def test_a_turn_without_an_end_is_cut_off_at_its_longest() -> None:
    rng = np.random.default_rng(1)
    talk = np.concatenate([read(PINE).samples[5000:14000] for _ in range(40)])
    sound = np.concatenate((rng.normal(0, 1e-4, RATE), talk)).astype(np.float32)
    ear = PlayedFile(sound)
    heard = record_turn(ear, max_s=3.0)
    assert heard.duration_s == pytest.approx(3.25, abs=0.3)
    assert ear.given < 5 * RATE


def test_a_file_that_stops_in_mid_turn_gives_what_was_said() -> None:
    heard = record_turn(PlayedFile(read(PINE).samples))
    assert likeness(heard, read(PINE)) > 0.95


def test_a_turn_longer_than_a_clip_may_be_is_refused() -> None:
    with pytest.raises(ValueError, match="above 30 s"):
        record_turn(PlayedFile(np.zeros(RATE, np.float32)), max_s=25, wait_s=10)


def test_a_microphone_that_is_not_there_is_named(sound_card: Any) -> None:
    with pytest.raises(EarMissing) as caught, Microphone(device="the one in the lighthouse"):
        pass
    assert caught.value.what == "No microphone was found"
    assert "Plug a microphone in" in caught.value.mend


def test_a_busy_microphone_says_to_close_other_programs() -> None:
    import sounddevice

    error = sounddevice.PortAudioError("Error opening InputStream: Device unavailable", -9985)
    trouble = portaudio.explain(EarMissing, "microphone", error)
    assert trouble.what == "The microphone is busy"
    assert "Close calls" in trouble.mend


def test_any_other_refusal_keeps_the_words_of_the_sound_system() -> None:
    import sounddevice

    error = sounddevice.PortAudioError("Unanticipated host error", -9999)
    trouble = portaudio.explain(EarMissing, "microphone", error)
    assert trouble.why == "Unanticipated host error"


def run_python(code: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_importing_the_ear_opens_no_sound_system() -> None:
    code = "import sys, speech.capture; print('sounddevice' in sys.modules)"
    assert run_python(code).strip() == "False"


def test_without_portaudio_the_message_says_how_to_install_it() -> None:
    code = (
        "import ctypes.util; ctypes.util.find_library = lambda name: None\n"
        "from speech.capture import EarMissing, Microphone\n"
        "try:\n    Microphone().__enter__()\n"
        "except EarMissing as error: print(error)\n"
    )
    if sys.platform != "linux":
        pytest.skip("only on Linux does sounddevice not bring PortAudio along")
    said = run_python(code)
    assert "PortAudio" in said
    assert "sudo apt install libportaudio2" in said
