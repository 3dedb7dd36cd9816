"""What each synthesised clip holds: the word shown, what is said instead, and how."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Clip:
    """One clip to be made.

    Attributes
    ----------
    audio : str
        Path below this folder.
    word : str
        The word on the screen.
    truth : str
        The right verdict.
    slip : str or None
        The kind of slip, when `truth` is "slip".
    parts : tuple of str
        ARPAbet of each thing said, in order: sounds, tries or the word.
    voice : str
        A voice of make_fixtures, or nobody, room, hiss, hum, babble.
    pauses_s : tuple of float
        Seconds between the parts.
    stretch : float
        How many times longer than spoken.
    condition : str

    """

    audio: str
    word: str
    truth: str
    slip: str | None
    parts: tuple[str, ...]
    voice: str
    pauses_s: tuple[float, ...] = ()
    stretch: float = 1.0
    condition: str = "quiet room"

    def is_sound(self, number: int) -> bool:
        """Tell whether a part is one sound, said on its own, rather than a try at the word."""
        return len(self.parts) > 2 and len(self.parts[number].split()) == 1


PAIRS: Final = (  # short word, its phones, long word, its phones
    ("cap", "K AE P", "cape", "K EY P"), ("tap", "T AE P", "tape", "T EY P"),
    ("hat", "HH AE T", "hate", "HH EY T"),
    ("pet", "P EH T", "Pete", "P IY T"), ("", "TH EH M", "theme", "TH IY M"),
    ("", "EH V", "Eve", "IY V"), ("", "DH EH Z", "these", "DH IY Z"),
    ("pin", "P IH N", "pine", "P AY N"), ("bit", "B IH T", "bite", "B AY T"),
    ("kit", "K IH T", "kite", "K AY T"),
    ("hop", "HH AA P", "hope", "HH OW P"), ("not", "N AA T", "note", "N OW T"),
    ("rob", "R AA B", "robe", "R OW B"),
    ("cub", "K AH B", "cube", "K Y UW B"), ("tub", "T AH B", "tube", "T Y UW B"),
    ("cut", "K AH T", "cute", "K Y UW T"), ("", "R AH D", "rude", "R UW D"),
)  # fmt: skip

E_SOUNDED: Final = (
    ("pine", "P IH N IY"), ("cape", "K AE P IY"), ("hope", "HH AA P IY"), ("cube", "K AH B IY"),
    ("made", "M AE D EH"), ("bite", "B IH T EH"), ("note", "N AA T EH"), ("rude", "R AH D EH"),
)  # fmt: skip

OTHER_SLIPS: Final = (
    ("rain", "R AE N", "one_letter_of_digraph"), ("boat", "B AA T", "one_letter_of_digraph"),
    ("race", "R EY K", "hard_for_soft_c"), ("cape", "S EY P", "soft_for_hard_c"),
    ("bad", "D AE D", "letter_reversal"), ("dog", "B AA G", "letter_reversal"),
    ("stop", "S AH T AA P", "sound_added"), ("stop", "S AA P", "sound_missed"),
    ("slide", "S AY D", "sound_missed"), ("nest", "N EH T S", "order_changed"),
    ("cow", "K OW", "other_gpc_value"), ("snow", "S N AW", "other_gpc_value"),
)  # fmt: skip

OTHER_WORDS: Final = (
    ("pine", "T R IY"), ("cube", "B AA K S"), ("home", "HH AW S"), ("these", "DH OW Z"),
    ("cake", "B AH N"), ("kite", "B ER D"),
)  # fmt: skip

PSEUDO: Final = (
    ("vone", "V OW N", "as_written", None), ("jate", "JH EY T", "as_written", None),
    ("fipe", "F AY P", "as_written", None), ("dube", "D Y UW B", "as_written", None),
    ("vone", "V AA N", "slip", "short_for_split"), ("fipe", "F IH P", "slip", "short_for_split"),
)  # fmt: skip

SOUNDED: Final = (
    ("pine", "P AY N"), ("cape", "K EY P"), ("hope", "HH OW P"), ("mule", "M Y UW L"),
    ("mad", "M AE D"), ("pet", "P EH T"), ("fin", "F IH N"), ("not", "N AA T"),
    ("cub", "K AH B"), ("shine", "SH AY N"),
)  # fmt: skip

STRETCHED: Final = (
    ("make", "M EY K", None), ("shine", "SH AY N", None), ("home", "HH OW M", None),
    ("mule", "M Y UW L", None), ("theme", "TH IY M", None), ("man", "M AE N", None),
    ("fine", "F IH N", "short_for_split"), ("same", "S AE M", "short_for_split"),
)  # fmt: skip

TRIES: Final = (  # word, tries in order, truth, slip: the last attempt counts
    ("pine", ("P IH", "P AY N"), "as_written", None),
    ("cape", ("K AE P", "K EY P"), "as_written", None),
    ("hope", ("HH AA", "HH OW P"), "as_written", None),
    ("cube", ("K AH B", "K Y UW B"), "as_written", None),
    ("note", ("N AA T", "N OW T"), "as_written", None),
    ("theme", ("TH EH M", "TH IY M"), "as_written", None),
    ("pine", ("P AY N", "P IH N"), "slip", "short_for_split"),
    ("cape", ("K EY P", "K AE P"), "slip", "short_for_split"),
    ("hop", ("HH AA P", "HH OW P"), "slip", "split_for_short"),
    ("cube", ("K Y UW B", "K AH B"), "slip", "short_for_split"),
)

CHILD_VOICES: Final = (
    "gb-a", "scotland-a", "gb-b", "rp-a", "lancaster-a", "gb-c", "scotland-b",
)  # fmt: skip
FLITE_VOICES: Final = ("flite-slt", "flite-awb", "flite-rms")
FORMATS: Final = {
    "telephone 8 kHz": ".wav", "stereo 44.1 kHz 24 bit": ".wav", "MP3 32 kHz": ".mp3",
    "clipped": ".flac", "far from the microphone": ".flac",
}  # fmt: skip


def clips() -> Iterator[Clip]:
    """Yield every synthesised clip, always in the same order."""
    voices = itertools.cycle(CHILD_VOICES)
    yield from _pairs(voices)
    for word, said in E_SOUNDED:
        yield _clip(word, (said,), next(voices), "slip", "e_sounded")
    for word, said, kind in OTHER_SLIPS:
        yield _clip(word, (said,), next(voices), "slip", kind)
    for word, said in OTHER_WORDS:
        yield _clip(word, (said,), next(voices), "other_word")
    for word, said, truth, slip in PSEUDO:
        yield _clip(word, (said,), next(voices), truth, slip)
    yield from _sounded_out(voices)
    for word, said, slip in STRETCHED:
        truth = "slip" if slip else "as_written"
        yield _clip(word, (said,), next(voices), truth, slip, stretch=2.2)
    for number, (word, tries, truth, slip) in enumerate(TRIES):
        pause = (0.3, 0.5, 0.8)[number % 3]
        yield _clip(word, tries, next(voices), truth, slip, pauses_s=(pause,))
    yield from _conditions(voices)
    for voice in ("nobody", "room", "hiss", "hum", "babble"):
        for word in ("pine", "cub"):
            yield _clip(word, (), voice, "silent")


def _pairs(voices: Iterator[str]) -> Iterator[Clip]:
    """Both members of each pair, each read right and read as the other."""
    flite = itertools.cycle(FLITE_VOICES)
    for number, (short, short_said, long, long_said) in enumerate(PAIRS):
        yield _clip(long, (long_said,), next(voices), "as_written")
        yield _clip(long, (short_said,), next(voices), "slip", "short_for_split")
        if short:
            yield _clip(short, (short_said,), next(voices), "as_written")
            yield _clip(short, (long_said,), next(voices), "slip", "split_for_short")
        if number % 2 == 0:
            yield _clip(long, (long_said,), next(flite), "as_written")
            yield _clip(long, (short_said,), next(flite), "slip", "short_for_split")


def _sounded_out(voices: Iterator[str]) -> Iterator[Clip]:
    """Sounds with pauses of up to 1.2 s, with and without the word said at the end."""
    pauses = itertools.cycle((0.4, 0.9, 0.6, 1.2, 0.5, 0.7, 1.0))
    for number, (word, said) in enumerate(SOUNDED):
        sounds = tuple(said.replace("Y UW", "YUW").split())
        sounds = tuple("Y UW" if sound == "YUW" else sound for sound in sounds)
        if number % 2:  # many children say a schwa after a consonant: kuh, puh
            sounds = tuple(s + " AH" if s in ("B", "D", "K", "P", "T") else s for s in sounds)
        between = tuple(next(pauses) for _ in sounds)
        yield _clip(word, sounds, next(voices), "sounded_out", pauses_s=between[:-1])
        yield _clip(word, (*sounds, said), next(voices), "as_written", pauses_s=between)


def _conditions(voices: Iterator[str]) -> Iterator[Clip]:
    """The same two readings in every room and file that the ear must cope with."""
    for condition in (
        "hiss 20 dB", "babble 10 dB", "tight", "telephone 8 kHz", "stereo 44.1 kHz 24 bit",
        "MP3 32 kHz", "clipped", "far from the microphone",
    ):  # fmt: skip
        yield _clip("pine", ("P AY N",), next(voices), "as_written", condition=condition)
        yield _clip("cape", ("K AE P",), next(voices), "slip", "short_for_split",
                    condition=condition)  # fmt: skip
    yield _clip("hope", ("HH OW P",), "adult-a", "as_written")


def _clip(
    word: str,
    parts: tuple[str, ...],
    voice: str,
    truth: str,
    slip: str | None = None,
    pauses_s: tuple[float, ...] = (),
    stretch: float = 1.0,
    condition: str = "quiet room",
) -> Clip:
    said = "_".join(part.replace(" ", "-") for part in parts) or "nothing"
    how = "" if condition == "quiet room" else "." + condition.replace(" ", "-")
    how += ".stretched" if stretch != 1 else ""
    suffix = FORMATS.get(condition, ".opus")
    return Clip(
        f"synthesised/{word}.{said}.{voice}{how}{suffix}",
        word, truth, slip, parts, voice, pauses_s, stretch, condition,
    )  # fmt: skip
