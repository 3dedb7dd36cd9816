"""The home's own signing key, and the number of the last summary: what handing in needs to keep.

One key for each child and code, so that nobody can tell from keys that two children live together,
or follow a child from one school to another. The number is on disk before a summary bears it, so no
two summaries of a key have the same one, whatever fails in between.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field

from nacl.signing import SigningKey

from companion.record import codes
from companion.record.consent import HandInPermit
from companion.record.files import erase, write_durably
from companion.record.home import ChildFolder
from companion.record.trouble import FamilyUnreadable

FORMAT = 1
NUMBER_MAX = 2**31 - 1


@dataclass(frozen=True)
class Handing:
    """The key and number for one class code and pupil code.

    Attributes
    ----------
    class_code, pupil : str
        Codes.
    seed : bytes
        The Ed25519 seed, 32 bytes, secret.
    number : int
        Of the last summary made; 0 before the first.
    """

    class_code: str
    pupil: str
    seed: bytes = field(repr=False)
    number: int

    @property
    def signing_key(self) -> SigningKey:
        """The key that signs."""
        return SigningKey(self.seed)

    @property
    def family_key(self) -> bytes:
        """The public key, 32 bytes, which the school comes to know the home by."""
        return bytes(self.signing_key.verify_key)


def read(folder: ChildFolder) -> Handing | None:
    """What is kept; None before the first summary.

    Raises
    ------
    FamilyUnreadable
        The file is not what Wordhearth writes.
    """
    try:
        data = json.loads(folder.handing.read_text(encoding="utf-8"))
        found = Handing(data["class"], data["pupil"], bytes.fromhex(data["seed"]), data["number"])
        sound = (
            data["format"] == FORMAT
            and codes.is_code(found.class_code)
            and codes.is_code(found.pupil)
            and len(found.seed) == 32
            and type(found.number) is int
            and 0 <= found.number <= NUMBER_MAX
        )
        if not sound:
            raise ValueError("a value in it is out of range")
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise FamilyUnreadable(
            f"The key for summaries {folder.handing} cannot be read",
            f"it is damaged ({error})",
            "Take 'hand_in' back and give it again, which makes a new key (wordhearth consent "
            "--withdraw hand_in), and tell the teacher: the class book asks about new keys.",
        ) from error
    return found


def next_number(permit: HandInPermit, class_code: str, pupil: str) -> Handing:
    """Count one summary more, durably, making the key first where this code has none.

    Raises
    ------
    ConsentMissing
        No adult has said yes to handing in, or no longer.
    FamilyUnreadable, HomeUnwritable
        Nothing was counted.
    """
    permit.confirm()
    before = read(permit.folder)
    if before is None or (before.class_code, before.pupil) != (class_code, pupil):
        before = Handing(class_code, pupil, bytes(SigningKey.generate()), 0)
    found = Handing(class_code, pupil, before.seed, before.number + 1)
    data = {
        "format": FORMAT,
        "class": found.class_code,
        "pupil": found.pupil,
        "seed": found.seed.hex(),
        "number": found.number,
    }
    write_durably(permit.folder.handing, (json.dumps(data) + "\n").encode())
    return found


def forget(folder: ChildFolder) -> int:
    """Erase it, and what a cut-off write left; how many files there were."""
    fresh = folder.handing.with_name(folder.handing.name + ".new")
    return erase(fresh) + erase(folder.handing)
