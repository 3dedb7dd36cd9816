"""Taking consent back, and erasing what it had allowed to be kept."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from companion.record import clips, consent, family, handing, own_vowels, settings, today
from companion.record.files import erase, unwritable
from companion.record.home import ChildFolder
from companion.record.log import Log
from companion.record.trouble import ConsentUnreadable, LogCorrupt, LogLocked, LogTooNew


@dataclass(frozen=True)
class Withdrawn:
    """What a withdrawal did.

    Attributes
    ----------
    choices : tuple of str
        The choices that were given and no longer are.
    files : int
        Files erased.
    turns : int
        Single readings among what was erased; a damaged log's are not counted.
    """

    choices: tuple[str, ...]
    files: int
    turns: int


def withdraw(folder: ChildFolder, choices: Iterable[str]) -> Withdrawn:
    """Take choices back and erase what they allowed; asking again finishes what was cut off.

    The choices go first, so that nothing more is kept while the rest is being erased.

    Raises
    ------
    LogLocked
        A sitting is open. The choices are taken back; the log is still there.
    HomeUnwritable
        A file could not be erased.
    """
    wanted = set(choices)
    taken = consent.take_back(folder, wanted)
    files, turns = 0, 0
    if wanted & {"keep_log", "keep_clips"}:
        files += clips.erase_all(folder.clips)
    if "keep_log" in wanted:
        log_files, turns = _erase_log(folder)
        files += log_files
    if wanted & {"keep_log", "hand_in"}:
        files += handing.forget(folder)
    if "practise" in wanted:
        files += own_vowels.forget(folder)
    return Withdrawn(taken, files, turns)


def withdraw_all(folder: ChildFolder) -> Withdrawn:
    """Take everything back and erase all that is kept of a child, the consent record last.

    A consent record that cannot be read is no hindrance.
    """
    try:
        taken = consent.take_back(folder, consent.NAMES)
    except ConsentUnreadable:
        taken = ()
    files = clips.erase_all(folder.clips)
    log_files, turns = _erase_log(folder)
    files += log_files + today.forget(folder) + family.forget(folder) + handing.forget(folder)
    files += settings.forget(folder) + own_vowels.forget(folder) + consent.forget(folder)
    if folder.path.is_dir() and not any(folder.path.iterdir()):
        try:
            folder.path.rmdir()
        except OSError as error:
            raise unwritable(folder.path, error) from error
    return Withdrawn(taken, files, turns)


def _erase_log(folder: ChildFolder) -> tuple[int, int]:
    """Erase the log, its journal and damaged logs set aside; (files, turns)."""
    turns = 0
    if folder.log.exists():
        try:
            with Log.open(folder.log) as log:
                turns = log.clear()  # takes the log for itself: no sitting is open after this
        except (LogCorrupt, LogTooNew):
            pass  # its bytes are overwritten below all the same
        except LogLocked as error:
            raise LogLocked(
                error.what,
                error.why + "; nothing more will be kept, but what is kept is not erased yet",
                "Close the sitting, then say the same again.",
            ) from error
    found = sorted(folder.path.glob(f"{folder.log.stem}*")) if folder.path.is_dir() else []
    return sum(erase(path) for path in found if path.is_file()), turns
