"""Cut the words in ``children/`` from a corpus prepared for training, and add their rows.

    python -m fixtures_audio.cut_children PREPARED_FOLDER

Only children and words that training never had (``speech.training.partition``, its test part).
Each word stands in the manifest twice: against its own spelling, and against the spelling of its
short or long partner, where the very same sound is a slip.
"""

from __future__ import annotations

import json
import random
import sys
from pathlib import Path

import soundfile

from companion.practice import trials
from companion.practice.turn import candidates
from speech.audio import RATE

COUNT = 60
HERE = Path(__file__).parent
SOURCE = "speechocean762 (Zhang et al. 2021, openslr.org/101), cut at word boundaries"


def main(folder: Path) -> None:
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


if __name__ == "__main__":
    main(Path(sys.argv[1]))
