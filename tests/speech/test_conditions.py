"""Clips of what children really do: what their rows say is so, and the rooms are as they say."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy import signal  # type: ignore[import-untyped]

from companion.phonics.reading import reading
from fixtures_audio import rooms
from fixtures_audio.conditions import MAKERS, SPOKEN_ACCENTS, scenes
from speech.audio import RATE, Samples, read
from speech.evaluate_rows import parse
from speech.levels import CLIPPED_SHARE, loudness

FOLDER = Path(__file__).parents[2] / "fixtures_audio"
BUNDLED = FOLDER / "conditions"
LINES = (BUNDLED / "manifest.jsonl").read_text("utf-8").splitlines()
ROWS = [json.loads(line) for line in LINES]
WORD = read(FOLDER / "synthesised" / "pine.P-AY-N.scotland-a.opus").samples


def rng() -> np.random.Generator:
    return np.random.default_rng(7)


def test_every_condition_accent_and_voiceless_sound_is_bundled() -> None:
    names = {row["condition"] for row in ROWS}
    accents = {f"accent {base}" for base in SPOKEN_ACCENTS}
    assert names == set(MAKERS) | accents | {f"nobody reads: {kind}" for kind in rooms.VOICELESS}
    assert {row["audio"] for row in ROWS} == {p.name for p in BUNDLED.glob("*.opus")}


def test_the_evaluation_takes_every_row() -> None:
    rows, errors = parse(LINES)
    assert len(rows) == len(ROWS)
    assert errors == ()
    assert {row.age_band for row in rows if row.about["voice"].startswith("child")} <= {
        "5 to 7 years", "8 to 9 years", "10 to 11 years",
    }  # fmt: skip


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["audio"])
def test_a_bundled_clip_is_heard_and_its_truth_follows_the_marking_rules(
    row: dict[str, str],
) -> None:
    """The last attempt counts; sounds without a blend are none; a slip is one of the word's."""
    heard = read(BUNDLED / row["audio"])
    assert 0.3 <= heard.duration_s <= 15
    about = reading(row["word"], row.get("phones"), row.get("accent"))  # type: ignore[arg-type]
    last = row["said"].split(" / ")[-1]
    if row["truth"] == "as_written":
        assert last in about.accepted
    elif row["truth"] == "slip":
        assert row["truth_slip"] in {slip.kind for slip in about.slips if slip.phones == last}
    elif row["truth"] == "silent":
        assert row["said"] == ""
    else:
        assert last not in about.accepted
        assert last not in {slip.phones for slip in about.slips}


def test_the_laptop_records_at_48_khz_and_the_headset_at_16() -> None:
    rates = {
        row["condition"]: soundfile.info(BUNDLED / row["audio"]).samplerate
        for row in ROWS
        if "kHz" in row["condition"]
    }
    assert rates == {"laptop, 48 kHz": 48_000, "headset, 16 kHz": 16_000}


@pytest.mark.parametrize("condition", MAKERS)
def test_scenes_come_again_from_their_seed_and_differ_with_it(condition: str) -> None:
    first, again, other = (list(scenes(condition, 12, seed)) for seed in (1, 1, 2))
    assert first == again
    assert first != other
    assert len({scene.word for scene in first}) >= 8
    assert {scene.condition for scene in first} == {condition}


def test_readings_are_right_about_as_often_as_they_are_slips() -> None:
    truths = [scene.truth for scene in scenes("quiet room", 200, 3)]
    assert 60 <= truths.count("as_written") <= 140
    assert truths.count("as_written") + truths.count("slip") == 200


def test_the_same_seed_makes_the_same_sound(tmp_path: Path) -> None:
    missing = [name for name in ("espeak-ng", "flite", "sox") if shutil.which(name) is None]
    assert not missing, f"{missing} missing: run `sudo apt install espeak-ng flite sox`"
    for name in ("one", "two"):
        subprocess.run(
            [sys.executable, "-m", "fixtures_audio.make_conditions", str(tmp_path / name),
             "--count", "2", "--only", "laugh alone", "sibling at 10 dB", "stretched"],
            cwd=FOLDER.parent, check=True, capture_output=True, timeout=120,
        )  # fmt: skip
    one, two = (tmp_path / name / "manifest.jsonl" for name in ("one", "two"))
    assert one.read_text() == two.read_text()
    rows = [json.loads(line) for line in one.read_text().splitlines()]
    assert len(rows) == 8
    for row in rows:
        sound, again = (read(tmp_path / name / row["audio"]).samples for name in ("one", "two"))
        assert np.array_equal(sound, again)
        assert np.abs(sound).max() > 1e-4


def periodicity(samples: Samples) -> float:
    """How alike the loudest 50 ms are to themselves one pitch period later: 1 is a pure voice."""
    place = int(np.argmax(np.convolve(samples**2, np.ones(800), "same")))
    part = samples[max(0, place - 400) : place + 400].astype(np.float64)
    lags = np.correlate(part, part, "full")[len(part) - 1 :] / np.arange(len(part), 0, -1)
    return float(lags[RATE // 500 : RATE // 70].max() / lags[0])


def envelope(samples: Samples) -> np.ndarray:
    """Smooth spectrum in dB from 300 Hz to 5 kHz, straight slope taken out."""
    _, power = signal.welch(samples.astype(np.float64), RATE, nperseg=512)
    smooth = 10 * np.log10(np.convolve(power, np.ones(9) / 9, "same"))[10:160]
    return np.asarray(signal.detrend(smooth))


def test_a_whisper_has_the_shape_of_the_word_and_no_voice() -> None:
    whisper = rooms.whispered(WORD, rng())
    assert periodicity(WORD) > 0.7
    assert periodicity(whisper) < 0.5
    assert np.corrcoef(envelope(WORD), envelope(whisper))[0, 1] > 0.8
    assert loudness(whisper).speech_dbfs < loudness(WORD).speech_dbfs - 10


@pytest.mark.parametrize("decay_s", [0.4, 0.8])
def test_a_room_echoes_as_long_as_it_is_asked_to(decay_s: float) -> None:
    """Backward integration of the decay (Schroeder 1965, JASA 37:409), -5 to -25 dB, as T20 of
    ISO 3382-2."""
    click = np.zeros(RATE, np.float32)
    click[0] = 1.0
    echo = rooms.echoing(click, decay_s, -10, rng())[32:].astype(np.float64)
    left = 10 * np.log10(np.cumsum(echo[::-1] ** 2)[::-1] / np.sum(echo**2))
    first, last = int(np.argmax(left < -5)), int(np.argmax(left < -25))
    assert 3 * (last - first) / RATE == pytest.approx(decay_s, rel=0.1)


def test_what_is_behind_a_voice_lies_as_far_below_it_as_is_said() -> None:
    behind = rooms.music(len(WORD), rng())
    both = rooms.mixed(WORD, behind, 10)
    level = 20 * np.log10(np.std(both - WORD))
    assert rooms.speech_dbfs(WORD) - level == pytest.approx(10, abs=0.5)


def test_too_near_is_clipped_and_too_far_is_weak() -> None:
    assert loudness(rooms.near(WORD, rng())).clipped_share > CLIPPED_SHARE
    assert loudness(rooms.far(WORD, rng())).speech_dbfs < -30


def test_a_band_keeps_what_is_in_it_and_nothing_else() -> None:
    time_s = np.arange(RATE) / RATE
    inside, below, above = (
        np.sin(2 * np.pi * hertz * time_s).astype(np.float32) for hertz in (1000, 60, 7900)
    )
    kept = rooms.band(inside + below + above, 180, 6000)
    assert kept == pytest.approx(inside, abs=0.02)


@pytest.mark.parametrize("kind", rooms.VOICELESS)
def test_sounds_without_a_voice_are_within_their_levels(kind: str) -> None:
    numbers = rng()
    _, low, high = rooms.VOICELESS[kind]
    for _ in range(5):
        sound = rooms.voiceless(kind, numbers)
        assert 0.8 * RATE <= len(sound) <= 4 * RATE
        assert np.abs(sound).max() <= 1
        level = 20 * np.log10(np.sqrt(np.mean(sound.astype(np.float64) ** 2)))
        assert low - 3 <= level <= high + 0.5  # a blow that is cut off loses some
