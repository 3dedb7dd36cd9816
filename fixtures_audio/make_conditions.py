"""Make clips of what children really do, and of rooms in which nobody reads, with their truths.

Run from the top of the repository::

    python -m fixtures_audio.make_conditions OUT --count 60    # of each condition and accent
    python -m fixtures_audio.make_conditions OUT --count 0 --voiceless 1000
    python -m fixtures_audio.make_conditions --bundled         # the few in conditions/

Into OUT go the clips and a manifest.jsonl that ``wordhearth judge`` and ``python -m
speech.evaluate`` take. It needs espeak-ng, flite and sox. The same seed and versions of those
programs give the same sound. The readers are synthetic voices and, where only the room changes,
every second clip is one of the children's in ``children/``, whom no model was trained on.
"""

from __future__ import annotations

import argparse
import itertools
import json
import random
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import soundfile
from rich.progress import track

from companion.phonics.reading import reading
from fixtures_audio import rooms
from fixtures_audio.conditions import (
    IN_A_ROOM,
    MAKERS,
    SPOKEN_ACCENTS,
    Part,
    Scene,
    scenes,
    words,
)
from fixtures_audio.make_fixtures import (
    HERE,
    LICENCE,
    LIGHTHOUSE_TALK,
    ROOM_DBFS,
    Unsayable,
    Voice,
    read_aloud,
    say,
    stretch,
)
from speech.audio import RATE, Samples, read

BUNDLED: Final = HERE / "conditions"
BUNDLED_COUNT: Final = 2
"""Of each condition and accent; one of each sound in which nobody reads."""
ESPEAK_BASES: Final = ("gmw/en", "en-gb-x-rp", "en-gb-scotland", "en-gb-x-gbclan")
FLITE_WARPS: Final = {"slt": (1.1, 1.2), "awb": (1.2, 1.3), "rms": (1.25, 1.35)}
"""flite's voices of real speakers, and how far each is warped towards a child: a woman's vocal
tract is nearer to a child's than a man's."""
ADULT: Final = Voice("adult", "espeak-ng", "en-gb", 45, 150)
SIBLING: Final = Voice("sibling", "espeak-ng", "gmw/en+f3", 80, 165, 1.15)


@dataclass(frozen=True)
class _Made:
    """A clip ready to be written: its sound, its rate, and its row."""

    samples: Samples
    rate: int
    row: dict[str, Any]


def reader(rng: random.Random, number: int) -> Voice:
    """A synthetic reader at a child's pitch and size; every second one is a voice of flite."""
    if number % 2:
        base = list(FLITE_WARPS)[number // 2 % len(FLITE_WARPS)]
        return Voice(f"flite-{base}", "flite", base, warp=rng.uniform(*FLITE_WARPS[base]))
    base = ESPEAK_BASES[number // 2 % len(ESPEAK_BASES)]
    variant = rng.choice(("f1", "f2", "f3", "f4", "f5"))
    return Voice(
        f"espeak-{base}", "espeak-ng", f"{base}+{variant}", rng.randint(60, 92),
        rng.randint(90, 125), rng.uniform(1.05, 1.22),
    )  # fmt: skip


def perform(scene: Scene, voice: Voice, rng: np.random.Generator) -> Samples:
    """Say a scene's parts in order, with a quiet room behind them."""
    pieces = [rooms.quiet(0.35)]
    for part in scene.parts:
        sound = _part(part, voice, rng)
        if scene.stretch != 1:
            sound = stretch(sound, scene.stretch)
        pieces += [rooms.quiet(part.pause_s), sound]
    sound = np.concatenate([*pieces, rooms.quiet(0.5)])
    return sound + rooms.noise(len(sound), ROOM_DBFS, rng)


def _part(part: Part, voice: Voice, rng: np.random.Generator) -> Samples:
    if part.by == "adult":
        return read_aloud(ADULT, part.said)
    try:
        sound = say(voice, part.said)
    except Unsayable:  # a lone r of the Scottish voice
        sound = say(voice, f"{part.said} AH")
    if part.by == "laugh":  # half voice, half breath
        breathy = rooms.whispered(sound, rng)
        return 0.4 * sound[: len(breathy)] + rooms.at_level(breathy, -20)
    return sound * np.float32(0.6) if part.sound else sound


def in_condition(sound: Samples, condition: str, rng: np.random.Generator) -> tuple[Samples, int]:
    """Put a reading into the room or the machine that a condition names."""
    if condition == "sibling at 10 dB":
        return rooms.mixed(sound, _talk(SIBLING, len(sound), rng), 10), RATE
    if condition == "television at 10 dB":
        talk = rooms.at_level(_talk(ADULT, len(sound), rng), 0)
        behind = talk + rooms.at_level(rooms.music(len(sound), rng), -6)
        return rooms.mixed(sound, behind, 10), RATE
    if condition in ("laptop, 48 kHz", "headset, 16 kHz"):
        return (rooms.laptop if condition.startswith("laptop") else rooms.headset)(sound, rng)
    change = {"too near": rooms.near, "too far": rooms.far, "whispered": rooms.whispered}
    if condition in change:
        sound = change[condition](sound, rng)
    if condition == "whispered":
        sound = sound + rooms.noise(len(sound), ROOM_DBFS, rng)
    return sound, RATE


def _talk(voice: Voice, count: int, rng: np.random.Generator) -> Samples:
    """One voice talking without a stop, from anywhere in its sentence."""
    sentence = LIGHTHOUSE_TALK[int(rng.integers(len(LIGHTHOUSE_TALK)))]
    sound = read_aloud(voice, sentence)
    return np.roll(np.resize(sound, max(count, len(sound))), -int(rng.integers(len(sound))))[:count]


def condition_clips(condition: str, count: int, seed: int) -> Iterator[_Made]:
    """So many clips of one condition; of those in `IN_A_ROOM` every second one is a child's."""
    children = _children(seed, condition) if condition in IN_A_ROOM else iter(())
    for number, scene in enumerate(scenes(condition, count, seed)):
        key = f"{seed} {condition} {number}"
        rng = np.random.default_rng(zlib.crc32(key.encode()))
        child = next(children, None) if number % 2 else None
        if child:
            sound, row = child
        else:
            # with children at the odd numbers, both makes of voice still take turns
            turn = number // 2 if condition in IN_A_ROOM else number
            voice = reader(random.Random(key), turn)
            sound, row = perform(scene, voice, rng), scene_row(scene, voice)
        samples, rate = in_condition(sound, condition, rng)
        yield _Made(samples, rate, row | {"condition": condition})


def scene_row(scene: Scene, voice: Voice) -> dict[str, Any]:
    """The manifest row of a synthesised scene, but for its file."""
    said = " / ".join(part.said for part in scene.parts if part.by == "reader")
    row = {
        "word": scene.word, "truth": scene.truth, "truth_slip": scene.slip, "said": said,
        "source": f"{voice.engine}, voice {voice.base}", "licence": LICENCE, "voice": voice.name,
        "condition": scene.condition,
    }  # fmt: skip
    if scene.also:
        row["also_right"] = list(scene.also)
    if scene.accent:
        row["accent"] = scene.accent
    return row


def _children(seed: int, condition: str) -> Iterator[tuple[Samples, dict[str, Any]]]:
    """Children's single words in a new order, each with a quiet room before and after it."""
    lines = (HERE / "manifest.jsonl").read_text(encoding="utf-8").splitlines()
    rows = [row for row in map(json.loads, lines) if row["audio"].startswith("children/")]
    random.Random(f"{seed} {condition} children").shuffle(rows)
    for row in itertools.cycle(rows):
        sound = read(HERE / row["audio"]).samples
        rng = np.random.default_rng(zlib.crc32(row["audio"].encode()))
        sound = np.asarray(sound * (0.5 / np.abs(sound).max()), np.float32)
        padded = np.concatenate([rooms.quiet(0.35), sound, rooms.quiet(0.5)])
        padded += rooms.noise(len(padded), ROOM_DBFS, rng)
        yield padded, {key: value for key, value in row.items() if key != "audio"}


def accent_clips(count: int, seed: int) -> Iterator[_Made]:
    """Right readings of spelt words by each synthesised accent, judged with its own setting."""
    for base, accent in SPOKEN_ACCENTS.items():
        rng = random.Random(f"{seed} {base}")
        chosen = [word for _ in range(count) for word in rng.sample(words(), len(words()))][:count]
        for number, word in enumerate(chosen):
            key = f"{seed} {base} {number}"
            if base == "awb":
                voice = Voice("flite-awb", "flite", base, warp=rng.uniform(1.0, 1.3))
            else:
                variant = rng.choice(("", "+f2", "+f3", "+f4", "+f5"))
                warp = rng.uniform(1.05, 1.2) if variant else 1.0
                voice = Voice(
                    f"espeak-{base}", "espeak-ng", base + variant, rng.randint(45, 90),
                    rng.randint(90, 125), warp,
                )  # fmt: skip
            numbers = np.random.default_rng(zlib.crc32(key.encode()))
            sound = np.concatenate([rooms.quiet(0.35), read_aloud(voice, word), rooms.quiet(0.5)])
            sound += rooms.noise(len(sound), ROOM_DBFS, numbers)
            said = reading(word, accent=accent).accepted[0]
            scene = Scene(f"accent {base}", word, "as_written", None, (Part(said),), accent=accent)
            yield _Made(sound, RATE, scene_row(scene, voice))


def voiceless_clips(count: int, seed: int) -> Iterator[_Made]:
    """So many clips in which nobody says anything, of every kind of `rooms.VOICELESS` in turn."""
    rng = random.Random(f"{seed} voiceless")
    for number, kind in zip(range(count), itertools.cycle(rooms.VOICELESS), strict=False):
        numbers = np.random.default_rng(zlib.crc32(f"{seed} {kind} {number}".encode()))
        row = {
            "word": rng.choice(words()), "truth": "silent", "truth_slip": None, "said": "",
            "source": "made from numbers", "licence": LICENCE, "voice": kind,
            "condition": f"nobody reads: {kind}",
        }  # fmt: skip
        yield _Made(rooms.voiceless(kind, numbers), RATE, row)


def write(clips: Iterator[_Made], folder: Path, total: int, suffix: str) -> None:
    """Write clips and their manifest into a folder, which is made if it is not there."""
    folder.mkdir(parents=True, exist_ok=True)
    rows = []
    for number, made in enumerate(track(clips, description="making clips", total=total)):
        plain = "".join(c if c.isalnum() else "-" for c in made.row["condition"]).strip("-")
        name = f"{plain}.{made.row['word']}.{number:05d}{suffix}"
        save(made, folder / name)
        rows.append({"audio": name, **made.row})
    text = "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)
    (folder / "manifest.jsonl").write_text(text, encoding="utf-8")


def save(made: _Made, path: Path) -> None:
    """Write one clip: small as OGG/Opus, or as it is in FLAC."""
    sound = np.clip(made.samples, -1, 1)
    if path.suffix == ".opus":
        soundfile.write(
            path, sound, made.rate, format="OGG", subtype="OPUS", compression_level=0.87
        )
    else:
        soundfile.write(path, sound, made.rate, subtype="PCM_16")


def main() -> None:
    """Make the clips."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, nargs="?", help="where the clips and manifest go")
    parser.add_argument("--count", type=int, default=60, help="of each condition and accent (60)")
    parser.add_argument("--voiceless", type=int, default=None, help="clips in which nobody reads "
                        "(default: as many as --count)")  # fmt: skip
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", choices=[*MAKERS, "accents"], metavar="CONDITION",
                        help=f"only these: {'; '.join(MAKERS)}; accents")  # fmt: skip
    parser.add_argument("--bundled", action="store_true", help="make the bundled clips again")
    args = parser.parse_args()
    if args.bundled == (args.folder is not None):
        parser.error("name a folder, or say --bundled")
    folder, count, suffix = args.folder, args.count, ".flac"
    if args.bundled:
        folder, count, suffix = BUNDLED, BUNDLED_COUNT, ".opus"
    voiceless = count if args.voiceless is None else args.voiceless
    voiceless = len(rooms.VOICELESS) if args.bundled else voiceless
    chosen = args.only or [*MAKERS, "accents"]
    named = [name for name in chosen if name != "accents"]
    clips = itertools.chain(
        *(condition_clips(name, count, args.seed) for name in named),
        accent_clips(count if "accents" in chosen else 0, args.seed),
        voiceless_clips(voiceless, args.seed),
    )
    accents = len(SPOKEN_ACCENTS) * count * ("accents" in chosen)
    write(clips, folder, len(named) * count + accents + voiceless, suffix)


if __name__ == "__main__":
    main()
