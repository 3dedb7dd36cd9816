"""Codes that stand in the place of a name: random, short, and safe to write by hand.

A code is five random characters and a check character, such as ``7K3QFY``. The check character is
that of ISO/IEC 7064:2003, MOD 37,36, so one miswritten character is always noticed. The standard's
alphabet is 0-9 and A-Z; a code uses 21 of them, chosen so that none is mistaken for another in
handwriting (no 0 O Q-like pairs, 1 I L, 2 Z, 5 S, 8 B, U V) and that no word can arise (no vowels).
A draw whose check character falls outside the 21 is thrown away and drawn again.
"""

from __future__ import annotations

import secrets

from companion.record.trouble import BadCode

ALPHABET = "34679CDFGHJKMNPQRTWXY"
LENGTH = 6

_ISO_7064 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def check_character(text: str) -> str:
    """The check character of ISO/IEC 7064:2003, MOD 37,36, for 0-9 and A-Z.

    Parameters
    ----------
    text : str
        What is to be checked, without its check character.

    Raises
    ------
    ValueError
        Another character.
    """
    modulus = len(_ISO_7064)
    product = modulus
    for character in text:
        total = (product + _ISO_7064.index(character)) % modulus or modulus
        product = total * 2 % (modulus + 1)
    return _ISO_7064[(modulus + 1 - product) % modulus]


def draw() -> str:
    """A new code; about 2.4 million are possible, and each is as likely as another."""
    while True:
        text = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH - 1))
        last = check_character(text)
        if last in ALPHABET:
            return text + last


def is_code(text: str) -> bool:
    """Whether `text` is a code just as this module writes it."""
    return (
        len(text) == LENGTH
        and all(character in ALPHABET for character in text)
        and check_character(text[:-1]) == text[-1]
    )


def read(text: str) -> str:
    """A code as somebody wrote it: small letters, spaces and hyphens are taken too.

    Raises
    ------
    BadCode
        A character that no code holds, too few or many of them, or a check that fails.
    """
    found = "".join(text.split()).replace("-", "").upper()
    shown = found[:20]
    if len(found) != LENGTH:
        why = f"a code has {LENGTH} characters, and this has {len(found)}"
    elif strange := sorted({each for each in found if each not in ALPHABET}):
        why = f"no code holds {' '.join(strange)}"
    elif not is_code(found):
        why = "its last character does not fit the others, so one of them was miswritten"
    else:
        return found
    raise BadCode(
        f"{shown!r} is not a code", why, f"Look at the sheet again; a code uses only {ALPHABET}."
    )
