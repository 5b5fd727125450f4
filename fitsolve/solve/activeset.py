"""Active set: a dense convex quadratic programme, solved exactly; for pieces of a few hundred marks.

    minimise 1/2 |F z - g|^2   subject to   low <= A z <= high,

rows with low = high being equalities. Three changes of variable leave the simplest programme
there is, the point of a polyhedron nearest to a given one (nearest):

 1. z = z0 + N y, with z0 on the equalities and N an orthogonal basis of what they leave free.
 2. F N = Q R, the heaviest rows first (QR keeps its accuracy with weights that differ by powers
    of ten only in that order; F'F is never formed). Where F leaves directions free, they are
    split off by the singular values of F N with rows of length one, and a small pull delta
    towards where z stands now takes the place of R there.
 3. u = R (y - y now): minimise 1/2 |u - c|^2 subject to  low - A z <= B u <= high - A z,
    with T = N R^-1, B = A T and c = T'F'(g - F z), less what the active rows pull.

The three steps are then repeated from the new z, with residuals taken from F, A and g as they
were given. That is iterative refinement, and where delta is in play it is the proximal point
method, whose pull vanishes as z comes to rest.

Not here: splitting into pieces and certifying (quadratic), large sparse programmes (proximal).

Source: A. Bjorck, Numerical Methods for Least
Squares Problems (1996), null-space method and row order in QR; R. T. Rockafellar, Monotone
operators and the proximal point algorithm (1976). All from memory.
"""

from __future__ import annotations

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Floats, Ints
from fitsolve.solve.certificate import FEASIBLE_MM, Answer, Stacked
from fitsolve.solve.nearest import EPS, Nearest, nearest_point

DEPENDENT = 1e-9
"""A row of length one whose part outside the others is shorter depends on them."""
NOTHING = 1e-11
"""A coefficient (of rows like +1 -1) that is smaller than this after elimination is rounding."""
AT_REST = 5e-10
"""F z has come to rest when a step moves it by no more than this part of F z - g."""
BLUNT_MM = 1e-10
"""Forces are summed in more digits when rounding could move a mark by more than this."""
ROUNDS = 60
PULL = 0.1
SURE = 1e3
"""F fixes all marks, its singular values unasked, when unit wishes move none by this over the lightest weight."""


@dataclass(frozen=True, slots=True)
class Equalities:
    """What the equality rows A_e z = b leave: z0, a basis N (n, k), and the pseudo-inverse of A_e (n, p)."""

    start: Floats
    basis: Floats
    inverse: Floats
    clash: Floats | None


@dataclass(frozen=True, slots=True)
class Changed:
    """The changes of variable: equality rows' numbers and what they leave, bounds settled by them, T, Nearest."""

    fixed: Ints
    equalities: Equalities
    settled: Ints
    lift: Floats
    nearest: Nearest


def solve_dense(stacked: Stacked) -> Answer:
    """The minimiser, or a proof that there is none; all matrices dense."""
    rows, low, high = stacked.rows, stacked.low, stacked.high
    fixed = np.flatnonzero(low == high)
    equalities = settle_equalities(rows[fixed], low[fixed])
    z = equalities.start
    if equalities.clash is not None:
        proof = np.zeros(len(low))
        proof[fixed] = equalities.clash
        return Answer("infeasible", z, proof)
    reduced = _reduce(stacked.objective, equalities.basis)
    if reduced is None:
        return Answer("unproven", z, np.zeros(len(low)))
    lift, flat = reduced
    bounded = np.flatnonzero((np.isfinite(low) | np.isfinite(high)) & (low < high))
    nearest, settled = _nearest(rows, bounded, lift, flat, equalities.basis)
    changed = Changed(fixed, equalities, settled, lift, nearest)
    return _settled_proof(stacked, changed) or _refine(stacked, changed)


def _settled_proof(stacked: Stacked, changed: Changed) -> Answer | None:
    """The proof that the equalities alone break a bound, if they do."""
    z, settled = changed.equalities.start, changed.settled
    there = stacked.rows[settled] @ z
    missed = np.maximum(stacked.low[settled] - there, there - stacked.high[settled])
    if missed.max(initial=0.0) <= FEASIBLE_MM:
        return None
    proof = np.zeros(len(stacked.low))
    worst = missed.argmax()
    proof[settled[worst]] = 1.0 if there[worst] < stacked.low[settled[worst]] else -1.0
    return _complete_proof(stacked, changed, z, proof)


def settle_equalities(rows: Floats, values: Floats) -> Equalities:
    """Solve the equalities: one QR when they are independent, singular values when they are not."""
    p, n = rows.shape
    if p == 0:
        return Equalities(np.zeros(n), np.eye(n), np.zeros((n, 0)), None)
    length = np.sqrt(np.einsum("ij,ij->i", rows, rows))
    length[length == 0.0] = 1.0
    unit, wanted = rows / length[:, None], values / length
    independent = False
    if p <= n:
        q, r = np.linalg.qr(unit.T, mode="complete")
        independent = bool(np.abs(np.diagonal(r)).min() > DEPENDENT)
    if independent:
        inverse, basis = np.linalg.solve(r[:p], q[:, :p].T).T, q[:, p:]
    else:
        left, size, right = np.linalg.svd(unit)
        rank = int((size > DEPENDENT * max(size[:1].tolist(), default=0.0)).sum())
        inverse = (right[:rank].T / size[:rank]) @ left[:, :rank].T
        basis = right[rank:].T
    start = inverse @ wanted
    start = start + inverse @ (wanted - unit @ start)
    over = (wanted - unit @ start) / length
    clash = None
    if not independent and np.abs(over * length**2).max() > FEASIBLE_MM:
        clash = over
    return Equalities(start, basis, inverse / length, clash)


def _reduce(objective: Floats, basis: Floats) -> tuple[Floats, Floats] | None:
    """T = N R^-1 (n, k), and a basis (n, f) of what F leaves free; None when rounding hides it."""
    reduced = objective @ basis
    weight = np.sqrt(np.einsum("ij,ij->i", objective, objective))
    reduced[np.abs(reduced) < NOTHING * weight[:, None]] = 0.0
    weights = weight[weight > 0.0]
    lightest = float(weights.min()) if len(weights) else 1.0
    m, k = reduced.shape
    if m >= k:
        inverse = _heavy_first(reduced, weight)
        if inverse is not None and (k == 0 or np.abs(inverse).max() * lightest < SURE):
            return basis @ inverse, basis[:, :0]
    unit = reduced / np.where(weight > 0.0, weight, 1.0)[:, None]
    turn, rank = _seen_first(unit)
    seen, flat = basis @ turn[:, :rank], basis @ turn[:, rank:]
    inverse = _heavy_first(reduced @ turn[:, :rank], weight)
    if inverse is None:
        return None
    return np.hstack([seen @ inverse, flat / (PULL * lightest)]), flat


def _seen_first(unit: Floats) -> tuple[Floats, int]:
    """An orthogonal basis (k, k) whose first columns span what the rows see; and how many those are.

    The eigenvectors of the Gram matrix are the quick way; its eigenvalues are squares, so when
    one is small without being nothing, the singular values decide.
    """
    square, turn = np.linalg.eigh(unit.T @ unit)
    nothing = square < 1e-12 * square[-1:].sum()
    if not ((square < 1e-6 * square[-1:].sum()) & ~nothing).any():
        return turn[:, ::-1], int((~nothing).sum()) if square[-1:].sum() > 0.0 else 0
    _, size, right = np.linalg.svd(unit)
    return right.T, int((size > DEPENDENT * size[0]).sum())


def _heavy_first(matrix: Floats, weight: Floats) -> Floats | None:
    """R^-1 (k, k) of the matrix (m, k), m >= k; None when a pivot vanishes."""
    order = np.argsort(-weight, kind="stable")
    r = np.linalg.qr(matrix[order], mode="r")
    pivots = np.abs(np.diagonal(r))
    if len(pivots) and pivots.min() <= 1e-14 * pivots.max():
        return None
    return np.linalg.solve(r, np.eye(len(r)))


def _nearest(rows: Floats, bounded: Ints, lift: Floats, flat: Floats, basis: Floats) -> tuple[Nearest, Ints]:
    """The bounds over u, and those bounds that the equalities settle by themselves.

    B comes from one product rows @ T, so rows that depend on each other still do after it.
    """
    taken = rows[bounded]
    moved = taken @ basis
    size = np.abs(taken).max(axis=1, initial=0.0)
    free = np.abs(moved).max(axis=1, initial=0.0) > NOTHING * size
    taken = taken[free]
    image = taken @ lift
    if flat.shape[1]:
        image[:, -flat.shape[1] :][np.abs(taken @ flat) < NOTHING] = 0.0
    length = np.sqrt(np.einsum("ij,ij->i", image, image))
    noise = EPS * (1.0 + np.abs(lift[:, : lift.shape[1] - flat.shape[1]]).max(initial=0.0) / length)
    return Nearest(image / length[:, None], length, bounded[free], noise), bounded[~free]


def _refine(stacked: Stacked, changed: Changed) -> Answer:
    """Step after step from where z stands, until a step moves nothing.

    c comes from the forces that are out of balance at the marks. Where light wishes stand beside
    heavy ones that are at odds, those forces are differences of numbers too large for the last
    digits, which then are kept: the step itself needs only ordinary precision.
    """
    fixed, equalities, nearest = changed.fixed, changed.equalities, changed.nearest
    rows, low, high = stacked.rows, stacked.low, stacked.high
    forces = _Forces(stacked)
    z: Floats = equalities.start
    y, move, before = np.zeros(len(low)), None, np.inf
    longest = float(np.abs(stacked.target - stacked.objective @ z).max(initial=0.0))
    c = changed.lift.T @ forces.left_over(z, y)
    for _ in range(ROUNDS):
        there = _ordinary(rows[nearest.number] @ z)
        move = nearest_point(nearest, low[nearest.number] - there, high[nearest.number] - there, c, move)
        if move is None:
            break
        if move.contradiction:
            proof = np.zeros(len(low))
            proof[nearest.number] = move.multipliers / nearest.length
            return _complete_proof(stacked, changed, _ordinary(z), proof)
        z = z + changed.lift @ move.u
        z = z + equalities.inverse @ (low[fixed] - rows[fixed] @ z)
        y[nearest.number] = move.multipliers / nearest.length
        y[fixed] = y[fixed] - equalities.inverse.T @ forces.left_over(z, y)
        moved = float(np.abs(move.u).max(initial=0.0))
        still = AT_REST * (1.0 + longest)
        if forces.sharpen(z):
            z, y, before = z.astype(np.longdouble), y.astype(np.longdouble), np.inf
        elif moved <= 1e-4 * still or (moved > 0.5 * before and moved <= 10 * still):
            return Answer("optimal", _ordinary(z), _ordinary(y))
        else:
            before = moved
        c = _ordinary(changed.lift.T @ forces.left_over(z, y))
    return Answer("unproven", _ordinary(z), np.zeros(len(low)))


def _ordinary(values: Floats) -> Floats:
    return np.asarray(values, dtype=np.float64)


class _Forces:
    """The forces F'(g - F z) + A'y left over at the marks, in more digits where they are needed."""

    def __init__(self, stacked: Stacked) -> None:
        self.objective, self.target, self.rows = stacked.objective, stacked.target, stacked.rows
        self._asked = False

    def left_over(self, z: Floats, y: Floats) -> Floats:
        """What is out of balance at each mark (n,)."""
        left: Floats = self.objective.T @ (self.target - self.objective @ z) + self.rows.T @ y
        return left

    def sharpen(self, z: Floats) -> bool:
        """Go over to more digits, once, if rounding of the heaviest force can move the lightest wish."""
        if self._asked:
            return False
        self._asked = True
        weight = np.abs(self.objective).max(axis=1, initial=0.0)
        heavy = float((weight * np.abs(self.objective @ z - self.target)).max(initial=0.0))
        light = float(weight[weight > 0.0].min(initial=np.inf))
        if 1e-16 * heavy <= BLUNT_MM * light**2:
            return False
        self.objective = self.objective.astype(np.longdouble)
        self.target, self.rows = self.target.astype(np.longdouble), self.rows.astype(np.longdouble)
        return True


def _complete_proof(stacked: Stacked, changed: Changed, z: Floats, proof: Floats) -> Answer:
    """The proof with the equalities' share in it; whether it holds is for the caller to check."""
    proof[changed.fixed] = -changed.equalities.inverse.T @ (stacked.rows.T @ proof)
    proof[np.abs(proof) < 1e-9 * np.abs(proof).max()] = 0.0
    members = np.flatnonzero(proof)
    left_over = stacked.rows.T @ proof
    proof[members] -= np.linalg.lstsq(stacked.rows[members].T, left_over, rcond=1e-9)[0]
    return Answer("infeasible", z, proof)
