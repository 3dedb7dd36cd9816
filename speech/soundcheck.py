"""Is the microphone fit to hear a child? Five seconds of it, measured, and what to change."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from speech.audio import RATE, Samples, to_rate
from speech.capture import Ear
from speech.endpoint import look
from speech.levels import FRAME, Loudness, frame_levels, loudness, remarks
from speech.voice import Speech, VoiceMissing

CHECK_S: Final = 5.0
CHIRP_AT_S: Final = 0.3
MEASURED_FROM_S: Final = 1.0
"""What comes before is for the chirp; levels are measured on the rest."""
CHIRP_RATE: Final = 22_050
CHIRP_S: Final = 0.12
CHIRP_HZ: Final = (600.0, 3_000.0)
"""Within what the smallest loudspeaker can play and the narrowest telephone band can carry."""
CHIRP_PEAK: Final = 0.3
LIKENESS: Final = 0.4
"""Normalised correlation from which a chirp counts as heard. The most that any of 600 clips of
speech, noise, blows and music reached was 0.24 (fixtures_audio/make_conditions.py, seed 1); of 100
chirps played across echoing rooms 20 dB above their noise the least reached 0.61."""
LATE_S: Final = 0.4
"""Round trip beyond which answers come late: common practice, no source. A cable or a built-in
microphone takes 0.05 to 0.2 s, a wireless headset 0.2 to 0.5 s."""

ADVICE: Final = {
    "muted": "Nothing at all comes in. Switch the microphone on: look for a mute button on the "
    "headset or the keyboard, and for the microphone in the sound settings.",
    "nothing said": "Nobody was heard to speak. Run the check again and read a word or two aloud, "
    "as your child would, from where your child sits.",
    "clipped": "It is too loud: the tops are cut off. Move the microphone a hand's breadth further "
    "from the mouth, to one side of it, or turn its level down in the sound settings.",
    "too quiet": "It is too quiet. Move nearer, about two hands' breadth from the microphone, or "
    "turn its level up in the sound settings.",
    "noisy": "There is much noise beside the voice. Switch off the television, close the window or "
    "door, move away from a fan, and move nearer to the microphone.",
    "late": "Sound takes long to arrive, as with many wireless headsets: answers will come late. "
    "A headset with a cable or the computer's own microphone is quicker.",
    "sound lost": "Some sound was lost, for the computer was busy. Close other programs and try "
    "again.",
}  # fmt: skip
"""What to do about each finding, in words for the adult."""


class Listening(Ear, Protocol):
    """An open microphone."""

    latency_s: float


@dataclass(frozen=True, eq=False)
class Take:
    """What came in during a check.

    Attributes
    ----------
    samples : ndarray, shape = (n_samples,), float32, 16 kHz
    arrivals : tuple of (int, float)
        For each piece, how many samples had come with it, and the clock's seconds then.
    played_s : float or None
        The clock's seconds when the chirp was asked for; None where nothing could play it.
    latency_s : float or None
        Of the way in, as the sound system says; None of a recording.
    lost_pieces : int

    """

    samples: Samples
    arrivals: tuple[tuple[int, float], ...] = ()
    played_s: float | None = None
    latency_s: float | None = None
    lost_pieces: int = 0


@dataclass(frozen=True)
class Soundcheck:
    """What a check came to.

    Attributes
    ----------
    loudness : Loudness
        Level, noise and clipping.
    said : bool
        Whether a voice stood out of the noise.
    round_trip_s : float or None
        From asking the loudspeaker for a sound to having it from the microphone; None where it
        was not heard.
    latency_s : float or None
        Of the way in alone, as the sound system says.
    lost_pieces : int
        How often sound was lost.
    findings : tuple of str
        Keys of `ADVICE`, the worst first; empty when all is well.

    """

    loudness: Loudness
    said: bool
    round_trip_s: float | None
    latency_s: float | None
    lost_pieces: int
    findings: tuple[str, ...]

    @property
    def advice(self) -> tuple[str, ...]:
        """What to change, in words."""
        return tuple(ADVICE[finding] for finding in self.findings)


def chirp() -> Speech:
    """A short rising whistle, loud enough to be heard and too short to annoy."""
    time_s = np.arange(round(CHIRP_S * CHIRP_RATE)) / CHIRP_RATE
    low, high = CHIRP_HZ
    turns = low * time_s + (high - low) * time_s**2 / (2 * CHIRP_S)
    shape = np.sin(np.pi * time_s / CHIRP_S) ** 0.5
    return Speech((CHIRP_PEAK * shape * np.sin(2 * np.pi * turns)).astype(np.float32), CHIRP_RATE)


def find_chirp(samples: Samples) -> int | None:
    """The sample at which the chirp begins, or None where it is not to be heard.

    Parameters
    ----------
    samples : ndarray, shape = (n_samples,), float32, 16 kHz

    """
    pattern = to_rate(chirp().samples, CHIRP_RATE).astype(np.float64)
    if len(samples) < len(pattern):
        return None
    size = len(samples) + len(pattern)
    product = np.fft.rfft(samples, size) * np.conj(np.fft.rfft(pattern, size))
    matched = np.fft.irfft(product, size)[: len(samples) - len(pattern) + 1]
    power = np.concatenate([[0.0], np.cumsum(samples.astype(np.float64) ** 2)])
    local = power[len(pattern) :] - power[: -len(pattern)]
    likeness = np.abs(matched) / np.sqrt(np.maximum(local, 1e-9) * np.sum(pattern**2))
    best = int(np.argmax(likeness))
    return best if likeness[best] >= LIKENESS else None


def take(
    ear: Listening,
    play: Callable[[Speech], None] | None,
    seconds: float = CHECK_S,
    clock: Callable[[], float] = time.perf_counter,
) -> Take:
    """Listen for some seconds, and meanwhile let a loudspeaker play the chirp.

    Parameters
    ----------
    ear : Microphone
        Open.
    play : callable or None
        Plays a sound and returns when it was played, as `voice.play`; it runs in a thread of its
        own. A loudspeaker that is missing is no trouble: then there is no round trip.
    seconds : float

    Raises
    ------
    EarLost
        The microphone gave out.

    """
    asked: list[float] = []

    def chirping() -> None:
        assert play is not None
        asked.append(clock())
        try:
            play(chirp())
        except VoiceMissing:
            asked.clear()

    player = threading.Thread(target=chirping, daemon=True)
    pieces: list[Samples] = []
    arrivals: list[tuple[int, float]] = []
    count = 0
    for piece in ear.pieces():
        pieces.append(piece)
        count += len(piece)
        arrivals.append((count, clock()))
        if play is not None and count >= CHIRP_AT_S * RATE and not player.ident:
            player.start()
        if count >= seconds * RATE:
            break
    if player.ident:
        player.join(timeout=6)
    samples = np.concatenate(pieces) if pieces else np.zeros(0, np.float32)
    played = asked[0] if asked else None
    return Take(samples, tuple(arrivals), played, ear.latency_s, ear.lost_pieces)


def weigh(heard: Take) -> Soundcheck:
    """Measure what came in.

    Raises
    ------
    ValueError
        With less than one frame of sound (10 ms) to measure.

    """
    start, round_trip_s = _round_trip(heard)
    live = bool(heard.arrivals)
    first = max(start, round(MEASURED_FROM_S * RATE)) if live else 0
    measured = heard.samples[first:]
    if len(measured) < FRAME:
        measured = heard.samples
    found = loudness(measured)
    said = look(frame_levels(measured)).start_s is not None
    latency_s = round_trip_s if round_trip_s is not None else heard.latency_s
    named = remarks(found)
    if not said:
        named = ("muted",) if "muted" in named else ("nothing said",)
    also = {
        "late": latency_s is not None and latency_s > LATE_S,
        "sound lost": heard.lost_pieces > 0,
    }
    findings = (*named, *(name for name, is_so in also.items() if is_so))
    return Soundcheck(found, said, round_trip_s, heard.latency_s, heard.lost_pieces, findings)


def _round_trip(heard: Take) -> tuple[int, float | None]:
    """Sample after the chirp, 0 without one, and the seconds it took to come round."""
    if heard.played_s is None:
        return 0, None
    place = find_chirp(heard.samples)
    if place is None:
        return 0, None
    arrived = next(when for count, when in heard.arrivals if count > place)
    return place + round(CHIRP_S * RATE), _positive(arrived - heard.played_s)


def _positive(seconds: float) -> float | None:
    """Nothing arrives before it was asked for: such a chirp was no chirp of ours."""
    return seconds if seconds > 0 else None
