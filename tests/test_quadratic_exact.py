"""The best sizes: exact, however degenerate the rows; judged by exact arithmetic and by other methods."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from programmes import brute_force, degenerate_programmes, exactly, held_exactly, programme
from scipy.optimize import linprog, nnls

from fitsolve.solve.activeset import solve_dense
from fitsolve.solve.certificate import Stacked
from fitsolve.solve.proximal import solve_sparse
from fitsolve.solve.quadratic import solve

# Agreement asked for: 1e-9 of the largest wish, or 1e-7 mm.
RELATIVE, ABSOLUTE_MM = 1e-9, 1e-7


def close(found, exact, weight):
    """Whether wishes F z agree to RELATIVE, or to ABSOLUTE_MM times their weight."""
    allowed = np.maximum(RELATIVE * np.abs(exact).max(initial=0.0), ABSOLUTE_MM * weight)
    return bool((np.abs(found - exact) <= allowed).all())


def weights(p):
    return np.linalg.norm(p.objective, axis=1)


def can_hold(p):
    """Whether any z keeps all rows, by SciPy's HiGHS (scipy.optimize.linprog, SciPy 1.17)."""
    upper, lower = np.isfinite(p.high), np.isfinite(p.low)
    if len(p.low) == len(p.equal_to) == 0:
        return True
    above = np.vstack([p.bounds[upper], -p.bounds[lower]])
    limit = np.concatenate([p.high[upper], -p.low[lower]])
    rows = {"A_ub": above, "b_ub": limit} if len(limit) else {}
    if len(p.equal_to):
        rows |= {"A_eq": p.equal, "b_eq": p.equal_to}
    return linprog(np.zeros(p.size), bounds=(None, None), method="highs", **rows).status == 0


@given(degenerate_programmes(most_marks=3, most_bounds=4))
@settings(max_examples=60, deadline=None)
def test_no_choice_of_held_bounds_is_better(p):
    assume(len(p.target) and np.linalg.matrix_rank(p.objective / np.maximum(weights(p), 1e-9)[:, None]) == p.size)
    best, optimum = brute_force(p), solve(p)
    if best is None:
        assert optimum.status == "infeasible"
        return
    assert optimum.status == "optimal"
    wishes = np.array([float(sum(c * v for c, v in zip(row, best, strict=True))) for row in exactly(p.objective)])
    assert close(p.objective @ optimum.z, wishes, weights(p))


@given(degenerate_programmes(most_marks=6, most_bounds=10, feasible=True))
@settings(max_examples=200, deadline=None)
def test_the_held_bounds_prove_the_optimum_in_exact_arithmetic(p):
    # Weak duality: multipliers of the right signs that balance the forces bound the cost of every z that keeps
    # the rows from below by the cost at their own z; ours keeps the rows and wishes the same.
    optimum = solve(p)
    assert optimum.status == "optimal"
    pressing = np.flatnonzero(optimum.active)
    at = np.where(optimum.active < 0, p.low, p.high)
    held = list(zip(p.equal, p.equal_to, strict=True)) + [(p.bounds[k], at[k]) for k in pressing]
    found = held_exactly(p, held)
    assert found is not None, "what is held contradicts itself"
    z, multipliers = found
    independent = not held or np.linalg.matrix_rank(np.array([row for row, _ in held])) == len(held)
    for k, pull in zip(pressing, multipliers[len(p.equal_to) :], strict=True):
        fixed = p.low[k] == p.high[k]
        assert fixed or not independent or pull * int(optimum.active[k]) <= 0
    wishes = [sum((c * v for c, v in zip(row, z, strict=True)), Fraction(0)) for row in exactly(p.objective)]
    if len(p.target):
        assert close(p.objective @ optimum.z, np.array([float(v) for v in wishes]), weights(p))
    assert np.abs(p.equal @ optimum.z - p.equal_to).max(initial=0.0) <= 1e-9
    there = p.bounds @ optimum.z
    assert np.maximum(p.low - there, there - p.high).max(initial=0.0) <= 1e-9


@given(degenerate_programmes(most_marks=6, most_bounds=12))
@settings(max_examples=200, deadline=None)
def test_infeasible_is_said_with_its_proof_and_only_then(p):
    crossed = (p.low > p.high).any()
    optimum = solve(p)
    assert (optimum.status == "optimal") == (can_hold(p) and not crossed)
    if optimum.status != "infeasible" or crossed:
        return
    y_equal, y = optimum.equal_multipliers, optimum.multipliers
    assert np.abs(p.equal.T @ y_equal + p.bounds.T @ y).max() <= 1e-12 * max(1.0, np.abs(y).max(initial=0.0))
    limit = np.where(y > 0, p.low, np.where(y < 0, p.high, 0.0))
    assert y_equal @ p.equal_to + y @ limit > 0
    assert set(optimum.clash_equal) == set(np.flatnonzero(y_equal))
    assert set(optimum.clash_bounds) == set(np.flatnonzero(y))


@given(degenerate_programmes(most_marks=6, most_bounds=10, weights=(0.1, 1.0, 3.0, 30.0)))
@settings(max_examples=150, deadline=None)
def test_the_sparse_method_finds_the_same(p):
    rows = np.vstack([p.equal, p.bounds])
    low, high = np.concatenate([p.equal_to, p.low]), np.concatenate([p.equal_to, p.high])
    assume((low <= high).all())
    stacked = Stacked(p.objective, p.target, rows, low, high)
    dense, sparse = solve_dense(stacked), solve_sparse(stacked)
    assert sparse.status == dense.status
    if dense.status == "optimal":
        assert close(p.objective @ sparse.z, p.objective @ dense.z, weights(p))


def nearest_by_nnls(p):
    """F z by Lawson and Hanson's least distance programming on SciPy's nnls (SciPy 1.17).

    C. L. Lawson, R. J. Hanson, Solving Least Squares Problems (1974), ch. 23 (from memory): the point u
    nearest to 0 with M u >= h is -r[:n] / r[n], r the residual of min |[M'; h'] y - e_(n+1)|, y >= 0.
    """
    q, r = np.linalg.qr(p.objective)
    rows = np.vstack([p.bounds, -p.bounds, p.equal, -p.equal])
    limit = np.concatenate([p.low, -p.high, p.equal_to, -p.equal_to])
    rows, limit = rows[np.isfinite(limit)], limit[np.isfinite(limit)]
    start = q.T @ p.target
    M = np.linalg.solve(r.T, rows.T).T
    h = limit - M @ start
    scale = max(1.0, np.abs(h).max(initial=0.0))
    system = np.vstack([M.T, h / scale])
    wanted = np.zeros(len(start) + 1)
    wanted[-1] = 1.0
    y, _ = nnls(system, wanted)
    left = wanted - system @ y
    return q @ (start - scale * left[:-1] / left[-1])


@given(st.integers(0, 10**6), st.integers(2, 25))
@settings(max_examples=60, deadline=None)
def test_dense_pieces_agree_with_least_distance_programming(seed, n):
    rng = np.random.default_rng(seed)
    ends = [rng.choice(n, 2, replace=False) for _ in range(3 * n)]
    differences = np.array([np.eye(n)[b] - np.eye(n)[a] for a, b in ends])
    point = rng.normal(size=n)
    objective = np.vstack([10 ** rng.uniform(-1, 1.5, (n, 1)) * differences[:n], np.eye(n)])
    bounds = differences[n:]
    width = rng.choice([0.0, 0.2, 1.0, np.inf], 2 * n)
    p = programme(
        objective,
        rng.normal(size=2 * n),
        differences[:2],
        differences[:2] @ point,
        bounds,
        bounds @ point - rng.choice([0.0, 0.3], 2 * n),
        bounds @ point + width,
    )
    optimum = solve(p)
    assert optimum.status == "optimal"
    assert p.objective @ optimum.z == pytest.approx(nearest_by_nnls(p), abs=1e-6)
