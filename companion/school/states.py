"""From what was heard to one of four states: the rule, for a whole grid of cells at once.

Home's evidence and the teacher's own checks come in as counts. Old weeks count less: a week's
readings weigh :math:`\\mathtt{KEEP}^a` when they are :math:`a` weeks old, as in a power prior [1]_,
and nothing after `WINDOW` weeks. `companion.school.need` turns the weighed counts into P(need).

1. Home alone: nothing is said before `READINGS_MIN` readings on `DAYS_MIN` days in `WORDS_MIN`
   words (the week sheet's own minimum, `companion.report.week`). Then *practise* from `SLIPS_MIN`
   slips and P(need) >= `PRACTISE_FROM`; *secure* from P(need) <= `SECURE_TO`, unless the week
   sheet's rule on the same weighed counts would list the GPC: the two never say the opposite.
2. A check of the teacher's outranks home in its own week and for `CHECK_STANDS` more. Where it is
   clear by itself, four slips or more in six words are *practise* (P(need) >= `CHECK_PRACTISE`)
   and none is *secure* (<= `CHECK_SECURE`), unless home's slips are so many that both together
   still make a need likelier than none: then it is worth six words more. Where it is not clear,
   check and home together are judged by home's thresholds, but never against the way the check
   leans (`CHECK_LEANS`: two slips in six lean neither way).
3. An older check is evidence beside what home has read since. What home read before it is dropped.
4. All else is *not enough listened*, and before it is taught a GPC is *not yet taught*.

References
----------
.. [1] Ibrahim and Chen, 'Power prior distributions for regression models', Statistical Science
   15(1), 2000 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc

from companion.report.week import (
    DAYS_MIN,
    DOUBT,
    FALSE_SLIPS,
    READINGS_MIN,
    SLIPS_MIN,
    WORDS_MIN,
)
from companion.school import need
from companion.school.rates import Rates

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

PRACTISE, UNHEARD, SECURE, UNTAUGHT = range(4)
"""Places in `companion.report.week.STATES`."""

WINDOW = 6
"""Weeks that count: half a term, after which groups are made anew (common practice)."""
KEEP = 0.7
"""What is left of a week's weight a week later."""
PRACTISE_FROM = 0.95
SECURE_TO = 0.15
"""Chosen on simulated classes other than those reported (the bench says how)."""
CHECK_STANDS = 1
"""Weeks, the check's own not counted, for which a teacher's check outranks home."""
CHECK_PRACTISE = 0.9
CHECK_SECURE = 0.1
CHECK_LEANS = (0.4, 0.6)
"""P(need) on the check alone up to which it leans to secure, and from which to practise."""


@dataclass(frozen=True)
class Pool:
    """Readings of each child and GPC over the last weeks; arrays of one shape.

    Attributes
    ----------
    as_written, slipped : ndarray
        Readings, old ones weighed less.
    readings, slips, days, words : ndarray
        Plain counts over the same weeks.
    """

    as_written: Floats
    slipped: Floats
    readings: Ints
    slips: Ints
    days: Ints
    words: Ints


@dataclass(frozen=True)
class Checks:
    """The teacher's latest check of each child and GPC; arrays of one shape.

    Attributes
    ----------
    words : ndarray
        Words shown; 0 where there is no check within `WINDOW` weeks.
    slips : ndarray
        Of these, read with a slip.
    by_ear : ndarray of bool
        Heard by the teacher's ear rather than by the listener.
    age : ndarray
        Whole weeks since, 0 for this week's.
    """

    words: Ints
    slips: Ints
    by_ear: Flags
    age: Ints


@dataclass(frozen=True)
class Judged:
    """What may be said; arrays of one shape.

    Attributes
    ----------
    state : ndarray
        `PRACTISE`, `UNHEARD`, `SECURE` or `UNTAUGHT`.
    need : ndarray
        P(true slip rate > `need.NEED`) on the evidence that decided.
    by_check : ndarray of bool
        A teacher's check decided.
    contradicted : ndarray of bool
        It did, and what home has read since says the opposite.
    """

    state: Ints
    need: Floats
    by_check: Flags
    contradicted: Flags


@dataclass(frozen=True)
class Rule:
    """The thresholds, and who listens: as above unless a bench tries others."""

    listener: Rates
    ear: Rates
    practise_from: float = PRACTISE_FROM
    secure_to: float = SECURE_TO
    alike: float = need.ALIKE


def judge(home: Pool, since: Pool, checks: Checks, taught: Flags, rule: Rule) -> Judged:
    """Judge every child and GPC.

    Parameters
    ----------
    home : Pool
        All of home's weeks.
    since : Pool
        Those after the week of the check; the same as `home` where there is none.
    checks : Checks
        The teacher's.
    taught : ndarray of bool
        Whether it has been taught.
    rule : Rule
        Thresholds and rates.
    """
    checked = checks.words > 0
    fresh = checked & (checks.age <= CHECK_STANDS)
    alone = need.probability(since.slipped, since.as_written, rule.listener, rule.alike)
    state, likely = _home(since, alone, rule), alone
    if checked.any():
        both = _with_check(since, checks, rule, KEEP ** checks.age.astype(np.float64))
        likely = np.where(checked, both, likely)
        state = np.where(checked, _home(_counted(since, checks), both, rule), state)
    if fresh.any():
        alone_heard = _check_alone(checks, rule)
        every = _with_check(home, checks, rule, np.ones(checked.shape))
        unclear = _home(_counted(home, checks), every, rule)
        against = (unclear == PRACTISE) & (alone_heard < CHECK_LEANS[0])
        against |= (unclear == SECURE) & (alone_heard > CHECK_LEANS[1])
        unclear = np.where(against, UNHEARD, unclear)
        secure = np.where(every <= 0.5, SECURE, UNHEARD)
        decided = np.where(
            alone_heard >= CHECK_PRACTISE,
            PRACTISE,
            np.where(alone_heard <= CHECK_SECURE, secure, unclear),
        )
        state = np.where(fresh, decided, state)
        likely = np.where(
            fresh, np.where(decided == PRACTISE, np.maximum(every, alone_heard), every), likely
        )
    opposite = np.where(state == PRACTISE, SECURE, PRACTISE)
    return Judged(
        state=np.where(taught, state, UNTAUGHT),
        need=likely,
        by_check=fresh & taught,
        contradicted=fresh & taught & (_home(since, alone, rule) == opposite),
    )


def _home(pool: Pool, likely: Floats, rule: Rule) -> Ints:
    enough = (pool.readings >= READINGS_MIN) & (pool.days >= DAYS_MIN) & (pool.words >= WORDS_MIN)
    practise = enough & (pool.slips >= SLIPS_MIN) & (likely >= rule.practise_from)
    secure = enough & (likely <= rule.secure_to) & ~_listed_at_home(pool)
    return np.where(practise, PRACTISE, np.where(secure, SECURE, UNHEARD))


def _listed_at_home(pool: Pool) -> Flags:
    """The week sheet's test, more slips than the listener's own mistakes would often make.

    P(X >= s) of the binomial is the incomplete beta function, which takes fractions too:
    Abramowitz and Stegun, Handbook of Mathematical Functions, 26.5.24 (from memory).
    """
    chance = betainc(np.maximum(pool.slipped, 1e-9), pool.as_written + 1, FALSE_SLIPS)
    listed: Flags = (pool.slips >= SLIPS_MIN) & (chance < DOUBT)
    return listed


def _counted(pool: Pool, checks: Checks) -> Pool:
    """Home's counts with the check's words among them."""
    return Pool(
        pool.as_written,
        pool.slipped,
        pool.readings + checks.words,
        pool.slips + checks.slips,
        pool.days + (checks.words > 0),
        np.maximum(pool.words, checks.words),
    )


def _check_alone(checks: Checks, rule: Rule) -> Floats:
    right = checks.words - checks.slips
    return np.where(
        checks.by_ear,
        need.probability(checks.slips, right, rule.ear, rule.alike),
        need.probability(checks.slips, right, rule.listener, rule.alike),
    )


def _with_check(pool: Pool, checks: Checks, rule: Rule, weight: Floats) -> Floats:
    slips, right = checks.slips * weight, (checks.words - checks.slips) * weight
    ear = need.joint(
        (
            (pool.slipped, pool.as_written, rule.listener),
            (slips * checks.by_ear, right * checks.by_ear, rule.ear),
        ),
        rule.alike,
    )
    heard = need.probability(
        pool.slipped + slips, pool.as_written + right, rule.listener, rule.alike
    )
    return np.where(checks.by_ear, ear, heard)
