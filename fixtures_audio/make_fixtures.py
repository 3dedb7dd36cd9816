"""Make the synthesised clips and their rows of manifest.jsonl.

Run from the top of the repository::

    python -m fixtures_audio.make_fixtures            # makes every clip again
    python -m fixtures_audio.make_fixtures --only 12  # the first dozen, into --into FOLDER

It needs espeak-ng, flite and sox (``sudo apt install espeak-ng flite sox``). Noise is drawn from
a fixed seed for each clip, so the same versions of those programs give the same sound. Rows whose
audio is in ``children/`` are kept as they are.
"""

import argparse
import json
import shutil
import subprocess
import tempfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import soundfile
import soxr

from fixtures_audio.recipes import Clip, clips
from fixtures_audio.rooms import at_level, noise, quiet
from speech.audio import RATE, Samples, read
from speech.voice import mnemonics

HERE: Final = Path(__file__).parent
LICENCE: Final = "Apache-2.0"
ROOM_DBFS: Final = -66.0
"""A quiet room behind every clip but the tight ones; median of children's recordings is -61."""

LIGHTHOUSE_TALK: Final = (
    "the keeper climbed the spiral stair to trim the lamp before the evening boats came in",
    "granny said the gulls at Saltmarrow steal chips faster than the wind can blow them",
    "we put the blue bucket by the slipway and counted seven little crabs under the weed",
    "mind the rope, said the pilot, or the tide will have your boots and your sandwiches",
    "the fog horn sounded twice and the whole class stood still to hear it fade away",
    "a lifeboat crew were painting the shed doors red while the kettle came to the boil",
)
"""What the babble of voices is saying: our own sentences."""


@dataclass(frozen=True)
class Voice:
    """One synthetic reader.

    Attributes
    ----------
    name : str
        As in the manifest.
    engine : str
        "espeak-ng" or "flite".
    base : str
        The engine's own voice, with a variant. British English is "gmw/en" here: espeak-ng says
        "en-gb+f2" with the variant left out.
    pitch : int
        espeak-ng's 0 to 99.
    wpm : int
        Words a minute as the engine counts them, before the warp.
    warp : float
        Pitch and formants are multiplied by this: a child's vocal tract is shorter.

    """

    name: str
    engine: str
    base: str
    pitch: int = 50
    wpm: int = 120
    warp: float = 1.0


VOICES: Final = {
    voice.name: voice
    for voice in (
        Voice("gb-a", "espeak-ng", "gmw/en+f2", 70, 105, 1.12),
        Voice("gb-b", "espeak-ng", "gmw/en+f4", 80, 110, 1.16),
        Voice("gb-c", "espeak-ng", "gmw/en+f5", 75, 100, 1.08),
        Voice("rp-a", "espeak-ng", "en-gb-x-rp+f3", 75, 100, 1.15),
        Voice("lancaster-a", "espeak-ng", "en-gb-x-gbclan+f1", 85, 105, 1.2),
        Voice("scotland-a", "espeak-ng", "en-gb-scotland+f2", 75, 105, 1.16),
        Voice("scotland-b", "espeak-ng", "en-gb-scotland+f4", 85, 100, 1.2),
        Voice("adult-a", "espeak-ng", "en-gb", 50, 120),
        Voice("flite-slt", "flite", "slt", warp=1.15),
        Voice("flite-awb", "flite", "awb", warp=1.2),
        Voice("flite-rms", "flite", "rms"),
    )
}


class Unsayable(ValueError):
    """The voice makes no sound of what it is asked to say."""


def say(voice: Voice, phones: str) -> Samples:
    """Say one ARPAbet string; mono 16 kHz without the silence around it, peak 0.5."""
    if voice.engine == "espeak-ng":
        return _spoken(voice, mnemonics(phones))
    lower = " ".join("ax" if p == "AH0" else p.lower() for p in phones.split())
    return _spoken(voice, "-p", f"pau {lower} pau")


def read_aloud(voice: Voice, text: str) -> Samples:
    """Say English text as the voice itself would; as `say` otherwise."""
    return _spoken(voice, *(() if voice.engine == "espeak-ng" else ("-t",)), text)


def _spoken(voice: Voice, *what: str) -> Samples:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        if voice.engine == "espeak-ng":
            _run("espeak-ng", "-v", voice.base, "-p", str(voice.pitch), "-s", str(voice.wpm),
                 "-w", str(path), *what)  # fmt: skip
        else:
            _run("flite", "-voice", voice.base, *what, "-o", str(path))
        samples, rate = soundfile.read(path, dtype="float32")
    samples = soxr.resample(samples, rate * voice.warp, RATE).astype(np.float32)
    heard = np.flatnonzero(np.abs(samples) > 0.01 * np.abs(samples).max())
    if not len(heard):
        raise Unsayable(f"{voice.base} is silent when asked to say {what[-1]}")
    samples = samples[heard[0] : heard[-1] + 1]
    return np.asarray(samples * (0.5 / np.abs(samples).max()), dtype=np.float32)


def stretch(samples: Samples, factor: float) -> Samples:
    """Make speech last `factor` times as long at the same pitch (sox tempo)."""
    with tempfile.TemporaryDirectory() as folder:
        before, after = Path(folder) / "before.wav", Path(folder) / "after.wav"
        soundfile.write(before, samples, RATE, subtype="FLOAT")
        _run("sox", str(before), str(after), "tempo", "-s", str(1 / factor))
        return read(after).samples


def render(clip: Clip) -> Samples:
    """Make the sound of one clip, mono 16 kHz."""
    rng = np.random.default_rng(zlib.crc32(clip.audio.encode()))
    if clip.voice not in VOICES:
        return _no_voice(clip, rng)
    parts: list[Samples] = [] if clip.condition == "tight" else [quiet(0.35)]
    for number, part in enumerate(clip.parts):
        if number:
            parts.append(quiet(clip.pauses_s[number - 1]))
        sound = say(VOICES[clip.voice], part)
        if clip.is_sound(number):
            sound = sound * np.float32(0.6)
        parts.append(stretch(sound, clip.stretch) if clip.stretch != 1 else sound)
    if clip.condition != "tight":
        parts.append(quiet(0.5))
    sound = np.concatenate(parts)
    return _in_condition(sound, clip.condition, rng)


def _no_voice(clip: Clip, rng: np.random.Generator) -> Samples:
    count = round(2.5 * RATE)
    if clip.voice == "nobody":
        return np.zeros(count, np.float32)
    if clip.voice == "room":
        return noise(count, ROOM_DBFS + 10, rng)
    if clip.voice == "hiss":
        return noise(count, -35, rng)
    if clip.voice == "hum":
        time_s = np.arange(count) / RATE
        hum = np.sum([np.sin(2 * np.pi * 50 * k * time_s) / k for k in range(1, 8)], axis=0)
        return np.asarray(0.03 * hum + noise(count, -60, rng), dtype=np.float32)
    return at_level(babble(count, rng), -32)


def _in_condition(sound: Samples, condition: str, rng: np.random.Generator) -> Samples:
    """Put the room, or something worse, behind a voice."""
    if condition == "tight":
        return sound
    loud = float(np.sqrt(np.mean(sound[np.abs(sound) > 0.05] ** 2)))
    speech_dbfs = 20 * np.log10(loud)
    if condition == "hiss 20 dB":
        return sound + noise(len(sound), speech_dbfs - 20, rng)
    if condition == "babble 10 dB":
        return sound + at_level(babble(len(sound), rng), speech_dbfs - 10)
    sound = sound + noise(len(sound), ROOM_DBFS, rng)
    if condition == "far from the microphone":
        return (sound * 0.04).astype(np.float32) + noise(len(sound), -62, rng)
    if condition == "clipped":
        return np.clip(sound * 8, -1, 1).astype(np.float32)
    return sound


def babble(count: int, rng: np.random.Generator) -> Samples:
    """Six voices talking at once, none of them to the microphone."""
    total = np.zeros(count, np.float32)
    for number, sentence in enumerate(LIGHTHOUSE_TALK):
        voice = list(VOICES.values())[number]
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "talk.wav"
            _run("espeak-ng", "-v", voice.base, "-p", str(voice.pitch), "-s", "160",
                 "-w", str(path), sentence)  # fmt: skip
            talk = read(path).samples
        start = int(rng.integers(0, len(talk)))
        total += np.roll(np.resize(talk, max(count, len(talk))), -start)[:count]
    return total


def _run(*command: str) -> None:
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=30)
    except FileNotFoundError as error:
        raise SystemExit(
            f"{command[0]} is not installed: run `sudo apt install espeak-ng flite sox`"
        ) from error
    except subprocess.CalledProcessError as error:
        raise SystemExit(f"{command[0]} failed: {error.stderr.decode().strip()}") from error


def keep(clip: Clip, path: Path) -> None:
    """Make a clip; a file that already sounds the same is left as it is.

    OGG files carry a random serial number, so that their bytes differ each time they are made.
    """
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / path.name
        save(render(clip), made, clip.condition)
        if path.exists() and np.array_equal(read(made).samples, read(path).samples):
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(made, path)


def save(sound: Samples, path: Path, condition: str) -> None:
    """Write a clip in the format that its name and condition ask for."""
    if condition == "telephone 8 kHz":
        soundfile.write(path, soxr.resample(sound, RATE, 8000), 8000, subtype="PCM_16")
    elif condition == "stereo 44.1 kHz 24 bit":
        wide = soxr.resample(sound, RATE, 44_100)
        soundfile.write(path, np.stack([wide, 0.6 * wide], axis=1), 44_100, subtype="PCM_24")
    elif condition == "MP3 32 kHz":
        soundfile.write(path, soxr.resample(sound, RATE, 32_000), 32_000)
    elif path.suffix == ".opus":
        soundfile.write(path, sound, RATE, format="OGG", subtype="OPUS", compression_level=0.87)
    else:
        soundfile.write(path, sound, RATE, subtype="PCM_16")


def row(clip: Clip) -> dict[str, object]:
    """Return the manifest row of a synthesised clip."""
    voice = VOICES.get(clip.voice)
    source = f"{voice.engine}, voice {voice.base}" if voice else "made from numbers"
    if clip.voice == "babble":
        source = "espeak-ng, six voices at once"
    return {
        "audio": clip.audio,
        "word": clip.word,
        "truth": clip.truth,
        "truth_slip": clip.slip,
        "said": " / ".join(clip.parts),
        "source": source,
        "licence": LICENCE,
        "voice": clip.voice,
        "condition": clip.condition,
    }


def main() -> None:
    """Make clips and manifest."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--into", type=Path, default=HERE, help="folder to write to")
    parser.add_argument("--only", type=int, default=None, help="stop after this many clips")
    choice = parser.parse_args()
    wanted = list(clips())[: choice.only]
    for number, clip in enumerate(wanted, 1):
        keep(clip, choice.into / clip.audio)
        print(f"\r{number} of {len(wanted)} clips", end="", flush=True)
    print()
    manifest = choice.into / "manifest.jsonl"
    kept = [line for line in _lines(manifest) if json.loads(line)["audio"].startswith("children/")]
    made = [json.dumps(row(clip), ensure_ascii=False) for clip in wanted]
    manifest.write_text("\n".join(made + kept) + "\n", encoding="utf-8")


def _lines(manifest: Path) -> Iterator[str]:
    if manifest.exists():
        yield from filter(None, manifest.read_text(encoding="utf-8").splitlines())


if __name__ == "__main__":
    main()
