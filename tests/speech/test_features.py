"""Log-mel features against another library's, and the mel scale against its publication."""

from __future__ import annotations

import kaldi_native_fbank as kaldi  # type: ignore[import-untyped]
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from speech.audio import RATE
from speech.features import (
    FFT,
    HOP,
    N_MELS,
    hertz_to_mel,
    log_mel,
    mel_filters,
    mel_to_hertz,
    warped_mel_filters,
)

BIN_HZ = RATE / FFT


def noise(samples: int, seed: int = 0) -> NDArray[np.float32]:
    return (np.random.default_rng(seed).standard_normal(samples) * 0.1).astype(np.float32)


def kaldi_log_mel(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Whisper's features by kaldi-native-fbank (k2-fsa, Apache-2.0), shape (80, frames).

    Its frames are centred half a hop after ours, so it is given the clip from half a hop on: its
    frame ``i`` is then our frame ``i + 1``.
    """
    options = kaldi.WhisperFeatureOptions()
    options.dim = N_MELS
    bank = kaldi.OnlineWhisperFbank(options)
    bank.accept_waveform(RATE, samples[HOP // 2 :].tolist())
    bank.input_finished()
    energy = np.array([bank.get_frame(i) for i in range(bank.num_frames_ready)]).T
    return np.asarray((np.log10(np.maximum(energy, 1e-10)) + 4) / 4, np.float32)


@pytest.mark.parametrize("samples", [4_800, 16_000, 16_123, 40_001])
def test_features_are_those_of_another_library(samples: int) -> None:
    clip = noise(samples)
    ours, theirs = log_mel(clip), kaldi_log_mel(clip)
    assert ours.shape == (N_MELS, samples // HOP)
    # each library fills the outermost frames in its own way
    inner = slice(2, ours.shape[1] - 3)
    np.testing.assert_allclose(ours[:, 1:][:, inner], theirs[:, inner], atol=1e-4)


def test_the_filters_are_those_of_another_library() -> None:
    frames = kaldi.FrameExtractionOptions()
    frames.samp_freq, frames.round_to_power_of_two = RATE, False
    mels = kaldi.MelBanksOptions()
    mels.num_bins, mels.low_freq, mels.high_freq = N_MELS, 0, RATE / 2
    mels.is_librosa, mels.use_slaney_mel_scale, mels.norm = True, True, "slaney"
    theirs = np.array(kaldi.MelBanks(mels, frames).get_matrix())
    np.testing.assert_allclose(mel_filters(), theirs, atol=1e-6)


def test_the_mel_scale_has_the_published_spacing() -> None:
    """M. Slaney, Auditory Toolbox, Technical Report 1998-010: ``mfcc`` has linearSpacing
    66.66666666 Hz, then logSpacing 1.0711703 from 1 kHz (figures from memory)."""
    linear = mel_to_hertz(np.arange(0.0, 16.0))
    np.testing.assert_allclose(np.diff(linear), 66.66666666)
    assert linear[-1] == pytest.approx(1000.0)
    logarithmic = mel_to_hertz(np.arange(15.0, 46.0))
    np.testing.assert_allclose(logarithmic[1:] / logarithmic[:-1], 1.0711703, rtol=1e-7)


@given(st.floats(0, 8000))
def test_mel_and_hertz_are_inverse(hertz: float) -> None:
    there = hertz_to_mel(np.array([hertz]))
    assert mel_to_hertz(there)[0] == pytest.approx(hertz, abs=1e-6)


def test_filters_peak_at_evenly_spaced_mels_and_have_area_one() -> None:
    filters = mel_filters().astype(np.float64)
    top = 15 + 27 * np.log(8.0) / np.log(6.4)  # 8 kHz by the published formula
    mels = np.linspace(0, top, N_MELS + 2)[1:-1]
    centres = np.where(mels < 15, mels * 200 / 3, 1000 * 6.4 ** ((mels - 15) / 27))
    assert np.abs(filters.argmax(axis=1) * BIN_HZ - centres).max() <= BIN_HZ
    # 'Slaney' filters each have an area of 1 over hertz; the low ones are narrower than two bins,
    # where a sum over bins says little of an area
    wide = centres > 2000
    np.testing.assert_allclose(filters[wide].sum(axis=1) * BIN_HZ, 1, atol=0.03)
    assert (filters >= 0).all()


@pytest.mark.parametrize("warp", [0.85, 0.95, 1.1, 1.2])
def test_warped_filters_lie_where_the_warp_says(warp: float) -> None:
    plain, warped = mel_filters(), warped_mel_filters(warp)
    assert warped.shape == plain.shape
    centre = plain.argmax(axis=1) * BIN_HZ
    inside = (centre > 300) & (centre * warp < 6500)
    moved = warped.argmax(axis=1)[inside] * BIN_HZ
    assert np.abs(moved - centre[inside] * warp).max() <= 2 * BIN_HZ


def test_nothing_lies_more_than_eight_decades_under_the_peak() -> None:
    clip = np.zeros(RATE, np.float32)
    clip[:400] = noise(400)
    mel = log_mel(clip)
    assert mel.max() - mel.min() == pytest.approx(2.0, abs=1e-6)
    assert np.isfinite(log_mel(np.zeros(RATE, np.float32))).all()


def test_a_louder_clip_only_shifts_its_features() -> None:
    clip = noise(8000)
    np.testing.assert_allclose(log_mel(clip * 10) - log_mel(clip), 0.5, atol=1e-4)


@pytest.mark.parametrize("samples", [0, 1, FFT // 2])
def test_a_clip_too_short_for_one_window_is_refused(samples: int) -> None:
    with pytest.raises(ValueError, match=f"{samples} samples are too few"):
        log_mel(noise(samples))
    assert log_mel(noise(FFT // 2 + 1)).shape == (N_MELS, 1)
