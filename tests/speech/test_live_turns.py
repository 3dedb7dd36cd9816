"""A turn heard live: what is shown of it, and when it is over."""

import json
import resource
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from companion.phonics.reading import reading
from companion.practice.evidence import candidates, sounded_out
from fixtures_audio import measure_endpoint
from speech.audio import RATE, Samples, read
from speech.capture import record_turn
from speech.endpoint import PAUSE_S
from speech.live import WHOLE_S, LiveListener, LiveState, LiveTurn
from speech.phones import VOWELS

FOLDER = Path(__file__).parents[2] / "fixtures_audio"
ROWS = [json.loads(line) for line in (FOLDER / "manifest.jsonl").read_text().splitlines()]
CLEAR = [r for r in ROWS if r["truth"] != "silent" and r["condition"] == "quiet room"]
BLENDED = [r for r in CLEAR if r["truth"] == "as_written" and "/" not in r["said"]]
SOUNDED = [r for r in CLEAR if r["said"].count("/") >= 2]
PINE = FOLDER / "synthesised" / "pine.P-AY-N.scotland-a.opus"
STEP = 480  # the microphone hands 30 ms over at a time


class PlayedFile:
    """A clip heard as a microphone would hear it."""

    lost_pieces = 0

    def __init__(self, samples: Samples) -> None:
        self.samples = samples
        self.given = 0

    def pieces(self) -> Iterator[Samples]:
        for first in range(0, len(self.samples), STEP):
            self.given = min(first + STEP, len(self.samples))
            yield self.samples[first : self.given]


@pytest.fixture(scope="module")
def listener() -> LiveListener:
    return LiveListener.load()


def turn_for(listener: LiveListener, word: str) -> LiveTurn:
    known = reading(word)
    strings = dict.fromkeys([*candidates(known)[0], *sounded_out(known)])
    return listener.turn(tuple(strings), known.accepted)


def in_room(clean: npt.NDArray[np.float32], after_s: float = 3.0) -> Samples:
    """A clip in a quiet room, `measure_endpoint.BEFORE_S` of it before and `after_s` after."""
    count = len(clean) + round((measure_endpoint.BEFORE_S + after_s) * RATE)
    noise = measure_endpoint.rumble(count, np.random.default_rng(1))
    return measure_endpoint.in_room(clean, noise, 40)


def played(turn: LiveTurn, sound: Samples) -> Iterator[tuple[float, LiveState]]:
    """States with the seconds heard, until the turn is over."""
    for first in range(0, len(sound), STEP):
        state = turn.accept(sound[first : first + STEP])
        yield min(first + STEP, len(sound)) / RATE, state
        if state.over:
            return


def wait_s(listener: LiveListener, row: dict[str, str]) -> float:
    """Seconds from the end of what was said until the turn was over; below 0: cut off."""
    clean = read(FOLDER / row["audio"]).samples
    end_s = measure_endpoint.BEFORE_S + measure_endpoint.span_s(clean)[1]
    *_, (over_s, state) = played(turn_for(listener, row["word"]), in_room(clean))
    assert state.over
    return over_s - end_s


def test_a_blended_word_ends_its_turn_within_half_a_second(listener: LiveListener) -> None:
    waits = [wait_s(listener, row) for row in BLENDED[::5]]
    assert len(waits) >= 10
    assert min(waits) > 0
    assert np.median(waits) < 0.5


@pytest.mark.parametrize("row", SOUNDED[::4], ids=lambda row: row["said"])
def test_a_turn_does_not_end_in_the_pauses_of_sounding_out(
    listener: LiveListener, row: dict[str, str]
) -> None:
    assert wait_s(listener, row) > 0


def test_a_word_with_a_long_quiet_inside_is_not_taken_for_whole(listener: LiveListener) -> None:
    """However sure the sounds, the levels say that it was said in pieces."""
    clean = read(PINE).samples
    middle = round(sum(measure_endpoint.span_s(clean)) / 2 * RATE)
    gap = np.zeros(round(0.5 * RATE), np.float32)
    parted = np.concatenate([clean[:middle], gap, clean[middle:]])
    end_s = measure_endpoint.BEFORE_S + measure_endpoint.span_s(parted)[1]
    *_, (over_s, state) = played(turn_for(listener, "pine"), in_room(parted))
    assert state.pause_s == PAUSE_S
    assert over_s - end_s > 1.0


def test_what_is_shown_follows_the_child(listener: LiveListener) -> None:
    clean = read(PINE).samples
    start_s, end_s = (measure_endpoint.BEFORE_S + s for s in measure_endpoint.span_s(clean))
    states = list(played(turn_for(listener, "pine"), in_room(clean)))
    before = [state for heard_s, state in states if heard_s < start_s - 0.1]
    during = [state for heard_s, state in states if start_s + 0.25 < heard_s < end_s]
    assert before
    assert not any(state.hears or state.partial for state in before)
    assert during
    assert all(state.hears for state in during)
    assert not any(state.partial == "P AY N" for state in during[: len(during) // 2])
    last = states[-1][1]
    assert (last.partial, last.pause_s, last.hears) == ("P AY N", WHOLE_S, False)


def test_a_correction_after_a_pause_is_shown_as_the_last_attempt(listener: LiveListener) -> None:
    (row,) = [r for r in CLEAR if r["said"] == "K AE P / K EY P" and r["word"] == "cape"][:1]
    clean = read(FOLDER / row["audio"]).samples
    turn = turn_for(listener, "cape")
    partials = [state.partial for _, state in played(turn, in_room(clean))]
    assert list(dict.fromkeys(partials)) == ["", "K AE P", "K EY P"]
    scores = turn.finish()
    assert scores.last["K EY P"] > scores.last["K AE P"]
    assert scores.last["K EY P"] > scores.loglik["K EY P"] + 5


def test_a_microphone_turn_ends_by_the_live_listener_and_comes_back_whole(
    listener: LiveListener,
) -> None:
    clean = read(PINE).samples
    sound = in_room(clean)
    ear = PlayedFile(sound)
    turn = turn_for(listener, "pine")
    utterance = record_turn(ear, live=turn)
    start_s, end_s = measure_endpoint.span_s(clean)
    assert utterance.duration_s == pytest.approx(end_s - start_s + 0.5, abs=0.1)
    assert ear.given / RATE < measure_endpoint.BEFORE_S + end_s + 0.6
    np.testing.assert_array_equal(turn.samples, sound[: ear.given])
    scores = turn.finish()
    assert scores.loglik["P AY N"] == max(scores.loglik.values())


def test_nobody_speaking_is_waited_for_and_scored_as_silence(listener: LiveListener) -> None:
    room = in_room(np.full(RATE, 1e-9, np.float32), after_s=0.4)
    noise = room * np.float32(1e-3 / max(float(np.abs(room).max()), 1e-12))
    turn = turn_for(listener, "pine")
    record_turn(PlayedFile(np.tile(noise, 2)), wait_s=3.0, live=turn)
    scores = turn.finish()
    assert scores.silence > max(scores.loglik.values()) + 5
    assert scores.silence == pytest.approx(scores.garbage, abs=2)


@pytest.mark.skipif(sys.platform != "linux", reason="reads Linux's /proc")
def test_memory_stays_flat_over_many_turns(listener: LiveListener) -> None:
    """Hours of it: tests/time_live_listening.py."""
    clean = read(PINE).samples
    resident = []
    for number in range(40):
        turn = listener.turn([f"P {vowel} N" for vowel in VOWELS[number % 5 :]])
        turn.accept(clean)
        turn.finish()
        pages = int(Path("/proc/self/statm").read_text().split()[1])
        resident.append(pages * resource.getpagesize() / 1e6)
    assert max(resident[20:]) - max(resident[:20]) < 5
