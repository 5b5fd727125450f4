"""Who is wrong: rows that stand out, rows that explain it as well, and whether the rest agrees.

Held against leaving rows out and solving again (numpy), and against scipy's distributions.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2, norm

from fitsolve.solve.doubts import (
    ALPHA,
    CRITICAL,
    DELTA0,
    chance_above,
    scatter,
    smallest_error,
    square_trace,
    stand_out,
)

# Critical values of chi-square, upper 5 %: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4.
UPPER_5_PERCENT = {1: 3.841, 2: 5.991, 3: 7.815, 4: 9.488, 5: 11.070, 10: 18.307, 20: 31.410, 30: 43.773}


@pytest.mark.parametrize(("freedom", "value"), UPPER_5_PERCENT.items())
def test_the_chances_of_chi_square_are_those_of_the_table(freedom, value):
    assert chance_above(value, freedom) == pytest.approx(0.05, abs=2e-5)


@given(st.floats(1e-6, 1e4), st.integers(1, 2000))
def test_the_chances_of_chi_square_are_those_of_a_statistics_library(value, freedom):
    assert chance_above(value, freedom) == pytest.approx(chi2.sf(value, freedom), rel=1e-9, abs=1e-14)


def test_the_smallest_error_is_found_four_times_in_five():
    # W. Baarda 1968, from memory: alpha 0.001 two-sided and a power of 0.80 give delta0 4.132.
    assert pytest.approx(norm.ppf(1 - ALPHA / 2) + norm.ppf(0.80), abs=0.51e-3) == DELTA0
    assert smallest_error(0.5, 0.25) == pytest.approx(0.5 * 4.132 / 0.5)
    assert smallest_error(0.5, 0.0) is None


class Fit:
    """Least squares by numpy, rows (m, n) of whole numbers divided by their u."""

    def __init__(self, rows, values, u):
        self.rows, self.values, self.u = rows, values, u

    @property
    def statistics(self):
        a, b = self.rows / self.u[:, None], self.values / self.u
        hat = a @ np.linalg.pinv(a)
        z, r = hat @ b - b, 1 - np.diagonal(hat)
        return hat, z, np.where(r > 1e-9, r, 0.0)

    def without(self, k):
        """Statistics with row k left out and everything solved again; 0 for the row itself."""
        keep = np.arange(len(self.u)) != k
        _, z, r = Fit(self.rows[keep], self.values[keep], self.u[keep]).statistics
        w = np.zeros(len(self.u))
        w[keep] = np.divide(z, np.sqrt(r), out=np.zeros(len(z)), where=r > 0)
        return w, float(z @ z), round(float(r.sum()))


@st.composite
def fits(draw):
    """Distances between a few marks, read several times, some of them wrong."""
    n = draw(st.integers(2, 5))
    m = draw(st.integers(n, 12))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    rows = np.zeros((m, n))
    for k in range(m):
        i, j = rng.choice(n, 2, replace=False)
        rows[k, i], rows[k, j] = -1.0, 1.0
    u = rng.uniform(0.1, 1.0, m)
    values = rows @ rng.uniform(0, 100, n) + u * rng.standard_normal(m)
    for k in rng.choice(m, draw(st.integers(0, 2)), replace=False):
        values[k] += u[k] * rng.uniform(-40, 40)
    return Fit(rows, values, u)


@given(fits())
@settings(max_examples=150)
def test_what_is_left_is_what_solving_again_without_the_row_leaves(fit):
    hat, z, r = fit.statistics
    w = np.divide(z, np.sqrt(r), out=np.zeros(len(z)), where=r > 0)
    found = stand_out(z, r, fit.u, lambda k: hat[:, k])
    if np.abs(w).max() <= CRITICAL:
        assert not found
        return
    first = found[0]
    assert abs(w[first.row]) == pytest.approx(np.abs(w).max())
    after, square_sum, freedom = fit.without(first.row)
    assert first.square_sum == pytest.approx(square_sum, rel=1e-6, abs=1e-6)
    assert first.freedom == freedom
    named = {*first.equals, *first.because}
    assert all(abs(after[k]) <= CRITICAL + 1e-6 for k in named)
    standing = {k for k in range(len(w)) if abs(w[k]) > CRITICAL and k != first.row}
    assert standing - named == {k for k in standing if abs(after[k]) > CRITICAL}
    # What the row would have to be for the others to agree: it then has no residual.
    put_right = Fit(fit.rows, fit.values.copy(), fit.u)
    put_right.values[first.row] -= first.error
    assert put_right.statistics[1][first.row] == pytest.approx(0.0, abs=1e-6)
    if len(found) > 1:
        assert abs(after[found[1].row]) == pytest.approx(np.abs(after).max(), rel=1e-6)
        assert found[1].w == pytest.approx(after[found[1].row], rel=1e-6)


def test_of_two_readings_of_one_distance_either_may_be_wrong():
    # Two readings, u = 1, 10 apart: z = -5, +5, r = 1/2 each, |w| = 7.07, and nothing tells them apart.
    hat = np.full((2, 2), 0.5)
    (found,) = stand_out(np.array([5.0, -5.0]), np.array([0.5, 0.5]), np.ones(2), lambda k: hat[:, k])
    assert (found.row, found.equals, found.because) == (0, (1,), ())
    assert found.error == pytest.approx(-10.0)
    assert (found.freedom, found.rest_agrees) == (0, True)


def test_rows_that_explain_a_misfit_alike_but_for_rounding_are_named_in_their_order():
    # Four readings round one loop, u = 1, 20 too long: each is off by 5 with r = 1/4, |w| = 10. Rounding must not
    # say which is named first.
    hat = np.full((4, 4), -0.25) + np.eye(4)
    z = np.array([5.0, 5.0, 5.0 - 1e-14, 5.0 + 1e-14])
    (found,) = stand_out(z, np.full(4, 0.25), np.ones(4), lambda k: hat[:, k])
    assert (found.row, found.equals) == (0, (1, 2, 3))


def test_of_three_readings_of_one_distance_the_odd_one_is_wrong():
    # 0, 0 and 12, u = 1: mean 4, z = 4, 4, -8, r = 2/3: w = 4.90, 4.90, -9.80.
    hat = np.full((3, 3), 1 / 3)
    (found,) = stand_out(np.array([4.0, 4.0, -8.0]), np.full(3, 2 / 3), np.ones(3), lambda k: hat[:, k])
    assert (found.row, found.equals, found.because) == (2, (), (0, 1))
    assert found.error == pytest.approx(12.0)
    assert found.rest_agrees
    assert found.square_sum == pytest.approx(0.0, abs=1e-12)


class TestScatter:
    """How far the readings of a tool scatter beside what is stated."""

    def test_independent_rows_are_exactly_chi_square(self):
        # Ten readings of things known exactly: R is the unit matrix.
        told = scatter(np.full(10, 2.0), [np.eye(10)])
        assert told.factor == pytest.approx(2.0)
        assert told.freedom == pytest.approx(10.0)
        assert told.chance == pytest.approx(chi2.sf(40.0, 10), rel=1e-9)
        assert told.verdict == "further"

    def test_too_good_to_be_true_is_said_too(self):
        assert scatter(np.full(20, 0.1), [np.eye(20)]).verdict == "less"

    @pytest.mark.parametrize("size", [60, 400])
    def test_of_large_matrices_the_trace_of_the_square_comes_from_products(self, size):
        # A projection of rank 200 leaves trace (R R) = trace R = size - rank; here a part of one.
        rng = np.random.default_rng(5)
        q = np.linalg.qr(rng.standard_normal((size + 200, 200)))[0]
        r = (np.eye(size + 200) - q @ q.T)[:size, :size]
        exact = float(np.trace(r @ r))
        close = 1e-9 if size <= 100 else 4 * math.sqrt(2 * exact / 32)  # 32 draws, each of variance 2 trace at most
        assert abs(square_trace(lambda v: r @ v, size) - exact) < close

    def test_false_alarms_come_at_alpha(self):
        # 20,000 loops of four readings, seeded; both tails together have ALPHA, and R has rank 2 of 4.
        rng = np.random.default_rng(7)
        a = np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 1.0], [1.0, 1.0]])
        r = np.eye(4) - a @ np.linalg.pinv(a)
        verdicts = [scatter(r @ e, [r]).verdict for e in rng.standard_normal((20_000, 4))]
        alarms = sum(verdict != "as stated" for verdict in verdicts)
        assert abs(alarms - 20) < 4 * math.sqrt(20)
