"""The names of the six verdicts, and one judgement of one try: types only, no work."""

from __future__ import annotations

from dataclasses import dataclass

VERDICTS = ("as_written", "slip", "other_word", "sounded_out", "silent", "unsure")
"""What one try can turn out to be. A child never sees 'wrong'; ``unsure`` asks the adult."""


@dataclass(frozen=True)
class Judgement:
    """What the listeners made of one try at one word.

    Attributes
    ----------
    word : str
        The word shown, lower case unless it is a name.
    verdict : str
        One of `VERDICTS`.
    slip : str or None
        Kind of slip when the verdict is ``slip``.
    gpc : str or None
        The GPC the slip would show, as ``str(Gpc)`` (for example ``"i-e /AY/"``).
    heard : str
        Phones heard, as an ARPAbet string without stress; empty for silence.
    place : tuple of int or None
        Half-open span of the expected phones that differs from what was heard.
    unit : int or None
        Index of the grapheme unit the difference falls in.
    p : dict of str to float
        Probability of each verdict; sums to 1.
    p_slip : dict of str to float
        Probability of each slip kind that is possible for the word.
    loglik : dict of str to float
        Log-likelihood in nats of each candidate phone string.
    ms : float
        Milliseconds from the end of the clip to the verdict.
    evidence : tuple of str
        The GPCs this try is evidence for: every unit of the word when it was read as written,
        the slip's own GPC when it was a slip, none otherwise.
    """

    word: str
    verdict: str
    slip: str | None
    gpc: str | None
    heard: str
    place: tuple[int, int] | None
    unit: int | None
    p: dict[str, float]
    p_slip: dict[str, float]
    loglik: dict[str, float]
    ms: float
    evidence: tuple[str, ...]
