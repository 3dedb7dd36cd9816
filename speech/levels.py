"""How loud a sound is, how noisy the room, and whether the top was cut off: pure functions."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from speech.audio import RATE, Samples

FRAME: Final = RATE // 100
"""Samples in a frame, 10 ms."""
FRAME_S: Final = FRAME / RATE
SILENCE_DBFS: Final = -100.0
"""The level given to frames with nothing in them: below the last bit of a 16-bit file (-96 dB)."""
CLIP_AT: Final = 0.98
"""Of full scale. Changing the rate rounds flat tops, so they no longer all stand at 1.0."""
BANDS_HZ: Final = ((200, 1_000), (2_000, 7_500))
"""Where voice is (the first formant of every vowel, and the murmur of m and n) and where hiss is
(s, sh, f, and the bursts of t and k): a weak m and a weak f both show, and mains hum, rumble and
DC lie below both. Formants and noise bands: Peterson and Barney, Control Methods Used in a Study of
the Vowels, JASA 24 (1952), table II; Strevens, Spectra of Fricative Noise in Human Speech,
Language and Speech 3 (1960)."""

# The bounds of `remarks` come from fixtures_audio/measure_levels.py on 200 recordings of children
# of 11 or under from speechocean762 (openslr.org/101).
CLIPPED_SHARE: Final = 0.005
"""Recordings brought to full scale reach 0.0007; driven 6 dB over it, 95 in 100 pass 0.016."""
TOO_QUIET_DBFS: Final = -36.0
"""7 dB below the quietest fiftieth of recordings."""
NOISY_DB: Final = 20.0
"""The noisiest fiftieth of recordings still stand 33 dB above their room; voices 10 dB below a
reader measure 16 to 17 dB. A clip cut so tight that it has no pause measures as noisy too."""

Levels = npt.NDArray[np.float64]

_WINDOW: Final = np.hanning(FRAME + 1)[:-1]
_SCALE: Final = 2 / (
    FRAME * np.sum(_WINDOW**2)
)  # Parseval, one-sided: a bin's share of mean square


@dataclass(frozen=True)
class Loudness:
    """What a recording is like, apart from what is said in it.

    Attributes
    ----------
    peak_dbfs : float
        The highest sample, in dB below full scale (0 is full scale, -100 is nothing).
    speech_dbfs : float
        The level of the loudest twentieth of its 10 ms frames.
    noise_dbfs : float
        The level of the quietest tenth.
    clipped_share : float
        0 to 1: samples at the top or bottom of the scale, among those of the loud frames.

    """

    peak_dbfs: float
    speech_dbfs: float
    noise_dbfs: float
    clipped_share: float

    @property
    def above_noise_db(self) -> float:
        """How far speech stands above the room, in dB."""
        return self.speech_dbfs - self.noise_dbfs


def remarks(loudness: Loudness) -> tuple[str, ...]:
    """Say what is the matter with a recording.

    Returns
    -------
    tuple of str
        Any of "muted" (nothing at all comes in, then alone), "clipped", "too quiet" and "noisy";
        empty when it is fine. Call it on a turn in which something was said: silence is too quiet.

    """
    if loudness.peak_dbfs <= SILENCE_DBFS:
        return ("muted",)
    found = {
        "clipped": loudness.clipped_share > CLIPPED_SHARE,
        "too quiet": loudness.speech_dbfs < TOO_QUIET_DBFS,
        "noisy": loudness.above_noise_db < NOISY_DB,
    }
    return tuple(name for name, is_so in found.items() if is_so)


def decibels(power: npt.ArrayLike) -> Levels:
    """Mean square of samples to dB relative to a full-scale square wave, floored at -100."""
    floor = 10 ** (SILENCE_DBFS / 10)
    return 10 * np.log10(np.maximum(np.asarray(power, dtype=np.float64), floor))


def frame_levels(samples: Samples) -> Levels:
    """Level of each whole 10 ms frame in each band.

    Frames do not overlap, so a stream cut anywhere between frames has the levels of the whole.

    Parameters
    ----------
    samples : ndarray, shape = (n_samples,), float32, 16 kHz
        Up to 159 samples at the end that fill no frame are left out.

    Returns
    -------
    ndarray, shape = (n_samples // 160, 2), float64, dBFS, at least -100
        Voice band and hiss band.

    """
    frames = samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME).astype(np.float64)
    power = np.abs(np.fft.rfft(frames * _WINDOW, axis=1)) ** 2 * _SCALE
    step_hz = RATE // FRAME
    return np.stack(
        [
            decibels(power[:, low // step_hz : high // step_hz + 1].sum(axis=1))
            for low, high in BANDS_HZ
        ],
        axis=1,
    )


def loudness(samples: Samples) -> Loudness:
    """Measure a recording.

    Parameters
    ----------
    samples : ndarray, shape = (n_samples,), float32, 16 kHz, at least one frame (160 samples)

    Raises
    ------
    ValueError
        With less than one frame.

    """
    if len(samples) < FRAME:
        raise ValueError(f"at least {FRAME} samples are needed, not {len(samples)}")
    frames = samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME).astype(np.float64)
    levels = decibels(np.mean((frames - frames.mean(axis=1, keepdims=True)) ** 2, axis=1))
    loud = frames[levels >= np.quantile(levels, 0.8)]
    return Loudness(
        peak_dbfs=float(decibels(np.max(np.abs(samples)).astype(np.float64) ** 2)),
        speech_dbfs=float(np.quantile(levels, 0.95)),
        noise_dbfs=float(np.quantile(levels, 0.1)),
        clipped_share=float(np.mean(np.abs(loud) >= CLIP_AT)),
    )
