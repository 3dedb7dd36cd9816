"""Both listeners together: two differently made networks, to agree as two markers would."""

from __future__ import annotations

from dataclasses import dataclass

from speech.live import LiveListener
from speech.scorer import PhoneScorer


@dataclass(frozen=True)
class Ears:
    """The two listeners.

    Attributes
    ----------
    scorer : PhoneScorer
        Hears a finished clip whole.
    live : LiveListener
        Hears while the child speaks.
    """

    scorer: PhoneScorer
    live: LiveListener

    @classmethod
    def load(cls) -> Ears:
        """Open the bundled models.

        Raises
        ------
        speech.trouble.Trouble
            If one is missing or damaged.
        """
        return cls(PhoneScorer.load(), LiveListener.load())
