"""The scorer: its arithmetic against brute force, its errors, and its ear on real clips."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from fixtures_audio.recipes import PAIRS
from speech.audio import RATE, read
from speech.phones import INDEX, PAUSE, PHONES, SYMBOLS, encode
from speech.scorer import MODEL, Hearing, ModelTrouble, PhoneScorer, ctc_log_likelihoods

FOLDER = Path(__file__).parents[2] / "fixtures_audio"
ROWS = [json.loads(line) for line in (FOLDER / "manifest.jsonl").read_text().splitlines()]


@pytest.fixture(scope="module")
def scorer() -> PhoneScorer:
    return PhoneScorer.load()


@st.composite
def frame_scores(draw: st.DrawFn, symbols: int = 3, most: int = 5) -> NDArray[np.float64]:
    """Random log-probabilities, shape (frames, symbols), the blank first."""
    frames = draw(st.integers(1, most))
    weights = draw(
        st.lists(st.floats(0.01, 1.0), min_size=frames * symbols, max_size=frames * symbols)
    )
    table = np.array(weights).reshape(frames, symbols)
    return np.asarray(np.log(table / table.sum(axis=1, keepdims=True)))


def collapsed(path: tuple[int, ...]) -> tuple[int, ...]:
    """A path's label: repeats merged, then blanks dropped (Graves et al. 2006, section 3.1)."""
    return tuple(symbol for symbol, _ in itertools.groupby(path) if symbol)


def enumerated(scores: NDArray[np.float64]) -> dict[tuple[int, ...], float]:
    """Probability of every label, by walking every path."""
    found: dict[tuple[int, ...], float] = {}
    for path in itertools.product(range(scores.shape[1]), repeat=len(scores)):
        chance = float(np.exp(sum(scores[frame, symbol] for frame, symbol in enumerate(path))))
        found[collapsed(path)] = found.get(collapsed(path), 0.0) + chance
    return found


@given(frame_scores())
def test_every_label_scores_what_all_its_paths_sum_to(scores: NDArray[np.float64]) -> None:
    """Graves et al. 2006, Connectionist Temporal Classification, equation 3."""
    chances = enumerated(scores)
    labels = [label for label in chances if label]
    got = ctc_log_likelihoods(scores, labels)
    np.testing.assert_allclose(np.exp(got), [chances[label] for label in labels], rtol=1e-9)


@given(frame_scores(symbols=4, most=4))
def test_silence_and_all_labels_together_have_probability_one(
    scores: NDArray[np.float64],
) -> None:
    labels = [
        label
        for length in range(1, len(scores) + 1)
        for label in itertools.product(range(1, scores.shape[1]), repeat=length)
    ]
    silence = np.exp(scores[:, 0].sum())
    assert silence + np.exp(ctc_log_likelihoods(scores, labels)).sum() == pytest.approx(1)


@given(frame_scores(), st.lists(st.integers(1, 2), min_size=1, max_size=8))
def test_a_label_longer_than_the_frames_can_hold_is_impossible(
    scores: NDArray[np.float64], label: list[int]
) -> None:
    repeats = sum(a == b for a, b in itertools.pairwise(label))  # each needs a blank between
    (got,) = ctc_log_likelihoods(scores, [label])
    assert (got == -np.inf) == (len(label) + repeats > len(scores))


@given(frame_scores(symbols=5), st.permutations([(1,), (2, 3), (4, 4), (1, 2, 3), (3, 1)]))
def test_a_label_scores_alone_what_it_scores_among_others(
    scores: NDArray[np.float64], labels: list[tuple[int, ...]]
) -> None:
    alone = [float(ctc_log_likelihoods(scores, [label])[0]) for label in labels]
    np.testing.assert_allclose(ctc_log_likelihoods(scores, labels), alone)


def test_no_labels_give_no_scores_and_an_empty_one_is_refused() -> None:
    scores = np.log(np.full((3, 3), 1 / 3))
    assert ctc_log_likelihoods(scores, []).shape == (0,)
    with pytest.raises(ValueError, match="silence has a score of its own"):
        ctc_log_likelihoods(scores, [(1,), ()])


def heard(*symbols: str, sure: float = 0.9) -> Hearing:
    """One frame for each symbol given; ``""`` is the blank."""
    table = np.full((len(symbols), len(SYMBOLS)), (1 - sure) / (len(SYMBOLS) - 1), np.float32)
    for frame, symbol in enumerate(symbols):
        table[frame, INDEX[symbol]] = sure
    return Hearing(np.log(table)[None])


PINE = heard("", "P", "P", "", "AY", "N", "N", "", "")


def test_the_free_path_names_each_sound_where_it_begins() -> None:
    assert PINE.free_path == (("P", 1), ("AY", 4), ("N", 5))
    assert PINE.free_phones == "P AY N"
    assert PINE.frames == 9
    assert heard("T", "", "T").free_phones == "T T"
    assert heard("T", "T", "T").free_phones == "T"


def test_outer_pauses_are_no_phones_and_no_restarts() -> None:
    clip = heard(PAUSE, "", "P", "", PAUSE, PAUSE, "", "AY", PAUSE, "")
    assert clip.free_phones == f"P {PAUSE} AY"
    assert len(clip.restarts) == 1
    assert heard("", PAUSE, "").free_phones == ""
    assert heard("", PAUSE, "").restarts == ()
    assert heard("P", "AY").restarts == ()


def test_a_new_attempt_begins_just_after_the_pause_so_it_need_not_explain_it() -> None:
    clip = heard("P", "", PAUSE, PAUSE, "", "AY", "", PAUSE, "N")
    assert clip.restarts == (4, 8)


def test_silence_is_the_blank_in_every_frame() -> None:
    assert heard("", "", "").silence == pytest.approx(3 * np.log(0.9), rel=1e-5)
    assert heard("", "P", "").silence < heard("", "", "").silence - 3


def test_what_was_said_outscores_everything_else_of_its_length() -> None:
    others = [f"P AY {phone}" for phone in PHONES if phone != "N"]
    right, *rest = PINE.log_likelihoods(["P AY N", *others])
    assert right > max(rest)


def test_a_part_of_the_clip_is_scored_as_that_part_alone() -> None:
    part = Hearing(PINE.frame_scores[:, 3:7])
    np.testing.assert_allclose(
        PINE.log_likelihoods(["AY N", "AY"], first=3, last=7), part.log_likelihoods(["AY N", "AY"])
    )


def test_two_networks_that_hear_one_clip_are_one_mean() -> None:
    other = heard("", "P", "P", "", "IH", "N", "N", "", "", sure=0.6)
    both = Hearing(np.concatenate([PINE.frame_scores, other.frame_scores]))
    strings = ["P AY N", "P IH N", "P"]
    means = (PINE.log_likelihoods(strings) + other.log_likelihoods(strings)) / 2
    np.testing.assert_allclose(both.log_likelihoods(strings), means)
    assert both.silence == pytest.approx((PINE.silence + other.silence) / 2)
    assert both.free_phones == "P AY N"
    assert both.freely[-1] >= both.log_likelihoods(["P AY N"])[0]


def test_candidates_that_cannot_be_scored() -> None:
    assert PINE.log_likelihoods(["P AY N D AE D IY S AE D"])[0] == -np.inf
    with pytest.raises(ValueError, match="silence has a score of its own"):
        PINE.log_likelihoods([""])
    for wrong in ("P AY1 N", "p ay n", "P QQ"):
        with pytest.raises(ValueError, match="is not an ARPAbet phone without stress"):
            PINE.log_likelihoods([wrong])


def test_every_symbol_has_one_number_and_the_blank_is_first() -> None:
    assert len(SYMBOLS) == len(INDEX) == 41
    assert encode("") == () and SYMBOLS[0] == ""
    assert [SYMBOLS[number] for number in encode(" ".join(PHONES))] == list(PHONES)


def refusal(path: Path) -> ModelTrouble:
    with pytest.raises(ModelTrouble) as refused:
        PhoneScorer.load(path)
    trouble = refused.value
    assert path.name in trouble.what and trouble.why and "Install Wordhearth again" in trouble.mend
    return trouble


def test_a_missing_model_is_named_with_its_place(tmp_path: Path) -> None:
    trouble = refusal(tmp_path / "gone.onnx")
    assert "is not there" in trouble.what and str(tmp_path) in trouble.why
    assert "is not there" in refusal(tmp_path).what  # a folder is no model


@pytest.mark.parametrize("kept", [0, 1, 100, 10_000, 0.5, 0.999])
def test_a_model_cut_short_is_refused(tmp_path: Path, kept: float) -> None:
    whole = MODEL.read_bytes()
    length = int(kept * len(whole)) if isinstance(kept, float) else kept
    (tmp_path / "short.onnx").write_bytes(whole[:length])
    refusal(tmp_path / "short.onnx")


@pytest.mark.parametrize(
    "content",
    [np.random.default_rng(5).bytes(50_000), b"\0" * 4096, b"a page of text, not a model\n" * 40],
    ids=["random", "zeros", "text"],
)
def test_a_file_that_is_no_model_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "other.onnx").write_bytes(content)
    refusal(tmp_path / "other.onnx")


def field(number: int, value: bytes | int) -> bytes:
    """One protobuf field of under 128 bytes."""
    if isinstance(value, int):
        return bytes([number << 3, value])
    return bytes([number << 3 | 2, len(value)]) + value


def identity_network(tensor: str, width: int) -> bytes:
    """An ONNX file whose output is its input, shape (1, width); field numbers of onnx.proto."""
    size = field(1, field(1, 1)) + field(1, field(1, width))
    kind = field(2, field(1, field(1, 1) + field(2, size)))
    node = field(1, tensor.encode()) + field(2, b"out") + field(4, b"Identity")
    graph = field(1, node) + field(2, b"g")
    graph += field(11, field(1, tensor.encode()) + kind) + field(12, field(1, b"out") + kind)
    return field(1, 8) + field(7, graph) + field(8, field(2, 13))


@pytest.mark.parametrize(("tensor", "width"), [("picture", 10), ("mel", 40), ("picture", 41)])
def test_another_network_is_refused(tmp_path: Path, tensor: str, width: int) -> None:
    path = tmp_path / "another.onnx"
    path.write_bytes(identity_network(tensor, width))
    assert "is not a phone network" in refusal(path).what


def test_the_network_gives_probabilities_every_20_ms(scorer: PhoneScorer) -> None:
    hearing = scorer.hear(np.zeros(RATE, np.float32))
    assert hearing.frame_scores.shape == (2, 60, len(SYMBOLS))  # 1 s and a tenth at both ends
    np.testing.assert_allclose(np.exp(hearing.frame_scores).sum(axis=2), 1, atol=1e-4)


def test_the_same_clip_is_heard_the_same_way_twice(scorer: PhoneScorer) -> None:
    samples = read(FOLDER / "synthesised/cape.K-EY-P.gb-a.opus").samples
    first, second = (scorer.score(samples, ["K EY P", "K AE P"]) for _ in range(2))
    assert first == second
    assert first.loglik["K EY P"] > first.loglik["K AE P"]
    assert first.loglik["K EY P"] > first.silence
    assert first.free >= first.loglik["K AE P"] and first.free_phones
    assert scorer.score(samples, []).loglik == {}


def test_which_of_a_pair_was_said_is_heard(scorer: PhoneScorer) -> None:
    """*pine* said P AY N fits that better than P IH N, in both directions and for every vowel.

    The truth is what the voice was told to say. 77 of 80 when this was written.
    """
    right: list[bool] = []
    for row in ROWS:
        pairs = [p for p in PAIRS if row["word"] in (p[0], p[2]) and row["said"] in (p[1], p[3])]
        if row["condition"] != "quiet room" or not pairs:
            continue
        _, short, _, long = pairs[0]
        loglik = scorer.score(read(FOLDER / row["audio"]).samples, [short, long]).loglik
        other = long if row["said"] == short else short
        right.append(loglik[row["said"]] > loglik[other])
    assert len(right) >= 70
    assert np.mean(right) >= 0.9
