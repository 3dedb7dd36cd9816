"""Where things are kept on this computer: one folder for each child, nothing anywhere else."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from companion.record.trouble import BadLabel

HOME_VARIABLE = "WORDHEARTH_HOME"
FIRST_CHILD = "child"
"""The label used where a home has one child and nobody chose a label."""
LABEL_LENGTH_MAX = 20

_LABEL = re.compile(r"[a-z0-9]+(?:[ -][a-z0-9]+)*")
_PREFIX = "reader-"  # so that no label can be a name the operating system reserves


@dataclass(frozen=True)
class ChildFolder:
    """One child's folder and the files in it.

    Attributes
    ----------
    home : Path
        The data home.
    label : str
        A nickname or the name of a picture: 1 to 20 of a-z, 0-9, with single spaces or hyphens
        between. Never a name on a register.
    """

    home: Path
    label: str

    def __post_init__(self) -> None:
        if not _LABEL.fullmatch(self.label) or len(self.label) > LABEL_LENGTH_MAX:
            raise BadLabel(
                f"{self.label!r} cannot be a child's label",
                f"a label is 1 to {LABEL_LENGTH_MAX} of the letters a-z and digits, with single "
                "spaces or hyphens between",
                "Choose a nickname or the name of a picture, such as: puffin. "
                "Please don't use the child's full name.",
            )

    @property
    def path(self) -> Path:
        """The child's folder; it exists once something has been recorded."""
        return self.home / f"{_PREFIX}{self.label.replace(' ', '_')}"

    @property
    def consent(self) -> Path:
        """What was agreed to, as JSON."""
        return self.path / "consent.json"

    @property
    def today(self) -> Path:
        """The sound the class is on, as JSON, where the household has set one."""
        return self.path / "today.json"

    @property
    def family(self) -> Path:
        """What the school sent home, as it sent it, where the family has loaded it."""
        return self.path / "school.family"

    @property
    def handing(self) -> Path:
        """The key that signs summaries and the number of the last one, where any were made."""
        return self.path / "handing.json"

    @property
    def log(self) -> Path:
        """The readings, as SQLite."""
        return self.path / "log.db"

    @property
    def settings(self) -> Path:
        """How the pages are set, as JSON."""
        return self.path / "settings.json"

    @property
    def own_vowels(self) -> Path:
        """How the child's own vowels lie, as JSON, where words were said after the computer."""
        return self.path / "own_vowels.json"

    @property
    def clips(self) -> Path:
        """Sound clips; empty unless they were chosen."""
        return self.path / "clips"


def data_home(chosen: str | Path | None = None) -> Path:
    """The data home: the folder chosen, else ``WORDHEARTH_HOME``, else the user's data folder."""
    named = chosen or os.environ.get(HOME_VARIABLE)
    return Path(named).expanduser() if named else Path(platformdirs.user_data_dir("wordhearth"))


def child_folder(label: str | None = None, home: str | Path | None = None) -> ChildFolder:
    """The folder of the child called `label` (any case; `FIRST_CHILD` when left out).

    Raises
    ------
    BadLabel
        The label is longer or holds other marks than a label may.
    """
    return ChildFolder(data_home(home), (label or FIRST_CHILD).strip().lower())


def children(home: Path) -> tuple[str, ...]:
    """Labels of the children with a folder in `home`, in alphabetical order."""
    if not home.is_dir():
        return ()
    found = (path.name for path in home.iterdir() if path.is_dir())
    return tuple(
        sorted(
            name.removeprefix(_PREFIX).replace("_", " ")
            for name in found
            if name.startswith(_PREFIX)
        )
    )
