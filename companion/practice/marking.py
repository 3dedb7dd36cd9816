"""The few numbers that turn log-likelihoods into a verdict, fitted by ``calibrate`` on children.

They live in ``marking.json`` beside this module, with what they were fitted on.
"""

from __future__ import annotations

import functools
import json
from dataclasses import asdict, dataclass, fields
from pathlib import Path

FILE = Path(__file__).with_name("marking.json")


@dataclass(frozen=True)
class Marking:
    """How evidence is weighed. Weights are in nats unless said otherwise.

    Attributes
    ----------
    trust : float
        Factor on log-likelihoods, 0 to 1: a network's frames are not independent, so their sum
        claims more than it knows.
    slip, other_word, sounded_out, silent : float
        Weight before listening of each outcome against ``as_written``'s 0.
    no_speech : float
        Further weight of ``silent`` where the levels alone show no speech.
    other_phone : float
        Cost of each phone of the free string that explains a reading as some other word.
    restart, aside : float
        Cost of taking what was said before a pause as an earlier attempt, and of taking what
        lies around the word for a laugh or somebody else's talk.
    apart : float
        Cost of each gap inside what is taken for one blended word.
    e_sounded, other_vowel, consonant : float
        Further weight of slips that are not the short or long vowel: the e said, any other value
        of a vowel, any consonant. A sound missed or reversed is often a young mouth, not a reading.
    murmur : float
        On top of ``e_sounded`` where the e would be a mere murmur, as many let follow a consonant.
    clear, exact : float
        By how much a slip must fit better than any accepted string for the word not to be taken
        as written, in nats; and the same where what was freely heard is exactly the slip.
    sure_as_written, sure_slip, sure_else : float
        Probability from which a verdict is named; under it the word is ``unsure``.
    """

    trust: float
    slip: float
    other_word: float
    sounded_out: float
    silent: float
    no_speech: float
    other_phone: float
    restart: float
    aside: float
    apart: float
    e_sounded: float
    murmur: float
    other_vowel: float
    consonant: float
    clear: float
    exact: float
    sure_as_written: float
    sure_slip: float
    sure_else: float

    @classmethod
    def load(cls, path: Path = FILE) -> Marking:
        """Read the bundled numbers.

        Raises
        ------
        KeyError
            If one is missing.
        """
        numbers = json.loads(path.read_text(encoding="utf-8"))
        return cls(**{field.name: float(numbers[field.name]) for field in fields(cls)})

    def save(self, fitted_on: str, path: Path = FILE) -> None:
        """Write the numbers with a line that says what they were fitted on."""
        rounded = {name: round(value, 4) for name, value in asdict(self).items()}
        path.write_text(json.dumps({"fitted_on": fitted_on, **rounded}, indent=1) + "\n")


@functools.cache
def bundled() -> Marking:
    """The bundled numbers, read once."""
    return Marking.load()
