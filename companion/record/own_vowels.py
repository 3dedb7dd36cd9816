"""How a child's own short and long vowels lie from the usual: five coarse numbers, as JSON.

No voice can be recognised by them: each is the mean of a few margins between two readings of a
word, drawn well towards 0 and kept in steps of a quarter nat between -2 and 2, so that many
children have the same few values and two goes of one child may differ as two children do.
"""

from __future__ import annotations

import json
from dataclasses import dataclass

from companion.record.consent import PractisePermit
from companion.record.files import erase, write_durably
from companion.record.home import ChildFolder
from speech.phones import SHORT_LONG

FORMAT = 1
PAIRS: tuple[str, ...] = ("AE", "EH", "IH", "AA", "AH")
"""The short vowel of each pair (its partner is in `speech.phones.SHORT_LONG`)."""
STEP_NATS = 0.25
MOST_NATS = 2.0

assert {*PAIRS, *(SHORT_LONG[pair] for pair in PAIRS)} == set(SHORT_LONG)


@dataclass(frozen=True)
class OwnVowels:
    """By how much a child's vowels of each pair are heard longer than other children's.

    Attributes
    ----------
    longer : tuple of float, one for each of `PAIRS`
        Nats within `MOST_NATS`; above 0 where the child's vowels lean to the long one of the pair.
    against : str
        Names what 'other children' were measured with: for another listener they say nothing.
    """

    longer: tuple[float, ...]
    against: str

    def __post_init__(self) -> None:
        if len(self.longer) != len(PAIRS) or not all(abs(n) <= MOST_NATS for n in self.longer):
            raise ValueError(f"{self.longer!r}: {len(PAIRS)} numbers within {MOST_NATS:g} belong")


def read(folder: ChildFolder, against: str) -> OwnVowels | None:
    """A child's numbers; None where there are none, or they are damaged or for another listener.

    A damaged file is no trouble: two minutes bring it back, and the child is heard as any other.
    """
    try:
        data = json.loads(folder.own_vowels.read_text(encoding="utf-8"))
        if data["format"] != FORMAT or data["against"] != against:
            return None
        return OwnVowels(tuple(float(data["longer"][pair]) for pair in PAIRS), against)
    except (OSError, ValueError, TypeError, KeyError):
        return None


def keep(permit: PractisePermit, own: OwnVowels) -> None:
    """Keep a child's numbers in the place of earlier ones.

    Raises
    ------
    ConsentMissing
        The consent to practise has been taken back: nothing is kept without one.
    HomeUnwritable
        The folder or the disk refuses.
    """
    permit.confirm()
    longer = dict(zip(PAIRS, own.longer, strict=True))
    text = json.dumps({"format": FORMAT, "against": own.against, "longer": longer}, indent=1)
    write_durably(permit.folder.own_vowels, f"{text}\n".encode())


def forget(folder: ChildFolder) -> int:
    """Erase them, and what a cut-off write left; how many files there were."""
    fresh = folder.own_vowels.with_name(folder.own_vowels.name + ".new")
    return erase(fresh) + erase(folder.own_vowels)
