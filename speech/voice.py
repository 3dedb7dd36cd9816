"""The voice: says a word, or its sounds one by one, in a slow British voice.

pyttsx3 drives espeak-ng in a child process and writes WAV files, which are played here. Sounds
are given to espeak-ng as phonemes, never as respelled text, so that /ae/ is /ae/ and not "ay-ee".
"""

import json
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from speech import portaudio
from speech.audio import Samples
from speech.espeak_job import NO_ESPEAK
from speech.phones import ESPEAK, VOWELS
from speech.trouble import Trouble

VOICES: Final = ("en-gb", "en")
"""espeak-ng voices, the preferred one first."""
RATE_WPM: Final = 120
"""Words a minute; espeak-ng's own rate is 175. Chosen by ear: slow, not yet drawled."""
PITCH: Final = 60
"""espeak-ng's scale of 0 to 99, of which 50 is the voice's own."""
GAP_S: Final = 0.35
"""Silence between sounds said one by one."""
TIMEOUT_S: Final = 15.0
"""The longest to wait for espeak-ng; rendering a word takes a fraction of a second."""
SOUND_PEAK: Final = 0.35
"""A sound on its own is brought up to this peak: espeak-ng says a lone p at 0.05 of full scale."""
MAX_GAIN: Final = 8.0

_ALONE: Final = {
    "B": "b@-", "D": "d@-", "G": "g@-", "JH": "dZ@-",  # silent without the shortest of schwas
    "W": "w@-", "Y": "j@-", "HH": "hhh",
    "M": "mmmm", "N": "nnnnnnnn", "NG": "NNNN", "L": "lllll", "R": "rrrrr",
    "F": "fff", "V": "vvvv", "S": "sss", "Z": "zzz", "SH": "SSS", "ZH": "ZZZ",
    "TH": "TTT", "DH": "DDDD",
}  # fmt: skip
"""A consonant on its own, as pure as espeak-ng can say it: held where it can be held."""


class VoiceMissing(Trouble):
    """The program cannot speak: a part is missing, or did not answer."""


@dataclass(frozen=True, eq=False)
class Speech:
    """Rendered speech.

    Attributes
    ----------
    samples : ndarray, shape = (n_samples,), float32, within -1..1
    rate : int
        Hertz, as espeak-ng gives it (22,050).

    """

    samples: Samples
    rate: int


def mnemonics(phones: str) -> str:
    """Write an ARPAbet string as espeak-ng phoneme input.

    >>> mnemonics("P AY N")
    "[[p'aIn]]"
    >>> mnemonics("M")
    '[[mmmm]]'

    Raises
    ------
    ValueError
        When a phone is not one of the 39 of CMUdict, without stress digits.

    """
    names = phones.split()
    unknown = [name for name in names if name not in ESPEAK]
    if unknown or not names:
        raise ValueError(f"{phones!r} is not a string of ARPAbet phones such as 'P AY N'")
    if len(names) == 1:
        return f"[[{_ALONE.get(names[0], ESPEAK[names[0]])}]]"
    first_vowel = next((i for i, name in enumerate(names) if name in VOWELS), None)
    marked = ("'" * (i == first_vowel) + ESPEAK[name] for i, name in enumerate(names))
    return f"[[{''.join(marked)}]]"


class Voice:
    """Says words and sounds.

    Parameters
    ----------
    rate_wpm : int
        Words a minute, 80 to 450.
    volume : float
        0 to 1, how loud it is played or written.

    """

    def __init__(self, rate_wpm: int = RATE_WPM, volume: float = 1.0) -> None:
        if not 80 <= rate_wpm <= 450:
            raise ValueError(f"rate_wpm must be 80 to 450, not {rate_wpm}")
        if not 0 <= volume <= 1:
            raise ValueError(f"volume must be 0 to 1, not {volume}")
        self.rate_wpm = rate_wpm
        self.volume = volume

    def say_word(
        self, word: str, phones: str | None = None, to_file: str | Path | None = None
    ) -> None:
        """Say a word aloud, or into a WAV file.

        Parameters
        ----------
        word : str
            Letters, with apostrophes, hyphens or spaces between them.
        phones : str, optional
            ARPAbet, for a word whose spelling does not settle it (a pseudo-word, *read*).
        to_file : str or Path, optional
            Write a 16-bit WAV there and play nothing.

        Raises
        ------
        VoiceMissing
            No espeak-ng, no loudspeaker, or one of them did not answer in time.

        """
        self._deliver(self.word(word, phones), to_file)

    def say_sounds(self, sounds: Sequence[str], to_file: str | Path | None = None) -> None:
        """Say the sounds of a word one by one, with a gap between them.

        Parameters
        ----------
        sounds : sequence of str
            ARPAbet for each sound, as in ``["P", "AY", "N"]``; ``"P AH"`` says it with a schwa.
        to_file : str or Path, optional
            Write a 16-bit WAV there and play nothing.

        Raises
        ------
        VoiceMissing
            As `say_word`.

        """
        self._deliver(self.sounds(sounds), to_file)

    def word(self, word: str, phones: str | None = None) -> Speech:
        """A word as `say_word` says it, at full volume, to be played later."""
        letters = word.replace("'", "").replace("’", "").replace("-", "").replace(" ", "")
        if not letters.isalpha():
            raise ValueError(f"{word!r} is not a word of letters")
        (speech,) = self._render([word if phones is None else mnemonics(phones)])
        return speech

    def sounds(self, sounds: Sequence[str]) -> Speech:
        """Sounds as `say_sounds` says them, at full volume, to be played later."""
        if not sounds:
            raise ValueError("there are no sounds to say")
        rendered = self._render([mnemonics(sound) for sound in sounds])
        gap = np.zeros(round(GAP_S * rendered[0].rate), dtype=np.float32)
        parts = [part for speech in rendered for part in (_even(speech.samples), gap)]
        return Speech(np.concatenate(parts[:-1]), rendered[0].rate)

    def line(self, text: str) -> Speech:
        """A sentence or two, at full volume, to be played later.

        Parameters
        ----------
        text : str
            Words and their punctuation, of which espeak-ng makes pauses. Square brackets, which
            would begin its phoneme input, are read as round ones.
        """
        (speech,) = self._render([text.replace("[", "(").replace("]", ")")])
        return speech

    def play(self, speech: Speech, stop: threading.Event | None = None) -> None:
        """Play what was rendered before, at this voice's volume; see `play`."""
        play(Speech(speech.samples * np.float32(self.volume), speech.rate), stop)

    def _render(self, texts: Sequence[str]) -> list[Speech]:
        import soundfile

        with tempfile.TemporaryDirectory(prefix="wordhearth-voice-") as folder:
            paths = [str(Path(folder) / f"{number}.wav") for number in range(len(texts))]
            order = {
                "voices": VOICES,
                "rate_wpm": self.rate_wpm,
                "pitch": PITCH,
                "jobs": list(zip(texts, paths, strict=True)),
            }
            _run_job(json.dumps(order))
            try:
                rendered = [soundfile.read(path, dtype="float32") for path in paths]
            except soundfile.LibsndfileError as error:
                raise _no_answer("espeak-ng wrote no sound") from error
        return [Speech(_trim(samples), rate) for samples, rate in rendered]

    def _deliver(self, speech: Speech, to_file: str | Path | None) -> None:
        speech = Speech(speech.samples * np.float32(self.volume), speech.rate)
        if to_file is None:
            play(speech)
            return
        import soundfile

        soundfile.write(to_file, speech.samples, speech.rate, format="WAV", subtype="PCM_16")


def play(speech: Speech, stop: threading.Event | None = None) -> None:
    """Play through the default loudspeaker; returns when it has been heard.

    Parameters
    ----------
    speech : Speech
        What to play.
    stop : threading.Event, optional
        Set by another thread, it falls silent within a few hundredths of a second.

    Raises
    ------
    VoiceMissing
        No PortAudio or loudspeaker, or it took more than 5 s longer than the sound lasts.

    """
    sounddevice = portaudio.load(VoiceMissing, "loudspeaker")
    done = threading.Event()
    place = 0

    def fill(out: Samples, frames: int, _time: object, _status: object) -> None:
        nonlocal place
        if stop is not None and stop.is_set():
            out[:] = 0
            raise sounddevice.CallbackStop
        part = speech.samples[place : place + frames]
        out[: len(part), 0] = part
        out[len(part) :] = 0
        place += frames
        if len(part) < frames:
            raise sounddevice.CallbackStop

    try:
        stream = sounddevice.OutputStream(
            speech.rate, channels=1, dtype="float32", callback=fill, finished_callback=done.set
        )
        with stream:
            if not done.wait(len(speech.samples) / speech.rate + 5):
                stream.abort()
                raise _no_answer("the loudspeaker took the sound but did not play it")
    except (sounddevice.PortAudioError, ValueError) as error:
        raise portaudio.explain(VoiceMissing, "loudspeaker", error) from error


def _run_job(order: str) -> None:
    """Run the child; its files are there when this returns."""
    program = Path(__file__).with_name("espeak_job.py")
    try:
        job = subprocess.run(
            [sys.executable, "-P", str(program)],
            input=order,
            capture_output=True,
            text=True,
            timeout=TIMEOUT_S,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise _no_answer(f"espeak-ng did not answer within {TIMEOUT_S:g} s") from error
    if job.returncode == NO_ESPEAK:
        raise VoiceMissing(
            "The program cannot speak",
            f"espeak-ng, which makes the voice, is not installed ({job.stderr.strip()})",
            "On Debian or Ubuntu run `sudo apt install espeak-ng`; on macOS `brew install "
            "espeak-ng`; on Windows install espeak-ng's own installer package. Everything else "
            "works without it: an adult can say the word.",
        )
    if job.returncode != 0:
        last = (job.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise _no_answer(f"pyttsx3 stopped with status {job.returncode} ({last})")


def _no_answer(why: str) -> VoiceMissing:
    return VoiceMissing(
        "The word could not be said",
        why,
        "Try again; if it keeps happening, reinstall espeak-ng. An adult can say the word.",
    )


def _trim(samples: Samples) -> Samples:
    """Cut the silence that espeak-ng leaves around what it says, keeping 30 ms of it."""
    heard = np.flatnonzero(np.abs(samples) > 1e-3)
    if not len(heard):
        raise _no_answer("espeak-ng wrote only silence")
    keep = 660
    return samples[max(0, heard[0] - keep) : heard[-1] + keep]


def _even(samples: Samples) -> Samples:
    """Bring a quiet sound up to `SOUND_PEAK`, by at most `MAX_GAIN`."""
    gain = np.clip(SOUND_PEAK / np.max(np.abs(samples)), 1.0, MAX_GAIN)
    return samples * np.float32(gain)
