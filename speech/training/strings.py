"""Phone strings for synthetic voices to say: words, one-sound slips of them, pseudo-words.

A third each, so that no string is likelier to be a word than not: a network that has only heard
words learns to hear words.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Mapping, Sequence

from speech.phones import CONSONANTS, SHORT_LONG, VOWELS
from speech.training.partition import stem

ONSETS: tuple[str, ...] = (
    *(c for c in CONSONANTS if c not in ("NG", "ZH")), "", "", "B L", "B R", "K L", "K R", "D R",
    "F L", "F R", "G L", "G R", "P L", "P R", "S K", "S L", "S M", "S N", "S P", "S T", "S W",
    "T R", "T W", "TH R", "SH R", "S T R", "S P L", "S K R",
)  # fmt: skip
CODAS: tuple[str, ...] = (
    *(c for c in CONSONANTS if c not in ("HH", "W", "Y", "R", "ZH")), "", "", "N D", "N T", "M P",
    "S T", "S K", "L D", "L T", "L P", "N K", "NG K", "F T", "K S", "T S", "P S", "N Z", "D Z",
)  # fmt: skip


def pseudo_word(rng: random.Random) -> str:
    """One or two syllables that English could have, with ``'`` before the stressed vowel."""
    syllables = []
    for place in range(1 if rng.random() < 0.8 else 2):
        vowel = rng.choice(VOWELS)
        syllables.append(
            f"{rng.choice(ONSETS)} {vowel if place else chr(39) + vowel} {rng.choice(CODAS)}"
        )
    return " ".join(" ".join(syllables).split())


def slip_of(phones: str, rng: random.Random) -> str:
    """The string with one sound changed as beginners change it: mostly a vowel's partner."""
    symbols = phones.split()
    places = [i for i, s in enumerate(symbols) if s.lstrip("'") in SHORT_LONG]
    kind = rng.random()
    if kind < 0.7 and places:
        place = rng.choice(places)
        mark = "'" if symbols[place].startswith("'") else ""
        symbols[place] = mark + SHORT_LONG[symbols[place].lstrip("'")]
    elif kind < 0.8:
        symbols.append(rng.choice(("AH", "IY", "S")))
    elif kind < 0.9 and len(symbols) > 2:
        symbols.pop(rng.choice([i for i, s in enumerate(symbols) if not s.startswith("'")]))
    else:
        place = rng.randrange(len(symbols))
        mark = "'" if symbols[place].startswith("'") else ""
        group = VOWELS if symbols[place].lstrip("'") in VOWELS else CONSONANTS
        symbols[place] = mark + rng.choice(group)
    return " ".join(symbols)


def dictionary_strings(entries: Mapping[str, str]) -> dict[str, str]:
    """CMUdict pronunciations (``"P AY1 N"``) as strings marked ``"P 'AY N"``, up to 3 vowels."""
    strings = {}
    for word, phones in entries.items():
        if sum(symbol[-1].isdigit() for symbol in phones.split()) <= 3:
            strings[word] = " ".join(
                ("'" + s[:-1]) if s.endswith("1") else s.rstrip("02") for s in phones.split()
            )
    return strings


def material(
    words: Mapping[str, str], held_stems: Collection[str], count: int, rng: random.Random
) -> list[str]:
    """``count`` strings, a third words, a third slips, a third pseudo-words; none held out.

    Parameters
    ----------
    words : mapping
        Word to marked phone string, as ``dictionary_strings`` gives.
    held_stems : collection of str
        Stems (``partition.stem``) no string may be a pronunciation of.
    """
    banned = {plain(p) for word, p in words.items() if stem(word) in held_stems}
    allowed = [p for word, p in words.items() if stem(word) not in held_stems]
    strings: list[str] = []
    while len(strings) < count:
        base = rng.choice(allowed)
        string = (base, slip_of(base, rng), pseudo_word(rng))[len(strings) % 3]
        if plain(string) not in banned:
            strings.append(string)
    return strings


def plain(string: str) -> str:
    """The string without its stress mark."""
    return string.replace("'", "")


def frequent(entries: Mapping[str, str], ranking: Sequence[str]) -> dict[str, str]:
    """Entries of ``ranking``'s words, in its order."""
    return {word: entries[word] for word in ranking if word in entries}
