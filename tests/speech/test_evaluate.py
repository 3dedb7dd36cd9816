"""`python -m speech.evaluate`: what it prints is so, and it hears real clips."""

import itertools
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from speech import drawing, evaluate
from speech.curves import Detection, reliability
from speech.evaluate_figures import Figures, calibration, heard_in_silence, verdict_counts
from speech.evaluate_listening import Listened, choices, vowels
from speech.evaluate_rows import VERDICTS, Row, RowTrouble, parse

FIXTURES = Path(__file__).parents[2] / "fixtures_audio"
BUNDLED = [json.loads(line) for line in (FIXTURES / "manifest.jsonl").read_text().splitlines()]
UNHEARD = Listened((), None, None, 0, 0, ())
NUMBERS = itertools.count()


def line(truth: str, verdict: str | None = None, /, **more: Any) -> str:
    """A row of a manifest, or with a verdict what `wordhearth judge` makes of it."""
    row: dict[str, Any] = {
        "audio": f"{next(NUMBERS)}.wav", "word": "pine", "truth": truth,
        "truth_slip": "short_for_split" if truth == "slip" else None,
        "said": "" if truth == "silent" else "P AY N", "voice": "child of 6",
        "condition": "quiet room",
    }  # fmt: skip
    if verdict:
        kind = "short_for_split" if verdict == "slip" else None
        row |= {"verdict": verdict, "slip": kind, "p": {verdict: 1.0}}
    return json.dumps(row | more)


def rows(*lines: str) -> list[tuple[Row, Listened]]:
    return [(row, UNHEARD) for row in parse(lines)[0]]


def test_every_share_has_the_numerator_and_denominator_that_it_says() -> None:
    heard = rows(
        *[line("as_written", "as_written")] * 7, line("as_written", "slip"),
        line("as_written", "unsure"), line("as_written", "other_word"),
        *[line("slip", "slip")] * 3, line("slip", "slip", slip="e_sounded"),
        line("slip", "as_written"), line("slip", "unsure"),
        line("sounded_out", "other_word", also_right=["other_word"]),
    )  # fmt: skip
    found = Figures.of(heard)
    assert (found.false_slips.count, found.false_slips.total) == (1, 10)
    assert (found.found.count, found.found.total) == (4, 6)
    assert (found.kind.count, found.kind.total) == (3, 4)
    assert (found.passed.count, found.passed.total) == (1, 6)
    assert (found.unsure.count, found.unsure.total) == (2, 17)
    assert (found.right.count, found.right.total) == (12, 17)
    assert verdict_counts(heard)["as_written"]["as_written"] == 7


def test_silence_may_be_silent_or_unsure_and_nothing_else() -> None:
    verdicts = [line("silent", verdict) for verdict in VERDICTS]
    found = heard_in_silence(rows(*verdicts, line("as_written", "slip")))
    assert (found.count, found.total) == (4, 6)


def test_confidence_leaves_could_not_tell_out() -> None:
    p = {"unsure": 0.6, "as_written": 0.3, "slip": 0.1}
    ((row, _),) = rows(line("as_written", "unsure", p=p))
    assert row.judged is not None
    assert row.judged.sure["as_written"] == pytest.approx(0.75)
    (held,) = [each for each in calibration(rows(line("slip", "unsure", p=p))) if each.count]
    assert (held.confidence, held.right) == (pytest.approx(0.75), 0.0)


def test_ages_come_from_the_row_or_from_its_voice() -> None:
    ages = [{"age": 4}, {"age": 5}, {"voice": "child of 7"}, {"age": 8}, {"age": 11}, {"age": 12}]
    bands = [row.age_band for row, _ in rows(*(line("slip", **age) for age in ages))]
    assert bands == [
        "under 5 years", "5 to 7 years", "5 to 7 years", "8 to 9 years", "10 to 11 years",
        "12 years and over",
    ]  # fmt: skip
    assert rows(line("slip", voice="gb-a"))[0][0].age_band == "no age told"


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ("{", "Line 2 .* not JSON"),
        ("[]", "not a JSON object"),
        ('{"audio": "a.wav", "truth": "silent"}', "the key 'said' is missing"),
        (line("as_written", truth="perfect"), "truth is 'perfect'"),
        (line("as_written", truth_slip="e_sounded"), "truth_slip names the kind"),
        (line("as_written", said="P QQ"), "'QQ', which is not an ARPAbet phone"),
        (line("as_written", "maybe"), "verdict is 'maybe'"),
        (line("as_written", said=7), "Line 2"),
    ],
)
def test_a_line_that_cannot_be_evaluated_is_named(bad: str, said: str) -> None:
    with pytest.raises(RowTrouble, match=said):
        parse([line("as_written"), bad])


def test_lines_that_could_not_be_judged_are_told_and_not_counted() -> None:
    found, errors = parse([line("slip", "slip"), '{"audio": "gone.wav", "error": "not there"}'])
    assert len(found) == 1
    assert errors == ("gone.wav: not there",)


def test_a_choice_is_between_what_was_said_and_its_partners() -> None:
    (row,), _ = parse([line("as_written")])
    assert choices(row) == ("P IH N",)
    (tries,), _ = parse([line("as_written", said="P IH / P AY N")])
    assert choices(tries) == ()


@pytest.mark.parametrize(
    ("said", "rivals"),
    [
        ("K AH B", ("K UW B",)),
        ("S IH S T AH Z", ("S AY S T AH Z",)),  # the second vowel is a schwa
        ("K AE B IH JH", ("K EY B IH JH", "K AE B AY JH")),
        ("B AO L", ()),
        ("", ()),
    ],
)
def test_each_vowel_letter_s_short_or_long_value_makes_a_choice(
    said: str, rivals: tuple[str, ...]
) -> None:
    (row,), _ = parse([line("as_written", said=said)])
    assert choices(row) == rivals


def test_vowels_are_paired_by_fewest_edits() -> None:
    assert list(vowels(("P", "AY", "N"), ["P", "IH", "N"])) == [("AY", "IH")]
    assert list(vowels(("P", "AY", "N"), ["P", "N"])) == [("AY", "-")]
    assert list(vowels(("IY", "V"), ["HH", "IY", "V"])) == [("IY", "IY")]


Evaluate = Callable[..., tuple[int, str, str]]


@pytest.fixture
def evaluation(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Evaluate:
    """Evaluate rows of the bundled manifest, copied into a folder of the test's own."""

    def run(chosen: list[dict[str, Any]], *options: str) -> tuple[int, str, str]:
        for row in chosen:
            if (FIXTURES / row["audio"]).exists():
                (tmp_path / row["audio"]).parent.mkdir(exist_ok=True)
                shutil.copyfile(FIXTURES / row["audio"], tmp_path / row["audio"])
        manifest = tmp_path / "manifest.jsonl"
        manifest.write_text("".join(json.dumps(row) + "\n" for row in chosen), encoding="utf-8")
        picture = str(tmp_path / "picture.svg")
        code = evaluate.main([str(manifest), "--picture", picture, *options])
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def pick(*words: str) -> list[dict[str, Any]]:
    """The quiet synthetic readings of some words, and a clip of nothing."""
    return [
        row
        for row in BUNDLED
        if row["condition"] == "quiet room" and "/" not in row["said"]
        and (row["word"] in words or row["voice"] == "nobody")
        and not row["voice"].startswith("flite")
    ]  # fmt: skip


def test_one_command_judges_hears_prints_and_draws(evaluation: Evaluate, tmp_path: Path) -> None:
    chosen = [row for row in pick("cape", "cap", "kite", "kit") if row["truth_slip"] != "e_sounded"]
    code, out, _ = evaluation(chosen, "--by", "condition", "voice")
    assert code == 0
    assert f"{len(chosen)} rows of {len(chosen)} clips" in out
    for told in ("forced choice", "phone error rate", "false slips", "slips found", "right kind",
                 "could not tell", "calibration error", "by condition", "by voice", "by age",
                 "by kind of slip", "short_for_split"):  # fmt: skip
        assert told in out, told
    right = sum(row["truth"] == "as_written" for row in chosen)
    assert (
        f"false slips                0.0% (0.0-{100 * 3.8416 / (right + 3.8416):.1f}) of {right}"
        in out
    )  # the Wilson interval of 0 of n ends at z^2 / (n + z^2)
    drawn = ElementTree.parse(tmp_path / "picture.svg").getroot()
    assert drawn.tag == "{http://www.w3.org/2000/svg}svg"
    assert {"EY", "AE", "AY", "IH"} <= {text.text for text in drawn.iter() if text.text}


def test_verdicts_already_made_are_not_made_again(evaluation: Evaluate) -> None:
    """A row with a verdict keeps it, however unlikely: here every one is false."""
    chosen = [
        row | {"verdict": "silent", "slip": None, "p": {"silent": 1.0}}
        for row in pick("cape")
        if row["truth"] != "silent"
    ]
    _, out, _ = evaluation(chosen)
    assert f"0.0% (0.0-{100 * 3.8416 / (len(chosen) + 3.8416):.1f}) of {len(chosen)}" in out
    assert "slips found                0.0%" in out


def test_the_listener_alone_can_be_evaluated(evaluation: Evaluate) -> None:
    code, out, _ = evaluation(pick("cape", "cap"), "--listener-only")
    assert code == 0
    assert "forced choice" in out
    assert "verdicts" not in out


def test_a_child_s_clip_that_stands_twice_is_heard_once(evaluation: Evaluate) -> None:
    twice = [row for row in BUNDLED if row["audio"] == "children/cake.K-EY-K.opus"]
    _, out, _ = evaluation(twice, "--listener-only")
    assert len(twice) == 2
    assert "2 rows of 1 clips" in out
    assert "of 3 phones" in out
    assert ") of 1\n" in out.split("forced choice")[1]


def test_a_missing_clip_is_told_and_the_rest_evaluated(evaluation: Evaluate) -> None:
    chosen = pick("cape")
    code, out, _ = evaluation([chosen[0], chosen[1] | {"audio": "gone.wav"}])
    assert code == 1
    assert "1 rows of 1 clips" in out
    assert "could not be judged: gone.wav: There is no sound file" in out


def test_a_manifest_that_is_not_there_is_told(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "speech.evaluate", str(tmp_path / "none.jsonl")],
        capture_output=True, text=True, cwd=FIXTURES.parent, timeout=60,
    )  # fmt: skip
    assert done.returncode == 1
    assert "none.jsonl cannot be read" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_picture_tells_nothing_by_colour_alone_and_survives_no_rows() -> None:
    curve = Detection.of([0, 1, 2, 3], [2, 3, 4, 5])
    both = drawing.picture({"a & b": curve, "c": curve}, reliability([0.9], [True]), {})
    lines = [each for each in ElementTree.fromstring(both).iter() if each.tag.endswith("polyline")]
    assert any(each.get("stroke-dasharray") for each in lines)
    assert "a &amp; b, equal at" in both
    empty = drawing.picture({}, reliability([], []), {})
    assert "no verdicts" in empty
    ElementTree.fromstring(empty)
