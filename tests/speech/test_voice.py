"""The voice, rendered by a real espeak-ng through pyttsx3 and measured."""

import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
import soxr
from hypothesis import given
from hypothesis import strategies as st

from speech import voice
from speech.audio import RATE, read
from speech.capture import Microphone, record_turn
from speech.levels import loudness
from speech.phones import ESPEAK, VOWELS
from speech.voice import GAP_S, Voice, VoiceMissing, mnemonics

ROOT = Path(__file__).parents[2]


def said(path: Path, say: Callable[..., None], *what: object) -> npt.NDArray[np.float32]:
    say(*what, to_file=path)
    return read(path).samples


def likeness(one: npt.NDArray[np.float32], other: npt.NDArray[np.float32]) -> float:
    """Return the largest normalised cross-correlation of the two."""
    size = len(one) + len(other)
    product = np.fft.rfft(one, size) * np.conj(np.fft.rfft(other, size))
    norm = np.linalg.norm(one) * np.linalg.norm(other)
    return float(np.fft.irfft(product, size).max() / norm)


def espeak(text: str, path: Path) -> npt.NDArray[np.float32]:
    """Say a text with the espeak-ng command, at the voice's own settings."""
    command = ["espeak-ng", "-v", voice.VOICES[0], "-s", str(voice.RATE_WPM), "-w", str(path)]
    subprocess.run([*command, "-p", str(voice.PITCH), text], check=True, timeout=20)
    samples, rate = soundfile.read(path, dtype="float32")
    return soxr.resample(samples, rate, RATE)  # type: ignore[no-any-return]


def test_a_word_is_written_slowly_loudly_and_undistorted(tmp_path: Path) -> None:
    Voice().say_word("pine", to_file=tmp_path / "pine.wav")
    info = soundfile.info(tmp_path / "pine.wav")
    assert (info.samplerate, info.channels, info.subtype) == (22_050, 1, "PCM_16")
    measured = loudness(read(tmp_path / "pine.wav").samples)
    assert 0.4 < info.duration < 1.0
    assert -25 < measured.speech_dbfs < -6
    assert -12 < measured.peak_dbfs < 0
    assert measured.clipped_share == 0


def test_a_word_is_said_in_the_british_voice_of_espeak_ng(tmp_path: Path) -> None:
    ours = said(tmp_path / "ours.wav", Voice().say_word, "pine")
    assert likeness(ours, espeak("pine", tmp_path / "british.wav")) > 0.97


def test_phones_are_said_as_phonemes_whatever_the_spelling(tmp_path: Path) -> None:
    pin = said(tmp_path / "ours.wav", Voice().say_word, "pine", "P IH N")
    assert likeness(pin, espeak("[[p'In]]", tmp_path / "pin.wav")) > 0.97
    assert likeness(pin, espeak("[[p'aIn]]", tmp_path / "pine.wav")) < 0.9


def test_a_slower_voice_takes_longer_and_a_quieter_one_is_quieter(tmp_path: Path) -> None:
    usual = said(tmp_path / "usual.wav", Voice().say_word, "lighthouse")
    slow = said(tmp_path / "slow.wav", Voice(rate_wpm=85).say_word, "lighthouse")
    soft = said(tmp_path / "soft.wav", Voice(volume=0.25).say_word, "lighthouse")
    assert len(slow) > 1.15 * len(usual)
    assert np.abs(soft).max() == pytest.approx(0.25 * np.abs(usual).max(), rel=0.02)


def test_sounds_are_said_one_by_one_with_gaps_between(tmp_path: Path) -> None:
    samples = said(tmp_path / "sounds.wav", Voice().say_sounds, ["M", "AY", "S"])
    loud = np.convolve(np.abs(samples) > 0.005, np.ones(800), mode="same") > 0
    edges = np.flatnonzero(np.diff(np.concatenate(([0], loud.astype(np.int8), [0]))))
    assert len(edges) == 6
    gaps_s = (edges[2::2] - edges[1:-1:2]) / RATE
    assert np.all(np.abs(gaps_s - GAP_S) < 0.1)


def test_every_sound_can_be_heard_on_its_own(tmp_path: Path) -> None:
    for phone in ESPEAK:
        samples = said(tmp_path / f"{phone}.wav", Voice().say_sounds, [phone])
        assert 0.15 < np.abs(samples).max() < 1, phone
        assert 0.08 < len(samples) / RATE < 0.7, phone


@pytest.mark.parametrize(("hiss", "hum"), [("S", "Z"), ("F", "V"), ("SH", "M"), ("T", "D")])
def test_unvoiced_sounds_have_no_vowel_put_after_them(tmp_path: Path, hiss: str, hum: str) -> None:
    """Pure sounds: /s/, not "suh". Voicing shows as energy below 800 Hz."""
    low_share = []
    for phone in (hiss, hum):
        samples = said(tmp_path / "sound.wav", Voice().say_sounds, [phone])
        power = np.abs(np.fft.rfft(samples)) ** 2
        hertz = np.fft.rfftfreq(len(samples), 1 / RATE)
        low_share.append(power[(hertz > 80) & (hertz < 800)].sum() / power.sum())
    assert low_share[0] < 0.3 < low_share[1] or low_share[0] < 0.2 * low_share[1]


@given(st.lists(st.sampled_from(sorted(ESPEAK)), min_size=2, max_size=8))
def test_phones_become_phoneme_input_in_their_order(phones: list[str]) -> None:
    text = mnemonics(" ".join(phones))
    assert text.replace("'", "") == f"[[{''.join(ESPEAK[p] for p in phones)}]]"
    assert text.count("'") == any(p in VOWELS for p in phones)


def test_the_phonemes_of_words_are_those_that_espeak_ng_itself_uses() -> None:
    words = {
        "pine": "P AY N", "cub": "K AH B", "hop": "HH AA P", "theme": "TH IY M", "jam": "JH AE M",
        "chin": "CH IH N", "boy": "B OY", "cow": "K AW", "food": "F UW D", "book": "B UH K",
        "thought": "TH AO T", "her": "HH ER", "sing": "S IH NG", "yes": "Y EH S", "vote": "V OW T",
    }  # fmt: skip
    theirs = [
        subprocess.run(
            ["espeak-ng", "-q", "-x", "-v", "en-gb", word],
            check=True, capture_output=True, text=True, timeout=20,
        ).stdout.strip()
        for word in words
    ]  # fmt: skip
    assert theirs == [mnemonics(phones)[2:-2] for phones in words.values()]


@pytest.mark.parametrize("phones", ["", "  ", "PINE", "P AY1 N", "p ay n"])
def test_what_is_not_arpabet_is_refused(phones: str) -> None:
    with pytest.raises(ValueError, match="not a string of ARPAbet"):
        mnemonics(phones)


@pytest.mark.parametrize("word", ["", "[[p'aIn]]", "pine2", "<speak>", "-"])
def test_what_is_not_a_word_is_not_said(word: str) -> None:
    with pytest.raises(ValueError, match="not a word"):
        Voice().say_word(word)


def test_a_synthesiser_that_does_not_answer_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voice, "TIMEOUT_S", 0.01)
    with pytest.raises(VoiceMissing, match="did not answer within"):
        Voice().say_word("pine")


def test_without_espeak_ng_the_message_says_how_to_install_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The child process finds no libespeak-ng, as where it is not installed."""
    (tmp_path / "sitecustomize.py").write_text(
        "import ctypes\n"
        "real = ctypes.cdll.LoadLibrary\n"
        "def load(name):\n"
        "    if 'espeak' in str(name): raise OSError(f'{name}: cannot open shared object file')\n"
        "    return real(name)\n"
        "ctypes.cdll.LoadLibrary = load\n"
    )
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(VoiceMissing) as caught:
        Voice().say_word("pine", to_file=tmp_path / "pine.wav")
    assert "sudo apt install espeak-ng" in caught.value.mend
    assert not (tmp_path / "pine.wav").exists()


def test_importing_the_voice_opens_nothing() -> None:
    code = "import sys, speech.voice; print({'pyttsx3', 'sounddevice'} & set(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60
    )
    assert done.stdout.strip() == "set()"


def test_what_is_said_aloud_comes_out_of_the_loudspeaker(sound_card: Any, tmp_path: Path) -> None:
    expected = said(tmp_path / "pine.wav", Voice().say_word, "pine")
    with Microphone() as mic:
        speaking = threading.Thread(target=Voice().say_word, args=("pine",))
        speaking.start()
        heard = record_turn(mic, pause_s=0.6)
        speaking.join(timeout=20)
    assert not speaking.is_alive()
    assert likeness(heard.samples, expected) > 0.95


def test_without_a_loudspeaker_the_message_says_so(sound_card: Any) -> None:
    sound_card.pull_out()
    with pytest.raises(VoiceMissing) as caught:
        Voice().say_word("pine")
    assert "loudspeaker" in str(caught.value)


def test_a_line_is_said_as_the_espeak_ng_command_says_it(tmp_path: Path) -> None:
    text = "Have another look. The i and the e work together."
    line = Voice().line(text)
    reference = espeak(text, tmp_path / "line.wav")
    assert likeness(soxr.resample(line.samples, line.rate, RATE), reference) > 0.95


def test_a_line_cannot_carry_phoneme_input() -> None:
    """A nickname in square brackets is read out, never obeyed."""
    bracketed, phonemes = Voice().line("[[z'u:]]"), Voice().sounds(["Z UW"])
    assert likeness(bracketed.samples, phonemes.samples) < 0.9
    assert np.array_equal(bracketed.samples, Voice().line("((z'u:))").samples)


@pytest.mark.usefixtures("sound_card")
def test_a_voice_told_to_stop_falls_silent_at_once() -> None:
    speech = Voice().line("This is a long line, which nobody wants to hear to its very end.")
    stop = threading.Event()
    threading.Timer(0.3, stop.set).start()
    begun = time.monotonic()
    Voice().play(speech, stop)
    assert time.monotonic() - begun < len(speech.samples) / speech.rate - 1
