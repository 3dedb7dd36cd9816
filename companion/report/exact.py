"""Exact arithmetic on small counts, where a family has eight readings and not eight hundred."""

from __future__ import annotations

from collections.abc import Callable
from math import comb

_STEPS = 60
"""Halvings of the unit interval: the bounds are then exact to more digits than a float has."""


def at_most(k: int, n: int, p: float) -> float:
    """P(X <= k) for X binomial(n, p); NIST/SEMATECH e-Handbook, 1.3.6.6.18 (from memory)."""
    return sum(comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k + 1))


def at_least(k: int, n: int, p: float) -> float:
    """P(X >= k) for X binomial(n, p), 1 <= k <= n."""
    return 1.0 - at_most(k - 1, n, p)


def share_between(k: int, n: int, level: float = 0.95) -> tuple[float, float]:
    """Between which shares the true one lies, when `k` of `n` were seen.

    Parameters
    ----------
    k, n : int
        0 <= k <= n, n >= 1.
    level : float
        How sure: in ``level`` of all such cases at least, the true share is between the two.

    Returns
    -------
    (float, float)
        Lower and upper bound, 0 to 1. Clopper and Pearson, 'The use of confidence or fiducial
        limits illustrated in the case of the binomial', Biometrika 26, 1934 (from memory).
    """
    if not 0 <= k <= n or n < 1:
        raise ValueError(f"{k} of {n} is no share")
    tail = (1 - level) / 2
    low = 0.0 if k == 0 else _where(lambda p: at_least(k, n, p) >= tail)
    high = 1.0 if k == n else _where(lambda p: at_most(k, n, p) <= tail)
    return low, high


def as_often_or_more(k: int, n: int, k_before: int, n_before: int) -> float:
    """How likely at least `k` of `n` is, if nothing has changed since `k_before` of `n_before`.

    Returns
    -------
    float
        One-sided P of the two-by-two table, 0 to 1, exact: Fisher, Statistical Methods for
        Research Workers, 5th edition, 1934, section 21.02 (from memory).
    """
    marked, total = k + k_before, n + n_before
    ways = sum(
        comb(marked, i) * comb(total - marked, n - i)
        for i in range(k, min(n, marked) + 1)
        if n - i <= total - marked
    )
    return ways / comb(total, n)


def _where(reached: Callable[[float], bool]) -> float:
    """The least p in 0..1 from which on `reached(p)` holds."""
    low, high = 0.0, 1.0
    for _ in range(_STEPS):
        middle = (low + high) / 2
        if reached(middle):
            high = middle
        else:
            low = middle
    return high
