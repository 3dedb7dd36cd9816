"""Render texts to WAV through pyttsx3, as a program of its own that can be stopped.

`speech.voice` runs this file in a child process, so that a synthesiser which hangs, prints or
crashes takes nothing with it. One JSON object on standard input says what to do::

    {"voices": ["en-gb", "en"], "rate_wpm": 120, "pitch": 50,
     "jobs": [["pine", "/folder/0.wav"], ["[[p'aIn]]", "/folder/1.wav"]]}

Exit status 0 when every file is written, `NO_ESPEAK` when there is no espeak-ng to be found.
"""

import functools
import json
import sys
from typing import Any

NO_ESPEAK = 3
PHONEMES_FLAG = 0x100
"""espeakPHONEMES of espeak-ng's speak_lib.h: `[[...]]` in the text holds phoneme mnemonics."""


def open_engine(voices: list[str], rate_wpm: int, pitch: int) -> Any:
    """Start pyttsx3 on espeak-ng with the first of `voices` that is installed."""
    import pyttsx3
    from pyttsx3.drivers import _espeak

    # The driver asks espeak for plain text only; the same call takes phonemes with one more flag.
    plain = _espeak.Synth
    _espeak.Synth = functools.wraps(plain)(
        lambda text, flags: plain(text, flags=flags | PHONEMES_FLAG)
    )
    engine = pyttsx3.init("espeak")
    # Straight to the driver: a queued setting that fails says nothing, and espeak, which works in a
    # thread of its own, began about one word in a hundred before its rate and pitch were set.
    driver = engine.proxy._driver
    for voice in voices:
        try:
            driver.setProperty("voice", voice)
            break
        except ValueError:
            continue
    driver.setProperty("rate", rate_wpm)
    driver.setProperty("pitch", pitch)
    _espeak.Synchronize()
    return engine


def main() -> int:
    """Do the job on standard input."""
    order = json.load(sys.stdin)
    try:
        engine = open_engine(order["voices"], order["rate_wpm"], order["pitch"])
    except (RuntimeError, OSError) as error:  # no library, or no voice data
        print(error, file=sys.stderr)
        return NO_ESPEAK
    for text, path in order["jobs"]:
        engine.save_to_file(text, path)
        engine.runAndWait()
    return 0


if __name__ == "__main__":
    sys.exit(main())
