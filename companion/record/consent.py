"""Consent: recorded choices, and the permits that only a recorded choice yields.

A `Permit` reads the consent file when it is made and whenever it is confirmed. The microphone
and `Log.add_turn` each ask for one by type, so there is no way to them around the file, and a
choice taken back in another window counts from the next word on.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from companion.record.consent_text import CHOICES, TEXT_VERSION
from companion.record.files import erase, write_durably
from companion.record.home import ChildFolder
from companion.record.trouble import ConsentMissing, ConsentUnreadable

FORMAT = 1
NAMES: tuple[str, ...] = tuple(choice.name for choice in CHOICES)


@dataclass(frozen=True)
class Given:
    """One yes: when it was said and to which words."""

    at: datetime
    text_version: str


@dataclass(frozen=True)
class Consent:
    """What one child's adult has said yes to; a choice that is not in `given` is a no."""

    given: Mapping[str, Given]

    def holds(self, choice: str) -> bool:
        """Whether `choice` was given, and to the present words."""
        yes = self.given.get(choice)
        return yes is not None and yes.text_version == TEXT_VERSION


def read(folder: ChildFolder) -> Consent:
    """The choices recorded for a child; none where nothing was recorded.

    Raises
    ------
    ConsentUnreadable
        The file is there but is not what Wordhearth writes.
    """
    try:
        text = folder.consent.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return Consent({})
    except (OSError, UnicodeDecodeError) as error:
        raise _unreadable(folder, str(error)) from error
    try:
        return _from_json(text)
    except (ValueError, TypeError, AttributeError, KeyError) as error:
        raise _unreadable(folder, f"it is not a consent record ({error})") from error


def give(folder: ChildFolder, choices: Iterable[str], now: datetime) -> Consent:
    """Record a yes to each of `choices`, beside those given before.

    Parameters
    ----------
    folder : ChildFolder
        The child.
    choices : iterable of str
        From `NAMES`.
    now : datetime
        When the adult said so, aware.

    Raises
    ------
    ConsentMissing
        A choice needs another that is neither given nor among `choices`.
    ValueError
        A choice that does not exist, or a time without an offset.
    """
    if now.utcoffset() is None:
        raise ValueError("the time of a consent needs its offset from UTC")
    now = now.replace(microsecond=0)  # the file holds whole seconds
    wanted = list(dict.fromkeys(choices))
    before = read(folder)
    for name in wanted:
        if name not in NAMES:
            raise ValueError(f"{name!r} is not one of the choices {', '.join(NAMES)}")
        needs = next(choice.needs for choice in CHOICES if choice.name == name)
        if needs and needs not in wanted and not before.holds(needs):
            raise ConsentMissing(
                f"{name} was not recorded",
                f"it has nothing to act on without {needs}",
                f"Say yes to both ({needs},{name}), or to neither. Nothing was changed.",
            )
    fresh = {name: Given(now, TEXT_VERSION) for name in wanted if not before.holds(name)}
    after = Consent({**before.given, **fresh})
    if fresh:
        _write(folder, after)
    return after


def take_back(folder: ChildFolder, choices: Iterable[str]) -> tuple[str, ...]:
    """Unrecord choices and all that need them; what they allowed to be kept is erased elsewhere.

    Returns
    -------
    tuple of str
        The choices that were given and no longer are, in the order of `NAMES`.
    """
    gone = set(choices)
    gone |= {choice.name for choice in CHOICES if choice.needs in gone}
    before = read(folder)
    taken = tuple(name for name in NAMES if name in gone and name in before.given)
    if taken:
        _write(folder, Consent({k: v for k, v in before.given.items() if k not in gone}))
    return taken


def forget(folder: ChildFolder) -> bool:
    """Erase the consent file itself; whether there was one."""
    erase(folder.consent.with_name(folder.consent.name + ".new"))  # left by a cut-off write
    return erase(folder.consent)


@dataclass(frozen=True)
class Permit:
    """Proof that a choice is recorded. Making one without it raises `ConsentMissing`.

    Attributes
    ----------
    folder : ChildFolder
        The child it was given for.
    """

    folder: ChildFolder
    choice: ClassVar[str]

    def __post_init__(self) -> None:
        self.confirm()

    def confirm(self) -> None:
        """Read the consent file again.

        Raises
        ------
        ConsentMissing
            The choice is not given, or was given to earlier words.
        ConsentUnreadable
            The file is damaged.
        """
        consent = read(self.folder)
        if consent.holds(self.choice):
            return
        child = "" if self.folder.label == "child" else f" --child {json.dumps(self.folder.label)}"
        if self.choice in consent.given:
            why = "the words agreed to have changed since the answer was given"
        else:
            why = f"no adult has said yes to '{self.choice}' on this computer"
        raise ConsentMissing(
            f"There is no consent to {_DOING[self.choice]}",
            why,
            f"Read what it means and answer with: wordhearth consent{child}",
        )


class PractisePermit(Permit):
    """May listen: opens the microphone, or hears clips in a sitting."""

    choice: ClassVar[str] = "practise"


class LogPermit(Permit):
    """May keep turns in the log."""

    choice: ClassVar[str] = "keep_log"


class HandInPermit(Permit):
    """May make summaries for school, each when the adult asks for it."""

    choice: ClassVar[str] = "hand_in"


class ClipPermit(Permit):
    """May keep sound clips for 7 days."""

    choice: ClassVar[str] = "keep_clips"


_DOING = {
    "practise": "listen to the child",
    "keep_log": "keep a log",
    "hand_in": "make summaries for school",
    "keep_clips": "keep sound clips",
}


def _write(folder: ChildFolder, consent: Consent) -> None:
    given = {
        name: {"at": yes.at.isoformat(timespec="seconds"), "text_version": yes.text_version}
        for name, yes in consent.given.items()
    }
    text = json.dumps({"format": FORMAT, "given": given}, indent=2) + "\n"
    write_durably(folder.consent, text.encode())


def _from_json(text: str) -> Consent:
    data = json.loads(text)
    if data["format"] != FORMAT:
        raise ValueError(f"its format is {data['format']!r}, not {FORMAT}")
    given = {}
    for name, yes in data["given"].items():
        at = datetime.fromisoformat(yes["at"])
        if name not in NAMES or at.utcoffset() is None or not isinstance(yes["text_version"], str):
            raise ValueError(f"its entry {name!r} is not one Wordhearth writes")
        given[name] = Given(at, yes["text_version"])
    return Consent(given)


def _unreadable(folder: ChildFolder, why: str) -> ConsentUnreadable:
    return ConsentUnreadable(
        f"The consent record {folder.consent} cannot be read",
        why,
        "Nothing is listened to or kept until it can. Put back the file from a backup, or move it "
        "out of the folder and answer again with: wordhearth consent",
    )
