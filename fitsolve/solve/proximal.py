"""Proximal: a sparse convex quadratic programme, solved exactly; for 100,000 marks.

    minimise 1/2 |F z - g|^2   subject to   low <= A z <= high,     H = F'F.

The proximal method of multipliers. Around z_k and its multipliers y_k, minimise

    1/2 |F z - g|^2 + 1/2 (z - z_k)'D (z - z_k) + sum_i dist(w_i, [low_i, high_i])^2 / (2 e_i),
    w = A z - e y_k,

and take the minimiser with y = (nearest point of [low, high] to w  -  w) / e, which has the right
sign by construction, as the next. Small D (where nothing pulls) and e (where rows depend on
each other) keep every system below regular and vanish from the answer as z and y come to rest:
neither dependent nor degenerate rows need any care.

The minimum of this smooth function, quadratic between kinks, is found by Newton's method. With
W the rows whose w lies outside, a step is

    [ H + D   A_W' ] [ step ]   [ F'(g - F z) - D (z - z_k) ]
    [ A_W    -e_W  ] [ -y_W ] = [ bound - A_W z + e y_k     ]

(quasi-definite, factored sparsely without pivoting), and the way along the step is found exactly,
in each piece that hangs together by itself. Once no row changes sides the step is exact.

A good start is had from an interior-point solver (piqp); without one the same iteration starts
from the plan with soft e and stiffens it. Every piece is then checked on its own; a piece that
fails and is small is solved densely. Contradictions show as multipliers that grow by the same
amount at every round: that amount is the proof.

When it fails: a piece of more than SMALL marks whose rows contradict so slightly, or whose
weights differ by so many powers of ten, that rounding hides the answer: `unproven`.

Source: R. T. Rockafellar, Augmented Lagrangians and applications of the proximal point algorithm
in convex programming, Math. of Operations Research 1 (1976); R. J. Vanderbei, Symmetric
quasidefinite matrices, SIAM J. on Optimization 5 (1995) (both from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from fitsolve.light import dataclass
from fitsolve.rows import Floats, Ints
from fitsolve.solve.activeset import solve_dense
from fitsolve.solve.certificate import (
    FEASIBLE_MM,
    STATIONARY,
    Answer,
    Conditions,
    Pieces,
    Stacked,
    conditions,
    contradicts,
)

Mask = npt.NDArray[np.bool_]
Sides = npt.NDArray[np.int8]
Sparse = Any
"""A scipy.sparse matrix (scipy carries no types)."""

SMALL = 600
"""A piece of up to so many marks may be solved densely when the sparse method does not settle it."""
PULL, LOOSE_PULL = 1e-10, 1e-4
"""D, as a part of the stiffness at a mark; where no wish reaches a mark there is nothing to disturb."""
SOFT, STIFF, STIFFEST = 1e-2, 1e-8, 1e-14
"""e, as a part of how far a row gives under unit force: to begin with, in the end, and at need."""
ROUNDS, STEPS, HALVINGS, PATIENCE, FACTORISATIONS = 60, 40, 40, 5, 300
NEAR = 1e-2
"""An interior-point answer whose conditions are off by more is no start."""
TOUCHING_MM = 1e-12
"""A row this near its bound may be counted on either side of it."""
NO_PULL = 1e-12
"""A multiplier that is so small a part of the largest in its piece pulls neither way."""
GOOD = 1e-3
"""Rounds go on until the conditions hold by this part of what is allowed."""


@dataclass(frozen=True, slots=True)
class System:
    """The programme in sparse form, bounded rows only; H (n, n), the pieces, D (n,), and how far rows give (q,)."""

    stacked: Stacked
    square: Sparse
    pieces: Pieces
    pull: Floats
    give: Floats

    @property
    def objective(self) -> Sparse:
        """F."""
        return self.stacked.objective

    @property
    def target(self) -> Floats:
        """g."""
        return self.stacked.target

    @property
    def rows(self) -> Sparse:
        """A."""
        return self.stacked.rows

    @property
    def low(self) -> Floats:
        """The lower bounds."""
        return self.stacked.low

    @property
    def high(self) -> Floats:
        """The upper bounds."""
        return self.stacked.high


@dataclass(slots=True)
class State:
    """Where the iteration stands: z (n,), y (q,), the last factorisation and the sides it was made for."""

    z: Floats
    y: Floats
    growth: Floats
    sides: Sides | None = None
    stiffness: float = 0.0
    factor: Any = None
    factored: int = 0


@dataclass(frozen=True, slots=True)
class Round:
    """One proximal step: from where (z_k (n,), y_k (q,)), how far rows give e (q,), and how stiff that is."""

    center: Floats
    before: Floats
    give: Floats
    stiffness: float


def solve_sparse(stacked: Stacked) -> Answer:
    """The minimiser, piece by piece certified; or the proof of one piece that its rows contradict."""
    from scipy.sparse import csr_matrix

    low, high = stacked.low, stacked.high
    bounded = np.flatnonzero(np.isfinite(low) | np.isfinite(high))
    rows = csr_matrix(stacked.rows)[bounded]
    only = Stacked(csr_matrix(stacked.objective), stacked.target, rows, low[bounded], high[bounded])
    system = _system(only)
    state, stiffness = _start(system)
    failing = _iterate(system, state, stiffness)
    answer = _mend(system, state, failing)
    multipliers = np.zeros(len(low))
    multipliers[bounded] = answer.multipliers
    return Answer(answer.status, answer.z, multipliers)


def _system(stacked: Stacked) -> System:
    objective, rows = stacked.objective, stacked.rows
    pieces = find_pieces(objective, rows)
    square = (objective.T @ objective).tocsc()
    square.sort_indices()  # piqp goes astray, without a word, on columns that are out of order
    stiffness = _stiffness(objective, square)
    give = rows.multiply(rows) @ (1.0 / stiffness)
    give[give == 0.0] = 1.0
    pull = np.where(square.diagonal() > 0.0, PULL, LOOSE_PULL) * stiffness
    return System(stacked, square, pieces, pull, give)


def _stiffness(objective: Sparse, square: Sparse) -> Floats:
    """What holds each mark (n,): the geometric mean of all its wishes together and of the weakest alone.

    D and e are measured by it. By the strongest wish they would hold up the weak ones, by the
    weakest they would drown in the rounding of the strong ones.
    """
    strong = square.diagonal()
    entry = objective.tocoo()
    weak = np.full(len(strong), np.inf)
    np.minimum.at(weak, entry.col, np.where(entry.data != 0.0, entry.data**2, np.inf))
    held = strong > 0.0
    usual = float(np.median(strong[held])) if held.any() else 1.0
    return np.where(held, np.sqrt(strong * np.where(held, weak, 1.0)), 1e-2 * usual)


def find_pieces(objective: Sparse, rows: Sparse) -> Pieces:
    """The pieces that hang together by any row; a row without marks is a piece of its own."""
    from scipy.sparse import coo_matrix, vstack
    from scipy.sparse.csgraph import connected_components

    entry = vstack([objective, rows]).tocoo()
    total = sum(entry.shape)
    links = coo_matrix((np.ones(entry.nnz), (entry.row, entry.shape[0] + entry.col)), (total, total))
    count, label = connected_components(links, directed=False)
    m, both = objective.shape[0], entry.shape[0]
    label = label.astype(np.intp)
    return Pieces(label[both:], label[:m], label[m:both], int(count))


def _start(system: System) -> tuple[State, float]:
    """The interior-point answer, stiff from the start; or the plan, softly."""
    import piqp

    n, q = system.square.shape[0], len(system.low)
    cold = State(np.zeros(n), np.zeros(q), np.zeros(q))
    fixed = system.low == system.high
    equal, bound = np.flatnonzero(fixed), np.flatnonzero(~fixed)
    solver = piqp.SparseSolver()
    solver.settings.eps_abs = 1e-9
    solver.settings.eps_rel = 1e-10
    solver.settings.max_iter = 40
    solver.setup(
        system.square,
        -(system.objective.T @ system.target),
        _columns(system.rows[equal]) if len(equal) else None,
        system.low[equal] if len(equal) else None,
        _columns(system.rows[bound]) if len(bound) else None,
        np.maximum(system.low[bound], -1e30) if len(bound) else None,
        np.minimum(system.high[bound], 1e30) if len(bound) else None,
    )
    solver.solve()
    off = max(solver.result.info.primal_res, solver.result.info.dual_res)
    if not off < NEAR or not np.isfinite(solver.result.x).all():
        return cold, SOFT
    y = np.zeros(q)
    if len(equal):
        y[equal] = -solver.result.y
    if len(bound):
        y[bound] = np.asarray(solver.result.z_l) - np.asarray(solver.result.z_u)
    return State(np.asarray(solver.result.x).copy(), y, np.zeros(q)), STIFF


def _columns(rows: Sparse) -> Sparse:
    columns = rows.tocsc()
    columns.sort_indices()
    return columns


def _iterate(system: System, state: State, stiffness: float) -> Mask:
    """Round after round until all pieces are good; which pieces (count,) are not even acceptable."""
    bad = np.ones(system.pieces.count, dtype=bool)
    best, stale = np.inf, 0
    for _ in range(ROUNDS):
        try:
            _round(system, state, stiffness)
        except RuntimeError:  # SuperLU met a pivot of exactly zero: what is left is for the dense method
            return np.ones_like(bad)
        if stiffness > STIFF:
            stiffness *= 0.1
            continue
        found = _conditions(system, state)
        bad = _failing(system, found, 1.0)
        if not _failing(system, found, GOOD).any():
            break
        primal = float(found.primal.max(initial=0.0))
        off = primal / FEASIBLE_MM + float(found.stationarity.max(initial=0.0)) / STATIONARY
        stale = 0 if off < 0.5 * best else stale + 1
        if stale >= PATIENCE or state.factored > FACTORISATIONS:
            break
        if primal > FEASIBLE_MM and off > 0.1 * best:
            stiffness = max(0.1 * stiffness, STIFFEST)
        best = min(best, off)
    return bad


def _conditions(system: System, state: State) -> Conditions:
    return conditions(system.stacked, Answer("unproven", state.z, state.y), system.pieces)


def _failing(system: System, found: Conditions, part: float) -> Mask:
    """The pieces (count,) where a condition fails to hold by this part of what is allowed."""
    pieces = system.pieces
    marks = pieces.most(found.stationarity, pieces.marks) > part * STATIONARY
    worst = np.maximum(found.primal, found.complementarity)
    return np.asarray(marks | (pieces.most(worst, pieces.rows) > part * FEASIBLE_MM))


def _round(system: System, state: State, stiffness: float) -> None:
    """One proximal step: Newton's method from z_k, y_k, until no row changes sides."""
    now = Round(state.z, state.y, stiffness * system.give, stiffness)
    z = now.center.copy()
    y, held = now.before, state.sides
    for _ in range(STEPS):
        w = system.rows @ z - now.give * now.before
        sides = _sides(system, w, held)
        step, y = _newton(system, state, now, z, sides)
        held = _after(system, w + system.rows @ step, y, sides)
        changed = np.zeros(system.pieces.count, dtype=bool)
        changed[system.pieces.rows[held != sides]] = True
        if not changed.any():
            z = z + step
            break
        z = z + _far(system, now, z, step, changed)[system.pieces.marks] * step
    state.growth = y - now.before
    state.z, state.y = z, np.where((y * sides > 0.0) & (system.low < system.high), 0.0, y)


def _sides(system: System, w: Floats, held: Sides | None) -> Sides:
    """On which side of its bounds each row lies; a row at a bound, rounding apart, stays what it was held for."""
    over, under = w - system.high, system.low - w
    sides = (over > 0.0).astype(np.int8) - (under > 0.0).astype(np.int8)
    if held is not None:
        touching = np.minimum(np.abs(over), np.abs(under)) <= TOUCHING_MM
        sides[touching] = held[touching]
    sides[system.low == system.high] = -1
    return sides


def _after(system: System, w: Floats, y: Floats, sides: Sides) -> Sides:
    """The sides after a whole step: let go what pulls the wrong way, take in what is missed, rounding apart."""
    strongest = system.pieces.most(np.abs(y), system.pieces.rows)[system.pieces.rows]
    after = sides.copy()
    after[(y * sides > NO_PULL * strongest) & (system.low < system.high)] = 0
    outside = sides == 0
    after[outside & (w > system.high + TOUCHING_MM)] = 1
    after[outside & (w < system.low - TOUCHING_MM)] = -1
    return after


def _newton(system: System, state: State, now: Round, z: Floats, sides: Sides) -> tuple[Floats, Floats]:
    """The step to the minimum as it would be if no row changed sides, and the multipliers there."""
    outside = np.flatnonzero(sides)
    active = system.rows[outside]
    if state.sides is None or now.stiffness != state.stiffness or (state.sides != sides).any():
        state.factor = _factor(system, active, now.give[outside])
        state.sides, state.stiffness = sides, now.stiffness
        state.factored += 1
    at = np.where(sides < 0, system.low, system.high)[outside]
    force = system.objective.T @ (system.target - system.objective @ z) - system.pull * (z - now.center)
    eased = now.give[outside] * now.before[outside]
    solved = state.factor.solve(np.concatenate([force, at - active @ z + eased]))
    y = np.zeros(len(sides))
    y[outside] = -solved[len(z) :]
    return solved[: len(z)], y


def _factor(system: System, active: Sparse, give: Floats) -> Any:
    from scipy.sparse import bmat, diags
    from scipy.sparse.linalg import splu

    matrix = bmat([[system.square + diags(system.pull), active.T], [active, -diags(give)]], format="csc")
    try:
        return splu(matrix, permc_spec="COLAMD", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    except RuntimeError:
        # A pivot on the diagonal cancelled to nothing, as among rows that say the same: pivot freely.
        return splu(matrix, permc_spec="COLAMD")


def _far(system: System, now: Round, z: Floats, step: Floats, changed: Mask) -> Floats:
    """How far along the step each piece (count,) has its minimum, 1 where nothing changes sides."""
    pieces = system.pieces
    force = system.objective.T @ (system.objective @ z - system.target) + system.pull * (z - now.center)
    wishes = system.objective @ step
    steady = np.bincount(pieces.marks, force * step, pieces.count)
    growing = np.bincount(pieces.marks, system.pull * step**2, pieces.count)
    growing = growing + np.bincount(pieces.wishes, wishes**2, pieces.count)
    w, along = system.rows @ z - now.give * now.before, system.rows @ step
    low, high = np.zeros(pieces.count), np.ones(pieces.count)
    way = np.ones(pieces.count)
    for _ in range(HALVINGS):
        there = w + way[pieces.rows] * along
        y = (np.clip(there, system.low, system.high) - there) / now.give
        slope = steady + way * growing - np.bincount(pieces.rows, along * y, pieces.count)
        high = np.where(slope > 0.0, np.minimum(high, way), high)
        low = np.where(slope > 0.0, low, np.maximum(low, way))
        way = (low + high) / 2
        if ((high - low)[changed] < 1e-12).all():
            break
    return np.where(changed, way, 1.0)


def _mend(system: System, state: State, failing: Mask) -> Answer:
    """The answer, with failing pieces solved densely where they are small enough."""
    if not failing.any():
        return Answer("optimal", state.z, state.y)
    pieces = system.pieces
    members = [_grouped(piece, pieces.count) for piece in (pieces.marks, pieces.wishes, pieces.rows)]
    z, y = state.z.copy(), state.y.copy()
    unproven = False
    for piece in np.flatnonzero(failing):
        marks, wishes, rows = (order[start[piece] : start[piece + 1]] for order, start in members)
        small = len(marks) <= SMALL
        wanted, few = system.objective[wishes][:, marks], system.rows[rows][:, marks]
        if small:
            wanted, few = wanted.toarray(), few.toarray()
        alone = Stacked(wanted, system.target[wishes], few, system.low[rows], system.high[rows])
        answer = solve_dense(alone) if small else Answer("unproven", z[marks], y[rows])
        proof = answer.multipliers if small else state.growth[rows]
        if contradicts(alone, proof):
            y[:] = 0.0
            y[rows] = proof
            return Answer("infeasible", z, y)
        z[marks], y[rows] = answer.z, answer.multipliers
        unproven |= answer.status != "optimal"
    return Answer("unproven" if unproven else "optimal", z, y)


def _grouped(piece: Ints, count: int) -> tuple[Ints, Ints]:
    """The members in order of their piece, and where each piece begins."""
    order = np.argsort(piece, kind="stable")
    return order, np.searchsorted(piece[order], np.arange(count + 1))
