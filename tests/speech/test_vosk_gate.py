"""Vosk is asked only for what it can do: folders that would end the program, and captions."""

import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from speech.audio import RATE, read
from speech.captions import CaptionListener
from speech.kaldi import Arc, Packed, fst_bytes
from speech.live import MODEL, LiveListener
from speech.live_graph import graph
from speech.vosk_gate import ListenerTrouble

ROOT = Path(__file__).parents[2]
CLIPS = ROOT / "fixtures_audio" / "synthesised"


@pytest.fixture
def model(tmp_path: Path) -> Path:
    return Path(shutil.copytree(MODEL, tmp_path / "model"))


@pytest.fixture
def word_model(model: Path) -> Path:
    """A standard Vosk folder: whole words, one graph."""
    made = graph(["P AY N", "P IH N", "HH OW P"])
    (model / "graph").mkdir()
    (model / "graph" / "HCLG.fst").write_bytes(made.fst)
    names = {"c0": "pine", "c1": "pin", "c2": "hope", "else": "[unk]", "quiet": "[quiet]"}
    words = [names.get(word, word) for word in made.words.split()]
    (model / "graph" / "words.txt").write_text(" ".join(words).replace(" <eps>", "<eps>"))
    lines = zip(words[::2], words[1::2], strict=True)
    (model / "graph" / "words.txt").write_text("".join(f"{w} {n}\n" for w, n in lines))
    return model


def cut_short(model: Path) -> None:
    whole = (model / "am" / "final.mdl").read_bytes()
    (model / "am" / "final.mdl").write_bytes(whole[: len(whole) // 2])


def without_conf(model: Path) -> None:
    (model / "conf" / "model.conf").unlink()


def empty_model(model: Path) -> None:
    (model / "am" / "final.mdl").write_bytes(b"")


def another_file(model: Path) -> None:
    (model / "am" / "final.mdl").write_bytes(b"no network at all\n" * 100)


def other_features(model: Path) -> None:
    (model / "conf" / "fbank.conf").write_text("--num-mel-bins=23\n")


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (cut_short, "cannot be opened"),
        (another_file, "cannot be opened"),
        (without_conf, "has no conf/model.conf"),
        (empty_model, "or an empty one"),
        (other_features, "does not fit"),
    ],
)
def test_a_damaged_model_is_reported_and_does_not_end_the_program(
    model: Path, harm: Callable[[Path], None], said: str
) -> None:
    harm(model)
    with pytest.raises(ListenerTrouble, match=said) as caught:
        LiveListener.load(model)
    assert "Install Wordhearth again" in caught.value.mend


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(ListenerTrouble, match="lighthouse"):
        LiveListener.load(tmp_path / "lighthouse")


def test_a_model_of_words_is_refused_for_single_words(word_model: Path) -> None:
    with pytest.raises(ListenerTrouble, match="whole words only") as caught:
        LiveListener.load(word_model)
    assert "captions" in caught.value.mend


def test_a_named_vosk_folder_hears_whole_words(word_model: Path) -> None:
    listener = CaptionListener.load(word_model)
    pine = read(CLIPS / "pine.P-AY-N.scotland-a.opus").samples
    assert listener.hear(pine) == ("pine",)
    assert listener.hear(np.zeros(RATE, np.float32)) == ()


@pytest.mark.parametrize("name", ["graph/HCLG.fst", "conf/fbank.conf", "am/final.mdl"])
def test_a_folder_that_is_no_vosk_model_is_refused_for_captions(
    word_model: Path, name: str
) -> None:
    (word_model / name).unlink()
    with pytest.raises(ListenerTrouble, match="not complete") as caught:
        CaptionListener.load(word_model)
    assert "out of a Vosk model's archive" in caught.value.mend


def test_grammars_at_run_time_need_both_their_graphs(word_model: Path) -> None:
    """HCLr without Gr ends the program inside vosk."""
    (word_model / "graph" / "HCLG.fst").rename(word_model / "graph" / "HCLr.fst")
    with pytest.raises(ListenerTrouble, match="not complete"):
        CaptionListener.load(word_model)


def test_vosk_is_imported_late_and_without_its_web_library() -> None:
    code = (
        "import sys, speech.live\n"
        "assert 'vosk' not in sys.modules\n"
        "speech.live.LiveListener.load()\n"
        "assert 'vosk' in sys.modules\n"
        "assert 'requests' not in sys.modules and 'urllib3' not in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_without_vosk_the_message_says_how_to_install_it() -> None:
    code = (
        "import sys\nsys.modules['vosk'] = None\n"
        "from speech.live import LiveListener\nfrom speech.vosk_gate import ListenerTrouble\n"
        "try:\n    LiveListener.load()\nexcept ListenerTrouble as error: print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert "pip install vosk" in done.stdout, done.stderr


def test_an_arc_that_leads_nowhere_is_refused() -> None:
    with pytest.raises(ValueError, match="outside the 1 states"):
        fst_bytes([[Arc(1, 0, 0.0, 1)]], {0: 0.0})


@given(
    st.integers(1, 12), st.integers(1, 6), st.integers(0, 2**32 - 1),
    st.floats(0.01, 100), st.booleans(),
)  # fmt: skip
@settings(max_examples=60)
def test_packing_a_matrix_loses_little_of_any_column(
    rows: int, columns: int, seed: int, scale: float, same: bool
) -> None:
    rng = np.random.default_rng(seed)
    values = rng.normal(0, 1, (rows, columns)) * scale * rng.uniform(0.1, 1, columns)
    if same:
        values[:] = values[0, 0]
    kept = Packed.of(values).values()
    # Half a step of the widest quarter of the codes, and half a step of the 16-bit corners.
    column = np.ptp(values, axis=0) / 63 + np.ptp(values) * 4 / 65535
    assert (np.abs(kept - values) <= column + 1e-6 * np.abs(values) + 1e-9).all()
