"""Log-mel features in numpy, as the pretrained encoder expects them."""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import NDArray

from speech.audio import RATE

FFT = 400
"""Samples in one window: 25 ms."""
HOP = 160
"""Samples from one frame to the next: 10 ms."""
N_MELS = 80


def hertz_to_mel(hertz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Slaney's mel scale: linear below 1 kHz, logarithmic above (Auditory Toolbox, 1998)."""
    above = 15.0 + np.log(np.maximum(hertz, 1000.0) / 1000.0) * 27 / np.log(6.4)
    return np.asarray(np.where(hertz < 1000.0, hertz * 3 / 200, above))


def mel_to_hertz(mel: NDArray[np.float64]) -> NDArray[np.float64]:
    """Inverse of ``hertz_to_mel``."""
    return np.where(mel < 15.0, mel * 200 / 3, 1000.0 * np.exp(np.log(6.4) * (mel - 15.0) / 27))


def warped_mel_filters(warp: float) -> NDArray[np.float32]:
    """Mel filters that hear formants at ``1 / warp`` of where they are; shape (80, 201).

    ``warp`` above 1 makes a voice sound as from a longer vocal tract. Filters that the warp
    would push past 8 kHz end there.
    """
    bins = np.linspace(0, RATE / 2, FFT // 2 + 1)
    top = hertz_to_mel(np.array([RATE / 2.0]))[0]
    edges = np.minimum(mel_to_hertz(np.linspace(0.0, top, N_MELS + 2)) * warp, RATE / 2.0)
    widths = np.maximum(np.diff(edges), 1e-3)
    slopes = edges[:, None] - bins[None]
    rising = -slopes[:-2] / widths[:-1, None]
    falling = slopes[2:] / widths[1:, None]
    height = 2.0 / np.maximum(edges[2:] - edges[:-2], 1.0)
    triangles = np.maximum(0, np.minimum(rising, falling)) * height[:, None]
    return np.asarray(triangles, np.float32)


@functools.cache
def mel_filters() -> NDArray[np.float32]:
    """Slaney-normalised triangular mel filters over 0–8 kHz, shape (80, 201)."""
    return warped_mel_filters(1.0)


def log_mel(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Whisper's log-mel spectrogram of a whole clip.

    Parameters
    ----------
    samples : ndarray, shape (n,), float32
        Mono, 16 kHz, in -1..1. At least 201 samples.

    Returns
    -------
    ndarray, shape (80, n // 160), float32
        ``(max(log10 mel, peak - 8) + 4) / 4``, the peak taken over the clip.

    Raises
    ------
    ValueError
        If the clip is shorter than half a window.

    References
    ----------
    Radford et al. 2022, *Robust Speech Recognition via Large-Scale Weak Supervision*, section
    2.2, and openai-whisper's ``audio.py`` for the scaling.
    """
    if len(samples) <= FFT // 2:
        raise ValueError(f"{len(samples)} samples are too few for one 25 ms window")
    padded = np.pad(samples.astype(np.float32), FFT // 2, mode="reflect")
    frames = np.lib.stride_tricks.sliding_window_view(padded, FFT)[::HOP][: len(samples) // HOP]
    window = (0.5 - 0.5 * np.cos(2 * np.pi * np.arange(FFT) / FFT)).astype(np.float32)
    power = np.abs(np.fft.rfft(frames * window, axis=1)) ** 2
    log = np.log10(np.maximum(mel_filters() @ power.T.astype(np.float32), 1e-10))
    log = np.maximum(log, log.max() - 8.0)
    return np.asarray((log + 4.0) / 4.0, np.float32)
