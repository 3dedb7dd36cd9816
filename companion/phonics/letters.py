"""The letters of a word, and what is said of a word that has none."""

from __future__ import annotations

import re

LONGEST = 30
"""Letters; longer than any English word of four syllables."""


class WordError(ValueError):
    """A word that cannot be split: what is wrong, why, and how to mend it."""

    def __init__(self, what: str, why: str, mend: str) -> None:
        super().__init__(f"{what}: {why}. {mend}")
        self.what, self.why, self.mend = what, why, mend


def letters_of(word: str) -> str:
    """The small letters of a word without apostrophes and hyphens, or a `WordError`."""
    if word.isascii() and word.isalpha() and len(word) <= LONGEST:
        return word.lower()
    if not word or not word.strip():
        raise WordError("The word is empty", "there are no letters to split", "Type a word")
    bare = re.sub(r"(?<=\w)['’-](?=\w)|['’]$|^['’]", "", word)
    wrong = next((letter for letter in bare if not (letter.isascii() and letter.isalpha())), None)
    if wrong is not None:
        raise WordError(*_wrong_letter(word, wrong))
    if not bare:
        raise WordError(f"{word!r} has no letters", "only marks were given", "Type a word")
    if len(bare) > LONGEST:
        raise WordError(
            f"{word[:20]}… has {len(bare)} letters",
            f"words of up to {LONGEST} letters are split",
            "Check for a missing space",
        )
    return bare.lower()


def _wrong_letter(word: str, wrong: str) -> tuple[str, str, str]:
    if wrong.isdigit():
        return (f"{word!r} has the digit {wrong!r}", "digits are not spelt with graphemes",
                "Write the number as a word, like 'seven'")  # fmt: skip
    if wrong.isspace():
        return (f"{word!r} is more than one word", "one word at a time is split",
                "Give the words separately")  # fmt: skip
    if wrong.isalpha():
        return (f"{word!r} has the letter {wrong!r}", "it is not one of the letters a to z",
                "Write it with English letters, like 'cafe'")  # fmt: skip
    return (f"{word!r} has the mark {wrong!r}", "only letters, hyphens and apostrophes make words",
            "Take the mark away")  # fmt: skip
