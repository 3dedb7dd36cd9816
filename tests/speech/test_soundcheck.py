"""The check of the microphone: each finding on a sound that has it, and the delay it measures."""

import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from fixtures_audio import rooms
from speech import soundcheck
from speech.audio import RATE, Samples, read, to_rate
from speech.levels import SILENCE_DBFS
from speech.soundcheck import CHECK_S, CHIRP_RATE, Soundcheck, Take, chirp, find_chirp, take, weigh
from speech.voice import Speech, VoiceMissing

CLIPS = Path(__file__).parents[2] / "fixtures_audio" / "synthesised"
WORD = read(CLIPS / "pine.P-AY-N.scotland-a.opus").samples
RNG = np.random.default_rng(5)


def in_a_room(word: Samples = WORD, room_dbfs: float = -62) -> Samples:
    """A word in the middle of five seconds of a room."""
    sound = np.zeros(5 * RATE, np.float32)
    sound[2 * RATE : 2 * RATE + len(word)] = word
    return sound + rooms.noise(len(sound), room_dbfs, RNG)


def check(samples: Samples) -> Soundcheck:
    return weigh(Take(samples))


def test_a_good_microphone_needs_no_advice() -> None:
    found = check(in_a_room())
    assert found.findings == found.advice == ()
    assert found.said
    assert found.loudness.noise_dbfs == pytest.approx(-62, abs=1)


@pytest.mark.parametrize(
    ("samples", "finding", "told"),
    [
        (np.zeros(5 * RATE, np.float32), "muted", "mute button"),
        (rooms.noise(5 * RATE, -60, RNG), "nothing said", "read a word"),
        (np.clip(in_a_room(WORD * 12), -1, 1), "clipped", "further"),
        (in_a_room(WORD * 0.02, -78), "too quiet", "nearer"),
        (in_a_room(WORD, -35), "noisy", "television"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_trouble_is_found_and_has_advice(samples: Samples, finding: str, told: str) -> None:
    found = check(samples)
    assert finding in found.findings
    assert any(told in advice for advice in found.advice)


def test_silence_is_muted_and_nothing_else() -> None:
    found = check(np.zeros(RATE, np.float32))
    assert found.findings == ("muted",)
    assert found.loudness.peak_dbfs == SILENCE_DBFS


class PlayedEar:
    """A microphone that hears the loudspeaker, so many seconds late, and a room."""

    lost_pieces = 0
    latency_s = 0.02

    def __init__(self, late_s: float, word: bool = True) -> None:
        self.late_s = late_s
        self.now_s = 0.0
        self.sound = in_a_room() if word else rooms.noise(5 * RATE, -62, RNG)
        self.played = threading.Event()

    def pieces(self) -> Iterator[Samples]:
        """Time goes on only once the whistle that is due has been asked for."""
        for first in range(0, 6 * RATE, 480):
            if first == 10 * 480:
                self.played.wait(timeout=1)
            self.now_s = (first + 480) / RATE
            yield self.sound[first : first + 480]

    def play(self, speech: Speech) -> None:
        assert speech.rate == CHIRP_RATE
        heard = to_rate(speech.samples, CHIRP_RATE)
        first = round((self.now_s + self.late_s) * RATE)
        self.sound[first : first + len(heard)] += heard
        self.played.set()

    def clock(self) -> float:
        return self.now_s


@pytest.mark.parametrize("late_s", [0.03, 0.18, 0.35])
def test_the_round_trip_is_what_lies_between_asking_and_hearing(late_s: float) -> None:
    ear = PlayedEar(late_s)
    found = weigh(take(ear, ear.play, clock=ear.clock))
    assert found.round_trip_s == pytest.approx(late_s, abs=0.035)  # a piece of 30 ms
    assert found.findings == ()


def test_a_slow_headset_is_told() -> None:
    ear = PlayedEar(0.6)
    found = weigh(take(ear, ear.play, clock=ear.clock))
    assert found.findings == ("late",)
    assert "cable" in found.advice[0]


def test_without_a_loudspeaker_the_sound_system_s_own_figure_stands() -> None:
    def missing(_: Speech) -> None:
        raise VoiceMissing("No loudspeaker was found", "none", "Plug one in.")

    found = weigh(take(PlayedEar(0.1), missing))
    assert (found.round_trip_s, found.latency_s) == (None, 0.02)
    assert found.findings == ()


def test_the_whistle_is_not_taken_for_a_voice() -> None:
    ear = PlayedEar(0.1, word=False)
    found = weigh(take(ear, ear.play, clock=ear.clock))
    assert found.round_trip_s is not None
    assert found.findings == ("nothing said",)


def test_lost_sound_is_told() -> None:
    found = weigh(Take(in_a_room(), lost_pieces=2))
    assert found.findings == ("sound lost",)


def test_the_chirp_is_found_across_an_echoing_room_and_nowhere_else() -> None:
    played = to_rate(chirp().samples, CHIRP_RATE)
    sound = rooms.echoing(np.concatenate([np.zeros(8000, np.float32), played]), 0.6, 0, RNG)
    sound = sound + rooms.noise(len(sound), -45, RNG)
    assert find_chirp(sound) == pytest.approx(8000, abs=16)
    for kind in rooms.VOICELESS:
        assert find_chirp(rooms.voiceless(kind, RNG)) is None, kind
    assert find_chirp(in_a_room()) is None
    assert find_chirp(sound[:100]) is None


def test_every_finding_has_advice_and_a_check_lasts_five_seconds() -> None:
    ear = PlayedEar(0.1)
    heard = take(ear, None)
    assert len(heard.samples) == pytest.approx(CHECK_S * RATE, abs=480)
    assert heard.played_s is None
    assert all(len(text) > 40 for text in soundcheck.ADVICE.values())
