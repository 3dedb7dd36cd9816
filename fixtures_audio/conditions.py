"""What children really do when they read one word aloud: a scene of each kind, drawn by a seed.

A scene says what is heard, in which order, and what the right verdict is; `make_conditions` makes
it into sound. The right verdicts follow the statutory check's published marking rules (STA 2016):
sounding out first is fine, the last attempt counts, an added sound is a slip.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

from companion.phonics.accents import ACCENTS
from companion.phonics.reading import Reading, reading
from companion.phonics.wordlists import load, names

LETTER_NAMES: Final = {
    "a": "EY", "b": "B IY", "c": "S IY", "d": "D IY", "e": "IY", "f": "EH F", "g": "JH IY",
    "h": "EY CH", "i": "AY", "j": "JH EY", "k": "K EY", "l": "EH L", "m": "EH M", "n": "EH N",
    "o": "OW", "p": "P IY", "q": "K Y UW", "r": "AA", "s": "EH S", "t": "T IY", "u": "Y UW",
    "v": "V IY", "w": "D AH B AH L Y UW", "x": "EH K S", "y": "W AY", "z": "Z EH D",
}  # fmt: skip
UMS: Final = ("AH M", "ER M", "ER", "AH")
LAUGH: Final = "HH AH HH AH HH AH HH AH"
PROMPTS: Final = (
    "have a go", "what does this one say", "sound it out for me", "and the next one",
    "your turn now", "look at the middle", "try that one again",
)  # fmt: skip
"""What an adult says before the child reads: none of it holds the word."""
SHORT_OR_LONG: Final = ("short_for_split", "split_for_short")


@dataclass(frozen=True)
class Part:
    """One thing heard.

    Attributes
    ----------
    said : str
        ARPAbet, or for an adult English text.
    pause_s : float
        Seconds of quiet before it.
    by : str
        "reader", "adult" or "laugh".
    sound : bool
        A lone sound, said more softly than a word.

    """

    said: str
    pause_s: float = 0.0
    by: str = "reader"
    sound: bool = False


@dataclass(frozen=True)
class Scene:
    """One try at one word, before it is made into sound.

    Attributes
    ----------
    condition : str
    word : str
    truth : str
        The right verdict.
    slip : str or None
        Its kind, when `truth` is "slip".
    parts : tuple of Part
    also : tuple of str
        Verdicts that would be as right as `truth`.
    stretch : float
        How many times longer than spoken.
    accent : str or None
        The accent named when it is judged.

    """

    condition: str
    word: str
    truth: str
    slip: str | None
    parts: tuple[Part, ...]
    also: tuple[str, ...] = ()
    stretch: float = 1.0
    accent: str | None = None


Maker = Callable[[Reading, random.Random], Scene | None]


@cache
def words() -> tuple[str, ...]:
    """The real words of the bundled lists, all of which a beginner is asked to read."""
    found: dict[str, None] = {}
    for name in names():
        listed = load(name)
        found.update(dict.fromkeys(word for word in listed.words if word not in listed.pseudo))
    return tuple(found)


def scenes(condition: str, count: int, seed: int) -> Iterator[Scene]:
    """Draw so many scenes of a condition, words in a new order each time through.

    Raises
    ------
    KeyError
        If there is no such condition; `MAKERS` has them all.

    """
    make = MAKERS[condition]
    rng = random.Random(f"{seed} {condition}")
    made = 0
    while made < count:
        before = made
        for word in rng.sample(words(), len(words())):
            scene = make(reading(word), rng)
            if scene is not None and made < count:
                made += 1
                yield replace(scene, condition=condition)
        if made == before:
            raise ValueError(f"no listed word can be read as {condition!r} asks")


def _slip(ready: Reading, rng: random.Random, *kinds: str) -> tuple[str, str] | None:
    """A slip of one of the kinds: its phones and its kind."""
    able = [slip for slip in ready.slips if slip.kind in kinds]
    if not able:
        return None
    slip = rng.choice(able[:3])
    return slip.phones, slip.kind


def _scene(
    ready: Reading,
    truth: str,
    *parts: Part,
    slip: str | None = None,
    also: tuple[str, ...] = (),
    stretch: float = 1.0,
) -> Scene:
    return Scene("", ready.word, truth, slip, parts, also, stretch)


def read_either_way(ready: Reading, rng: random.Random) -> Scene | None:
    """Read right, or with the vowel's short or long partner: each half the time."""
    slip = _slip(ready, rng, *SHORT_OR_LONG)
    if rng.random() < 0.5 or slip is None:
        return _scene(ready, "as_written", Part(ready.accepted[0]))
    return _scene(ready, "slip", Part(slip[0]), slip=slip[1])


def _after(*first: Part) -> Maker:
    """Something else first, then a reading either way."""

    def make(ready: Reading, rng: random.Random) -> Scene | None:
        scene = read_either_way(ready, rng)
        if scene is None:
            return None
        reading_part = replace(scene.parts[0], pause_s=rng.uniform(0.25, 0.9))
        return replace(scene, parts=(*first, reading_part))

    return make


def _sounds(ready: Reading, rng: random.Random) -> tuple[Part, ...]:
    murmured = rng.random() < 0.5
    parts = []
    for number, ways in enumerate(ready.sounds):
        said = ways[-1] if murmured and ways[-1].endswith(" AH") else ways[0]
        parts.append(Part(said, rng.uniform(0.3, 1.1) if number else 0.0, sound=True))
    return tuple(parts)


def sounded_then_blended(ready: Reading, rng: random.Random) -> Scene | None:
    """Sound by sound, then the word: right, or in a quarter of the clips misread."""
    if len(ready.sounds) < 2:
        return None
    slip = _slip(ready, rng, *SHORT_OR_LONG) if rng.random() < 0.25 else None
    said, kind = slip or (ready.accepted[0], None)
    truth = "slip" if kind else "as_written"
    blend = Part(said, rng.uniform(0.3, 1.1))
    return _scene(ready, truth, *_sounds(ready, rng), blend, slip=kind)


def sounded_only(ready: Reading, rng: random.Random) -> Scene | None:
    """Sound by sound, and no word."""
    if len(ready.sounds) < 2:
        return None
    return _scene(ready, "sounded_out", *_sounds(ready, rng))


def stretched(ready: Reading, rng: random.Random) -> Scene | None:
    """The sounds drawn out, but joined."""
    scene = read_either_way(ready, rng)
    return scene and replace(scene, stretch=rng.uniform(1.6, 2.6))


def false_start(ready: Reading, rng: random.Random) -> Scene | None:
    """The beginning of the word, or a slip of it, and then the word."""
    phones = ready.accepted[0].split()
    slip = _slip(ready, rng, *SHORT_OR_LONG)
    first = slip[0] if slip and rng.random() < 0.5 else " ".join(phones[: len(phones) // 2 + 1])
    if first == ready.accepted[0]:
        return None
    return _scene(ready, "as_written", Part(first), Part(ready.accepted[0], rng.uniform(0.25, 0.8)))


def right_then_wrong(ready: Reading, rng: random.Random) -> Scene | None:
    """The word, and then a slip of it: the last attempt counts."""
    slip = _slip(ready, rng, *SHORT_OR_LONG)
    if slip is None:
        return None
    last = Part(slip[0], rng.uniform(0.25, 0.8))
    return _scene(ready, "slip", Part(ready.accepted[0]), last, slip=slip[1])


def _misread(*kinds: str) -> Maker:
    def make(ready: Reading, rng: random.Random) -> Scene | None:
        slip = _slip(ready, rng, *kinds)
        return slip and _scene(ready, "slip", Part(slip[0]), slip=slip[1])

    return make


def letters_named(ready: Reading, rng: random.Random) -> Scene | None:
    """Every letter by its name; half the time the word is said after them."""
    parts = [
        Part(LETTER_NAMES[letter], rng.uniform(0.2, 0.6) if number else 0.0)
        for number, letter in enumerate(ready.word.lower())
    ]
    if rng.random() < 0.5:
        word = Part(ready.accepted[0], rng.uniform(0.3, 0.9))
        return _scene(ready, "as_written", *parts, word)
    return _scene(ready, "sounded_out", *parts, also=("other_word",))


def one_letter_named(ready: Reading, rng: random.Random) -> Scene | None:
    """The name of the first letter, and nothing else."""
    said = LETTER_NAMES[ready.word[0].lower()]
    if any(said in (slip.phones, *ready.accepted) for slip in ready.slips):
        return None
    return _scene(ready, "other_word", Part(said))


def another_word(ready: Reading, rng: random.Random) -> Scene | None:
    """A word with nothing of this one in it but, at times, its first letter."""
    for word in rng.sample(words(), 40):
        said = reading(word).accepted[0]
        strings = {*ready.accepted, *(slip.phones for slip in ready.slips)}
        own, other = ready.accepted[0].split(), said.split()
        alike = sum(a == b for a, b in zip(own, other, strict=False))
        if said not in strings and alike <= 1 and own[-1] != other[-1]:
            return _scene(ready, "other_word", Part(said))
    return None


def um_only(ready: Reading, rng: random.Random) -> Scene | None:
    """'Um', and nothing else: no reading."""
    return _scene(ready, "other_word", Part(rng.choice(UMS[:3])), also=("silent",))


def laugh_only(ready: Reading, _rng: random.Random) -> Scene | None:
    """A laugh, and nothing else: no reading."""
    return _scene(ready, "other_word", Part(LAUGH, by="laugh"), also=("silent",))


def adult_only(ready: Reading, rng: random.Random) -> Scene | None:
    """The adult speaks, the child does not."""
    part = Part(rng.choice(PROMPTS), by="adult")
    return _scene(ready, "other_word", part, also=("silent",))


def _um_first(ready: Reading, rng: random.Random) -> Scene | None:
    return _after(Part(rng.choice(UMS)))(ready, rng)


def _prompt_first(ready: Reading, rng: random.Random) -> Scene | None:
    return _after(Part(rng.choice(PROMPTS), by="adult"))(ready, rng)


def _laugh_after(ready: Reading, rng: random.Random) -> Scene | None:
    scene = read_either_way(ready, rng)
    laugh = Part(LAUGH, rng.uniform(0.2, 0.8), by="laugh")
    return scene and replace(scene, parts=(*scene.parts, laugh))


MAKERS: Final[dict[str, Maker]] = {
    "quiet room": read_either_way,
    "sounded out, then blended": sounded_then_blended,
    "sounded out, not blended": sounded_only,
    "stretched": stretched,
    "false start, then right": false_start,
    "right, then wrong": right_then_wrong,
    "sound added": _misread("sound_added"),
    "sound missed": _misread("sound_missed"),
    "e said": _misread("e_sounded"),
    "letters named": letters_named,
    "one letter named": one_letter_named,
    "another word": another_word,
    "um, then a reading": _um_first,
    "um alone": um_only,
    "laugh, then a reading": _after(Part(LAUGH, by="laugh")),
    "a reading, then a laugh": _laugh_after,
    "laugh alone": laugh_only,
    "adult prompts, then a reading": _prompt_first,
    "adult alone": adult_only,
    "sibling at 10 dB": read_either_way,
    "television at 10 dB": read_either_way,
    "too near": read_either_way,
    "too far": read_either_way,
    "whispered": read_either_way,
    "laptop, 48 kHz": read_either_way,
    "headset, 16 kHz": read_either_way,
}
"""Each condition with what makes a scene of it; None where a word cannot be read so."""

IN_A_ROOM: Final = (
    "quiet room", "sibling at 10 dB", "television at 10 dB", "too near", "too far", "whispered",
    "laptop, 48 kHz", "headset, 16 kHz",
)  # fmt: skip
"""Conditions that change the sound and not what is said: children's clips are put into them too."""

SPOKEN_ACCENTS: Final = {
    "en-gb-x-rp": "southern", "gmw/en": "southern", "en-gb-x-gbclan": "northern",
    "en-gb-x-gbcwmd": "northern", "en-gb-scotland": "scottish", "awb": "scottish",
    "en-029": None,
}  # fmt: skip
"""Synthesised accents of the British Isles (and one of the Caribbean), each with the setting a
teacher would choose: the West Midlands go with the north (Wells 1982, section 4.4). Each speaks
spelt words by its own rules; awb is flite's voice of a Scottish speaker."""

assert set(SPOKEN_ACCENTS.values()) <= {*ACCENTS, None}
