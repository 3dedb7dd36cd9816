"""How likely it is that a child needs practice on a GPC, given readings that may be misheard.

The child's true slip rate on the GPC is :math:`t`, between 0 and 1; a need is :math:`t` above
`NEED`. Whoever listens calls a good reading as written with probability :math:`c` and a slip with
:math:`f`; a reading with the slip as written with :math:`m` and a slip with :math:`d`; all else is
no reading. A reading is then a slip with probability

.. math:: s(t, f) = \\frac{(1 - t) f + t d}{(1 - t)(c + f) + t (m + d)}

and :math:`S` slips beside :math:`A` readings as written have the likelihood
:math:`L(t, f) = s^S (1 - s)^A`.

:math:`f` is not one number: an accent, a microphone or a word is misheard again and again. So for
each child and GPC it follows a Beta distribution with the measured mean and with the correlation
`ALIKE` between two readings [1]_, and is integrated out. Before any reading a need is as likely as
none, and on either side of the threshold :math:`t` follows Jeffreys' prior Beta(1/2, 1/2) [2]_, cut
off there: most children either know a GPC or do not. So

.. math:: \\frac{P(need)}{1 - P(need)} =
          \\frac{E[L(t, f) \\mid t > NEED]}{E[L(t, f) \\mid t \\le NEED]}

which is the Bayes factor [3]_.

``unsure`` readings are left out on purpose: they are a little likelier after a slip, but noise
makes them too, and a noisy home must not look like a gap.

References
----------
.. [1] The beta-binomial distribution: Skellam, 'A probability distribution derived from the
   binomial distribution by regarding the probability of success as variable between the sets of
   trials', Journal of the Royal Statistical Society B 10, 1948 (from memory).
.. [2] Jeffreys, 'An invariant form for the prior probability in estimation problems', Proceedings
   of the Royal Society A 186, 1946 (from memory).
.. [3] Kass and Raftery, 'Bayes factors', Journal of the American Statistical Association 90(430),
   1995 (from memory).
"""

from __future__ import annotations

import functools

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import roots_jacobi, roots_legendre

from companion.school.rates import Rates

Floats = NDArray[np.float64]

NEED = 0.2
"""A child needs practice on a GPC that slips in more than one reading of five. Practice lists hold
about four known words in five (common practice, no source)."""

ALIKE = 0.1
"""Correlation of two false slips of one child and GPC. Not measured: no corpus at hand has the same
child read the same GPC for weeks. Simulated classes with twice as much are in the bench."""

_ANGLES, _FALSE = 24, 12
_BATCH = 1 << 11


def probability(
    slips: ArrayLike, as_written: ArrayLike, rates: Rates, alike: float = ALIKE
) -> Floats:
    """P(true slip rate > `NEED`).

    Parameters
    ----------
    slips, as_written : array_like
        Readings of each kind, of any one shape; 0 or more, fractions where old readings count less.
    rates : Rates
        Who listened.
    alike : float
        Correlation of false slips, above 0 and below 1.

    Returns
    -------
    ndarray of float64
        Of the same shape, from 0 to 1. Rises with `slips`, falls with `as_written`.

    Notes
    -----
    With :math:`t = \\sin^2 a`, Jeffreys' prior is uniform in the angle :math:`a`. Each side of the
    threshold is integrated by Gauss and Legendre's rule with 24 nodes, false slips by Gauss and
    Jacobi's with 12.
    """
    return joint(((slips, as_written, rates),), alike)


def joint(heard: tuple[tuple[ArrayLike, ArrayLike, Rates], ...], alike: float = ALIKE) -> Floats:
    """P(true slip rate > `NEED`) on readings that several listeners heard.

    Each is ``(slips, as_written, rates)``, shapes and ranges as in `probability`; all of one shape.
    """
    counts = [np.broadcast_arrays(*map(_floats, each[:2])) for each in heard]
    shape = counts[0][0].shape
    table = np.stack([each.ravel() for pair in counts for each in pair], axis=1)
    # a class has many cells with the same counts, most of them none
    rows, back = np.unique(table, axis=0, return_inverse=True)
    rules = [_logs(each[2], alike) for each in heard]
    found = [_batch(rows[at : at + _BATCH], rules) for at in range(0, len(rows), _BATCH)]
    return np.concatenate(found)[back.ravel()].reshape(shape) if found else np.empty(shape)


def _floats(values: ArrayLike) -> Floats:
    found = np.asarray(values, np.float64)
    if found.size and found.min() < 0:
        raise ValueError("there are no fewer than 0 readings")
    return found


Rule = tuple[Floats, Floats, Floats]


def _batch(counts: Floats, rules: list[Rule]) -> Floats:
    """Posterior mass above the threshold; slips and as written of each listener by turns."""
    above, weights = _angles()
    log = np.zeros((len(counts), len(weights)))
    for n, (log_slip, log_right, log_weight) in enumerate(rules):
        slips, right = counts[:, 2 * n], counts[:, 2 * n + 1]
        # (n, angles, false): each listener's own false slips are integrated out by themselves
        each = slips[:, None, None] * log_slip + right[:, None, None] * log_right + log_weight
        top = each.max(axis=2, keepdims=True)
        log += (top + np.log(np.exp(each - top).sum(axis=2, keepdims=True)))[:, :, 0]
    log -= log.max(axis=1, keepdims=True)
    mass = np.exp(log) * weights
    share: Floats = mass[:, above].sum(axis=1) / mass.sum(axis=1)
    return share


@functools.cache
def _angles() -> tuple[NDArray[np.bool_], Floats]:
    """Which nodes lie above the threshold, and each node's weight: both sides weigh the same.

    Shapes ``(2 * _ANGLES,)``.
    """
    _, weights = roots_legendre(_ANGLES)
    return np.repeat([False, True], _ANGLES), np.concatenate([weights, weights])


@functools.cache
def _logs(rates: Rates, alike: float) -> Rule:
    """Log chances of a slip and of as written, and of each false-slip rate.

    Shapes ``(2 * _ANGLES, _FALSE)`` twice, and ``(_FALSE,)``.
    """
    nodes, _ = roots_legendre(_ANGLES)
    cut, top = np.arcsin(np.sqrt(NEED)), np.pi / 2
    low, high = cut * (nodes + 1) / 2, cut + (top - cut) * (nodes + 1) / 2
    true = np.sin(np.concatenate([low, high]))[:, None] ** 2
    spread = 1 / alike - 1
    alpha, beta = rates.right_slip * spread, (1 - rates.right_slip) * spread
    at, weight = roots_jacobi(_FALSE, beta - 1, alpha - 1)
    false = (at + 1) / 2
    # a child whose good readings are oftener called slips has fewer of them called as written
    good = np.minimum(rates.right_as_written, 1 - false)
    slip = (1 - true) * false + true * rates.slip_slip
    right = (1 - true) * good + true * rates.slip_as_written
    return (
        np.log(slip / (slip + right)),
        np.log(right / (slip + right)),
        np.log(weight / weight.sum()),
    )
