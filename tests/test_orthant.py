"""The chance that several normal values are all above nothing, against scipy's own integration of the multivariate
normal distribution (scipy.stats.multivariate_normal, after A. Genz), and against simulations with other draws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from fitsolve.solve.freedom import Freedom
from fitsolve.solve.judge import Outlook, Seat, room, seats
from fitsolve.solve.orthant import CLOSE, all_above, both_below


def by_scipy(mean: np.ndarray, covariance: np.ndarray, within: float = 1e-6) -> float:
    return float(
        multivariate_normal.cdf(
            mean, np.zeros(len(mean)), covariance, allow_singular=True, abseps=within, releps=within, maxpts=10**6
        )
    )


@given(st.integers(1, 5), st.integers(1, 6), st.integers(0, 10**6))
def test_against_scipy(k, rank, seed):
    rng = np.random.default_rng(seed)
    spread = rng.standard_normal((k, rank)) * 10 ** rng.uniform(-2, 1, (k, 1))
    covariance = spread @ spread.T
    mean = np.sqrt(np.diagonal(covariance)) * rng.uniform(-1, 4, k)
    draws_of_ours = 5 * np.sqrt(0.25 / 10_000)  # where it simulates
    nearest, within = (CLOSE, 1e-6) if k <= 2 else (draws_of_ours, draws_of_ours / 100)
    assert all_above(mean, covariance) == pytest.approx(by_scipy(mean, covariance, within), abs=nearest)


@pytest.mark.parametrize("correlation", [-1, -0.999999, -0.9, -0.3, 0, 0.5, 0.99, 0.9999, 1])
@pytest.mark.parametrize("h", [(0.5, 0.5), (1.0, 2.0), (-1.0, 1.5), (2.0, 2.01), (0.0, 3.0)])
def test_two_against_scipy(correlation, h):
    covariance = np.array([[1.0, correlation], [correlation, 1.0]])
    miss = norm.cdf(-np.array(h))
    (both,) = both_below((np.array(h[:1]), np.array(h[1:])), (miss[:1], miss[1:]), covariance[0, 1:])
    assert both == pytest.approx(by_scipy(-np.array(h), covariance), abs=1e-7)


def test_the_same_value_again_and_again_is_one():
    assert all_above(np.full(7, 1.5), np.ones((7, 7))) == pytest.approx(norm.cdf(1.5), abs=1e-6)


def test_values_that_have_nothing_to_do_with_each_other():
    assert all_above(np.array([1.0, 2.0, 2.5]), np.eye(3)) == pytest.approx(
        norm.cdf(1.0) * norm.cdf(2.0) * norm.cdf(2.5), abs=CLOSE
    )


def test_nothing_to_go_wrong():
    assert all_above(np.zeros(0), np.zeros((0, 0))) == 1.0


@pytest.mark.parametrize("gaps", [4, 30, 300])
def test_a_part_with_many_gaps_goes_on_as_often_as_in_a_simulation_of_other_draws(gaps):
    """Half of the gaps on either side of one placement, errors partly common: the least of one side and of the other
    together must leave room, draw by draw."""
    rng = np.random.default_rng(gaps)
    own = np.arange(gaps) % 2 == 1
    seat = Seat([(0, 1) if k % 2 else (1, 0) for k in range(gaps)], own.tolist())
    spread = 0.05 * rng.standard_normal((gaps, 8))
    covariance = spread @ spread.T + 0.02**2 * np.eye(gaps)
    gap = rng.uniform(0.1, 0.25, gaps) * (1 + (gaps > 4))
    drawn = gap[:, None] + np.linalg.cholesky(covariance) @ rng.standard_normal((gaps, 40_000))
    often = float((drawn[own].min(axis=0) + drawn[~own].min(axis=0) >= 0).mean())
    assert 0.02 < often < 0.98, "a case that tells"
    (found,) = seats([room(seat, Outlook(Freedom(2), errors=None))], [gap], [covariance])
    assert found == pytest.approx(often, abs=5 * np.sqrt(0.25 / 10_000 + 0.25 / 40_000))
