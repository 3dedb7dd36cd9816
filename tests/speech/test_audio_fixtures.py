"""The clips that come with the program: what the manifest says of them is so."""

import json
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from scipy import linalg, signal  # type: ignore[import-untyped]

from companion.phonics.reading import reading
from fixtures_audio.make_fixtures import VOICES, say
from fixtures_audio.recipes import PAIRS, clips
from speech.audio import RATE, read
from speech.phones import ESPEAK, VOWELS

FOLDER = Path(__file__).parents[2] / "fixtures_audio"
ROWS = [json.loads(line) for line in (FOLDER / "manifest.jsonl").read_text().splitlines()]
NEEDED = {
    "audio", "word", "truth", "truth_slip", "said", "source", "licence", "voice", "condition",
}  # fmt: skip
OPTIONAL = {"start", "end", "phones", "accent"}
TRUTHS = {"as_written", "slip", "other_word", "sounded_out", "silent"}
SLIPS = {
    "short_for_split", "e_sounded", "split_for_short", "one_letter_of_digraph", "hard_for_soft_c",
    "soft_for_hard_c", "letter_reversal", "sound_added", "sound_missed", "order_changed",
    "other_gpc_value",
}  # fmt: skip
SILENT_VOICES = {"nobody", "room", "hiss", "hum", "babble"}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["audio"])
def test_every_row_follows_the_schema_and_its_clip_is_heard(row: dict[str, str]) -> None:
    assert NEEDED <= set(row) <= NEEDED | OPTIONAL
    assert all(row[key] for key in NEEDED - {"truth_slip", "said"})
    assert row["truth"] in TRUTHS
    assert (row["truth_slip"] in SLIPS) if row["truth"] == "slip" else row["truth_slip"] is None
    assert (row["said"] == "") == (row["truth"] == "silent")
    assert set(row["said"].replace("/", " ").split()) <= set(ESPEAK)
    heard = read(FOLDER / row["audio"], row.get("start"), row.get("end"))  # type: ignore[arg-type]
    assert 0.1 <= heard.duration_s <= 12
    assert (np.abs(heard.samples).max() > 0.01) == (row["voice"] not in {"nobody", "room"})


@pytest.mark.parametrize(
    "row", [r for r in ROWS if r["audio"].startswith("synthesised/")], ids=lambda row: row["audio"]
)
def test_the_truth_of_a_row_is_what_the_phonics_rules_say(row: dict[str, str]) -> None:
    """The last attempt counts; a slip is one that the spelling leads to."""
    last = row["said"].split(" / ")[-1]
    about = reading(row["word"])
    slips = {slip.kind for slip in about.slips if slip.phones == last}
    if row["truth"] == "as_written":
        assert last in about.accepted
    else:
        assert last not in about.accepted
        assert slips == ({row["truth_slip"]} if row["truth"] == "slip" else set())


def test_every_clip_has_one_row_and_every_row_a_clip() -> None:
    # A child's word stands twice: against its own value and against its partner's.
    named = [(row["audio"], row["word"], row["truth"]) for row in ROWS]
    kinds = {".wav", ".flac", ".opus", ".ogg", ".mp3"}
    there = {str(p.relative_to(FOLDER)) for p in FOLDER.rglob("*") if p.suffix in kinds}
    there = {name for name in there if not name.startswith("conditions/")}  # their own manifest
    assert len(named) == len(set(named))
    assert {clip for clip, _, _ in named} == there


def test_the_folder_stays_small() -> None:
    files = (p for p in FOLDER.rglob("*") if p.is_file() and "__pycache__" not in p.parts)
    assert sum(p.stat().st_size for p in files) <= 6_000_000


def test_every_kind_of_reading_is_there() -> None:
    made = [row for row in ROWS if row["audio"].startswith("synthesised/")]
    kinds = Counter(row["truth_slip"] or row["truth"] for row in made)
    assert set(kinds) == TRUTHS - {"slip"} | SLIPS
    assert kinds["short_for_split"] + kinds["split_for_short"] >= 30
    sounded = [row for row in made if row["said"].count("/") >= 2]
    assert Counter(row["truth"] for row in sounded) == {"sounded_out": 10, "as_written": 10}
    assert {"opus", "wav", "flac", "mp3"} == {row["audio"].rsplit(".")[-1] for row in made}


def test_the_files_are_as_mixed_as_the_ones_that_people_have() -> None:
    infos = {
        (info.samplerate, info.channels, info.subtype)
        for info in (soundfile.info(FOLDER / row["audio"]) for row in ROWS)
    }
    assert {(8_000, 1, "PCM_16"), (44_100, 2, "PCM_24"), (16_000, 1, "OPUS")} <= infos


def test_the_recipes_give_the_synthesised_rows() -> None:
    made = [row["audio"] for row in ROWS if row["audio"].startswith("synthesised/")]
    assert made == [clip.audio for clip in clips()]


def need(*programs: str) -> None:
    missing = [name for name in programs if shutil.which(name) is None]
    assert not missing, f"{missing} missing: run `sudo apt install espeak-ng flite sox`"


def test_making_the_clips_again_gives_the_same_sound(tmp_path: Path) -> None:
    need("espeak-ng", "flite")
    command = [sys.executable, "-m", "fixtures_audio.make_fixtures", "--into", str(tmp_path)]
    subprocess.run([*command, "--only", "8"], cwd=FOLDER.parent, check=True, timeout=120,
                   capture_output=True)  # fmt: skip
    rows = (tmp_path / "manifest.jsonl").read_text().splitlines()
    assert [json.loads(row) for row in rows] == ROWS[:8]
    for row in ROWS[:8]:
        again, kept = (read(place / row["audio"]).samples for place in (tmp_path, FOLDER))
        assert len(again) == len(kept)
        assert np.corrcoef(again, kept)[0, 1] > 0.99


def formants_hz(samples: npt.NDArray[np.float32], centre_s: float) -> tuple[float, float]:
    """Return the first two formants around a time, by linear prediction of order 12.

    J. Markel and A. Gray, Linear Prediction of Speech (1976), chapter 7: roots of the predictor.
    """
    rate = 10_000
    low = signal.resample_poly(samples.astype(np.float64), 5, 8)
    first = round(centre_s * rate) - 150
    part = np.diff(low[first : first + 301]) * np.hamming(300)
    lags = np.correlate(part, part, "full")[299:312]
    lags[0] *= 1.0001
    predictor = linalg.solve_toeplitz(lags[:-1], lags[1:])
    roots = np.roots(np.concatenate(([1.0], -predictor)))
    roots = roots[roots.imag > 0]
    hertz = np.angle(roots) * rate / (2 * np.pi)
    width = -np.log(np.abs(roots)) * rate / np.pi
    found = np.sort(hertz[(hertz > 200) & (hertz < 4000) & (width < 500)])
    return float(found[0]), float(found[1])


def track(said: str) -> tuple[list[tuple[float, float]], float]:
    """Return formants at a quarter and at 0.55 of a word said by an adult voice, and its length."""
    samples = say(VOICES["adult-a"], said)
    length_s = len(samples) / RATE
    return [formants_hz(samples, share * length_s) for share in (0.25, 0.55)], length_s


def test_pine_glides_and_is_longer_where_pin_stands_still() -> None:
    need("espeak-ng")
    (early, late), pine_s = track("P AY N")
    (pin, _), pin_s = track("P IH N")
    assert early[0] > pin[0] + 150  # AY opens wide: high first formant ...
    assert late[1] > early[1] + 300  # ... and closes towards a front vowel
    assert pine_s > pin_s + 0.05


@pytest.mark.parametrize(
    ("short", "long"),
    [("K AE P", "K EY P"), ("P EH T", "P IY T"), ("HH AA P", "HH OW P"), ("T AH B", "T UW B")],
)
def test_the_long_partner_is_the_closer_vowel(short: str, long: str) -> None:
    """Close vowels have low first formants: Peterson and Barney, JASA 24 (1952), table II."""
    need("espeak-ng")
    assert track(short)[0][1][0] > track(long)[0][1][0] + 80


def test_the_short_and_long_reading_of_every_pair_differ_in_sound() -> None:
    need("espeak-ng")
    for _, short, _, long in PAIRS:
        assert short != long
        assert {p for p in short.split() if p in VOWELS} != {p for p in long.split() if p in VOWELS}
        one, other = say(VOICES["gb-a"], short), say(VOICES["gb-a"], long)
        assert len(other) != len(one)


def pitch_hz(samples: npt.NDArray[np.float32]) -> float:
    """Return the pitch at the loudest place: the first high peak of the autocorrelation."""
    place = int(np.argmax(np.convolve(samples**2, np.ones(800), mode="same")))
    part = signal.sosfilt(
        signal.butter(4, 900, fs=RATE, output="sos"), samples[max(0, place - 400) : place + 400]
    )
    lags = np.correlate(part, part, "full")[len(part) - 1 :]
    lags = lags / (len(part) - np.arange(len(part)))
    low, high = RATE // 500, RATE // 70
    peaks, _ = signal.find_peaks(lags[low:high], height=0.85 * lags[low:high].max())
    return float(RATE / (low + peaks[0]))


def test_childrens_voices_are_pitched_as_children() -> None:
    """Five- to seven-year-olds speak at about 250 to 300 Hz (from memory), men at 100 to 130."""
    need("espeak-ng")
    children = {clip.voice for clip in clips()} & set(VOICES) - {"adult-a"}
    pitches = {name: pitch_hz(say(VOICES[name], "K AE P")) for name in sorted(children)}
    assert all(180 < hertz < 400 for name, hertz in pitches.items() if "flite" not in name)
    assert pitch_hz(say(VOICES["adult-a"], "K AE P")) < 150
