"""Two minutes of saying words after the computer: which words, and which were heard well enough.

It holds no microphone, screen or voice: whoever runs it (terminal or page) says `AfterMe.word`
aloud, without showing it, and brings what the child then said. Nothing of the sound is kept.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from companion.phonics.reading import Reading, reading
from companion.practice.after_me import Repeat, fit, usual, vowel_of
from companion.practice.evidence import Evidence, candidates, gather, swaps_partner
from companion.practice.marking import Marking, bundled
from companion.practice.turn import weigh
from companion.record.own_vowels import PAIRS, OwnVowels
from speech.audio import Samples
from speech.phones import SHORT_LONG
from speech.scorer import PhoneScorer

WORDS: Final = (
    "cat", "cake", "bed", "green", "pig", "kite", "dog", "bone", "cup", "moon",
    "bag", "rain", "pen", "feet", "fish", "five", "sock", "boat", "duck", "cube",
)  # fmt: skip
"""Things a child of five can point at: each short and long vowel twice, one vowel in each word."""
TIMES: Final = 2
"""How often a word is asked for: once, and once more where it was not heard well."""
LEAST: Final = len(WORDS) // 2
"""With fewer words heard nothing is made of them: common practice, no source."""
HEARD: Final = 0.5
"""Share of the word, or of it with its vowel's partner, among all that may have been said."""


def repeat(evidence: Evidence, reading: Reading, marking: Marking) -> Repeat | None:
    """What a word that is known to have been said tells of its vowel.

    None where it was not heard well: it is unlikely that the word was said, with whichever of its
    two vowels. None also for a word of several vowels, or whose partner is not among its slips.
    """
    vowel = next(filter(None, map(vowel_of, reading.accepted)), None)
    if vowel is None or not evidence.speech or evidence.clipped:
        return None
    owner = np.array(candidates(reading)[1])
    partners = [
        number
        for number, slip in enumerate(reading.slips)
        if swaps_partner(slip, reading.accepted) and vowel_of(slip.phones) == SHORT_LONG[vowel]
    ]
    explanations, counted = weigh(evidence, reading, marking)
    sure, slips = explanations.probabilities()
    if not partners or sure["as_written"] + float(slips[partners].sum()) < HEARD:
        return None
    words = evidence.words[evidence.spans.index(counted)]
    margin = float(words[owner == -1].max() - words[np.isin(owner, partners)].max())
    if not math.isfinite(margin):
        return None
    return Repeat(vowel, -margin if vowel in PAIRS else margin)


class AfterMe:
    """One go at `WORDS`.

    Parameters
    ----------
    accent : str, optional
        The accent whose values count as right; every British accent when omitted.

    Raises
    ------
    ValueError
        There is no such accent.
    """

    def __init__(self, accent: str | None = None) -> None:
        self._readings = tuple(reading(word, accent=accent) for word in WORDS)
        self._place = 0
        self._times = 0
        self._repeats: list[Repeat] = []
        self._left_out: list[str] = []

    @property
    def word(self) -> Reading | None:
        """The word to say to the child; None when all have been said."""
        return self._readings[self._place] if self._place < len(self._readings) else None

    @property
    def again(self) -> bool:
        """Whether this word is asked for once more."""
        return self._times > 0

    @property
    def place(self) -> tuple[int, int]:
        """Number of the word, from 1, and how many there are."""
        return min(self._place + 1, len(self._readings)), len(self._readings)

    @property
    def heard(self) -> int:
        """How many words were heard well."""
        return len(self._repeats)

    @property
    def left_out(self) -> tuple[str, ...]:
        """The words that were not, in order."""
        return tuple(self._left_out)

    def hear(self, samples: Samples, scorer: PhoneScorer, marking: Marking | None = None) -> bool:
        """Take what the child said after `word`, and go on, or ask for it once more.

        Parameters
        ----------
        samples : ndarray, shape (n,), float32
            Mono, 16 kHz; dropped as soon as it is heard.
        scorer : PhoneScorer
            The listener.
        marking : Marking, optional
            The bundled numbers when omitted.

        Returns
        -------
        bool
            Whether it was heard well.
        """
        shown = self._shown()
        evidence = gather(samples, scorer.hear(samples), shown)
        said = repeat(evidence, shown, marking or bundled())
        if said is not None:
            self._repeats.append(said)
            self._next()
            return True
        self._times += 1
        if self._times == TIMES:
            self.pass_by()
        return False

    def pass_by(self) -> None:
        """Leave the word out and go on."""
        self._left_out.append(self._shown().word)
        self._next()

    def own(self) -> OwnVowels | None:
        """What the words heard come to; None where fewer than `LEAST` were heard well."""
        return fit(self._repeats, usual()) if self.heard >= LEAST else None

    def _shown(self) -> Reading:
        if self.word is None:
            raise ValueError("every word has been said")
        return self.word

    def _next(self) -> None:
        self._place += 1
        self._times = 0
