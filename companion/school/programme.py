"""A mixed integer programme, written column by column and solved by HiGHS through SciPy.

References
----------
.. [1] Hoffman and Kruskal, 'Integral boundary points of convex polyhedra', in Linear Inequalities
   and Related Systems, Princeton, 1956 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array


class Impossible(ValueError):
    """No answer keeps all rows."""


class Programme:
    """A programme being written: columns, then rows; all that is worth something is a maximum."""

    def __init__(self) -> None:
        self._costs: list[float] = []
        self._highest: list[float] = []
        self._whole: list[bool] = []
        self._flows: list[int] = []
        self._entries: list[tuple[int, int, float]] = []
        self._limits: list[tuple[float, float]] = []

    def column(self, worth: float, most: float = 1, *, whole: bool = True) -> int:
        """Add a variable from 0 to `most`; gives its number."""
        self._costs.append(-worth)
        self._highest.append(most)
        self._whole.append(whole)
        return len(self._costs) - 1

    def add_worth(self, column: int, worth: float) -> None:
        """Make a column worth more."""
        self._costs[column] -= worth

    def flow(self, worth: float) -> int:
        """A child's place: whole by itself, or because it is a flow between whole limits."""
        self._flows.append(self.column(worth, whole=False))
        return self._flows[-1]

    def row(self, terms: Sequence[tuple[int, float]], least: float, most: float) -> None:
        """Keep the sum of `(column, factor)` between two limits; no terms, no limit."""
        if terms:
            self._entries += [(len(self._limits), column, factor) for column, factor in terms]
            self._limits.append((least, most))

    def solve(self, gap: float) -> tuple[NDArray[np.int64], float]:
        """The answer in whole numbers, and the upper bound of the objective.

        Once the numbers of groups are whole, children flow to groups through a network, whose best
        flows are whole too [1]_, unless slots cut across it. So only the groups are asked to be
        whole at first, which is much quicker, and everything where that did not do.

        Parameters
        ----------
        gap : float
            Relative gap to the bound at which HiGHS may stop.

        Raises
        ------
        Impossible
            No answer keeps all rows.
        """
        if not self._costs:
            return np.zeros(0, np.int64), 0.0
        found, bound = self._solve(np.array(self._whole), gap)
        if np.abs(found - np.rint(found))[self._flows].max(initial=0) > 1e-6:
            whole = np.array(self._whole)
            whole[self._flows] = True
            found, bound = self._solve(whole, gap)
        return np.rint(found).astype(np.int64), bound

    def _solve(self, whole: NDArray[np.bool_], gap: float) -> tuple[NDArray[np.float64], float]:
        row, column, factor = (np.array(each) for each in zip(*self._entries, strict=True))
        matrix = coo_array((factor, (row, column)), (len(self._limits), len(self._costs)))
        least, most = (np.array(each) for each in zip(*self._limits, strict=True))
        found: Any = milp(
            np.array(self._costs),
            integrality=whole.astype(np.int64),
            bounds=Bounds(0, np.array(self._highest)),
            constraints=LinearConstraint(matrix.tocsr(), least, most),
            options={"mip_rel_gap": gap},
        )
        if found.x is None:
            raise Impossible(str(found.message))
        # with nothing to be whole it is a linear programme, and its answer is its own bound
        bound = found.fun if found.mip_dual_bound is None else found.mip_dual_bound
        return found.x, -float(bound)
