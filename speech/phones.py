"""The phone inventory that every part of ``speech`` shares."""

from __future__ import annotations

VOWELS: tuple[str, ...] = (
    "AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW",
)  # fmt: skip
CONSONANTS: tuple[str, ...] = (
    "B", "CH", "D", "DH", "F", "G", "HH", "JH", "K", "L", "M", "N", "NG", "P", "R", "S", "SH",
    "T", "TH", "V", "W", "Y", "Z", "ZH",
)  # fmt: skip
PHONES: tuple[str, ...] = tuple(sorted(VOWELS + CONSONANTS))
"""The 39 phones of the CMU Pronouncing Dictionary, without stress."""

PAUSE = "|"
"""A silence of about 0.12 s or more inside what was said, as between sounds read one by one."""

BLANK_INDEX = 0
SYMBOLS: tuple[str, ...] = ("", *PHONES, PAUSE)
"""Network outputs in order: the CTC blank, the phones, the pause. 41 in all."""

INDEX: dict[str, int] = {symbol: position for position, symbol in enumerate(SYMBOLS)}

ESPEAK: dict[str, str] = {
    "AA": "0", "AE": "a", "AH": "V", "AO": "O:", "AW": "aU", "AY": "aI", "B": "b", "CH": "tS",
    "D": "d", "DH": "D", "EH": "E", "ER": "3:", "EY": "eI", "F": "f", "G": "g", "HH": "h",
    "IH": "I", "IY": "i:", "JH": "dZ", "K": "k", "L": "l", "M": "m", "N": "n", "NG": "N",
    "OW": "oU", "OY": "OI", "P": "p", "R": "r", "S": "s", "SH": "S", "T": "t", "TH": "T",
    "UH": "U", "UW": "u:", "V": "v", "W": "w", "Y": "j", "Z": "z", "ZH": "Z",
}  # fmt: skip
"""Each phone in espeak-ng's English mnemonics (as ``espeak-ng -x -v en-gb`` prints them). AA is
the vowel of hop as the British say it, AH that of cub."""

SHORT_LONG: dict[str, str] = {
    "AE": "EY", "EH": "IY", "IH": "AY", "AA": "OW", "AH": "UW",
    "EY": "AE", "IY": "EH", "AY": "IH", "OW": "AA", "UW": "AH",
}  # fmt: skip
"""Each vowel letter's short and long value as partners: a-e EY/AE ... u-e UW/AH, both ways."""


def partners(phones: str) -> list[str]:
    """The string with one vowel changed for its short or long partner, each such string.

    AH is changed only where it is the only vowel: elsewhere it is mostly the schwa.
    """
    symbols = phones.split()
    vowels = [symbol for symbol in symbols if symbol in VOWELS]
    return [
        " ".join([*symbols[:place], SHORT_LONG[symbol], *symbols[place + 1 :]])
        for place, symbol in enumerate(symbols)
        if symbol in SHORT_LONG and (symbol != "AH" or len(vowels) == 1)
    ]


def encode(phones: str) -> tuple[int, ...]:
    """Network output numbers of a phone string such as ``"P AY N"``.

    Raises
    ------
    ValueError
        If a symbol is not one of ``PHONES`` or ``PAUSE``.
    """
    try:
        return tuple(INDEX[symbol] for symbol in phones.split())
    except KeyError as error:
        raise ValueError(
            f"{phones!r} holds {error.args[0]!r}, which is not an ARPAbet phone without stress. "
            f"Known: {' '.join(PHONES)} and {PAUSE} for a pause."
        ) from error
