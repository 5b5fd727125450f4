"""Limits that cannot all hold: the few that contradict, and the least by which they must give way."""

import clarabel
import numpy as np
import pytest
import scipy.sparse as sp
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from programmes import INF, degenerate_programmes, programme
from scipy.optimize import linprog

from fitsolve.solve.contradict import contradictions, least_relaxation
from fitsolve.solve.quadratic import Programme, solve


def cannot_hold(p, equal, bounds, sides):
    """Whether these rows contradict, by SciPy's HiGHS (scipy.optimize.linprog, SciPy 1.17)."""
    over = [p.bounds[k] if side > 0 else -p.bounds[k] for k, side in zip(bounds, sides, strict=True)]
    limit = [p.high[k] if side > 0 else -p.low[k] for k, side in zip(bounds, sides, strict=True)]
    rows = {"A_ub": np.array(over), "b_ub": np.array(limit)} if limit else {}
    if len(equal):
        rows |= {"A_eq": p.equal[list(equal)], "b_eq": p.equal_to[list(equal)]}
    if not rows:
        return False
    answer = linprog(np.zeros(p.size), bounds=(None, None), method="highs", **rows)
    assert answer.status in (0, 2)
    return answer.status == 2


def relaxed(p, by):
    """The programme whose rows give way by that much."""
    low, high = p.low + np.minimum(by.bounds, 0.0), p.high + np.maximum(by.bounds, 0.0)
    return Programme(p.objective, p.target, p.equal, p.equal_to + by.equal, p.bounds, low, high)


def without(values, k):
    return [v for i, v in enumerate(values) if i != k]


def lengths(*limits, equal=(), equal_to=()):
    """Bounds on distances between four marks in a row: limits are (from, to, low, high)."""
    rows = [np.eye(4)[b] - np.eye(4)[a] for a, b, _, _ in limits]
    return programme(
        np.zeros((0, 4)), [], equal, equal_to, rows, [low for *_, low, _ in limits], [high for *_, high in limits]
    )


# By hand: pieces of at least 10, 20 and 5 mm cannot stand within 33: 2 mm too long. The piece that
# is at most 40 has no part in it.
TOO_LONG = lengths((0, 1, 10, INF), (1, 2, 20, 22), (2, 3, 5, INF), (0, 3, -INF, 33), (0, 1, -INF, 40))


def test_pieces_too_long_for_their_place_are_named_and_by_how_much():
    (one,) = contradictions(TOO_LONG)
    assert one.bounds.tolist() == [0, 1, 2, 3]
    assert one.sides.tolist() == [-1, -1, -1, 1]
    assert one.bound_weights == pytest.approx([1, 1, 1, -1], abs=1e-12)
    assert one.excess_mm == pytest.approx(2.0, abs=1e-12)


def test_what_can_hold_has_no_contradiction():
    fits = lengths((0, 1, 10, INF), (1, 2, 20, 22), (2, 3, 3, INF), (0, 3, -INF, 33))
    assert contradictions(fits) == ()


def test_holds_contradict_bounds_and_each_other():
    row = np.eye(4)[1] - np.eye(4)[0]
    (against_bound,) = contradictions(lengths((0, 1, -INF, 9), equal=[row], equal_to=[10]))
    assert (against_bound.equal.tolist(), against_bound.bounds.tolist()) == ([0], [0])
    (each_other,) = contradictions(lengths(equal=[row, row], equal_to=[10, 11]))
    assert (each_other.equal.tolist(), each_other.excess_mm) == ([0, 1], pytest.approx(1.0))


def test_a_bound_whose_limits_cross_contradicts_itself():
    (one,) = contradictions(lengths((0, 1, 10, 9)))
    assert (one.bounds.tolist(), one.sides.tolist(), one.excess_mm) == ([0, 0], [-1, 1], 1.0)


def test_contradictions_that_share_no_row_are_all_found():
    two = lengths((0, 1, 5, INF), (0, 1, -INF, 4), (2, 3, 7, INF), (2, 3, -INF, 6), (0, 1, 3, INF))
    assert sorted(one.bounds.tolist() for one in contradictions(two)) == [[0, 1], [2, 3]]


@given(degenerate_programmes(most_marks=6, most_bounds=12, feasible=False))
@settings(max_examples=100, deadline=None)
def test_a_contradiction_cannot_hold_and_dropping_any_member_removes_it(p):
    assume((p.low <= p.high).all())
    found = contradictions(p)
    everything = [(k, side) for k in range(len(p.low)) for side in (-1, 1) if (p.low, p.high)[side > 0][k] not in (-INF, INF)]
    whole = range(len(p.equal_to)), [k for k, _ in everything], [side for _, side in everything]
    assert bool(found) == cannot_hold(p, *whole)
    seen = set()
    for one in found:
        equal, bounds, sides = one.equal.tolist(), one.bounds.tolist(), one.sides.tolist()
        assert cannot_hold(p, equal, bounds, sides)
        for k in range(len(equal)):
            assert not cannot_hold(p, without(equal, k), bounds, sides)
        for k in range(len(bounds)):
            assert not cannot_hold(p, equal, without(bounds, k), without(sides, k))
        members = {("equal", k) for k in equal} | {("bounds", k) for k in bounds}
        assert not members & seen
        seen |= members


def test_the_least_relaxation_is_shared_by_the_square_of_the_scales():
    # By hand: 2 mm too long, shared over four limits; sum (v / scale)^2 is least when v stands as scale^2.
    # Scales 1, 1, 1, 1: half a millimetre each. Scales 1, 2, 1, 2: 0.2, 0.8, 0.2, 0.8.
    may = np.array([True, True, True, True, False])
    none = np.zeros(0)
    even = least_relaxation(TOO_LONG, none, np.ones(5), none.astype(bool), may)
    assert even.bounds == pytest.approx([-0.5, -0.5, -0.5, 0.5, 0.0], abs=1e-12)
    uneven = least_relaxation(TOO_LONG, none, np.array([1.0, 2, 1, 2, 1]), none.astype(bool), may)
    assert uneven.bounds == pytest.approx([-0.2, -0.8, -0.2, 0.8, 0.0], abs=1e-12)
    only_one = least_relaxation(TOO_LONG, none, np.ones(5), none.astype(bool), np.arange(5) == 3)
    assert only_one.bounds == pytest.approx([0, 0, 0, 2, 0], abs=1e-12)
    nothing = least_relaxation(TOO_LONG, none, np.ones(5), none.astype(bool), np.zeros(5, bool))
    assert nothing.status == "infeasible"


def by_clarabel(p, scale):
    """The least violations by an interior-point solver (clarabel 0.11)."""
    n, q = p.size, len(p.low)
    low, high = np.flatnonzero(np.isfinite(p.low)), np.flatnonzero(np.isfinite(p.high))
    give = sp.diags(scale)
    rows = sp.vstack(
        [
            sp.hstack([sp.csc_matrix(p.equal), sp.csc_matrix((len(p.equal_to), q))]),
            sp.hstack([sp.csc_matrix(p.bounds[high]), -give.tocsr()[high]]),
            sp.hstack([-sp.csc_matrix(p.bounds[low]), give.tocsr()[low]]),
        ],
        format="csc",
    )
    right = np.concatenate([p.equal_to, p.high[high], -p.low[low]])
    square = sp.csc_matrix(sp.block_diag([sp.csc_matrix((n, n)), sp.identity(q)]))
    cones = [clarabel.ZeroConeT(len(p.equal_to)), clarabel.NonnegativeConeT(len(low) + len(high))]
    asked = clarabel.DefaultSettings()
    asked.verbose = False
    asked.tol_gap_abs = asked.tol_gap_rel = asked.tol_feas = 1e-11
    answer = clarabel.DefaultSolver(square, np.zeros(n + q), rows, right, cones, asked).solve()
    return scale * np.array(answer.x)[n:]


@given(degenerate_programmes(most_marks=6, most_bounds=12, feasible=False), st.integers(0, 10**6))
@settings(max_examples=100, deadline=None)
def test_the_least_violation_is_the_one_an_independent_solver_finds(p, seed):
    p = Programme(p.objective, p.target, p.equal[:0], p.equal_to[:0], p.bounds, p.low, p.high)
    assume(len(p.low))
    scale = np.random.default_rng(seed).uniform(0.1, 3, len(p.low))
    least = least_relaxation(p, np.zeros(0), scale, np.zeros(0, bool), np.ones(len(p.low), bool))
    assert least.status == "optimal"
    theirs = by_clarabel(p, scale)
    assert least.bounds == pytest.approx(theirs, abs=1e-3)  # an interior point is only this near in the misses,
    ours = ((least.bounds / scale) ** 2).sum()
    assert ours == pytest.approx(((theirs / scale) ** 2).sum(), abs=1e-8)  # but nearer in their sum


@given(degenerate_programmes(most_marks=6, most_bounds=12, feasible=False))
@settings(max_examples=100, deadline=None)
def test_what_gave_way_by_the_least_can_hold_and_its_misses_prove_the_contradiction(p):
    p_count, q = len(p.equal_to), len(p.low)
    least = least_relaxation(p, np.ones(p_count), np.ones(q), np.ones(p_count, bool), np.ones(q, bool))
    assert solve(relaxed(p, least)).status == "optimal"
    # By calculus: at the least sum of squares the misses, as weights on their rows, cancel.
    assert np.abs(p.equal.T @ least.equal + p.bounds.T @ least.bounds).max(initial=0.0) <= 1e-8


def test_a_contradiction_in_a_large_build_is_found_among_its_rows():
    n = 3_000
    ends = [(i, i + 1) for i in range(n - 1)] + [(1000, 1400)]
    row = np.repeat(np.arange(len(ends)), 2)
    bounds = sp.csr_matrix((np.tile([-1.0, 1.0], len(ends)), (row, np.ravel(ends))), (len(ends), n))
    low, high = np.full(len(ends), -0.1), np.full(len(ends), 0.1)
    # By hand: 400 links of at most 0.1 mm over plan reach 40 mm; 41 are asked for: 1 mm too much.
    low[-1], high[-1] = 41.0, 50.0
    empty = sp.csr_matrix((0, n))
    (one,) = contradictions(Programme(empty, np.zeros(0), empty, np.zeros(0), bounds, low, high))
    assert sorted(one.bounds.tolist()) == [*range(1000, 1400), n - 1]
    assert one.excess_mm == pytest.approx(1.0, abs=1e-9)
