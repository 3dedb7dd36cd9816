"""Exact arithmetic against another library's, and against counting every outcome."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest, fisher_exact

from companion.report.exact import as_often_or_more, at_most, share_between

SHARES = st.integers(1, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(SHARES)
def test_bounds_of_a_share_are_those_of_scipy(share: tuple[int, int]) -> None:
    k, n = share
    expected = binomtest(k, n).proportion_ci(0.95, method="exact")
    assert share_between(k, n) == pytest.approx((expected.low, expected.high), abs=1e-9)


def test_no_share_has_no_bounds() -> None:
    for k, n in ((0, 0), (3, 2), (-1, 4)):
        with pytest.raises(ValueError, match="no share"):
            share_between(k, n)


@given(SHARES, SHARES)
def test_more_often_is_fishers_exact_test_of_scipy(
    now: tuple[int, int], before: tuple[int, int]
) -> None:
    (k, n), (k0, n0) = now, before
    table = [[k, n - k], [k0, n0 - k0]]
    expected = fisher_exact(table, alternative="greater").pvalue
    assert as_often_or_more(k, n, k0, n0) == pytest.approx(expected, rel=1e-6)


def test_more_often_counts_every_way_to_deal_the_marks() -> None:
    """5 of 6 now against 1 of 5 before: every choice of 6 readings out of 11, six of them right."""
    ways = list(combinations([1] * 6 + [0] * 5, 6))
    at_least = sum(sum(way) >= 5 for way in ways) / len(ways)
    assert as_often_or_more(5, 6, 1, 5) == pytest.approx(at_least)


def test_at_most_all_is_certain() -> None:
    assert at_most(7, 7, 0.3) == pytest.approx(1.0)
    assert at_most(0, 3, 0.5) == pytest.approx(0.125)
