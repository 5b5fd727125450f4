"""The pseudo-inverse of a stage is the exact one to rounding, by whatever way it was found."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitsolve.solve.staged import _by_normal_equations, _by_qr, full_rank_inverse


def exact(matrix):
    """(A'A)^-1 A' in fractions, by Gauss-Jordan elimination; None where the columns depend on each other."""
    rows = [[Fraction(float(entry)) for entry in row] for row in matrix]
    n = matrix.shape[1]
    system = [
        [sum((row[i] * row[j] for row in rows), Fraction(0)) for j in range(n)] + [row[i] for row in rows]
        for i in range(n)
    ]
    for i in range(n):
        pivot = next((k for k in range(i, n) if system[k][i]), None)
        if pivot is None:
            return None
        system[i], system[pivot] = system[pivot], system[i]
        system[i] = [entry / system[i][i] for entry in system[i]]
        for k in range(n):
            if k != i and system[k][i]:
                system[k] = [a - system[k][i] * b for a, b in zip(system[k], system[i], strict=True)]
    return np.array([[float(entry) for entry in row[n:]] for row in system])


@st.composite
def stages(draw):
    """Differences of a few marks, some of them of four, with weights as far apart as a caliper's and a tape's."""
    n = draw(st.integers(1, 6))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    rows = []
    for _ in range(draw(st.integers(n, 10))):
        row = np.zeros(n + 1)
        for _ in range(rng.choice([1, 1, 2])):
            i, j = rng.choice(n + 1, 2, replace=False)
            row[i] += 1.0
            row[j] -= 1.0
        rows.append(row[:n] * 10 ** rng.uniform(0, draw(st.sampled_from([0.0, 1.0, 1.9]))))
    return np.array(rows)


@given(stages())
@settings(max_examples=60, deadline=None)
def test_is_that_of_fractions(matrix):
    inverse = exact(matrix)
    if inverse is None or not np.abs(matrix).max(axis=1).all():
        return
    largest = np.abs(inverse).max()
    assert full_rank_inverse(matrix) == pytest.approx(inverse, abs=1e-12 * largest)
    assert _by_qr(matrix, np.abs(matrix).max(axis=1)) == pytest.approx(inverse, abs=1e-12 * largest)


def test_what_one_step_does_not_put_right_is_left_to_qr():
    # Columns that differ by 1e-7: the normal equations know that to 1e-14 of themselves, which is all they know.
    matrix = np.array([[1.0, 1.0], [1.0, 1.0 + 1e-7], [1.0, 1.0 - 1e-7]])
    assert _by_normal_equations(matrix) is None
    inverse = exact(matrix)  # its condition is some 1e7, so QR has nine digits
    assert full_rank_inverse(matrix) == pytest.approx(inverse, abs=1e-8 * np.abs(inverse).max())
    assert _by_normal_equations(np.ones((3, 2))) is None
