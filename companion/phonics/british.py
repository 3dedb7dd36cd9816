"""American dictionary pronunciations into southern British ones, with every r kept."""

from __future__ import annotations

from companion.phonics.gpc import VOWEL_PHONES
from companion.phonics.lexicon import bath_words

_PREFIXES = ("re", "de", "pre", "be", "e", "en", "em", "ex", "se", "im")

Phones = tuple[str, ...]


def britished(bare: str, phones: Phones) -> Phones:
    """Southern vowels for what spelling alone cannot tell.

    BATH words get their long vowel, -ary and -ory a murmur, the u of usual its own vowel, and a
    prefix before the stress loses its own stress. The sets are those of J. C. Wells, *Accents of
    English*, Cambridge University Press, 1982; the word list is ``bath_words.txt``.
    """
    if bare in bath_words():
        phones = tuple("AA" + p[2:] if p in ("AE1", "AE2") else p for p in phones)
    return _light_prefix(bare, _usual(_reduced_ending(bare, phones)))


def _reduced_ending(bare: str, phones: Phones) -> Phones:
    """secretary, history: the vowel before the last r is a murmur."""
    stem = bare.removesuffix("s").removesuffix("ie") + ("y" if bare.endswith("ies") else "")
    if stem.endswith(("ary", "ory", "ery")):
        for n in range(2, len(phones) - 2):
            if phones[n] in ("EH2", "AO2", "AE2") and phones[n + 1 : n + 3] == ("R", "IY0"):
                return (*phones[:n], "ER0", *phones[n + 2 :])
    return phones


def _usual(phones: Phones) -> Phones:
    """usual, actual: AH W before a vowel is one long u."""
    if "W" not in phones:
        return phones
    out: list[str] = []
    n = 0
    while n < len(phones):
        following = phones[n + 2].rstrip("012") if n + 2 < len(phones) else ""
        if phones[n : n + 2] == ("AH0", "W") and n and following in VOWEL_PHONES:
            out.append("UW0")
            n += 2
        else:
            out.append(phones[n])
            n += 1
    return tuple(out)


def _light_prefix(bare: str, phones: Phones) -> Phones:
    """replace, enjoy: a prefix straight before the main stress has no stress of its own."""
    vowels = [n for n, phone in enumerate(phones) if phone[-1].isdigit()]
    if len(vowels) > 1 and bare.startswith(_PREFIXES):
        first, second = vowels[:2]
        if phones[first][:-1] in ("IY", "EH", "IH") and phones[second].endswith("1"):
            return (*phones[:first], phones[first][:-1] + "0", *phones[first + 1 :])
    return phones
