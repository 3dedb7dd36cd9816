"""Intervals, detection curves and calibration, against published and worked examples."""

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest  # type: ignore[import-untyped]

from speech.curves import Detection, Share, calibration_error, reliability


@pytest.mark.parametrize(
    ("count", "total", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_is_newcombes_method_3(
    count: int, total: int, low: float, high: float
) -> None:
    """Newcombe 1998, Statistics in Medicine 17:857-872, table I, the Wilson score interval."""
    assert Share(count, total).interval == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_is_scipys_wilson_interval(case: tuple[int, int]) -> None:
    count, total = case
    theirs = binomtest(count, total).proportion_ci(0.95, "wilson")
    assert Share(count, total).interval == pytest.approx((theirs.low, theirs.high), abs=1e-9)


def test_a_share_of_nothing_is_told_as_none() -> None:
    assert str(Share(0, 0)) == "-"
    assert Share(0, 0).interval == (0.0, 1.0)
    assert str(Share(9, 10)) == "90.0% (59.6-98.2) of 10"
    with pytest.raises(ValueError, match="no share"):
        Share(3, 2)


def test_two_gaussians_have_the_equal_error_that_their_distance_says() -> None:
    """Means two apart, deviation 1: a threshold halfway errs in 1 - Phi(1) = 15.9% of either."""
    quantiles = [NormalDist().inv_cdf((k + 0.5) / 4000) for k in range(4000)]
    curve = Detection.of(quantiles, np.array(quantiles) + 2)
    assert curve.equal_error == pytest.approx(1 - NormalDist().cdf(1), abs=3e-4)
    # at 5% false slips the threshold is 1.645: found is Phi(2 - 1.645)
    assert curve.found_at(0.05) == pytest.approx(NormalDist().cdf(2 - 1.6449), abs=1e-3)


def test_the_curve_of_a_case_worked_by_hand() -> None:
    curve = Detection.of([1, 2, 3, 6], [4, 5, 7])
    # flag above 3: one of four right readings, no slip missed; above 5: still one, two missed
    points = set(zip(curve.false_slips.tolist(), curve.missed.round(6).tolist(), strict=True))
    assert {(0.25, 0.0), (0.25, 0.666667), (0.0, 0.666667), (0.0, 1.0)} <= points
    assert curve.found_at(0.25) == 1.0
    assert curve.found_at(0.24) == pytest.approx(1 / 3)
    assert curve.equal_error == pytest.approx(0.25)


@given(
    st.lists(st.floats(-50, 50), min_size=1, max_size=40),
    st.lists(st.floats(-50, 50), min_size=1, max_size=40),
)
def test_a_curve_runs_from_all_flagged_to_all_missed(
    right: list[float], slips: list[float]
) -> None:
    curve = Detection.of(right, slips)
    assert (curve.false_slips[0], curve.missed[0]) == (1.0, 0.0)
    assert (curve.false_slips[-1], curve.missed[-1]) == (0.0, 1.0)
    assert (np.diff(curve.false_slips) <= 0).all()
    assert (np.diff(curve.missed) >= 0).all()
    assert 0 <= curve.equal_error <= 1


def test_a_curve_needs_both_kinds() -> None:
    with pytest.raises(ValueError, match="right readings and slips"):
        Detection.of([1.0], [])


def test_the_calibration_error_of_a_case_worked_by_hand() -> None:
    """Guo et al. 2017, equation 5, ten bins: three at .95 of which two are right, two at .65 of
    which one is: (3/5) |2/3 - .95| + (2/5) |1/2 - .65| = .17 + .06."""
    bins = reliability([0.95, 0.95, 0.95, 0.65, 0.65], [True, True, False, True, False])
    assert [each.count for each in bins] == [0, 0, 0, 0, 0, 0, 2, 0, 0, 3]
    assert calibration_error(bins) == pytest.approx(0.23)


def test_what_is_right_as_often_as_it_says_has_no_calibration_error() -> None:
    confidence = [0.75] * 4 + [1.0] * 3 + [0.0]
    right = [True, True, True, False, True, True, True, False]
    assert calibration_error(reliability(confidence, right)) == 0.0
    assert math.isnan(calibration_error(reliability([], [])))
