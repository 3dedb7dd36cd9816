"""What is kept of one turn: its word, its tries, and what the adult said of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

OVERRULES = ("as_written", "not", "skip")
"""What an adult may say of a turn: read as written, not read as written, or leave it out."""


@dataclass(frozen=True)
class Try:
    """One attempt at a word, as the listener judged it.

    The candidates' likelihoods are not kept: they say nothing a family could read or correct.

    Attributes
    ----------
    verdict : str
        ``as_written``, ``slip``, ``other_word``, ``sounded_out``, ``silent`` or ``unsure``.
    slip, gpc : str or None
        The slip's kind and the GPC it would show (``"i-e /AY/"``).
    heard : str
        ARPAbet phones, empty for silence.
    place : tuple of int or None
        Half-open span of the expected phones that differs.
    unit : int or None
        Grapheme unit the difference falls in.
    p, p_slip : dict of str to float
        Probability of each verdict, and of each possible slip kind.
    ms : float
        Milliseconds from the end of the clip to the verdict.
    evidence : tuple of str
        GPCs the try is evidence for.
    """

    verdict: str
    slip: str | None
    gpc: str | None
    heard: str
    place: tuple[int, int] | None
    unit: int | None
    p: dict[str, float]
    p_slip: dict[str, float]
    ms: float
    evidence: tuple[str, ...]


@dataclass(frozen=True)
class Outcome:
    """What a turn counts as, after the adult's word: a verdict and its evidence."""

    verdict: str
    slip: str | None
    gpc: str | None
    evidence: tuple[str, ...]


@dataclass(frozen=True)
class Turn:
    """One word with all its tries.

    Attributes
    ----------
    word : str
        The word shown.
    gpcs : tuple of str
        The GPCs of all its units, as ``str(Gpc)``.
    tries : tuple of Try
        At least one; the last one counts (2016 phonics screening check: video transcript,
        Standards and Testing Agency, 2016: the final attempt is scored).
    overrule : str or None
        One of `OVERRULES`, or None where no adult has said anything.
    """

    word: str
    gpcs: tuple[str, ...]
    tries: tuple[Try, ...]
    overrule: str | None = None

    def __post_init__(self) -> None:
        if not self.tries:
            raise ValueError(f"a turn of {self.word!r} needs at least one try")
        if self.overrule is not None and self.overrule not in OVERRULES:
            raise ValueError(f"{self.overrule!r} is not one of {', '.join(OVERRULES)}")

    @property
    def outcome(self) -> Outcome | None:
        """What the turn counts as; None when the adult left it out.

        'Not' keeps a slip that the listener named, and otherwise says only that something else
        was read: nobody has said which sound it was.
        """
        last = self.tries[-1]
        match self.overrule:
            case "skip":
                return None
            case "as_written":
                return Outcome("as_written", None, None, tuple(dict.fromkeys(self.gpcs)))
            case "not" if last.verdict != "slip":
                return Outcome("other_word", None, None, ())
        return Outcome(last.verdict, last.slip, last.gpc, last.evidence)


@dataclass(frozen=True)
class KeptTurn:
    """A turn as the log holds it.

    Attributes
    ----------
    id : int
        Its number in the log.
    sitting : int
        The sitting it belongs to.
    at : datetime
        When it was committed, aware.
    day : date
        The date where the child read, which is what 'on 3 days' counts.
    turn : Turn
        The turn.
    """

    id: int
    sitting: int
    at: datetime
    day: date
    turn: Turn


@dataclass(frozen=True)
class Sitting:
    """One go at a list, as the log holds it; ``ended`` is None where it was cut off."""

    id: int
    started: datetime
    day: date
    list_name: str
    accent: str | None
    ended: datetime | None
