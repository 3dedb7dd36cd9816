"""How often the adult corrected the listener, and what that says about it.

A slip that the adult corrects to 'as written' is a false alarm, so the share of them among the
slips is a running estimate of how often the listener is mistaken about this child. It is only as
good as the adult's checking: a mark that nobody looked at counts as agreed to.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from companion.record.turns import KeptTurn
from companion.report.exact import share_between

_NAMED_A_FAULT = ("slip", "other_word", "sounded_out")


@dataclass(frozen=True)
class Overrules:
    """Corrections among some readings.

    Attributes
    ----------
    flagged : int
        Readings that the listener did not take as written (a slip, another word, not blended).
    cleared : int
        Of these, the ones that the adult said were as written: false alarms.
    passed : int
        Readings that the listener took as written.
    caught : int
        Of these, the ones that the adult said were not.
    left_out : int
        Readings that the adult left out, however they were marked.
    decided : int
        Readings that the listener could not tell (or not hear), and the adult decided.
    """

    flagged: int
    cleared: int
    passed: int
    caught: int
    left_out: int
    decided: int

    @property
    def rate(self) -> float | None:
        """Share of the listener's slips that were false alarms, 0 to 1; None without slips."""
        return self.cleared / self.flagged if self.flagged else None

    @property
    def between(self) -> tuple[float, float] | None:
        """Where the true share lies, with 95% certainty; None without slips."""
        return share_between(self.cleared, self.flagged) if self.flagged else None


def overrules(turns: Iterable[KeptTurn]) -> Overrules:
    """Count an adult's corrections.

    Parameters
    ----------
    turns : iterable of KeptTurn
        In any order. What is left out is in none of the other counts.
    """
    flagged = cleared = passed = caught = left_out = decided = 0
    for kept in turns:
        verdict, said = kept.turn.tries[-1].verdict, kept.turn.overrule
        if said == "skip":
            left_out += 1
        elif verdict == "as_written":
            passed += 1
            caught += said == "not"
        elif verdict in _NAMED_A_FAULT:
            flagged += 1
            cleared += said == "as_written"
        else:
            decided += said is not None
    return Overrules(flagged, cleared, passed, caught, left_out, decided)


def in_words(found: Overrules) -> str:
    """What the corrections say of the listener, in words for the adult."""
    if not found.flagged:
        return "The listener marked no slip here, so there is nothing to correct."
    marked = f"The listener marked {found.flagged} as not read as written"
    if not found.cleared:
        return (
            f"{marked}, and you have corrected none of them. If one was read well, say so: "
            "your ear counts for more."
        )
    rate, (low, high) = found.cleared / found.flagged, share_between(found.cleared, found.flagged)
    return (
        f"{marked}, and you corrected {found.cleared} of these ({rate:.0%}). If you checked them "
        f"all, that is how often it raises a false alarm with your child; with so few, the true "
        f"share may be anywhere from {low:.0%} to {high:.0%}."
    )
