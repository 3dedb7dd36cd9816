"""Recordings in the place of a microphone: which file goes with which word of the list.

Three ways, told apart by what is named:
- a folder: each word takes the file called after it (``pine.wav``), and ``pine-2.wav`` is its
  second try; words without a file are passed by;
- files that are all called after words of the list: each goes with its word;
- other files: the first goes with the list's first word, the second with the second, and so on.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from companion.practice.sitting import TRIES_MAX
from speech.trouble import Trouble

ENDINGS = (".wav", ".flac", ".ogg", ".opus", ".mp3")


class RecordingsUnclear(Trouble):
    """It cannot be told which recording goes with which word."""


def by_word(paths: Sequence[Path], words: Sequence[str]) -> dict[str, tuple[Path, ...]]:
    """The recordings of each word, its tries in order; words without one are left out.

    Parameters
    ----------
    paths : sequence of Path
        One folder, or one or more files.
    words : sequence of str
        The list's words, in order.

    Raises
    ------
    RecordingsUnclear
        A path that is not there, a folder among other paths, a folder without a recording of any
        word, more files than words, or the same word twice.
    """
    missing = [str(path) for path in paths if not path.exists()]
    if missing:
        raise RecordingsUnclear(
            f"There is no recording {', '.join(missing)}",
            "nothing by that name is there",
            "Check the spelling and the folder. Nothing was listened to yet.",
        )
    folders = [path for path in paths if path.is_dir()]
    if folders and len(paths) > 1:
        raise RecordingsUnclear(
            f"{folders[0]} cannot be used beside other paths",
            "a folder is a whole sitting by itself",
            "Name one folder, or only files.",
        )
    if folders:
        return _in_folder(folders[0], words)
    known = {word.lower(): word for word in words}
    if all(_stem(path) in known for path in paths):
        return _called_after_words(paths, known)
    if len(paths) > len(words):
        raise RecordingsUnclear(
            f"{len(paths)} recordings were named for {len(words)} words",
            "files not called after a word go with the words of the list in order, one each",
            "Name fewer files, choose a longer list with --list, or call each file after its word.",
        )
    return {word: (path,) for word, path in zip(words, paths, strict=False)}


def _in_folder(folder: Path, words: Sequence[str]) -> dict[str, tuple[Path, ...]]:
    files = [path for path in sorted(folder.iterdir()) if path.suffix.lower() in ENDINGS]
    called: dict[str, list[Path]] = {}
    for path in files:
        called.setdefault(path.stem.lower(), []).append(path)
    found: dict[str, tuple[Path, ...]] = {}
    for word in words:
        first = word.lower()
        names = (first, *(f"{first}-{number}" for number in range(2, TRIES_MAX + 1)))
        for name in names:
            if len(called.get(name, ())) > 1:
                raise _twice(word, called[name])
        tries = tuple(called[name][0] for name in names if name in called)
        if tries:
            found[word] = tries
    if not found:
        raise RecordingsUnclear(
            f"No recording in {folder} is called after a word of the list",
            f"it holds {len(files)} recordings, and the list has: {', '.join(words)}",
            f"Call each file after its word, such as {words[0]}.wav, or choose the list that was "
            "read with --list.",
        )
    return found


def _called_after_words(
    paths: Sequence[Path], known: dict[str, str]
) -> dict[str, tuple[Path, ...]]:
    found: dict[str, tuple[Path, ...]] = {}
    for path in paths:
        word = known[_stem(path)]
        if word in found:
            raise _twice(word, [found[word][0], path])
        found[word] = (path,)
    return found


def _stem(path: Path) -> str:
    return path.stem.lower()


def _twice(word: str, paths: Sequence[Path]) -> RecordingsUnclear:
    return RecordingsUnclear(
        f"'{word}' has two recordings",
        f"{paths[0]} and {paths[1]} are both called after it",
        f"Keep one, or call the second try {word}-2{paths[1].suffix} in a folder of its own.",
    )
