"""What the school sent home, kept as it came: the text of one family file.

What the text means is for `companion.report.family_file` to say; here it is only kept whole.
"""

from __future__ import annotations

from companion.record.consent import PractisePermit
from companion.record.files import erase, write_durably
from companion.record.home import ChildFolder
from companion.record.trouble import FamilyUnreadable


def read(folder: ChildFolder) -> str | None:
    """The text, or None where the family has loaded none.

    Raises
    ------
    FamilyUnreadable
        The file is there and cannot be read as text.
    """
    try:
        return folder.family.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, UnicodeDecodeError) as error:
        raise unreadable(folder, str(error)) from error


def keep(permit: PractisePermit, text: str) -> None:
    """Keep a text in the place of the one before.

    Raises
    ------
    ConsentMissing
        The consent to practise is not given: nothing is kept without one.
    HomeUnwritable
        The folder or the disk refuses.
    """
    permit.confirm()
    write_durably(permit.folder.family, text.encode())


def forget(folder: ChildFolder) -> int:
    """Erase it, and what a cut-off write left; how many files there were."""
    fresh = folder.family.with_name(folder.family.name + ".new")
    return erase(fresh) + erase(folder.family)


def unreadable(folder: ChildFolder, why: str) -> FamilyUnreadable:
    """The error for a kept text that is not what the school sent."""
    return FamilyUnreadable(
        f"What the school sent home ({folder.family}) cannot be read",
        f"it is damaged ({why})",
        "Load the family file again: wordhearth join FILE. Nothing else is touched.",
    )
