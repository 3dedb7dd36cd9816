"""Shares with intervals, detection curves, and calibration: the arithmetic of an evaluation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Z_95: Final = 1.959963984540054
"""Standard deviations either side of the middle that hold 95% of a normal distribution."""
BINS: Final = 10
"""Bins of equal width between 0 and 1 for calibration: Naeini, Cooper and Hauskrecht,
Obtaining Well Calibrated Probabilities Using Bayesian Binning, AAAI 2015."""


@dataclass(frozen=True)
class Share:
    """A count out of a total, with the Wilson interval of the share it estimates.

    Attributes
    ----------
    count, total : int
        ``0 <= count <= total``.

    References
    ----------
    Wilson 1927, *Probable inference, the law of succession, and statistical inference*, JASA 22;
    method 3 of Newcombe 1998, *Two-sided confidence intervals for the single proportion*,
    Statistics in Medicine 17.
    """

    count: int
    total: int

    def __post_init__(self) -> None:
        if not 0 <= self.count <= self.total:
            raise ValueError(f"{self.count} of {self.total} is no share")

    @classmethod
    def of(cls, outcomes: Sequence[bool]) -> Share:
        """How many of the outcomes are true."""
        return cls(sum(outcomes), len(outcomes))

    @property
    def value(self) -> float:
        """The share, 0 to 1; NaN of nothing."""
        return self.count / self.total if self.total else math.nan

    @property
    def interval(self) -> tuple[float, float]:
        """The 95% Wilson interval, within 0 to 1; all of it where there is no trial."""
        if not self.total:
            return 0.0, 1.0
        squared = Z_95**2 / self.total
        middle = self.value + squared / 2
        half = math.sqrt(squared * (self.value * (1 - self.value) + squared / 4))
        low, high = ((middle + sign * half) / (1 + squared) for sign in (-1, 1))
        # At the ends rounding leaves a last digit where the formula gives 0 or 1.
        return (low if self.count else 0.0), (high if self.count < self.total else 1.0)

    def __str__(self) -> str:
        if not self.total:
            return "-"
        low, high = self.interval
        return f"{self.value:.1%} ({low * 100:.1f}-{high * 100:.1f}) of {self.total}"


@dataclass(frozen=True)
class Detection:
    """Every operating point of a detector of slips.

    Attributes
    ----------
    false_slips : ndarray, shape (points,), float64
        Share of right readings flagged, falling from 1 to 0.
    missed : ndarray, shape (points,), float64
        Share of slips not flagged, rising from 0 to 1.
    """

    false_slips: NDArray[np.float64]
    missed: NDArray[np.float64]

    @classmethod
    def of(cls, right: ArrayLike, slips: ArrayLike) -> Detection:
        """Flag all whose score is above a threshold, for each threshold that changes anything.

        Parameters
        ----------
        right, slips : array_like, shape (n,)
            How much each right reading, and each slip, sounds like a slip; at least one of each.

        Raises
        ------
        ValueError
            If one of them is empty.
        """
        right, slips = np.sort(np.asarray(right, float)), np.sort(np.asarray(slips, float))
        if not len(right) or not len(slips):
            raise ValueError("a detection curve needs right readings and slips")
        thresholds = np.concatenate([[-np.inf], np.unique(np.concatenate([right, slips]))])
        above = 1 - np.searchsorted(right, thresholds, "right") / len(right)
        below = np.searchsorted(slips, thresholds, "right") / len(slips)
        return cls(above, below)

    @property
    def equal_error(self) -> float:
        """Where as many right readings are flagged as slips are missed, between two points."""
        difference = self.missed - self.false_slips
        after = int(np.argmax(difference >= 0))
        if difference[after] == 0 or after == 0:
            return float(self.missed[after])
        before = after - 1
        share = -difference[before] / (difference[after] - difference[before])
        return float(self.missed[before] + share * (self.missed[after] - self.missed[before]))

    def found_at(self, false_share: float) -> float:
        """The most slips found, 0 to 1, with at most this share of right readings flagged."""
        return float(1 - self.missed[self.false_slips <= false_share + 1e-12].min())


@dataclass(frozen=True)
class Bin:
    """Judgements of about the same confidence.

    Attributes
    ----------
    low, high : float
        The bin's edges.
    count : int
    confidence : float
        Their mean confidence; NaN of none.
    right : float
        The share of them that is right; NaN of none.
    """

    low: float
    high: float
    count: int
    confidence: float
    right: float


def reliability(confidence: ArrayLike, right: ArrayLike, bins: int = BINS) -> tuple[Bin, ...]:
    """Sort judgements by confidence into bins of equal width (low, high].

    Parameters
    ----------
    confidence : array_like, shape (n,)
        Probability, 0 to 1, that each judgement is right.
    right : array_like of bool, shape (n,)
    bins : int
    """
    sure, true = np.asarray(confidence, float), np.asarray(right, bool)
    place = np.clip(np.ceil(sure * bins).astype(int) - 1, 0, bins - 1)
    found = []
    for number in range(bins):
        mine = place == number
        count = int(mine.sum())
        found.append(
            Bin(
                number / bins,
                (number + 1) / bins,
                count,
                float(sure[mine].mean()) if count else math.nan,
                float(true[mine].mean()) if count else math.nan,
            )
        )
    return tuple(found)


def calibration_error(bins: Sequence[Bin]) -> float:
    """Expected calibration error: how far confidence and share right lie apart, bins by size.

    References
    ----------
    Guo, Pleiss, Sun and Weinberger 2017, *On Calibration of Modern Neural Networks*, equation 5.
    """
    total = sum(each.count for each in bins)
    if not total:
        return math.nan
    apart = (each.count * abs(each.right - each.confidence) for each in bins if each.count)
    return sum(apart) / total
