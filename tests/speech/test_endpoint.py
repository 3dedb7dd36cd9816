"""Where speech starts and ends, on made levels, real clips, and streams cut anyhow."""

import itertools
import json
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures_audio import measure_endpoint
from speech.audio import RATE, Utterance, read
from speech.endpoint import MARGIN_S, NEAR_S, PAUSE_S, Turn, Watch, look, trim
from speech.levels import Levels, frame_levels

FOLDER = Path(__file__).parents[2] / "fixtures_audio"
ROWS = [json.loads(line) for line in (FOLDER / "manifest.jsonl").read_text().splitlines()]
SPOKEN = [r for r in ROWS if r["truth"] != "silent" and r["condition"] == "quiet room"]
SOUNDED = [r for r in SPOKEN if r["said"].count("/") >= 2]
SILENT = [r for r in ROWS if r["truth"] == "silent" and r["voice"] != "babble"]

ROOM, VOICE = -60.0, -20.0


def levels(*parts: tuple[float, float], seed: int = 1) -> Levels:
    """Build levels from (seconds, dBFS) parts; both bands the same, as unsteady as white noise."""
    rng = np.random.default_rng(seed)
    each = np.concatenate([np.full(round(100 * s), level) for s, level in parts])
    return each[:, None] + rng.normal(0, 1.0, (len(each), 2))


def samples_of(row: dict[str, str]) -> npt.NDArray[np.float32]:
    return read(FOLDER / row["audio"]).samples


def test_a_sound_between_silences_is_found_to_the_frame() -> None:
    turn = look(levels((1, ROOM), (0.5, VOICE), (0.4, ROOM)))
    assert (turn.start_s, turn.end_s, turn.over) == (1.0, 1.5, False)
    assert turn.quiet_s == pytest.approx(0.4)


@pytest.mark.parametrize("room", [-100.0, -75.0, -60.0, -45.0, -35.0])
def test_the_threshold_follows_the_room(room: float) -> None:
    turn = look(levels((1, room), (0.5, VOICE), (2, room)))
    assert turn.start_s == pytest.approx(1.0)
    assert turn.end_s == pytest.approx(1.5)
    assert turn.over


@pytest.mark.parametrize("room", [-100.0, -70.0, -50.0, -30.0])
def test_a_room_alone_is_nobody_speaking(room: float) -> None:
    assert look(levels((5, room))) == Turn(None, None, 5.0, False)


def test_no_frames_are_nobody_speaking() -> None:
    assert look(np.zeros((0, 2))) == Turn(None, None, 0.0, False)


@pytest.mark.parametrize("gap_s", [0.2, 0.6, 1.0, 1.2, 1.4])
def test_a_pause_between_sounds_does_not_end_the_turn(gap_s: float) -> None:
    whole = levels((0.8, ROOM), (0.2, VOICE), (gap_s, ROOM), (0.3, VOICE), (gap_s, ROOM))
    assert not any(look(whole[:n]).over for n in range(len(whole) + 1))
    assert look(whole).end_s == pytest.approx(1.3 + gap_s)


def test_a_longer_pause_ends_it_at_once() -> None:
    whole = levels((0.8, ROOM), (0.2, VOICE), (2.5, ROOM))
    first = next(n for n in range(len(whole)) if look(whole[:n]).over)
    assert first / 100 == pytest.approx(1.0 + PAUSE_S, abs=0.011)


def test_a_listener_that_knows_the_word_is_whole_may_wait_less() -> None:
    whole = levels((0.8, ROOM), (0.4, VOICE), (0.5, ROOM))
    assert not look(whole).over
    assert look(whole, pause_s=0.45).over


def test_a_click_is_not_speech() -> None:
    assert look(levels((1, ROOM), (0.03, VOICE), (2, ROOM))).start_s is None


def test_the_release_of_a_final_stop_belongs_to_its_word() -> None:
    closure_s = NEAR_S - 0.1
    parts = ((1, ROOM), (0.3, VOICE), (closure_s, ROOM), (0.03, VOICE - 10), (2, ROOM))
    assert look(levels(*parts)).end_s == pytest.approx(1.33 + closure_s)


def test_a_click_long_after_the_word_does_not_put_the_end_off() -> None:
    parts = ((1, ROOM), (0.3, VOICE), (0.8, ROOM), (0.03, VOICE), (0.75, ROOM))
    turn = look(levels(*parts))
    assert turn.end_s == pytest.approx(1.3)
    assert turn.over


def test_breath_and_echo_far_below_the_voice_are_not_speech() -> None:
    parts = ((1, -90.0), (0.3, -10.0), (1.0, -55.0), (0.6, -90.0))
    assert look(levels(*parts)).end_s == pytest.approx(1.3)


def test_hiss_alone_is_speech_when_it_stands_above_the_room() -> None:
    """A child sounding out s: nothing in the voice band."""
    only_hiss = levels((1, ROOM), (0.4, VOICE), (2, ROOM))
    only_hiss[:, 0] = ROOM
    assert look(only_hiss).start_s == pytest.approx(1.0)


@given(
    st.lists(st.tuples(st.floats(0.05, 1.0), st.floats(-90, 0)), min_size=1, max_size=8),
    st.integers(0, 1000),
)
@settings(max_examples=60, deadline=None)
def test_what_is_found_lies_within_what_was_heard(
    parts: list[tuple[float, float]], seed: int
) -> None:
    made = levels(*parts, seed=seed)
    turn = look(made)
    if turn.start_s is None or turn.end_s is None:
        assert not turn.over
        return
    assert 0 <= turn.start_s < turn.end_s <= len(made) / 100 + 1e-9
    assert turn.quiet_s == pytest.approx(len(made) / 100 - turn.end_s)
    assert turn.over == (turn.quiet_s >= PAUSE_S - 0.005)


@given(st.data())
@settings(max_examples=25, deadline=None)
def test_a_stream_cut_anyhow_is_judged_as_the_whole(data: st.DataObject) -> None:
    sound = samples_of(data.draw(st.sampled_from(SPOKEN)))
    cuts = sorted(data.draw(st.lists(st.integers(0, len(sound)), max_size=20)))
    watch = Watch()
    for first, last in itertools.pairwise([0, *cuts, len(sound)]):
        turn = watch.hear(sound[first:last])
        heard = frame_levels(sound[:last])
        assert turn == look(heard)
    np.testing.assert_array_equal(watch.levels, frame_levels(sound))
    np.testing.assert_array_equal(watch.samples, sound)


@pytest.mark.parametrize("row", SOUNDED, ids=lambda row: row["said"])
def test_sounding_out_is_never_cut_off(row: dict[str, str]) -> None:
    sound = samples_of(row)
    watch = Watch()
    turns = [watch.hear(sound[n : n + 480]) for n in range(0, len(sound), 480)]
    assert not any(turn.over for turn in turns)
    last_sound_s = measure_endpoint.span_s(sound)[1]
    assert turns[-1].end_s == pytest.approx(last_sound_s, abs=0.15)


@pytest.mark.parametrize("above_db", [30, 15])
@pytest.mark.parametrize("noise", [measure_endpoint.rumble, measure_endpoint.voices])
def test_turns_in_a_noisy_room_end_after_the_child_and_before_three_seconds(
    noise: measure_endpoint.Noise, above_db: int
) -> None:
    rng = np.random.default_rng(above_db)
    wrong = 0
    chosen = SPOKEN[::6]
    for row in chosen:
        clean = samples_of(row)
        around = noise(len(clean) + round(3.6 * RATE), rng)
        _, _, over = measure_endpoint.play(measure_endpoint.in_room(clean, around, above_db))
        end_s = measure_endpoint.BEFORE_S + measure_endpoint.span_s(clean)[1]
        wrong += over is None or over < end_s
    assert wrong <= 0.05 * len(chosen)


@pytest.mark.parametrize("row", SILENT, ids=lambda row: Path(row["audio"]).stem)
def test_an_empty_room_has_no_turn_in_it(row: dict[str, str]) -> None:
    assert look(frame_levels(samples_of(row))).start_s is None


def test_trimming_keeps_the_word_and_a_margin() -> None:
    word = samples_of(SPOKEN[0])
    pad = np.zeros(2 * RATE, np.float32)
    short = trim(Utterance(np.concatenate((pad, word, pad))))
    start_s, end_s = measure_endpoint.span_s(word)
    assert short.duration_s == pytest.approx(end_s - start_s + 2 * MARGIN_S, abs=0.05)
    np.testing.assert_array_equal(trim(short).samples, short.samples)


def test_trimming_silence_leaves_it_whole() -> None:
    silence = Utterance(np.zeros(2 * RATE, np.float32))
    assert trim(silence).duration_s == 2.0


def test_a_clip_cut_tight_loses_nothing() -> None:
    tight = [read(FOLDER / row["audio"]) for row in ROWS if row["condition"] == "tight"]
    assert tight
    assert all(trim(clip) is clip for clip in tight)
