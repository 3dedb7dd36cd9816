"""``wordhearth judge``: every line gets a verdict or an error of its own."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from companion.cli import main
from companion.practice.verdicts import VERDICTS
from speech import audio

CLIPS = Path(__file__).parents[2] / "fixtures_audio"
CAPE = audio.read(CLIPS / "synthesised" / "cape.K-EY-P.gb-a.opus").samples
Judge = Callable[..., tuple[int, list[dict[str, Any]]]]


@pytest.fixture
def judge(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Judge:
    """Judge lines (objects, or raw text) in a folder of the test's own."""

    def run(*lines: dict[str, Any] | str) -> tuple[int, list[dict[str, Any]]]:
        texts = [line if isinstance(line, str) else json.dumps(line) for line in lines]
        manifest = tmp_path / "manifest.jsonl"
        manifest.write_text("\n".join(texts), encoding="utf-8")
        code = main(["judge", str(manifest), "--json"])
        return code, [json.loads(line) for line in capsys.readouterr().out.splitlines()]

    return run


def test_a_line_comes_back_with_its_keys_and_a_whole_verdict(judge: Judge, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", CAPE, 16000)
    code, (row,) = judge({"audio": "a.wav", "word": "cape", "note": 7})
    assert code == 0
    assert (row["word"], row["note"], row["verdict"]) == ("cape", 7, "as_written")
    assert set(row["p"]) == set(VERDICTS)
    assert sum(row["p"].values()) == pytest.approx(1, abs=1e-4)
    assert row["loglik"]["K EY P"] > row["loglik"]["K AE P"]
    assert (row["candidates"]["K EY P"], row["candidates"]["K AE P"]) == (
        "as_written",
        "short_for_split",
    )
    assert row["slip"] is None and row["gpc"] is None
    assert row["ms"] > 0


def test_the_same_sound_is_a_slip_of_the_partners_spelling(judge: Judge, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "a.wav", CAPE, 16000)
    _, (row,) = judge({"audio": "a.wav", "word": "cap", "phones": ["K AE P"]})
    assert (row["verdict"], row["slip"], row["gpc"]) == ("slip", "split_for_short", "a /AE/")
    assert row["p_slip"]["split_for_short"] == max(row["p_slip"].values())


@pytest.mark.parametrize(
    ("name", "rate", "channels", "subtype"),
    [
        ("a.wav", 8000, 1, "PCM_16"),
        ("a.wav", 44100, 2, "PCM_24"),
        ("a.wav", 48000, 1, "FLOAT"),
        ("a.flac", 22050, 2, "PCM_16"),
        ("a.ogg", 48000, 1, "OPUS"),
        ("a.mp3", 44100, 2, "MPEG_LAYER_III"),
    ],
)
def test_any_rate_width_and_channel_count_is_heard(
    judge: Judge, tmp_path: Path, name: str, rate: int, channels: int, subtype: str
) -> None:
    import soxr

    sound = np.tile(soxr.resample(CAPE, 16000, rate)[:, None], (1, channels))
    soundfile.write(tmp_path / name, sound, rate, subtype=subtype)
    code, (row,) = judge({"audio": name, "word": "cape"})
    assert code == 0
    assert row["verdict"] == "as_written"


def test_bad_lines_are_named_and_the_rest_are_judged(judge: Judge, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "good.wav", CAPE, 16000)
    soundfile.write(tmp_path / "long.wav", np.zeros(31 * 16000), 16000)
    (tmp_path / "empty.wav").write_bytes(b"")
    (tmp_path / "text.wav").write_text("not a sound")
    (tmp_path / "cut.wav").write_bytes((tmp_path / "good.wav").read_bytes()[:3000])
    bad: list[dict[str, Any] | str] = [
        {"audio": "gone.wav", "word": "cape"},
        {"audio": "empty.wav", "word": "cape"},
        {"audio": "text.wav", "word": "cape"},
        {"audio": "cut.wav", "word": "cape"},
        {"audio": "long.wav", "word": "cape"},
        {"audio": "good.wav", "word": "cape", "start": 9.0, "end": 10.0},
        {"audio": "good.wav", "word": "cape", "start": "soon"},
        {"audio": "good.wav", "word": "c4pe"},
        {"audio": "good.wav", "word": ""},
        {"audio": "good.wav", "word": "日本"},
        {"audio": "good.wav", "word": "cape", "phones": ["K QQ P"]},
        {"audio": "good.wav", "word": "cape", "phones": "K EY P"},
        {"audio": "good.wav", "word": "cape", "accent": "martian"},
        {"audio": "good.wav"},
        "{not json",
        "[1, 2]",
    ]
    good = {"audio": "good.wav", "word": "cape"}
    code, rows = judge(good, *bad, good)
    assert code == 1
    assert len(rows) == len(bad) + 2
    assert rows[0]["verdict"] == rows[-1]["verdict"] == "as_written"
    for row in rows[1:-1]:
        assert "verdict" not in row
        assert len(row["error"]) > 20


def test_silence_is_silent_and_a_clipped_word_is_heard(judge: Judge, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "none.wav", np.zeros(24000), 16000)
    loud = np.clip(CAPE / np.abs(CAPE).max() * 2, -1, 1)
    soundfile.write(tmp_path / "loud.wav", loud, 16000)
    _, (silent, clipped) = judge(
        {"audio": "none.wav", "word": "cape"}, {"audio": "loud.wav", "word": "cape"}
    )
    assert (silent["verdict"], silent["heard"]) == ("silent", "")
    assert clipped["verdict"] == "as_written"


def test_a_manifest_that_is_not_there_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["judge", str(tmp_path / "none.jsonl")]) == 1
    assert "none.jsonl cannot be read" in capsys.readouterr().err


def test_the_demo_hears_judges_and_sums_up_a_week(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo"]) == 0
    out = capsys.readouterr().out
    assert "Week sheet" in out
    assert "not a diagnosis" in out
    right, total = (int(word) for word in out.split(" verdicts are")[0].split()[-3::2])
    assert total == 56
    assert right >= 45
