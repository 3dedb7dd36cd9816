"""How loud, how noisy, how clipped: measured against tones and noises of known level."""

import json
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from scipy import signal  # type: ignore[import-untyped]

from speech.audio import RATE, read
from speech.levels import FRAME, decibels, frame_levels, loudness, remarks

FOLDER = Path(__file__).parents[2] / "fixtures_audio"
ROWS = [json.loads(line) for line in (FOLDER / "manifest.jsonl").read_text().splitlines()]


def tone(hertz: float, size: float, length_s: float = 1.0) -> npt.NDArray[np.float32]:
    time_s = np.arange(round(length_s * RATE)) / RATE
    return (size * np.sin(2 * np.pi * hertz * time_s)).astype(np.float32)


def clips(condition: str, truth: str | None = None) -> list[npt.NDArray[np.float32]]:
    return [
        read(FOLDER / row["audio"]).samples
        for row in ROWS
        if row["condition"] == condition
        and (row["truth"] == truth if truth else row["truth"] != "silent")
    ]


def test_a_sine_lies_3_db_below_its_peak() -> None:
    measured = loudness(tone(1000, 0.5))
    assert measured.peak_dbfs == pytest.approx(-6.02, abs=0.05)
    assert measured.speech_dbfs == pytest.approx(-9.03, abs=0.05)


def test_noise_is_measured_in_the_pauses() -> None:
    rng = np.random.default_rng(1)
    quiet = rng.normal(0, 10 ** (-50 / 20), RATE)
    loud = tone(500, 0.5)
    measured = loudness(np.concatenate((quiet, loud + quiet)).astype(np.float32))
    assert measured.noise_dbfs == pytest.approx(-50, abs=1)
    assert measured.above_noise_db == pytest.approx(-9 + 50, abs=1)


@pytest.mark.parametrize(("hertz", "band"), [(300, 0), (800, 0), (3000, 1), (6000, 1)])
def test_a_tone_shows_in_its_band_at_its_level(hertz: int, band: int) -> None:
    levels = np.median(frame_levels(tone(hertz, 0.5)), axis=0)
    assert levels[band] == pytest.approx(-9.03, abs=0.3)
    assert levels[1 - band] < -40


@pytest.mark.parametrize("hertz", [16, 50])
def test_hum_and_rumble_are_turned_down(hertz: int) -> None:
    assert np.median(frame_levels(tone(hertz, 0.5)).max(axis=1)) < -9 - 18


def test_white_noise_has_the_level_that_its_spectrum_says() -> None:
    noise = np.random.default_rng(2).normal(0, 0.1, 20 * RATE)
    hertz, density = signal.welch(noise, RATE, nperseg=1600)
    levels = np.mean(10 ** (frame_levels(noise.astype(np.float32)) / 10), axis=0)
    for (low, high), power in zip(((150, 1050), (1950, 7550)), levels, strict=True):
        inside = (hertz >= low) & (hertz < high)
        assert decibels(power) == pytest.approx(
            float(decibels(np.trapezoid(density[inside], hertz[inside]))), abs=0.2
        )


def test_digital_silence_is_muted_and_nothing_else() -> None:
    assert remarks(loudness(np.zeros(RATE, np.float32))) == ("muted",)
    assert np.all(frame_levels(np.zeros(RATE, np.float32)) == -100)


@pytest.mark.parametrize(
    ("condition", "remark"),
    [
        ("clipped", "clipped"),
        ("far from the microphone", "too quiet"),
        ("babble 10 dB", "noisy"),
    ],
)
def test_clips_are_remarked_on_for_what_is_the_matter_with_them(
    condition: str, remark: str
) -> None:
    found = clips(condition)
    assert found
    assert all(remark in remarks(loudness(samples)) for samples in found)


def test_good_clips_are_not_remarked_on() -> None:
    found = clips("quiet room")
    assert len(found) > 100
    assert {remarks(loudness(samples)) for samples in found} == {()}


def test_a_clip_brought_to_full_scale_is_not_called_clipped() -> None:
    for samples in clips("quiet room")[::10]:
        assert remarks(loudness(samples / np.abs(samples).max())) == ()


def test_less_than_a_frame_cannot_be_measured() -> None:
    with pytest.raises(ValueError, match="at least 160 samples"):
        loudness(np.zeros(FRAME - 1, np.float32))
