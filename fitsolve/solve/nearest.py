"""Nearest: the point of a polyhedron nearest to a given one, or the proof that the polyhedron is empty.

    minimise 1/2 |u - c|^2   subject to   low <= B u <= high.

A fast solver (daqp) proposes which rows are active; on those the answer is one QR. If it fails
its own check, the dual method takes over: begin at c, take in the worst missed row, let go what
would pull the wrong way, and repeat. Each round raises the distance |u - c| strictly, so no set of
active rows comes twice and nothing can cycle, degenerate or not. Where a row depends on active
ones and nothing can be let go, the rows themselves are the proof that no point satisfies them
all: y with B'y = 0 and y'b > 0.

Rows have length one; low and high are in mm, of the rows as they were given, and so are the
tolerances.

Source: D. Goldfarb, A. Idnani, A numerically stable dual method for solving strictly convex
quadratic programs, Mathematical Programming 27 (1983) (from memory).
"""

from __future__ import annotations

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Floats, Ints
from fitsolve.solve.certificate import FEASIBLE_MM

AIM_MM = 1e-10
"""What the method itself aims at, so that the check at FEASIBLE_MM has room."""
EPS = 5e-15
"""Rounding of a short sum of numbers near one, with room."""
WRONG_SIGN = 1e-10
"""A multiplier may pull the wrong way by as much as moves u by this part of the longest pull."""


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


@dataclass(frozen=True, slots=True)
class Aim:
    """What is asked: the point nearest to c (k,) with low <= B u <= high (m,), in mm."""

    low: Floats
    high: Floats
    c: Floats


@dataclass(frozen=True, slots=True)
class Taken:
    """Rows taken in, with their sides, their pulls, and their QR; None for rows that depend on each other."""

    number: list[int]
    side: list[float]
    pulls: Floats
    held: Held | None


def nearest_point(
    nearest: Nearest, low: Floats, high: Floats, c: Floats, before: Move | None = None
) -> Move | None:
    """The point u nearest to c + the pulls of the move before, with low <= B u <= high, in mm.

    The pulls before, -B'y, are kept apart from c: they can be long, and as long as the same rows are
    active they do not move u, so their rounding must not either.
    """
    if before is not None and before.held is not None:
        move = _on(nearest, Aim(low, high, c), before.held, before.multipliers)
        if move is not None:
            return move
        return dual_method(nearest, low, high, c - nearest.rows.T @ before.multipliers)
    guess = _propose(nearest, c, low, high)
    move = None if guess is None else _on(nearest, Aim(low, high, c), guess, np.zeros(len(low)))
    return dual_method(nearest, low, high, c) if move is None else move


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


def _nearest_on(nearest: Nearest, aim: Aim, held: Held) -> tuple[Floats, Floats]:
    """The point nearest to c on the active rows, and the multipliers of those rows.

    c may be long (wishes at odds) where the step is short; projecting twice keeps the rounding
    of what is long out of the rows.
    """
    at = np.where(held.side < 0, aim.low[held.number], aim.high[held.number]) / nearest.length[held.number]
    forward = held.r_inverse.T @ at
    across = held.q.T @ aim.c
    left = aim.c - held.q @ across
    left = left - held.q @ (held.q.T @ left)
    return left + held.q @ forward, held.r_inverse @ (forward - across)


def _on(nearest: Nearest, aim: Aim, held: Held, before: Floats) -> Move | None:
    """The nearest point on the active rows; None when it breaks another bound or pulls the wrong way."""
    u, more = _nearest_on(nearest, aim, held)
    pulls = before[held.number] + more
    allowed = WRONG_SIGN * (1.0 + float(np.abs(pulls).max(initial=0.0)))
    if (pulls * held.side).max(initial=-np.inf) > allowed:
        return None
    missed = _missed(nearest, u, aim.low, aim.high)
    missed[held.number] = 0.0
    if missed.max(initial=0.0) > 0.0:
        return None
    multipliers = np.zeros(len(aim.low))
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


def dual_method(nearest: Nearest, low: Floats, high: Floats, c: Floats) -> Move | None:
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
        before = Taken(number, side, pulls, held)
        taken, after = _take_in(nearest, new, sign, missed[new], before)
        number, side, pulls, held = after.number, after.side, after.pulls, after.held
        if held is None:
            return None
        if not taken and missed[new] > _provable(nearest, new, held, pulls, u):
            multipliers = np.zeros(len(low))
            multipliers[new] = -sign
            multipliers[number] = pulls * np.array(side)
            return Move(u, multipliers, None, contradiction=True)
        if not taken:
            number, side, pulls, held = before.number, before.side, before.pulls, before.held
            passed[new] = True
            continue
        passed[:] = False
        u, along = _nearest_on(nearest, Aim(low, high, c), held)
        pulls = np.maximum(-along * np.array(side), 0.0)
    return None


def _provable(nearest: Nearest, new: int, held: Held, shares: Floats, u: Floats) -> float:
    """By how much a row must be missed, mm, for the proof to be more than rounding.

    The excess is spread over the weights of the proof; and a long step among rows that are nearly
    parallel is as wrong as their inverse is large. What that hides, the next, short step shows.
    """
    spread = 1.0 + float(nearest.length[new] * np.sum(np.abs(shares) / nearest.length[held.number]))
    steep = 1.0 + float(np.abs(held.r_inverse).max(initial=0.0))
    return FEASIBLE_MM * spread + EPS * float(nearest.length[new] * np.abs(u).max(initial=0.0)) * steep


def _take_in(nearest: Nearest, new: int, sign: float, missed: float, before: Taken) -> tuple[bool, Taken]:
    """Take one row in, letting go of others as their pulls reach zero.

    When it cannot be taken in, `pulls` come back as the shares r (all <= 0) of the proof.
    """
    n = sign * nearest.rows[new]
    short = missed / nearest.length[new]
    pull = 0.0
    number, side, pulls, held = list(before.number), list(before.side), before.pulls, before.held
    assert held is not None
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
            return False, Taken(number, side, shares, held)
        t = min(first, full)
        pulls, pull, short = pulls - t * shares, pull + t, short - t * square
        if full <= first:
            number.append(new)
            side.append(sign)
            again = _hold(nearest, np.array(number, dtype=np.intp), np.array(side))
            return True, Taken(number, side, np.append(pulls, pull), again)
        gone = int(reach.argmin())
        del number[gone], side[gone]
        pulls = np.maximum(np.delete(pulls, gone), 0.0)
        after = _hold(nearest, np.array(number, dtype=np.intp), np.array(side))
        if after is None:
            return False, Taken(number, side, pulls, None)
        held = after
