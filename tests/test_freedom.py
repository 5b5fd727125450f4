"""What rows settle, counted exactly, held against numerical rank (numpy.linalg, SVD)."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fitsolve.rows import RowList
from fitsolve.solve.freedom import Freedom

PATTERNS = [(1.0, -1.0), (1.0, 1.0, -1.0, -1.0), (3.0, -1.0, -2.0), (1.0, 0.5, -1.5), (7.0, -7.0), (0.125, 1.0, -1.125)]


@st.composite
def networks(draw: st.DrawFn) -> tuple[int, np.ndarray]:
    n = draw(st.integers(1, 9))
    rows = []
    for _ in range(draw(st.integers(0, 10))):
        row = np.zeros(n)
        for coef in draw(st.sampled_from(PATTERNS)):
            row[draw(st.integers(0, n - 1))] += coef
        rows.append(row)
    return n, np.array(rows).reshape(-1, n)


def freedom_of(n: int, matrix: np.ndarray) -> Freedom:
    rows = RowList()
    for row in matrix:
        rows.add([(int(k), float(row[k])) for k in np.flatnonzero(row)], 0.0, 1.0)
    freedom = Freedom(n)
    freedom.tie(rows.rows())
    return freedom


@given(networks())
def test_as_much_is_free_as_the_rank_leaves_and_the_basis_spans_it(network):
    n, matrix = network
    freedom = freedom_of(n, matrix)
    basis, free = freedom.dense_basis()
    rank = np.linalg.matrix_rank(matrix) if len(matrix) else 0
    assert len(free) == n - rank
    assert np.abs(matrix @ basis).max(initial=0.0) < 1e-9
    assert np.linalg.matrix_rank(basis) == len(free) if free else True


@given(networks())
def test_a_distance_is_settled_when_it_lies_in_the_row_space(network):
    n, matrix = network
    freedom = freedom_of(n, matrix)
    rank = np.linalg.matrix_rank(matrix) if len(matrix) else 0
    for i in range(n):
        for j in range(i):
            row = np.zeros(n)
            row[i], row[j] = 1.0, -1.0
            in_row_space = np.linalg.matrix_rank(np.vstack([matrix, row])) == rank
            assert freedom.settled([(i, 1.0), (j, -1.0)]) == in_row_space
            assert (freedom.signature(i) == freedom.signature(j)) == in_row_space


def test_a_long_chain_of_halves_stays_exact():
    # Each mark is centred between its neighbours and the one before: coefficients go down to
    # 2^-60, too fine for floats; by hand, the last row says again what the first ones said.
    rows = RowList()
    size = 64
    for k in range(size - 2):
        rows.add([(k + 2, 2.0), (k + 1, -1.0), (k, -1.0)], 0.0, 1.0)
    freedom = Freedom(size)
    freedom.tie(rows.rows())
    assert len(freedom.free_marks()) == 2
    assert freedom.settled([(size - 1, 2.0), (size - 2, -1.0), (size - 3, -1.0)])
    assert not freedom.settled([(size - 1, 1.0), (size - 2, -1.0)])


def test_ratios_count_as_what_they_stand_for():
    """1/6 and 1/8 make 1/24, which floats miss by their last digit: z - y = 1/6 x, y - w = -1/8 x and
    z - w = 1/24 x say two things, not three, so x stays free."""
    one_sixth, one_eighth, one_24th = 1 / 6, 1 / 8, 1 / 24
    assert one_sixth - one_eighth != one_24th
    rows = RowList()
    rows.add([(3, 1.0), (2, -1.0), (0, -one_sixth), (4, one_sixth)], 0.0, 1.0)
    rows.add([(2, 1.0), (1, -1.0), (0, one_eighth), (4, -one_eighth)], 0.0, 1.0)
    rows.add([(3, 1.0), (1, -1.0), (0, -one_24th), (4, one_24th)], 0.0, 1.0)
    freedom = Freedom(5)
    freedom.tie(rows.rows())
    assert len(freedom.free_marks()) == 3
    assert not freedom.settled([(0, 1.0), (4, -1.0)])
