"""Where in a word a grapheme may stand: the position rules of the GPC table."""

from __future__ import annotations

from functools import lru_cache

VOWELS = frozenset("aeiou")
CONSONANTS = frozenset("bcdfghjklmnpqrstvwxyz")

_END = frozenset({"", "s", "d", "r", "rs", "st", "ly", "less", "ful", "ness", "ment", "n"})
_TUCKED = frozenset({"st", "ng", "th", "ch", "gu", "qu"})


@lru_cache(maxsize=50_000)
def fits(position: str, word: str, start: int, stop: int) -> bool:
    """Whether a grapheme at ``word[start:stop]`` stands where the table's rule lets it.

    ``open`` means that the vowel ends its syllable: nothing, another vowel letter, or one
    consonant and a vowel letter follow. ``end`` allows an inflection after it.
    """
    if position == "any":
        return True
    return any(_fits_one(rule, word, start, stop) for rule in position.split(" or "))


def _fits_one(rule: str, word: str, start: int, stop: int) -> bool:
    after = word[stop:]
    if rule == "start":
        return start == 0
    if rule == "end":
        return after in _END
    if rule == "not start":
        return start > 0
    if rule == "not end":
        return after not in _END
    if rule == "open":
        return _open(after)
    name, *parts = rule.split()
    if name == "before":
        return after.startswith(tuple(parts))
    return word[:start].endswith(tuple(parts))


def _open(after: str) -> bool:
    if not after or after[0] in VOWELS or after == "s":
        return True
    if after[0] not in CONSONANTS:
        return False
    blend = after[1:2] in ("l", "r") and after[0] in "bcdfgkpt"
    digraph = after[:2] in ("ch", "sh", "th", "ph")
    tail = after[2:] if blend or digraph else after[1:]
    return tail[:1] in ("a", "e", "i", "o", "u", "y")


def paired_e(word: str, start: int) -> tuple[int, ...]:
    """Places of an e that can make a split digraph with the vowel letter at `start`.

    One consonant letter is tucked inside, or two that belong together (taste, bathe, change),
    and no vowel letter follows (ocean).
    """
    stops = []
    for inside in (1, 2):
        at = start + 1 + inside
        if word[at : at + 1] == "e" and word[at + 1 : at + 2] not in VOWELS:
            tucked = word[start + 1 : at]
            if (tucked in CONSONANTS and tucked not in "wxy") or tucked in _TUCKED:
                stops.append(at)
    return tuple(stops)
