"""Cut single words from a corpus prepared for training, with the rows of a manifest.

    python -m fixtures_audio.cut_children PREPARED_FOLDER
    python -m fixtures_audio.cut_children PREPARED_FOLDER --into FOLDER --part test

Without ``--into`` the bundled clips in ``children/`` are made again: only children and words that
training never had (``speech.training.partition``, its test part). Each word stands in the manifest
twice: against its own spelling, and against the spelling of its short or long partner, where the
very same sound is a slip. With it, every trial of the test or the calibration children goes into a
folder of its own, for ``python -m speech.evaluate``: words new to training and words that were in
it apart, unlike words and silence too.
"""

from __future__ import annotations

import argparse
import json
import random
from pathlib import Path

import soundfile
from rich.progress import track

from companion.practice import trials
from companion.practice.trials import Trial
from companion.practice.turn import candidates
from speech.audio import RATE

COUNT = 60
HERE = Path(__file__).parent
SOURCE = "speechocean762 (Zhang et al. 2021, openslr.org/101), cut at word boundaries"


def bundled(folder: Path) -> None:
    """Write the clips and rewrite the manifest's last rows."""
    found = [trial for trial in trials.load(folder, "test") if trial.new]
    own = [t for t in found if t.verdict == "as_written" and 2 <= len(t.said.split()) <= 6]
    random.Random(3).shuffle(own)
    manifest = HERE / "manifest.jsonl"
    rows = [json.loads(line) for line in manifest.read_text(encoding="utf-8").splitlines()]
    rows = [row for row in rows if not row["audio"].startswith("children/")]
    (HERE / "children").mkdir(exist_ok=True)
    taken: set[str] = set()
    for trial in own:
        word = trial.reading.word
        slips = [t for t in found if t.verdict == "slip" and t.samples is trial.samples]
        if word in taken or not slips or len(taken) == COUNT:
            continue
        strings, owners = candidates(slips[0].reading)
        if trial.said not in strings or (owner := owners[strings.index(trial.said)]) < 0:
            continue
        taken.add(word)
        name = f"children/{word.replace(chr(39), '')}.{trial.said.replace(' ', '-')}.opus"
        soundfile.write(
            HERE / name, trial.samples, RATE, format="OGG", subtype="OPUS", compression_level=0.8
        )
        kind = slips[0].reading.slips[owner].kind
        for spelling, ready, truth, slip in (
            (word, trial.reading, "as_written", None),
            (slips[0].reading.word, slips[0].reading, "slip", kind),
        ):
            rows.append(
                {
                    "audio": name, "word": spelling, "phones": [ready.accepted[0]],
                    "truth": truth, "truth_slip": slip, "said": trial.said, "source": SOURCE,
                    "licence": "CC BY 4.0", "voice": f"child of {trial.age}",
                    "condition": "children reading sentences",
                }
            )  # fmt: skip
    text = "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)
    manifest.write_text(text, encoding="utf-8")
    print(f"{len(taken)} words, {len(rows)} rows")


def every_trial(folder: Path, part: str, into: Path) -> None:
    """Write all trials of a part as clips and rows."""
    into.mkdir(parents=True, exist_ok=True)
    rows = []
    names: dict[int, str] = {}
    for trial in track(list(trials.load(folder, part)), description=f"{part} children"):
        name = names.setdefault(id(trial.samples), f"{len(names):05d}.flac")
        soundfile.write(into / name, trial.samples, RATE, subtype="PCM_16")
        rows.append({"audio": name, **trial_row(trial)})
    text = "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)
    (into / "manifest.jsonl").write_text(text, encoding="utf-8")
    print(f"{len(names)} clips, {len(rows)} rows")


def trial_row(trial: Trial) -> dict[str, object]:
    """The manifest row of a trial, but for its file.

    A slip that is none of the word's likely ones is 'unlisted': no verdict can name it.
    """
    strings, owners = candidates(trial.reading)
    owner = owners[strings.index(trial.said)] if trial.said in strings else -1
    slip = trial.reading.slips[owner].kind if owner >= 0 else "unlisted"
    given = trial.verdict in ("as_written", "slip")
    row: dict[str, object] = {
        "word": trial.reading.word, "truth": trial.verdict,
        "truth_slip": slip if trial.verdict == "slip" else None, "said": trial.said,
        "source": SOURCE if trial.speaker else "made from numbers",
        "licence": "CC BY 4.0" if trial.speaker else "Apache-2.0",
        "voice": f"speaker {trial.speaker}" if trial.speaker else "hiss",
        "condition": "words new to training" if trial.new else "words in training",
    }  # fmt: skip
    if given:
        row["phones"] = [trial.reading.accepted[0]]
    if trial.speaker:
        row["age"] = trial.age
    else:
        row["condition"] = "hiss and hum"
    return row


def main() -> None:
    """Make the bundled clips, or every trial of a part."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, help="what speech.training.prepare wrote")
    parser.add_argument("--into", type=Path, help="write every trial there")
    parser.add_argument("--part", choices=("test", "calibration"), default="test")
    args = parser.parse_args()
    if args.into:
        every_trial(args.folder, args.part, args.into)
    else:
        bundled(args.folder)


if __name__ == "__main__":
    main()
