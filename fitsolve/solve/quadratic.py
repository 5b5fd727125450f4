"""Quadratic: the sizes that spread the errors best, among those that keep every limit.

    minimise 1/2 |F z - g|^2   subject to   E z = e,  low <= G z <= high.

z are deviations from plan (mm), n of them; a row of F is a wish divided by its give or band, a
row of G a distance or a clearance; low = high makes a bound an equality. z is best exactly when
there are mu and lambda with

    F'(F z - g) = E'mu + G'lambda,    lambda >= 0 where G z = low,  <= 0 where G z = high,
                                      = 0 in between;

then F z is unique, and z as far as F, E and the active bounds fix it: of several equally good z
one near the plan is taken. Where no z keeps all rows there is a proof, y with

    E'y_e + G'y_g = 0  and  y_e'e + y_g'(low where y_g > 0, high where y_g < 0) > 0,

and every z must miss some row by at least that value over the sum of |y|.

Method: a programme of up to DENSE marks is solved densely (activeset). A larger one is solved
sparsely, whole (proximal), and certified piece by piece, a piece being marks that hang together
by any rows; pieces that fail and are small enough are solved densely. Whatever a method says, the conditions
above are worked out from the rows as they were given; what does not hold is tried by the next
method and else called `unproven`. Infeasible is only said with its proof.

Not here: which rows contradict, in few (contradict), what the rows mean (allocate).

Source: Karush-Kuhn-Tucker conditions and Farkas' lemma, any text on optimisation, such as
J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed. (2006), ch. 12, 16 (from memory).
"""

from __future__ import annotations

from dataclasses import field
from typing import Any

import numpy as np
import numpy.typing as npt

from fitsolve.light import dataclass, replace
from fitsolve.rows import Floats, Ints
from fitsolve.solve.activeset import solve_dense
from fitsolve.solve.certificate import FEASIBLE_MM, Answer, Certificate, Matrix, Stacked, Status, certify, contradicts

Signs = npt.NDArray[np.int8]

DENSE = 250
"""Up to so many marks a programme is solved densely without looking for its pieces."""


@dataclass(frozen=True, slots=True)
class Programme:
    """F (m, n), g (m,), E (p, n), e (p,), G (q, n), low and high (q,); matrices dense or CSR; mm.

    Rows of F are divided by their scales already. Bounds may be infinite.
    """

    objective: Matrix
    target: Floats
    equal: Matrix
    equal_to: Floats
    bounds: Matrix
    low: Floats
    high: Floats

    @property
    def size(self) -> int:
        """The number of marks n."""
        return int(self.objective.shape[1])


def _none() -> Ints:
    return np.zeros(0, dtype=np.intp)


@dataclass(frozen=True, slots=True)
class Optimum:
    """The best z (n,) with its multipliers, or the rows that no z can keep.

    multipliers (q,) are >= 0 at low, <= 0 at high, 0 in between; equal_multipliers (p,);
    active (q,) is -1 at low, +1 at high, 0 not held. A bound with low = high is active by the
    sign of its multiplier. When infeasible, multipliers and equal_multipliers are the
    proof y, and clash_equal, clash_bounds number the rows that take part in it.
    """

    z: Floats
    status: Status
    multipliers: Floats
    equal_multipliers: Floats
    active: Signs
    certificate: Certificate
    clash_equal: Ints = field(default_factory=_none)
    clash_bounds: Ints = field(default_factory=_none)


def solve(programme: Programme) -> Optimum:
    """The optimum with its certificate, or the proof that the rows contradict."""
    checked = _at_the_door(programme)
    crossed = np.flatnonzero(checked.low > checked.high)
    if len(crossed):
        return _crossed(checked, crossed[:1])
    dense = checked.size <= DENSE
    equal, bounds = checked.equal, checked.bounds
    stacked = Stacked(
        objective=_dense(checked.objective) if dense else checked.objective,
        target=checked.target,
        rows=np.concatenate([_dense(equal), _dense(bounds)]) if dense else _stack(equal, bounds),
        low=np.concatenate([checked.equal_to, checked.low]),
        high=np.concatenate([checked.equal_to, checked.high]),
    )
    if dense:
        return _judged(checked, stacked, solve_dense(stacked))
    from fitsolve.solve.proximal import solve_sparse

    return _judged(checked, stacked, solve_sparse(stacked))


def _at_the_door(programme: Programme) -> Programme:
    """The programme checked for shape and sense; bounds that cross by rounding meet in the middle."""
    n = programme.size
    shapes = [
        (programme.objective, programme.target),
        (programme.equal, programme.equal_to),
        (programme.bounds, programme.low),
        (programme.bounds, programme.high),
    ]
    for matrix, side in shapes:
        assert matrix.shape == (len(side), n), f"rows {matrix.shape}, {len(side)} values, {n} marks"
    assert np.isfinite(programme.target).all(), "a wish without a number"
    assert np.isfinite(programme.equal_to).all(), "an equality without a number"
    assert not np.isnan(programme.low).any(), "a lower bound that is no number"
    assert not np.isnan(programme.high).any(), "an upper bound that is no number"
    assert (programme.low < np.inf).all(), "a lower bound of +inf"
    assert (programme.high > -np.inf).all(), "an upper bound of -inf"
    gap = programme.low - programme.high
    meet = (gap > 0.0) & (gap <= FEASIBLE_MM)
    if not meet.any():
        return programme
    middle = (programme.low[meet] + programme.high[meet]) / 2
    low, high = programme.low.copy(), programme.high.copy()
    low[meet], high[meet] = middle, middle
    return replace(programme, low=low, high=high)


def _dense(matrix: Matrix) -> Floats:
    dense: Floats = matrix if isinstance(matrix, np.ndarray) else matrix.toarray()
    return np.asarray(dense, dtype=np.float64)


def _stack(upper: Matrix, lower: Matrix) -> Any:
    from scipy.sparse import csr_matrix, vstack

    return vstack([csr_matrix(upper), csr_matrix(lower)], format="csr")


def _crossed(programme: Programme, row: Ints) -> Optimum:
    """A bound whose low lies above its high contradicts itself."""
    p, q = len(programme.equal_to), len(programme.low)
    gap = float((programme.low - programme.high)[row].max())
    nothing = Certificate(np.inf, gap / 2, 0.0, 0.0)
    z, y, active = np.zeros(programme.size), np.zeros(q), np.zeros(q, dtype=np.int8)
    return Optimum(z, "infeasible", y, np.zeros(p), active, nothing, clash_bounds=row)


def _judged(programme: Programme, stacked: Stacked, answer: Answer) -> Optimum:
    """The answer with its conditions worked out anew; its status stands only if they hold."""
    p = len(programme.equal_to)
    multipliers = answer.multipliers
    status = answer.status
    certificate = certify(stacked, answer)
    clash_equal, clash_bounds = _none(), _none()
    if status == "infeasible":
        taking_part = np.flatnonzero(multipliers)
        clash_equal, clash_bounds = taking_part[taking_part < p], taking_part[taking_part >= p] - p
        if not contradicts(stacked, multipliers):
            status = "unproven"
    elif not certificate.holds:
        status = "unproven"
    active = -np.sign(multipliers[p:]).astype(np.int8)
    active[(active == 0) & (programme.low == programme.high)] = -1
    return Optimum(
        answer.z, status, multipliers[p:], multipliers[:p], active, certificate, clash_equal, clash_bounds
    )
