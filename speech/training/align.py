"""Phone boundaries of a corpus by forced alignment with pocketsphinx.

    python -m speech.training.align LISTING.jsonl AUDIO_FOLDER ALIGNMENT.jsonl

Each output line is ``[file, words]``, each word ``[number, phones]`` (-1 for a silence), each
phone ``[name, start, length]`` in frames of 10 ms. The acoustic model is the general one in the
wheel of pocketsphinx.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pocketsphinx import Decoder, get_model_path

from speech import audio


def align(row: Mapping[str, Any], samples: Any) -> list[tuple[int, list[tuple[str, int, int]]]]:
    """Words of one utterance with their phones' places; ``samples`` float32, 16 kHz.

    Raises
    ------
    RuntimeError
        If pocketsphinx finds no path through the words.
    """
    with tempfile.NamedTemporaryFile("w", suffix=".dict") as lexicon:
        for number, phones in enumerate(row["words"]):
            lexicon.write(f"w{number} {phones}\n")
        lexicon.flush()
        decoder = Decoder(
            hmm=get_model_path("en-us/en-us"), lm=None, dict=lexicon.name, loglevel="FATAL",
            beam=1e-120, pbeam=1e-120, wbeam=1e-100, bestpath=False,
        )  # fmt: skip
    pcm = (samples * 32767).astype("int16").tobytes()
    decoder.set_align_text(" ".join(f"w{number}" for number in range(len(row["words"]))))
    for second_pass in (False, True):  # words first, then their phones
        if second_pass:
            decoder.set_alignment()
        decoder.start_utt()
        decoder.process_raw(pcm, full_utt=True)
        decoder.end_utt()
    return [
        (
            int(word.name[1:]) if word.name.startswith("w") else -1,
            [(phone.name, phone.start, phone.duration) for phone in word],
        )
        for word in decoder.get_alignment()
    ]


def main(listing: str, folder: str, output: str) -> None:
    """Align every utterance of ``listing``; those without a path are named and left out."""
    with Path(output).open("w") as out:
        for line in Path(listing).read_text().splitlines():
            row = json.loads(line)
            try:
                words = align(row, audio.read(Path(folder) / row["file"]).samples)
            except RuntimeError as error:
                print(f"{row['file']}: no alignment ({error})", file=sys.stderr)
                continue
            out.write(json.dumps([row["file"], words]) + "\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
