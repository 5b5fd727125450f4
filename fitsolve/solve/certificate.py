"""Certificate: whether an answer is the optimum it claims to be, worked out from the rows as given.

For  minimise 1/2 |F z - g|^2,  low <= A z <= high  (equalities have low = high), z is best exactly
when there is y with

    F'(F z - g) = A'y,   y >= 0 where A z = low, <= 0 where A z = high, 0 in between.

Both sides are forces at the marks. How far they are from balance is measured against the forces
that meet at a mark, or against what rounding alone may leave there, whichever is more. No z keeps
all rows exactly when there is y with A'y = 0 and y'b > 0, b being low where y > 0 and high where
y < 0; every z then misses some row by at least y'b over the sum of |y|.

Not here: any method that finds z or y (activeset, nearest, proximal).

Source: Karush-Kuhn-Tucker conditions and Farkas' lemma, any text on optimisation, such as
J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed. (2006), ch. 12 (from memory).
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Floats, Ints

Matrix = Any
"""A numpy array, or a scipy.sparse matrix in CSR (scipy carries no types)."""
Status = Literal["optimal", "infeasible", "unproven"]

FEASIBLE_MM = 1e-9
"""A bound missed by less is kept: rounding, not a fault. A contradiction is proven only beyond it."""
STATIONARY = 1e-8
"""The force left over at a mark, as a part of the forces that meet there."""
ROUNDING = 1e-6
"""A residual is known to 1e-14 of what it is a difference of, that is STATIONARY times this."""
LIKE_THE_WORST = 0.1
"""And no residual better than to 1e-9 of the largest one."""
NOTHING = 1e-6
"""Forces that are all below this (a wish of weight 0.1 missed by 0.0001 mm is 1e-6) leave no scale."""

TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Stacked:
    """F (m, n), g (m,), and equalities and bounds in one list A (q, n), low and high (q,)."""

    objective: Matrix
    target: Floats
    rows: Matrix
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True)
class Answer:
    """z (n,) and multipliers y (q,); when infeasible, y is the proof instead."""

    status: Status
    z: Floats
    multipliers: Floats


@dataclass(frozen=True, slots=True)
class Pieces:
    """Which marks (n,), wishes (m,) and rows (q,) belong to which of `count` pieces that hang together."""

    marks: Ints
    wishes: Ints
    rows: Ints
    count: int

    def most(self, values: Floats, piece: Ints) -> Floats:
        """The largest value in each piece (count,), at least 0."""
        largest = np.zeros(self.count)
        np.maximum.at(largest, piece, values)
        return largest


@dataclass(frozen=True, slots=True)
class Conditions:
    """How far the conditions are from holding: at each mark (n,), and at each row (q,)."""

    stationarity: Floats
    primal: Floats
    dual: Floats
    complementarity: Floats


@dataclass(frozen=True, slots=True)
class Certificate:
    """How far the conditions of an optimum are from holding; all zero but for rounding.

    stationarity: the largest force left over at a mark, as a part of the forces that meet there.
    primal: the most any row is missed by, mm. dual: the largest multiplier that pulls the
    wrong way, as a part of the largest. complementarity: the largest of min(distance from the
    bound in mm, multiplier as a part of the largest).
    """

    stationarity: float
    primal: float
    dual: float
    complementarity: float

    @property
    def holds(self) -> bool:
        """Whether the conditions hold to rounding."""
        return (
            self.stationarity <= STATIONARY
            and self.primal <= FEASIBLE_MM
            and self.dual <= STATIONARY
            and self.complementarity <= FEASIBLE_MM
        )


def certify(stacked: Stacked, answer: Answer) -> Certificate:
    """The worst of the conditions."""
    worst = conditions(stacked, answer)
    return Certificate(
        float(worst.stationarity.max(initial=0.0)),
        float(worst.primal.max(initial=0.0)),
        float(worst.dual.max(initial=0.0)),
        float(worst.complementarity.max(initial=0.0)),
    )


def conditions(stacked: Stacked, answer: Answer, pieces: Pieces | None = None) -> Conditions:
    """How far each condition is from holding, every piece measured on its own scale."""
    objective, rows, low, high = stacked.objective, stacked.rows, stacked.low, stacked.high
    z, y = answer.z, answer.multipliers
    residual = objective @ z - stacked.target
    missed = np.abs(residual)
    heavy = abs(objective)
    meeting = heavy.T @ missed + abs(rows).T @ np.abs(y)
    worst: Floats | float
    strongest: Floats | float
    farthest: Floats | float
    if pieces is None:
        worst, strongest = missed.max(initial=0.0), np.abs(y).max(initial=0.0)
        farthest = np.abs(z).max(initial=0.0)
    else:
        worst = pieces.most(missed, pieces.wishes)[pieces.wishes]
        farthest = pieces.most(np.abs(z), pieces.marks)[pieces.wishes]
        strongest = pieces.most(np.abs(y), pieces.rows)[pieces.rows]
    spoken = np.asarray(heavy.sum(axis=1)).ravel() * farthest + np.abs(stacked.target)
    rounding = heavy.T @ (LIKE_THE_WORST * worst + ROUNDING * spoken)
    if pieces is None:
        floor = rounding.max(initial=NOTHING)
    else:
        floor = np.maximum(pieces.most(rounding, pieces.marks)[pieces.marks], NOTHING)
    left_over = objective.T @ residual - rows.T @ y
    there = rows @ z
    wrong = np.maximum(np.where(np.isfinite(low), 0.0, y), np.where(np.isfinite(high), 0.0, -y))
    away = np.where(y > 0.0, np.abs(there - low), np.where(y < 0.0, np.abs(high - there), 0.0))
    strongest = strongest + TINY
    return Conditions(
        stationarity=np.abs(left_over) / np.maximum(meeting, floor),
        primal=np.maximum(np.maximum(low - there, there - high), 0.0),
        dual=np.maximum(wrong, 0.0) / strongest,
        complementarity=np.minimum(away, np.abs(y) / strongest),
    )


def contradicts(stacked: Stacked, y: Floats) -> bool:
    """Whether y proves that every z misses some row by more than rounding.

    If every row were missed by t at most, y'b would be at most t |y|_1 + |A'y|_1 |z|_max; the
    second term is rounding, counted for marks within ten metres of their plan.
    """
    bound = np.where(y > 0.0, stacked.low, np.where(y < 0.0, stacked.high, 0.0))
    if not np.isfinite(bound).all():
        return False
    left_over = float(np.abs(stacked.rows.T @ y).sum())
    return bool(y @ bound - 1e4 * left_over > FEASIBLE_MM * np.abs(y).sum())
