"""Sound clips beside the readings: only when chosen, and for 7 days.

A clip's name says the day it was made, its turn and its try, and nothing of the word or the child.
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from companion.record.consent import ClipPermit
from companion.record.files import erase, unwritable

if TYPE_CHECKING:  # the week sheet tidies clips without needing anything that hears
    from speech.audio import Utterance

KEPT_DAYS = 7

_NAME = re.compile(r"(\d{4}-\d{2}-\d{2})_turn(\d+)_try(\d+)\.flac")


def keep(permit: ClipPermit, turn: int, number: int, clip: Utterance, now: datetime) -> Path:
    """Save the sound of one try as FLAC (16 bit).

    Parameters
    ----------
    permit : ClipPermit
        The child's.
    turn, number : int
        The turn's number in the log, and which try it was, from 1.
    clip : Utterance
        What was heard.
    now : datetime
        Its date is the first of the 7 days.

    Raises
    ------
    ConsentMissing
        Clips are no longer chosen.
    HomeUnwritable
        The disk or the folder refuses; the reading itself is kept all the same.
    """
    import soundfile  # loads libsndfile: only where clips were chosen

    permit.confirm()
    folder = permit.folder.clips
    path = folder / f"{now.date().isoformat()}_turn{turn:06d}_try{number}.flac"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        soundfile.write(path, clip.samples, clip.rate, format="FLAC", subtype="PCM_16")
    except soundfile.LibsndfileError as error:
        raise unwritable(path, OSError(error.error_string)) from error
    except OSError as error:
        raise unwritable(path, error) from error
    return path


def kept(folder: Path) -> tuple[Path, ...]:
    """The clips in a folder, oldest first."""
    if not folder.is_dir():
        return ()
    return tuple(sorted(path for path in folder.iterdir() if _NAME.fullmatch(path.name)))


def by_try(folder: Path, today: date) -> dict[tuple[int, int], Path]:
    """The clips that may still be kept, by the number of their turn and try."""
    oldest = today - timedelta(days=KEPT_DAYS)
    found = {}
    for path in kept(folder):
        match = _NAME.fullmatch(path.name)
        if match is not None and date.fromisoformat(match[1]) >= oldest:
            found[int(match[2]), int(match[3])] = path
    return found


def erase_old(folder: Path, today: date) -> int:
    """Erase clips whose 7 days are over; how many there were."""
    oldest = today - timedelta(days=KEPT_DAYS)
    return sum(erase(path) for path in kept(folder) if _made_on(path) < oldest)


def erase_all(folder: Path) -> int:
    """Erase every clip and the folder; how many clips there were."""
    if not folder.is_dir():
        return 0
    count = sum(erase(path) for path in sorted(folder.iterdir()) if path.is_file())
    try:
        folder.rmdir()
    except OSError as error:
        raise unwritable(folder, error) from error
    return count


def _made_on(path: Path) -> date:
    match = _NAME.fullmatch(path.name)
    if match is None:
        raise ValueError(f"{path.name!r} is not the name of a clip")
    return date.fromisoformat(match[1])
