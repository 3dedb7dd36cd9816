"""P(need) on counts: against independent integration, and the properties that groups rely on."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from companion.school import need, rates
from companion.school.rates import Rates

ROOT = Path(__file__).parents[2]
LISTENER, EAR = rates.listener(), rates.ear()


def by_quadrature(slips: float, right: float, of: Rates) -> float:
    """The same integral by scipy's adaptive rule, in the slip rate itself and not in its angle."""
    spread = 1 / need.ALIKE - 1
    # over the quantiles of the false-slip rate, so that its density's pole does no harm
    levels = (np.arange(400) + 0.5) / 400
    false = stats.beta(of.right_slip * spread, (1 - of.right_slip) * spread).ppf(levels)
    good = np.minimum(of.right_as_written, 1 - false)

    def weight(share: float) -> float:
        named = (1 - share) * (good + false) + share * (of.slip_as_written + of.slip_slip)
        s = ((1 - share) * false + share * of.slip_slip) / named
        return float(np.mean(s**slips * (1 - s) ** right)) / np.sqrt(share * (1 - share))

    points = [(0.0, need.NEED), (need.NEED, 1.0)]
    masses = [integrate.quad(weight, *span, epsrel=1e-4, limit=40)[0] for span in points]
    sizes = [stats.beta(0.5, 0.5).cdf(high) - stats.beta(0.5, 0.5).cdf(low) for low, high in points]
    odds = (masses[1] / sizes[1]) / (masses[0] / sizes[0])
    return float(odds / (1 + odds))


@pytest.mark.parametrize(
    ("slips", "right", "of"),
    [(3, 5, LISTENER), (0, 9, LISTENER), (7, 2, LISTENER), (2, 4, EAR), (4.2, 30.5, LISTENER)],
)
def test_need_agrees_with_an_independent_integration(slips: float, right: float, of: Rates) -> None:
    found = float(need.probability(slips, right, of))
    assert found == pytest.approx(by_quadrature(slips, right, of), abs=0.005)


@pytest.mark.parametrize(("slips", "right"), [(0, 1), (0, 8), (3, 5), (1, 11), (6, 0)])
def test_a_listener_that_never_errs_leaves_the_beta_distribution(slips: int, right: int) -> None:
    # nearly perfect: with no false slips at all their distribution would be a point
    found = float(need.probability(slips, right, Rates(1 - 1e-9, 1e-9, 0, 1e-12, 1.0 - 1e-9, 0)))
    above = stats.beta(slips + 0.5, right + 0.5).sf(need.NEED)
    prior = stats.beta(0.5, 0.5).sf(need.NEED)
    odds = above / (1 - above) / (prior / (1 - prior))
    assert found == pytest.approx(odds / (1 + odds), abs=1e-4)


def test_nothing_heard_leaves_it_open() -> None:
    assert float(need.probability(0, 0, LISTENER)) == pytest.approx(0.5)


counts = st.floats(0, 60)


@given(counts, counts, st.floats(0.01, 10))
@settings(max_examples=60, deadline=None)
def test_more_slips_never_lower_a_need_and_more_good_readings_never_raise_it(
    slips: float, right: float, more: float
) -> None:
    for of in (LISTENER, EAR):
        here = float(need.probability(slips, right, of))
        assert float(need.probability(slips + more, right, of)) >= here - 1e-6
        assert float(need.probability(slips, right + more, of)) <= here + 1e-6


@given(st.lists(st.tuples(counts, counts), min_size=1, max_size=20))
@settings(max_examples=20, deadline=None)
def test_a_whole_grid_is_judged_as_its_cells_are(cells: list[tuple[float, float]]) -> None:
    slips, right = np.array(cells).T
    together = need.probability(slips, right, LISTENER)
    alone = [float(need.probability(*cell, LISTENER)) for cell in cells]
    assert together == pytest.approx(alone)
    assert ((together >= 0) & (together <= 1)).all()


@given(counts, counts)
@settings(max_examples=30, deadline=None)
def test_two_listeners_who_hear_alike_are_no_more_than_their_readings(
    slips: float, right: float
) -> None:
    nothing = need.joint(((slips, right, LISTENER), (0.0, 0.0, EAR)))
    assert float(nothing) == pytest.approx(float(need.probability(slips, right, LISTENER)))


def test_a_worse_listener_leaves_more_doubt() -> None:
    worse = Rates(0.70, 0.10, 0.1, 0.2, 0.6, 0.1)
    assert need.probability(4, 6, worse) < need.probability(4, 6, LISTENER)
    assert need.probability(0, 10, worse) > need.probability(0, 10, LISTENER)


def test_negative_readings_are_refused() -> None:
    with pytest.raises(ValueError, match="fewer than 0"):
        need.probability(-1, 3, LISTENER)


def test_the_listeners_rates_are_those_of_its_model_card() -> None:
    card = (ROOT / "speech/models/MODEL_CARD.md").read_text("utf-8")

    def share(row: str) -> float:
        line = re.search(rf"^\| {row}[^|]*\| \**(\d+\.\d)%", card, re.MULTILINE)
        assert line is not None, row
        return round(float(line[1]) / 100, 4)

    assert LISTENER.right_slip == share(r"right readings called a slip")
    assert LISTENER.right_as_written == share("right readings called as written")
    assert LISTENER.right_unsure == share("right readings left")
    assert LISTENER.slip_slip == share("slips found")
    assert LISTENER.slip_as_written == share("slips called as written")
    assert LISTENER.slip_unsure == share("slips left")


def test_rates_that_are_no_shares_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="shares"):
        Rates(0.9, 0.2, 0.0, 0.1, 0.8, 0.1)
    with pytest.raises(ValueError, match="tells nothing"):
        Rates(0.4, 0.5, 0.1, 0.4, 0.5, 0.1)
    (tmp_path / "rates.json").write_text('{"listener": {}}', "utf-8")
    with pytest.raises(KeyError):
        rates.load("listener", tmp_path / "rates.json")
