"""Word lists as plain text a teacher can read: the bundled ones and a school's own.

A list file is UTF-8 text. Blank lines and lines that start with ``#`` are notes. First come
``title:``, ``target:`` (a GPC such as ``i-e /AY/``) and ``caption:``, each optional; then
words, one or more on a line, under ``[words]``, ``[pseudo-words]`` and ``[pairs]`` (two words
of the list on each line). A file of bare words, with no heading at all, is a list too.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from companion.phonics.gpc import Gpc

LONGEST_WORD = 24
"""Letters in the longest word a list may hold; a longer run is a slip of the keyboard."""

_WORD = re.compile(r"[A-Za-z]+(?:['-][A-Za-z]+)*")
_KEYS = ("title", "target", "caption")
_SECTIONS = ("words", "pseudo-words", "pairs")
_CURLY = str.maketrans({"\u2019": "'", "\u2018": "'", "\u2010": "-", "\u2011": "-", "\u2013": "-"})


class WordListError(ValueError):
    """A list that cannot be used: what is wrong, why, and what to do about it."""

    def __init__(self, what: str, why: str, mend: str) -> None:
        super().__init__(f"{what}: {why}. {mend}")
        self.what, self.why, self.mend = what, why, mend


@dataclass(frozen=True)
class WordList:
    """Words to be read in one sitting, in reading order.

    Attributes
    ----------
    name : str
        The bundled name, or the file's name without its ending.
    title : str
        A line for the page or the printout.
    words : tuple of str
        Every word to be read, made-up ones included, without repeats.
    target : Gpc or None
        The GPC the list is for; None for a mixed list.
    caption : str or None
        A decodable sentence to read after the words.
    pseudo : tuple of str
        Those of `words` that are made up.
    pairs : tuple of (str, str)
        Those of `words` that differ in one sound only.
    """

    name: str
    title: str
    words: tuple[str, ...]
    target: Gpc | None = None
    caption: str | None = None
    pseudo: tuple[str, ...] = ()
    pairs: tuple[tuple[str, str], ...] = ()


def spelling_fault(word: str) -> tuple[str, str] | None:
    """Why `word` cannot be a word of a list, and the mend; None when it can.

    A word is 1 to 24 letters a to z or A to Z, with apostrophes or hyphens between letters.
    """
    if not word:
        return "it is empty", "Write a word, or take the line out."
    strange = sorted({c for c in word if not (c.isascii() and (c.isalpha() or c in "'-"))})
    if strange:
        kind = "digits" if all(c.isdigit() for c in strange) else "letters outside English"
        kind = kind if all(c.isalnum() for c in strange) else "marks that are no letters"
        return f"it holds {kind} ({' '.join(strange)})", "Write it with the letters a to z."
    if not _WORD.fullmatch(word):
        return "an apostrophe or hyphen must stand between letters", "Take the loose mark out."
    if sum(c.isalpha() for c in word) > LONGEST_WORD:
        return f"it has more than {LONGEST_WORD} letters", "Put a space or line between the words."
    return None


def _folder() -> Traversable:
    return files("wordsets") / "lists"


def names() -> tuple[str, ...]:
    """Names of the bundled lists, in alphabetical order."""
    return tuple(
        sorted(
            item.name.removesuffix(".txt")
            for item in _folder().iterdir()
            if item.name.endswith(".txt")
        )
    )


def load(name: str) -> WordList:
    """Load a bundled list by its name, or a list file by its path.

    Parameters
    ----------
    name : str
        One of `names()`, or the path of a text file.

    Raises
    ------
    WordListError
        No such list or file, or a line in it that cannot be read (the line is named).
    """
    if name in names():
        text = (_folder() / f"{name}.txt").read_text(encoding="utf-8")
        return parse(text, name)
    path = Path(name)
    return parse(
        read_text(path, f"list {name!r}", f"Bundled lists: {', '.join(names())}."), path.stem
    )


def read_text(path: Path, what: str, otherwise: str = "") -> str:
    """Text of a UTF-8 file, with or without a byte-order mark.

    Parameters
    ----------
    path : Path
        The file.
    what : str
        How the message names it.
    otherwise : str
        A sentence added to the mend when there is no such file.

    Raises
    ------
    WordListError
        The file is missing, a folder, not readable, or not UTF-8 (the line is named).
    """
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise WordListError(
            what, "there is no such file", f"Check the name and the folder. {otherwise}".strip()
        ) from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise WordListError(what, f"it cannot be read ({reason})", "Give a text file.") from error
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise WordListError(
            what, f"line {line} is not UTF-8 text", "Save the file again as plain text, UTF-8."
        ) from None


def parse(text: str, name: str) -> WordList:
    """Read the text of a list file.

    Parameters
    ----------
    text : str
        The whole file.
    name : str
        The list's name, also used in messages.

    Raises
    ------
    WordListError
        The first line at fault, by its number, with the mend.
    """
    keys: dict[str, str] = {}
    found: dict[str, list[str]] = {section: [] for section in _SECTIONS}
    pairs: list[tuple[int, str, str]] = []
    target: Gpc | None = None
    section = "words"
    for number, raw in enumerate(text.splitlines(), start=1):
        line = raw.translate(_CURLY).strip()
        if not line or line.startswith("#"):
            continue
        at = f"{name}, line {number}"
        if line.startswith("["):
            section = _section(line, at)
        elif ":" in line:
            key, value = _key(line, at, keys)
            keys[key] = value
            target = _target(value, at) if key == "target" else target
        elif section == "pairs":
            pairs.append((number, *_pair(line, at)))
        else:
            _take_words(line, at, found, section)
    words = (*found["words"], *found["pseudo-words"])
    if not words:
        raise WordListError(name, "it holds no words", "Write one word on a line under [words].")
    for number, *both in pairs:
        for word in set(both) - set(words):
            raise WordListError(
                f"{name}, line {number}",
                f"{word!r} is in a pair but not in the list",
                "Add it under [words], or take the pair out.",
            )
    return WordList(
        name=name,
        title=keys.get("title", name),
        words=words,
        target=target,
        caption=keys.get("caption"),
        pseudo=tuple(found["pseudo-words"]),
        pairs=tuple((short, long) for _, short, long in pairs),
    )


def to_text(words: WordList, notes: Iterable[str] = ()) -> str:
    """The list as a file that `parse` reads back to the same list; `notes` go to its head."""
    made_up = set(words.pseudo)
    lines = [*(f"# {note}" for note in notes), f"title: {words.title}"]
    if words.target is not None:
        lines.append(f"target: {words.target}")
    if words.caption is not None:
        lines.append(f"caption: {words.caption}")
    lines += ["", "[words]", *(word for word in words.words if word not in made_up)]
    if words.pseudo:
        lines += ["", "[pseudo-words]", *words.pseudo]
    if words.pairs:
        lines += ["", "[pairs]", *(f"{short} {long}" for short, long in words.pairs)]
    return "\n".join(lines) + "\n"


def _section(line: str, at: str) -> str:
    section = line.strip("[]").strip().lower()
    if section not in _SECTIONS or not line.endswith("]"):
        known = ", ".join(f"[{each}]" for each in _SECTIONS)
        raise WordListError(at, f"{line!r} is no heading of a list", f"Use one of {known}.")
    return section


def _key(line: str, at: str, keys: dict[str, str]) -> tuple[str, str]:
    key, _, value = (part.strip() for part in line.partition(":"))
    key = key.lower()
    if key not in _KEYS:
        raise WordListError(at, f"{key!r} is not known", f"Use one of {', '.join(_KEYS)}.")
    if key in keys:
        raise WordListError(at, f"{key!r} comes twice", "Keep one of the two lines.")
    if not value:
        raise WordListError(at, f"{key!r} has nothing after it", "Fill it in, or take it out.")
    return key, value


def _target(value: str, at: str) -> Gpc:
    try:
        return Gpc.parse(value)
    except ValueError as error:
        raise WordListError(
            at, f"target {value!r} is no GPC ({error})", "Write it like this: i-e /AY/."
        ) from error


def _pair(line: str, at: str) -> tuple[str, str]:
    match line.replace(",", " ").split():
        case [short, long]:
            return short, long
        case _:
            raise WordListError(at, f"{line!r} is not a pair", "Write two words on the line.")


def _take_words(line: str, at: str, found: dict[str, list[str]], section: str) -> None:
    for word in line.replace(",", " ").split():
        fault = spelling_fault(word)
        if fault:
            raise WordListError(at, f"{word!r} cannot be read as a word: {fault[0]}", fault[1])
        if any(word in words for words in found.values()):
            raise WordListError(at, f"{word!r} comes twice", "Keep it once.")
        found[section].append(word)
