"""British pronunciations from espeak-ng, an independent reference, in ARPAbet.

espeak-ng 1.51 (GPL-3.0) is run as a program on word lists; nothing of it is part of Wordhearth.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Sequence

_IPA = {
    "tʃ": "CH", "dʒ": "JH", "aɪə": "AY AH", "aɪɐ": "AY AH", "aʊə": "AW AH", "aʊɐ": "AW AH",
    "eɪ": "EY", "ɛɪ": "EY", "aɪ": "AY", "ɔɪ": "OY", "aʊ": "AW", "əʊ": "OW", "oʊ": "OW", "ʌʉ": "AW",
    "ɔːɹ": "AO R", "ɑːɹ": "AA R", "iə": "IH AH", "ɪə": "IH AH", "eə": "EH AH", "ɛə": "EH AH",
    "ʊə": "UH AH", "ɑː": "AA", "ɔː": "AO", "ɜː": "ER", "iː": "IY", "uː": "UW", "ʉː": "UW",
    "aː": "AA", "a:": "AA", "eː": "EY", "oː": "OW", "ɪ": "IH", "i": "IY", "ʊ": "UH", "ʌ": "AH",
    "ə": "AH", "ɐ": "AH", "æ": "AE", "a": "AE", "ɒ": "AA", "ɔ": "AO", "ɑ": "AA", "ɛ": "EH",
    "e": "EH", "ʉ": "UW", "u": "UW", "o": "OW", "ɜ": "ER", "ɚ": "ER", "ŋ": "NG", "ʃ": "SH",
    "ʒ": "ZH", "θ": "TH", "ð": "DH", "ɹ": "R", "r": "R", "ɾ": "R", "j": "Y", "ɡ": "G", "g": "G",
    "x": "K", "b": "B", "d": "D", "f": "F", "h": "HH", "k": "K", "l": "L", "m": "M", "n": "N",
    "p": "P", "s": "S", "t": "T", "v": "V", "w": "W", "z": "Z", "ʔ": "T", "ʍ": "W",
}  # fmt: skip
_PIECES = re.compile("|".join(sorted(map(re.escape, _IPA), key=len, reverse=True)))


def espeak_phones(words: Sequence[str], voice: str) -> tuple[tuple[str, ...], ...]:
    """How espeak-ng says each word in a voice such as ``en-gb-x-rp``."""
    text = "".join(f"{word}.\n" for word in words)
    done = subprocess.run(
        ["espeak-ng", "-q", "-v", voice, "--ipa=3", "-f", "/dev/stdin"],
        input=text, capture_output=True, text=True, check=True,
    )  # fmt: skip
    lines = [line for line in done.stdout.splitlines() if line.strip()]
    if len(lines) != len(words):
        raise AssertionError(f"espeak-ng gave {len(lines)} lines for {len(words)} words")
    own = {"e": "ɛɪ"} if "scotland" in voice else {"æʊ": "aʊ"}
    return tuple(tuple(_arpabet(line, own)) for line in lines)


def _arpabet(ipa: str, own: dict[str, str]) -> list[str]:
    """ARPAbet of a line of IPA; `own` renames the voice's own symbols.

    Scottish e is the vowel of FACE; Lancaster writes MOUTH its own way.
    """
    bare = re.sub(r"[ˈˌ_ \u0329\u200d‿]", "", ipa)
    for symbol, usual in own.items():
        bare = bare.replace(symbol, usual)
    left = _PIECES.sub("", bare).replace("ː", "").replace(":", "")
    if left:
        raise AssertionError(f"no phone for {left!r} in {ipa!r}")
    return " ".join(_IPA[piece] for piece in _PIECES.findall(bare)).split()
