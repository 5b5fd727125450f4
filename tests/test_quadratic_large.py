"""The best sizes of large builds: right by their certificate, whether in many pieces or in one chain."""

import numpy as np
import pytest
import scipy.sparse as sp

from fitsolve.solve.quadratic import Programme, solve

MARKS = 20_000


def chain(rng, n, low, high, anchored=True):
    """n marks in a row with wishes and bounds between neighbours and from each second mark to the fifth after it."""
    ends = [(i, i + 1) for i in range(n - 1)] + [(i, i + 5) for i in range(0, n - 5, 2)]
    row = np.repeat(np.arange(len(ends)), 2)
    differences = sp.csr_matrix((np.tile([-1.0, 1.0], len(ends)), (row, np.ravel(ends))), (len(ends), n))
    weight = 10 ** rng.uniform(-0.5, 1, len(ends))
    return Programme(
        objective=sp.csr_matrix(sp.diags(weight) @ differences),
        target=weight * rng.normal(0, 0.5, len(ends)),
        equal=sp.csr_matrix(([1.0], ([0], [0])), (1, n)) if anchored else sp.csr_matrix((0, n)),
        equal_to=np.zeros(int(anchored)),
        bounds=differences,
        low=-rng.choice(low, len(ends)),
        high=rng.choice(high, len(ends)),
    )


def side_by_side(programmes):
    blocks = {k: sp.block_diag([getattr(p, k) for p in programmes], "csr") for k in ("objective", "equal", "bounds")}
    values = {k: np.concatenate([getattr(p, k) for p in programmes]) for k in ("target", "equal_to", "low", "high")}
    return Programme(**blocks, **values)


def dense(p):
    return Programme(
        p.objective.toarray(), p.target, p.equal.toarray(), p.equal_to, p.bounds.toarray(), p.low, p.high
    )


def assert_certified(p, optimum):
    """The conditions of an optimum, worked out here from the rows: the source is the theorem itself."""
    assert optimum.status == "optimal"
    z, y = optimum.z, optimum.multipliers
    residual = p.objective @ z - p.target
    force = p.objective.T @ residual - p.equal.T @ optimum.equal_multipliers - p.bounds.T @ y
    assert np.abs(force).max() <= 1e-9 * np.abs(p.objective.T).sum(axis=1).max() * np.abs(residual).max()
    there = p.bounds @ z
    assert np.abs(p.equal @ z - p.equal_to).max(initial=0.0) <= 1e-9
    assert np.maximum(p.low - there, there - p.high).max() <= 1e-9
    assert np.abs(there - p.low)[y > 0].max(initial=0.0) <= 1e-9
    assert np.abs(there - p.high)[y < 0].max(initial=0.0) <= 1e-9


@pytest.mark.parametrize(
    ("low", "high", "anchored"),
    [((0.05, 0.2, 0.7, np.inf), (0.1, 0.4), True), ((0, 0.1, 0.3), (0, 0.1, 0.3), True), ((0, 0.3), (0.3,), False)],
    ids=["in general", "touching and dependent", "nothing anchored"],
)
def test_one_long_chain(low, high, anchored):
    p = chain(np.random.default_rng(1), MARKS, low, high, anchored)
    assert_certified(p, solve(p))


def test_many_small_pieces_are_each_solved_as_if_alone():
    rng = np.random.default_rng(2)
    pieces = [chain(rng, 20, (0, 0.1, 0.3), (0, 0.1, 0.3)) for _ in range(MARKS // 20)]
    p = side_by_side(pieces)
    optimum = solve(p)
    assert_certified(p, optimum)
    for k in range(0, len(pieces), 97):
        alone = solve(dense(pieces[k]))
        own = pieces[k].objective @ optimum.z[20 * k : 20 * (k + 1)]
        assert own == pytest.approx(pieces[k].objective @ alone.z, abs=1e-9)


def test_one_piece_that_cannot_hold_is_found_and_proven_among_many():
    rng = np.random.default_rng(3)
    pieces = [chain(rng, 20, (0.1, 0.3), (0.1, 0.3)) for _ in range(200)]
    # By hand: each link of piece 77 may grow by 0.1 or 0.3 mm, its first five by 1.5 mm at most; marks 0 and 5
    # must stand 2 mm further apart.
    wrong = pieces[77]
    wrong.low[19], wrong.high[19] = 2.0, 2.5
    optimum = solve(side_by_side(pieces))
    assert optimum.status == "infeasible"
    rows, y = len(wrong.low), optimum.multipliers
    assert {k // rows for k in optimum.clash_bounds} == {77}
    assert 77 * rows + 19 in optimum.clash_bounds
    p = side_by_side(pieces)
    assert np.abs(p.equal.T @ optimum.equal_multipliers + p.bounds.T @ y).max() <= 1e-12 * np.abs(y).max()
    assert np.where(y > 0, p.low, p.high) @ y > 0


def test_a_long_chain_that_cannot_hold_is_not_called_optimal():
    p = chain(np.random.default_rng(4), 2_000, (0.1,), (0.1,))
    # Each link may give 0.1 mm; the fourth of the longer spans asks for 0.7 over five links.
    p.low[1999 + 3], p.high[1999 + 3] = 0.7, 1.0
    assert solve(p).status == "infeasible"
