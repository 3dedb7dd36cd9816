"""Rooms, distances and machines put around a voice, and a voice made a whisper: pure arithmetic.

Everything takes mono float32 at 16 kHz and a random generator, and gives the same kind of sound
back, so that a seed settles a clip to the last sample.
"""

from typing import Final

import numpy as np
import numpy.typing as npt
import soxr

from speech.audio import RATE, Samples

Floats = npt.NDArray[np.float64]

LPC_ORDER: Final = 18
"""Two for each kilohertz, and two more: Markel and Gray, Linear Prediction of Speech (1976)."""
_HOP: Final = 160
_WINDOW: Final = 640


def quiet(length_s: float) -> Samples:
    """Nothing at all, so many seconds of it."""
    return np.zeros(round(length_s * RATE), np.float32)


def at_level(samples: Samples, dbfs: float) -> Samples:
    """Bring the root mean square of a sound to a level."""
    rms = float(np.sqrt(np.mean(samples.astype(np.float64) ** 2)))
    return np.asarray(samples * (10 ** (dbfs / 20) / max(rms, 1e-9)), dtype=np.float32)


def noise(count: int, dbfs: float, rng: np.random.Generator) -> Samples:
    """White noise at a level."""
    return at_level(rng.standard_normal(count).astype(np.float32), dbfs)


def sloped(count: int, slope_db: float, rng: np.random.Generator) -> Samples:
    """Noise whose spectrum falls by so many dB an octave above 60 Hz; root mean square 1."""
    shaped = np.fft.rfft(rng.standard_normal(count))
    hertz = np.fft.rfftfreq(count, 1 / RATE)
    shaped *= (np.maximum(hertz, 60) / 60) ** (-slope_db / 6.02)
    sound = np.fft.irfft(shaped, count)
    return np.asarray(sound / np.sqrt(np.mean(sound**2)), dtype=np.float32)


def band(samples: Samples, low_hz: float, high_hz: float, rate: int = RATE) -> Samples:
    """Keep a band, its edges falling off over a third of an octave."""
    spectrum = np.fft.rfft(samples.astype(np.float64))
    hertz = np.maximum(np.fft.rfftfreq(len(samples), 1 / rate), 1e-3)
    for edge, above in ((low_hz, True), (high_hz, False)):
        octaves = np.log2(hertz / edge) * (1 if above else -1)
        spectrum *= np.clip(1 + 3 * octaves, 0, 1)
    return np.asarray(np.fft.irfft(spectrum, len(samples)), dtype=np.float32)


def speech_dbfs(samples: Samples) -> float:
    """Level of the loud tenth of the samples' range and above: what is voice in a clip."""
    loud = samples[np.abs(samples) > 0.1 * np.abs(samples).max()].astype(np.float64)
    return float(20 * np.log10(np.sqrt(np.mean(loud**2))))


def mixed(voice: Samples, other: Samples, below_db: float) -> Samples:
    """Put another sound behind a voice, so many dB below it, for all of its length."""
    behind = np.resize(other, len(voice))
    return voice + at_level(behind, speech_dbfs(voice) - below_db)


def echoing(
    samples: Samples, decay_s: float, direct_db: float, rng: np.random.Generator
) -> Samples:
    """Hear a voice across a room.

    Parameters
    ----------
    decay_s : float
        Reverberation time: seconds in which the room's echo falls by 60 dB (ISO 3382-2). A
        furnished living room has about 0.5 s, a hall or kitchen 0.8 s or more (from memory).
    direct_db : float
        How far the voice that comes straight stands above all its echoes together.

    """
    count = round(decay_s * RATE)
    echo = rng.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    echo[: round(0.002 * RATE)] = 0.0
    echo *= 10 ** (-direct_db / 20) / np.sqrt(np.sum(echo**2))
    echo[0] = 1.0
    size = len(samples) + count
    wet = np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(echo, size), size)
    return np.asarray(wet[: len(samples) + count // 2], dtype=np.float32)


def far(samples: Samples, rng: np.random.Generator) -> Samples:
    """A child across the room: quiet, echoing, the microphone's own hiss not far below."""
    wet = echoing(samples, rng.uniform(0.5, 0.9), rng.uniform(-4, 4), rng)
    wet = at_level(wet, 0) * np.float32(10 ** (rng.uniform(-46, -38) / 20))
    return wet + noise(len(wet), -68, rng)


def near(samples: Samples, rng: np.random.Generator) -> Samples:
    """A mouth on the microphone: the low end swells, breath thumps, and the top is cut off."""
    low = band(samples, 60, 300)
    loud = samples + low * np.float32(rng.uniform(0.5, 1.5))
    onset = int(np.argmax(np.abs(samples) > 0.1 * np.abs(samples).max()))
    thump = sloped(round(0.08 * RATE), 9, rng) * np.hanning(round(0.08 * RATE)).astype(np.float32)
    first = max(0, onset - len(thump) // 2)
    loud[first : first + len(thump)] += 0.15 * thump[: len(loud) - first]
    driven = loud / np.abs(loud).max() * 10 ** (rng.uniform(8, 16) / 20)
    return np.clip(driven, -1, 1).astype(np.float32)


def laptop(samples: Samples, rng: np.random.Generator) -> tuple[Samples, int]:
    """A laptop's own microphone: 48 kHz, thin low end, a fan, keys and a slow gain control."""
    wet = echoing(samples, rng.uniform(0.2, 0.4), rng.uniform(2, 8), rng)
    thin = band(soxr.resample(wet, RATE, 48_000), 180, 16_000, 48_000)
    whole = soxr.resample(fan(len(wet), rng), RATE, 48_000)[: len(thin)]
    whole = np.resize(whole, len(thin))
    sound = at_level(thin, -26) + at_level(whole, rng.uniform(-62, -50))
    return np.clip(sound, -1, 1).astype(np.float32), 48_000


def headset(samples: Samples, rng: np.random.Generator) -> tuple[Samples, int]:
    """A headset's 16 kHz: close, dry, nothing above 7 kHz, quiet passages gated to nothing."""
    close = band(samples, 120, 6_800)
    level = np.sqrt(np.convolve(close.astype(np.float64) ** 2, np.ones(400) / 400, mode="same"))
    gate = np.clip(level / (level.max() * 10 ** (rng.uniform(-45, -38) / 20)), 0, 1)
    return np.asarray(close * gate, dtype=np.float32), RATE


def whispered(samples: Samples, rng: np.random.Generator) -> Samples:
    """The same words whispered: their vocal tract, excited by noise in the place of the voice.

    Linear prediction frame by frame, autocorrelation method (Markel and Gray 1976, chapter 3);
    the low end of a whisper is weaker than that of speech by 10 to 20 dB (Ito, Takeda and
    Itakura, Analysis and recognition of whispered speech, Speech Communication 45, 2005).
    """
    window = np.hanning(_WINDOW + 1)[:-1]
    count = len(samples) // _HOP * _HOP
    source = np.pad(samples[:count].astype(np.float64), _WINDOW)
    breath = rng.standard_normal(len(source))
    out = np.zeros(len(source))
    hertz = np.fft.rfftfreq(2 * _WINDOW, 1 / RATE)
    weak_low = 10 ** (-12 / 20 * np.clip(1 - hertz / 1_200, 0, 1))
    for first in range(0, len(source) - _WINDOW, _HOP):
        frame = source[first : first + _WINDOW] * window
        tract = _tract(np.append(frame[0], frame[1:] - 0.9 * frame[:-1]))
        excited = np.fft.rfft(breath[first : first + _WINDOW] * window, 2 * _WINDOW)
        piece = np.fft.irfft(excited * tract * weak_low)[:_WINDOW]
        out[first : first + _WINDOW] += piece * window
    sound = out[_WINDOW : _WINDOW + count]
    return at_level(sound.astype(np.float32), rng.uniform(-44, -36))


def _tract(frame: Floats) -> npt.NDArray[np.complex128]:
    """Frequency response of the all-pole filter of one frame, its gain included."""
    lags = np.fft.irfft(np.abs(np.fft.rfft(frame, 2 * len(frame))) ** 2)[: LPC_ORDER + 1]
    lags[0] = lags[0] * 1.0001 + 1e-9
    places = np.abs(np.subtract.outer(np.arange(LPC_ORDER), np.arange(LPC_ORDER)))
    predictor = np.linalg.solve(lags[places], lags[1:])
    gain = np.sqrt(max(lags[0] - predictor @ lags[1:], 0.0) / len(frame))
    inverse = np.fft.rfft(np.append(1.0, -predictor), 2 * len(frame))
    return np.asarray(gain / inverse)


# Sounds without a voice in them.


def hiss(count: int, rng: np.random.Generator) -> Samples:
    """Noise of any colour from white to brown."""
    return sloped(count, rng.uniform(0, 6), rng)


def hum(count: int, rng: np.random.Generator) -> Samples:
    """Mains hum, 50 or 100 Hz with harmonics, and a little hiss."""
    time_s = np.arange(count) / RATE
    base = float(rng.choice([50.0, 100.0]))
    tones = sum(
        np.sin(2 * np.pi * base * k * time_s + rng.uniform(0, 6)) / k ** rng.uniform(0.8, 1.6)
        for k in range(1, 12)
    )
    return np.asarray(tones + 0.02 * rng.standard_normal(count), dtype=np.float32)


def still_room(count: int, rng: np.random.Generator) -> Samples:
    """A room in which nothing happens: noise that falls with frequency and breathes slowly."""
    slow = 1 + 0.3 * np.sin(2 * np.pi * rng.uniform(0.1, 0.4) * np.arange(count) / RATE)
    return np.asarray(sloped(count, rng.uniform(4, 8), rng) * slow, dtype=np.float32)


def fan(count: int, rng: np.random.Generator) -> Samples:
    """A fan: rushing air and the tones of its blades."""
    time_s = np.arange(count) / RATE
    blades = rng.uniform(80, 260)
    tones = sum(
        np.sin(2 * np.pi * blades * k * time_s + rng.uniform(0, 6)) / k for k in range(1, 6)
    )
    rush = sloped(count, rng.uniform(2, 5), rng)
    return np.asarray(rush + rng.uniform(0.1, 0.6) * tones, dtype=np.float32)


def rain(count: int, rng: np.random.Generator) -> Samples:
    """Rain on a window: thousands of small drops over a hush."""
    drops = np.zeros(count)
    for at in rng.integers(0, max(1, count - 200), count // 60):
        length = int(rng.integers(20, 160))
        ring = np.sin(2 * np.pi * rng.uniform(900, 6_000) * np.arange(length) / RATE)
        drops[at : at + length] += rng.exponential(1) * ring * np.exp(-np.arange(length) / 30)
    return np.asarray(drops + 0.4 * sloped(count, 2, rng), dtype=np.float32)


def clicks(count: int, rng: np.random.Generator) -> Samples:
    """Keys, pens and knocks: short ringing blows, one to six a second, in a quiet room."""
    sound = np.zeros(count)
    blows = max(1, round(count / RATE * rng.uniform(1, 6)))
    for at in rng.integers(0, max(1, count - 2_000), blows):
        length = int(rng.integers(100, 1_600))
        ring = np.sin(2 * np.pi * rng.uniform(120, 4_000) * np.arange(length) / RATE)
        blow = (ring + 0.5 * rng.standard_normal(length)) * np.exp(-5 * np.arange(length) / length)
        sound[at : at + length] += rng.uniform(0.2, 1) * blow
    return np.asarray(sound + 0.005 * rng.standard_normal(count), dtype=np.float32)


def music(count: int, rng: np.random.Generator) -> Samples:
    """A tune from another room: single notes of a major scale, struck or blown."""
    sound = np.zeros(count)
    scale = 220.0 * 2 ** (np.array([0, 2, 4, 5, 7, 9, 11, 12, 14, 16]) / 12)
    struck = bool(rng.integers(2))
    at = 0
    while at < count:
        length = min(round(rng.choice([0.15, 0.3, 0.6]) * RATE), count - at)
        time_s = np.arange(length) / RATE
        note = sum(
            np.sin(2 * np.pi * float(rng.choice(scale)) * k * time_s) / k**1.5 for k in range(1, 7)
        )
        shape = np.exp(-4 * time_s) if struck else np.sin(np.pi * np.arange(length) / length) ** 0.5
        sound[at : at + length] += note * shape
        at += length
    return np.asarray(sound + 0.01 * rng.standard_normal(count), dtype=np.float32)


def breath(count: int, rng: np.random.Generator) -> Samples:
    """A child breathing near the microphone, saying nothing."""
    time_s = np.arange(count) / RATE
    swell = np.maximum(np.sin(2 * np.pi * rng.uniform(0.3, 0.7) * time_s + rng.uniform(0, 6)), 0)
    air = band(sloped(count, 3, rng), rng.uniform(300, 900), rng.uniform(3_000, 7_000))
    return np.asarray(air * swell**2 + 0.01 * rng.standard_normal(count), dtype=np.float32)


VOICELESS: Final = {
    "hiss": (hiss, -70.0, -30.0),
    "hum": (hum, -60.0, -28.0),
    "still room": (still_room, -72.0, -45.0),
    "fan": (fan, -58.0, -32.0),
    "rain": (rain, -58.0, -32.0),
    "clicks and knocks": (clicks, -50.0, -28.0),
    "music": (music, -50.0, -26.0),
    "breath": (breath, -60.0, -40.0),
}
"""What makes each sound that holds no voice, and the range of its level in dBFS."""


def voiceless(kind: str, rng: np.random.Generator) -> Samples:
    """One clip of a sound of `VOICELESS`, 0.8 to 4 s long."""
    make, low, high = VOICELESS[kind]
    sound = make(round(rng.uniform(0.8, 4.0) * RATE), rng)
    return np.clip(at_level(sound, rng.uniform(low, high)), -1, 1).astype(np.float32)
