"""The live listener's scores: against PyTorch, and against a Viterbi search written here."""

import itertools
import json
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from speech import live
from speech.audio import RATE, read
from speech.live import EARLIER_FRAME_NATS, EDGE_S, MODEL, REACH_NATS, LiveListener, LiveScores
from speech.live_graph import ELSE_FRAME_NATS
from speech.phones import BLANK_INDEX, INDEX, PAUSE, PHONES, encode
from speech.training.live_probe import best_symbols, frame_scores

CLIPS = Path(__file__).parents[2] / "fixtures_audio"
TORCH = np.load(Path(__file__).parent / "live_torch_scores.npz")
"""PyTorch's log-probabilities of some clips, (frames, 41) each, written by live_export."""
NAMES = sorted(TORCH.files)
Scores = npt.NDArray[np.float64]

CANDIDATES = (
    "P AY N", "P IH N", "P IH N IY", "P AY N IY", "P AY", "AY N", "B AY N", "P AY N Z", "P",
    f"P {PAUSE} AY {PAUSE} N", f"P AH {PAUSE} IH {PAUSE} N AH", f"P {PAUSE} P AY N",
    "N N", "S P AY N",
)  # fmt: skip


@pytest.fixture(scope="module")
def listener() -> LiveListener:
    return LiveListener.load()


def samples_of(name: str) -> npt.NDArray[np.float32]:
    (path,) = CLIPS.rglob(name)
    return read(path).samples


def best_path(frames: Scores, states: list[int | None], skips: list[bool]) -> float:
    """Viterbi over a chain: each state stays, comes from the one before, or, where it may skip,
    from the one before that. A state None takes the best symbol of a frame, at a cost that steers
    the search in full and counts in the score as vosk scales it."""
    none = np.array([s is None for s in states])
    emitted = np.stack([frames.max(axis=1) if s is None else frames[:, s] for s in states], axis=1)
    steered = emitted - ELSE_FRAME_NATS * none
    best = np.full((len(states), 2), -np.inf)  # what steers, and what counts
    counted = emitted - EARLIER_FRAME_NATS * none
    starts = 2 if skips[0] else 1
    best[:starts] = np.stack([steered[0], counted[0]], axis=1)[:starts]
    for steer, count in zip(steered[1:], counted[1:], strict=True):
        came = best.copy()
        for place in range(1, len(states)):
            ways = [came[place], best[place - 1]]
            ways += [best[place - 2]] if place > 1 and skips[place] else []
            came[place] = max(ways, key=lambda way: way[0])
        best = came + np.stack([steer, count], axis=1)
    return float(max(best[-1], best[-2], key=lambda way: way[0])[1])


def as_whole(frames: Scores, candidate: str) -> float:
    """Best alignment of a candidate (Graves et al. 2006, section 4.1)."""
    label = encode(candidate)
    states: list[int | None] = [BLANK_INDEX]
    skips = [True]
    for place, symbol in enumerate(label):
        states += [symbol, BLANK_INDEX]
        skips += [place > 0 and symbol != label[place - 1], False]
    return best_path(frames, states, skips)


def as_last(frames: Scores, candidate: str) -> float:
    """The same after an earlier attempt: any symbols, then a pause."""
    label = (INDEX[PAUSE], *encode(candidate))
    states: list[int | None] = [None, INDEX[PAUSE]]
    skips = [False, False]
    for before, symbol in itertools.pairwise(label):
        states += [BLANK_INDEX, symbol]
        skips += [False, symbol != before]
    states.append(BLANK_INDEX)
    skips.append(False)
    return best_path(frames, states, skips)


def heard(listener: LiveListener, name: str, candidates: tuple[str, ...]) -> LiveScores:
    """Scores of a clip without the edges that `score` puts on."""
    turn = listener.turn(candidates)
    turn.decode(samples_of(name))
    return turn.finish()


@pytest.mark.parametrize("step", [10**9, RATE // 10], ids=["at once", "in pieces of 0.1 s"])
@pytest.mark.parametrize("name", NAMES)
def test_libvosk_computes_what_pytorch_does(name: str, step: int) -> None:
    theirs = frame_scores(MODEL, samples_of(name), step)
    relative = TORCH[name] - TORCH[name].max(axis=1, keepdims=True)
    known = np.isfinite(theirs)
    assert known.mean() > 0.99
    np.testing.assert_allclose(theirs[known], relative[known], atol=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_the_best_symbol_of_each_frame_is_pytorchs(name: str) -> None:
    assert best_symbols(MODEL, samples_of(name)) == TORCH[name].argmax(axis=1).tolist()


@pytest.mark.parametrize("name", NAMES)
def test_every_candidate_scores_as_its_best_alignment(listener: LiveListener, name: str) -> None:
    frames = TORCH[name].astype(np.float64)
    scores = heard(listener, name, CANDIDATES)
    free = frames.max(axis=1).sum()
    assert scores.frames == len(frames)
    assert scores.garbage == pytest.approx(free, abs=0.01)
    assert scores.silence == pytest.approx(
        max(frames[:, BLANK_INDEX].sum(), free - REACH_NATS), abs=0.01
    )
    told = 0
    for candidate in CANDIDATES:
        for found, expected in (
            (scores.loglik[candidate], as_whole(frames, candidate)),
            (scores.last[candidate], as_last(frames, candidate)),
        ):
            assert found == pytest.approx(max(expected, free - REACH_NATS), abs=0.02), candidate
            told += expected > free - REACH_NATS
    assert told > 4  # the check is no comparison of floors alone


strings = st.lists(st.sampled_from([*PHONES, PAUSE]), min_size=1, max_size=5).map(" ".join)


@given(st.lists(strings, min_size=1, max_size=30, unique=True))
@settings(max_examples=8)
def test_a_candidate_scores_the_same_whatever_stands_beside_it(others: list[str]) -> None:
    listener = LiveListener(MODEL)
    alone = heard(listener, NAMES[0], ("P AY N",))
    among = heard(listener, NAMES[0], tuple(dict.fromkeys(["P AY N", *others])))
    assert among.loglik["P AY N"] == pytest.approx(alone.loglik["P AY N"], abs=0.01)
    assert among.garbage == pytest.approx(alone.garbage, abs=0.01)
    assert all(among.garbage - REACH_NATS <= v <= among.garbage + 0.01
               for v in (*among.loglik.values(), *among.last.values()))  # fmt: skip


def test_hundreds_of_candidates_are_all_scored(listener: LiveListener) -> None:
    made = [
        f"{a} {v} {b}" for a, v, b in itertools.product(("P", "B", "T", "D"), PHONES, ("N", "M"))
    ]
    frames = TORCH[NAMES[0]].astype(np.float64)
    scores = heard(listener, NAMES[0], tuple(made))
    floor = frames.max(axis=1).sum() - REACH_NATS
    assert len(made) > 300
    for candidate in made[:: len(made) // 40]:
        expected = max(as_whole(frames, candidate), floor)
        assert scores.loglik[candidate] == pytest.approx(expected, abs=0.02), candidate


def test_a_turn_in_pieces_scores_as_the_whole_clip(listener: LiveListener) -> None:
    sound = samples_of(NAMES[0])
    turn = listener.turn(CANDIDATES)
    turn.decode(np.zeros(round(EDGE_S * RATE), np.float32))
    for first in range(0, len(sound), 480):
        turn.accept(sound[first : first + 480])
    turn.accept(np.zeros(round(EDGE_S * RATE), np.float32))
    assert turn.finish() == listener.score(sound, CANDIDATES)


def test_a_turn_in_which_nothing_came_scores_nothing(listener: LiveListener) -> None:
    scores = listener.turn(["P AY N"]).finish()
    assert (scores.frames, scores.garbage) == (0, 0.0)
    assert scores.loglik["P AY N"] == -REACH_NATS


@pytest.mark.parametrize(
    ("candidates", "said"),
    [
        ([], "needs candidates"),
        (["P AY N", ""], "none of them empty"),
        (["P AY N", "P  AY N"], "given twice"),
        (["P AY1 N"], "AY1"),
        (["pine"], "pine"),
    ],
)
def test_candidates_that_would_upset_vosk_are_refused_before_it_is_asked(
    listener: LiveListener, candidates: list[str], said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        listener.turn(candidates)


@pytest.mark.parametrize("length", [400, 559, 560, 879, 880, 1040, 16000])
def test_frames_are_counted_as_vosk_counts_them(length: int) -> None:
    """The probe's graph has a path only for exactly the frames that `frames_of` gives."""
    found = frame_scores(MODEL, np.zeros(length, np.float32), 10**9)
    assert len(found) == live.frames_of(length) > 0
    assert np.isfinite(found).any(axis=1).all()


def test_the_model_is_small_enough_to_hand_on() -> None:
    size = sum(file.stat().st_size for file in MODEL.rglob("*") if file.is_file())
    assert size <= 7_000_000


def test_words_as_written_beat_their_partners_on_synthetic_voices(listener: LiveListener) -> None:
    rows = [json.loads(line) for line in (CLIPS / "manifest.jsonl").read_text().splitlines()]
    right = total = 0
    for row in rows[::3]:
        said = row["said"]
        if row["condition"] != "quiet room" or not said or "/" in said:
            continue
        pairs = [(a, b) for a, b in (("EY", "AE"), ("AY", "IH"), ("OW", "AA"), ("IY", "EH"))
                 if a in said.split() or b in said.split()]  # fmt: skip
        for long, short in pairs[:1]:
            swap = {long: short, short: long}
            other = " ".join(swap.get(phone, phone) for phone in said.split())
            scores = listener.score(read(CLIPS / row["audio"]).samples, [said, other])
            right += scores.loglik[said] > scores.loglik[other]
            total += 1
    assert total >= 20
    assert right >= 0.9 * total
