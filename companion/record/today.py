"""The sound a class is on, as the household last set it: one line that outlasts the sitting."""

from __future__ import annotations

import json

from companion.record.consent import PractisePermit
from companion.record.files import erase, write_durably
from companion.record.home import ChildFolder
from companion.record.trouble import TodayUnreadable

FORMAT = 1


def read(folder: ChildFolder) -> str | None:
    """Today's GPC as it was set, such as ``i-e``; None where nobody has set one.

    Raises
    ------
    TodayUnreadable
        The file is there but is not what Wordhearth writes.
    """
    try:
        data = json.loads(folder.today.read_text(encoding="utf-8"))
        if data["format"] != FORMAT or not isinstance(data["today"], str):
            raise ValueError("it is of another format")
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise TodayUnreadable(
            f"The note of today's sound {folder.today} cannot be read",
            f"it is damaged ({error})",
            "Say which sound the class is on, which writes it again: wordhearth practise --today "
            "a-e. Nothing else is touched.",
        ) from error
    return str(data["today"])


def keep(permit: PractisePermit, gpc: str) -> None:
    """Keep what was set until it is set again.

    Raises
    ------
    ConsentMissing
        The consent to practise has been taken back: nothing is kept without one.
    HomeUnwritable
        The folder or the disk refuses.
    """
    permit.confirm()
    text = json.dumps({"format": FORMAT, "today": gpc}) + "\n"
    write_durably(permit.folder.today, text.encode())


def forget(folder: ChildFolder) -> int:
    """Erase it, and what a cut-off write left; how many files there were."""
    fresh = folder.today.with_name(folder.today.name + ".new")
    return erase(fresh) + erase(folder.today)
