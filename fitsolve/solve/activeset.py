"""Active set: a dense convex quadratic programme, solved exactly; for pieces of a few hundred marks.

    minimise 1/2 |F z - g|^2   subject to   low <= A z <= high,

rows with low = high being equalities. Three changes of variable leave the simplest programme
there is, the point of a polyhedron nearest to a given point:

 1. z = z0 + N y, with z0 on the equalities and N an orthogonal basis of what they leave free.
 2. F N = Q R, the heaviest rows first (QR keeps its accuracy with weights that differ by powers
    of ten only in that order; F'F is never formed). Where F leaves directions free, they are
    split off by the singular values of F N with rows of length one, and a small pull delta
    towards where z stands now takes the place of R there.
 3. u = R (y - y now): minimise 1/2 |u - c|^2 subject to  low - A z <= B u <= high - A z,
    with B = A N R^-1 and c = Q'(g - F z).

A fast solver (daqp) proposes which rows are active; on those the answer is one more QR. If it
fails its own check, the dual method takes over: begin at c, take in the worst violated row,
let go what would pull the wrong way, and repeat. Each round raises the distance |u - c|
strictly, so no set of active rows comes twice and nothing can cycle, degenerate or not. Where
a row depends on active ones and nothing can be let go, the rows themselves are the proof that
no point satisfies them all: y with A'y = 0 and y'b > 0.

The three steps are then repeated from the new z, with residuals taken from F, A and g as they
were given. That is iterative refinement, and where delta is in play it is the proximal point
method, whose pull vanishes as z comes to rest.

Not here: splitting into pieces and certifying (quadratic), large sparse programmes (proximal).

Source: D. Goldfarb, A. Idnani, A numerically stable dual method for solving strictly convex
quadratic programs, Mathematical Programming 27 (1983); A. Bjorck, Numerical Methods for Least
Squares Problems (1996), null-space method and row order in QR; R. T. Rockafellar, Monotone
operators and the proximal point algorithm (1976). All from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from fitsolve.rows import Floats, Ints

Status = Literal["optimal", "infeasible", "unproven"]

FEASIBLE_MM = 1e-9
"""A bound missed by less is kept: rounding, not a fault. A contradiction is proven only beyond it."""
AIM_MM = 1e-10
"""What the method itself aims at, so that the check at FEASIBLE_MM has room."""
DEPENDENT = 1e-9
"""A row of length one whose part outside the others is shorter depends on them."""
EPS = 5e-15
"""Rounding of a short sum of numbers near one, with room."""
NOTHING = 1e-11
"""A coefficient (of rows like +1 -1) that is smaller than this after elimination is rounding."""
WRONG_SIGN = 1e-10
"""A multiplier may pull the wrong way by as much as moves F z by this part of itself."""
AT_REST = 5e-10
"""F z has come to rest when a step moves it by no more than this part of F z - g."""
BLUNT_MM = 1e-10
"""Forces are summed in more digits when rounding could move a mark by more than this."""
ROUNDS = 60
PULL = 0.1
SURE = 1e3
"""F fixes all marks, its singular values unasked, when unit wishes move none by this over the lightest weight."""


@dataclass(frozen=True, slots=True)
class Answer:
    """z (n,) and multipliers (rows,); when infeasible, multipliers hold the proof y instead."""

    status: Status
    z: Floats
    multipliers: Floats


@dataclass(frozen=True, slots=True)
class Equalities:
    """What the equality rows A_e z = b leave: z0, a basis N (n, k), and the pseudo-inverse of A_e (n, p)."""

    start: Floats
    basis: Floats
    inverse: Floats
    clash: Floats | None


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest-point programme: B (rows of length one), the lengths taken out, which rows they were.

    noise: how far rounding may have moved each row of B. A row whose part outside others is
    within it depends on them.
    """

    rows: Floats
    length: Floats
    number: Ints
    noise: Floats


@dataclass(frozen=True, slots=True)
class Held:
    """Active rows: their numbers in Nearest, side (-1 low, +1 high), and the QR of their transpose."""

    number: Ints
    side: Floats
    q: Floats
    r_inverse: Floats


@dataclass(frozen=True, slots=True)
class Move:
    """A step u (k,), multipliers (of the rows of Nearest), what is active; or a proof of contradiction."""

    u: Floats
    multipliers: Floats
    held: Held | None
    contradiction: bool = False


def solve_dense(objective: Floats, target: Floats, rows: Floats, low: Floats, high: Floats) -> Answer:
    """The minimiser, or a proof that there is none; shapes (m, n), (m,), (q, n), (q,), (q,)."""
    fixed = low == high
    equalities = settle_equalities(rows[fixed], low[fixed])
    if equalities.clash is not None:
        proof = np.zeros(len(low))
        proof[fixed] = equalities.clash
        return Answer("infeasible", equalities.start, proof)
    q, lift, flat = _reduce(objective, equalities.basis)
    bounded = np.flatnonzero((np.isfinite(low) | np.isfinite(high)) & ~fixed)
    nearest, settled = _nearest(rows, bounded, lift, flat, equalities.basis)
    z = equalities.start
    there = rows[settled] @ z
    missed = np.maximum(low[settled] - there, there - high[settled])
    if len(settled) and missed.max() > FEASIBLE_MM:
        proof = np.zeros(len(low))
        worst = settled[missed.argmax()]
        proof[worst] = 1.0 if rows[worst] @ z < low[worst] else -1.0
        return _complete_proof(z, proof, rows, fixed, equalities)
    return _refine(objective, target, rows, low, high, fixed, equalities, q, lift, nearest)


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


def _reduce(objective: Floats, basis: Floats) -> tuple[Floats, Floats, Floats]:
    """Q (m, k), T = N R^-1 (n, k) and its part (n, f) over directions that F leaves free."""
    reduced = objective @ basis
    weight = np.sqrt(np.einsum("ij,ij->i", objective, objective))
    reduced[np.abs(reduced) < NOTHING * weight[:, None]] = 0.0
    weights = weight[weight > 0.0]
    lightest = float(weights.min()) if len(weights) else 1.0
    m, k = reduced.shape
    if m >= k:
        q, inverse = _heavy_first(reduced, weight)
        if inverse is not None and (k == 0 or np.abs(inverse).max() * lightest < SURE):
            return q, basis @ inverse, basis[:, :0]
    unit = reduced / np.where(weight > 0.0, weight, 1.0)[:, None]
    turn, rank = _seen_first(unit)
    seen, flat = basis @ turn[:, :rank], basis @ turn[:, rank:]
    q, inverse = _heavy_first(reduced @ turn[:, :rank], weight)
    assert inverse is not None, "singular after its null space was taken out"
    pull = PULL * lightest
    q = np.hstack([q, np.zeros((m, k - rank))])
    return q, np.hstack([seen @ inverse, flat / pull]), flat


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


def _heavy_first(matrix: Floats, weight: Floats) -> tuple[Floats, Floats | None]:
    """Q and R^-1 of the matrix (m, k), m >= k; None in place of R^-1 when a pivot vanishes."""
    order = np.argsort(-weight, kind="stable")
    sorted_q, r = np.linalg.qr(matrix[order])
    q = np.empty_like(sorted_q)
    q[order] = sorted_q
    pivots = np.abs(np.diagonal(r))
    if len(pivots) and pivots.min() <= 1e-14 * pivots.max():
        return q, None
    return q, np.linalg.solve(r, np.eye(len(r)))


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


def _refine(
    objective: Floats,
    target: Floats,
    rows: Floats,
    low: Floats,
    high: Floats,
    fixed: npt.NDArray[np.bool_],
    equalities: Equalities,
    q: Floats,
    lift: Floats,
    nearest: Nearest,
) -> Answer:
    """Step after step from where z stands, until a step moves nothing.

    After the first step c comes from the forces that are out of balance at the marks. Where light
    wishes stand beside heavy ones that are at odds, those forces are differences of numbers too
    large for the last digits, which then are kept: the step itself needs only ordinary precision.
    """
    forces = _Forces(objective, target, rows)
    z, y, held = equalities.start, np.zeros(len(low)), None
    bound_rows = rows[nearest.number]
    bound_low, bound_high = low[nearest.number], high[nearest.number]
    c, before = q.T @ (target - objective @ z), np.inf
    for _ in range(ROUNDS):
        there = np.asarray(bound_rows @ z, dtype=np.float64)
        move = step(nearest, c, bound_low - there, bound_high - there, held)
        if move is None:
            return Answer("unproven", np.asarray(z, dtype=np.float64), np.zeros(len(low)))
        if move.contradiction:
            proof = np.zeros(len(low))
            proof[nearest.number] = move.multipliers / nearest.length
            return _complete_proof(np.asarray(z, dtype=np.float64), proof, rows, fixed, equalities)
        held = move.held
        z = z + lift @ move.u
        z = z + equalities.inverse @ (low[fixed] - rows[fixed] @ z)
        y[nearest.number] = move.multipliers / nearest.length
        y[fixed] = y[fixed] - equalities.inverse.T @ forces.left_over(z, y)
        moved = float(np.abs(move.u).max(initial=0.0))
        still = AT_REST * (1.0 + float(np.abs(c).max(initial=0.0)))
        if forces.sharpen(z):
            z, y, before = z.astype(np.longdouble), y.astype(np.longdouble), np.inf
        elif moved <= 1e-4 * still or (moved > 0.5 * before and moved <= 10 * still):
            return Answer("optimal", np.asarray(z, dtype=np.float64), np.asarray(y, dtype=np.float64))
        else:
            before = moved
        c = np.asarray(lift.T @ forces.left_over(z, y), dtype=np.float64) - nearest.rows.T @ move.multipliers
    return Answer("unproven", np.asarray(z, dtype=np.float64), np.zeros(len(low)))


class _Forces:
    """The forces F'(g - F z) + A'y left over at the marks, in more digits where they are needed."""

    def __init__(self, objective: Floats, target: Floats, rows: Floats) -> None:
        self.objective, self.target, self.rows = objective, target, rows
        self._asked = False

    def left_over(self, z: Floats, y: Floats) -> Floats:
        """What is out of balance at each mark (n,)."""
        return self.objective.T @ (self.target - self.objective @ z) + self.rows.T @ y

    def sharpen(self, z: Floats) -> bool:
        """Whether this first call went over to more digits: rounding of the heaviest force can move the lightest wish."""
        if self._asked:
            return False
        self._asked = True
        weight = np.abs(self.objective).max(axis=1, initial=0.0)
        heavy = float((weight * np.abs(self.objective @ z - self.target)).max(initial=0.0))
        light = float(weight[weight > 0.0].min(initial=np.inf))
        if 1e-16 * heavy <= BLUNT_MM * light**2:
            return False
        self.objective, self.target, self.rows = (
            part.astype(np.longdouble) for part in (self.objective, self.target, self.rows)
        )
        return True


def _complete_proof(
    z: Floats, proof: Floats, rows: Floats, fixed: npt.NDArray[np.bool_], equalities: Equalities
) -> Answer:
    """The proof with the equalities' share in it; whether it holds is for the caller to check."""
    proof[fixed] = -equalities.inverse.T @ (rows.T @ proof)
    proof[np.abs(proof) < 1e-9 * np.abs(proof).max()] = 0.0
    return Answer("infeasible", z, proof)


def step(nearest: Nearest, c: Floats, low: Floats, high: Floats, held: Held | None) -> Move | None:
    """The point u nearest to c with low <= B u <= high (bounds in mm, of the rows as given)."""
    if held is not None:
        move = _on(nearest, c, low, high, held)
        if move is not None:
            return move
    else:
        guess = _propose(nearest, c, low, high)
        if guess is not None:
            move = _on(nearest, c, low, high, guess)
            if move is not None:
                return move
    return dual_method(nearest, c, low, high)


def _propose(nearest: Nearest, c: Floats, low: Floats, high: Floats) -> Held | None:
    """What daqp finds active; None when it gives up or finds the bounds contradict."""
    if len(low) == 0:
        return _hold(nearest, np.zeros(0, dtype=np.intp), np.zeros(0))
    there = nearest.rows @ c * nearest.length
    if (there >= low).all() and (there <= high).all():
        return _hold(nearest, np.zeros(0, dtype=np.intp), np.zeros(0))
    import daqp

    lower = np.where(np.isfinite(low), low / nearest.length, -1e30)
    upper = np.where(np.isfinite(high), high / nearest.length, 1e30)
    kind = np.zeros(len(low), dtype=np.int32)
    _, _, flag, found = daqp.solve(np.eye(len(c)), -c, nearest.rows, upper, lower, kind, primal_tol=1e-10)
    if flag != 1:
        return None
    pulls = found["lam"]
    number = np.flatnonzero(pulls)
    return _hold(nearest, number, np.sign(pulls[number]))


def _hold(nearest: Nearest, number: Ints, side: Floats) -> Held | None:
    """The active rows factored; None when they depend on each other."""
    k = nearest.rows.shape[1]
    if len(number) == 0:
        return Held(number, side, np.zeros((k, 0)), np.zeros((0, 0)))
    if len(number) > k:
        return None
    q, r = np.linalg.qr(nearest.rows[number].T)
    if (np.abs(np.diagonal(r)) < nearest.noise[number]).any():
        return None
    return Held(number, side, q, np.linalg.solve(r, np.eye(len(number))))


def _nearest_on(nearest: Nearest, c: Floats, low: Floats, high: Floats, held: Held) -> tuple[Floats, Floats]:
    """The point nearest to c on the active rows, and the multipliers of those rows.

    c may be long (wishes at odds) where the step is short; projecting twice keeps the rounding
    of what is long out of the rows.
    """
    at = np.where(held.side < 0, low[held.number], high[held.number]) / nearest.length[held.number]
    forward = held.r_inverse.T @ at
    across = held.q.T @ c
    left = c - held.q @ across
    left = left - held.q @ (held.q.T @ left)
    return left + held.q @ forward, held.r_inverse @ (forward - across)


def _on(nearest: Nearest, c: Floats, low: Floats, high: Floats, held: Held) -> Move | None:
    """The nearest point on the active rows; None when it breaks another bound or pulls the wrong way."""
    u, pulls = _nearest_on(nearest, c, low, high, held)
    allowed = WRONG_SIGN * (1.0 + float(np.abs(pulls).max(initial=0.0)))
    if (pulls * held.side).max(initial=-np.inf) > allowed:
        return None
    missed = _missed(nearest, u, low, high)
    missed[held.number] = 0.0
    if missed.max(initial=0.0) > 0.0:
        return None
    multipliers = np.zeros(len(low))
    multipliers[held.number] = np.where(pulls * held.side > 0.0, 0.0, pulls)
    return Move(u, multipliers, held)


def _missed(nearest: Nearest, u: Floats, low: Floats, high: Floats) -> Floats:
    """By how much each row is missed, mm; nothing when it is less than rounding at a step this long.

    What a long step leaves, the next round takes back with a short one.
    """
    there = nearest.rows @ u * nearest.length
    missed = np.maximum(low - there, there - high)
    missed[missed <= AIM_MM + EPS * nearest.length * np.abs(u).max(initial=0.0)] = 0.0
    return missed


def dual_method(nearest: Nearest, c: Floats, low: Floats, high: Floats) -> Move | None:
    """The nearest point by the dual method: always right or proven contradictory, rounding apart.

    n_i = side_i * b_i points into the wrong; a row is taken in by growing its pull t:
    u moves against the part of n outside the active rows, their pulls change by -r t, and the
    first to reach zero is let go.
    """
    number: list[int] = []
    side: list[float] = []
    pulls = np.zeros(0)
    u = c.copy()
    passed = np.zeros(len(low), dtype=bool)
    held = _hold(nearest, np.zeros(0, dtype=np.intp), np.zeros(0))
    for _ in range(20 * (len(low) + len(c)) + 100):
        assert held is not None
        missed = _missed(nearest, u, low, high)
        missed[number] = 0.0
        missed[passed] = 0.0
        if missed.max(initial=0.0) == 0.0:
            multipliers = np.zeros(len(low))
            multipliers[number] = -np.array(side) * pulls
            return Move(u, multipliers, held)
        new = int(missed.argmax())
        there = float(nearest.rows[new] @ u) * nearest.length[new]
        sign = -1.0 if low[new] - there > there - high[new] else 1.0
        kept = number, side, pulls, held
        taken, number, side, pulls, held = _take_in(nearest, new, sign, missed[new], *kept)
        if held is None:
            return None
        if not taken and missed[new] > FEASIBLE_MM:
            multipliers = np.zeros(len(low))
            multipliers[new] = -sign
            multipliers[number] = pulls * np.array(side)
            return Move(u, multipliers, None, contradiction=True)
        if not taken:
            number, side, pulls, held = kept
            passed[new] = True
            continue
        passed[:] = False
        u, along = _nearest_on(nearest, c, low, high, held)
        pulls = np.maximum(-along * np.array(side), 0.0)
    return None


def _take_in(
    nearest: Nearest,
    new: int,
    sign: float,
    missed: float,
    number: list[int],
    side: list[float],
    pulls: Floats,
    held: Held,
) -> tuple[bool, list[int], list[float], Floats, Held | None]:
    """Take one row in, letting go of others as their pulls reach zero.

    When it cannot be taken in, `pulls` come back as the shares r (all <= 0) of the proof.
    """
    n = sign * nearest.rows[new]
    short = missed / nearest.length[new]
    pull = 0.0
    number, side = list(number), list(side)
    while True:
        along = held.q.T @ n
        outside = n - held.q @ along
        outside = outside - held.q @ (held.q.T @ outside)
        shares = (held.r_inverse @ along) * np.array(side)
        square = float(outside @ outside)
        reach = np.full(len(shares), np.inf)
        growing = shares > 1e-12
        reach[growing] = pulls[growing] / shares[growing]
        first = float(reach.min(initial=np.inf))
        noise = nearest.noise[new] + float(np.abs(shares) @ nearest.noise[held.number])
        full = short / square if square > noise**2 else np.inf
        if first == np.inf and full == np.inf:
            return False, number, side, shares, held
        t = min(first, full)
        pulls, pull, short = pulls - t * shares, pull + t, short - t * square
        if full <= first:
            number.append(new)
            side.append(sign)
            again = _hold(nearest, np.array(number, dtype=np.intp), np.array(side))
            return True, number, side, np.append(pulls, pull), again
        gone = int(reach.argmin())
        del number[gone], side[gone]
        pulls = np.maximum(np.delete(pulls, gone), 0.0)
        after = _hold(nearest, np.array(number, dtype=np.intp), np.array(side))
        assert after is not None, "a part of independent rows is independent"
        held = after
