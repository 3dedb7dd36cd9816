"""How the pages are set for one child: size of letters, contrast, loudness, and the like."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields

from companion.record.consent import PractisePermit
from companion.record.files import erase, write_durably
from companion.record.home import ChildFolder

FORMAT = 1
LETTERS = ("large", "larger", "largest")
VOLUMES = (0.15, 0.3, 0.5, 0.7, 1.0)
"""Shares of full loudness that may be chosen; each step sounds about as much louder as the last."""


@dataclass(frozen=True)
class Settings:
    """What an adult has set.

    Attributes
    ----------
    letters : str
        One of `LETTERS`.
    contrast : bool
        Black on white.
    ruler : bool
        A reader's ruler under what is read.
    buttons : bool
        Sound buttons under every word without asking.
    by_itself : bool
        Go on to the next word without the big button.
    volume : float
        One of `VOLUMES`.
    accent : str or None
        Whose vowels count as right; None for every British accent.
    """

    letters: str = "larger"
    contrast: bool = False
    ruler: bool = False
    buttons: bool = False
    by_itself: bool = True
    volume: float = 0.5
    accent: str | None = None

    def __post_init__(self) -> None:
        if self.letters not in LETTERS or self.volume not in VOLUMES:
            raise ValueError(f"letters {self.letters!r}, volume {self.volume!r}: not offered")
        for name in ("contrast", "ruler", "buttons", "by_itself"):
            if not isinstance(getattr(self, name), bool):
                raise TypeError(f"{name} is yes or no, not {getattr(self, name)!r}")
        if self.accent is not None and not isinstance(self.accent, str):
            raise TypeError(f"accent {self.accent!r} is no name")


def read(folder: ChildFolder) -> Settings:
    """What was set for a child. A file that is missing or damaged counts as nothing set."""
    try:
        data = json.loads(folder.settings.read_text(encoding="utf-8"))
        if data["format"] != FORMAT:
            return Settings()
        known = {field.name for field in fields(Settings)}
        return Settings(**{name: value for name, value in data["set"].items() if name in known})
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return Settings()


def keep(permit: PractisePermit, settings: Settings) -> None:
    """Keep settings until they are set again.

    Raises
    ------
    ConsentMissing
        The consent to practise has been taken back: nothing is kept without one.
    HomeUnwritable
        The folder or the disk refuses.
    """
    permit.confirm()
    text = json.dumps({"format": FORMAT, "set": asdict(settings)}, indent=2) + "\n"
    write_durably(permit.folder.settings, text.encode())


def forget(folder: ChildFolder) -> int:
    """Erase them, and what a cut-off write left; how many files there were."""
    fresh = folder.settings.with_name(folder.settings.name + ".new")
    return erase(fresh) + erase(folder.settings)
