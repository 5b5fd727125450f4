"""Contradict: which limits cannot all hold, in few; and the least by which they must give way.

Rows  E z = e,  low <= G z <= high  cannot all hold exactly when there are weights y (positive at
a low limit, negative at a high one) with

    E'y_e + G'y_g = 0   and   y_e'e + y_g'(low or high) = excess > 0.

*Irreducible.* A contradiction is worth reading when dropping any one row of it removes it. The
irreducible ones are the vertices of the set of all such y: a vertex's rows depend on each other
in one way only. The dual method of `activeset` ends at a vertex by itself; from a large
programme's proof, which may be a mixture, a linear programme over its rows takes one. A deletion filter
then tries every member of a set that is short enough to read. When a set is
found its rows are laid aside and the rest is asked again, so that contradictions that share no row
are all found. Sets that share rows are not all found so, and a row may have to give way that stands
in none of them. With v what the rows are missed by, v / scale^2 and the forces of the firm rows
balance; they are a mixture of irreducible sets, and each of those has the excess y'v > 0. So for
any row that gives way a linear programme finds a set in which it stands.

*Give way.* v, the amounts by which rows are missed, minimise

    sum (v / scale)^2   over the rows that may be relaxed, the others being kept.

v is unique; z is not. It is the quadratic programme over z and s = v / scale, with objective s.

Not here: words for it, and whether a fact misses by more than its uncertainty.

Source: J. Gleeson, J. Ryan, Identifying minimally infeasible subsystems of inequalities, ORSA
Journal on Computing 2 (1990), for the vertices; J. Chinneck, Feasibility and Infeasibility in
Optimization (2008), for elastic programmes and the deletion filter (both from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from fitsolve.light import dataclass, replace
from fitsolve.rows import Floats, Ints
from fitsolve.solve.certificate import Status
from fitsolve.solve.quadratic import DENSE, Programme, solve

Mask = npt.NDArray[np.bool_]

KEPT_MM = 1e-9
"""A row missed by less is kept."""
READABLE = 60
"""A set of up to so many rows has every member tried by the deletion filter."""
TAKES_PART = 1e-7
"""A row with less than this part of the largest weight takes no part in a contradiction."""


@dataclass(frozen=True)
class Contradiction:
    """Rows that cannot all hold, though any of them dropped the rest can.

    equal, bounds: row numbers; sides: -1 where a bound's low limit takes part, +1 its high one.
    The weights y, the largest of size one, make the rows cancel; bound_weights are positive at low
    limits. excess_mm: what is left over, y'b; with weights of one all round it is how much too
    long the pieces are for their place.
    """

    equal: Ints
    bounds: Ints
    sides: Ints
    equal_weights: Floats
    bound_weights: Floats
    excess_mm: float


@dataclass(frozen=True)
class Relaxation:
    """By how much rows are missed, mm: equal (p,) and bounds (q,), negative under a low limit; at z (n,).

    status is "infeasible" when the rows that may not be relaxed contradict each other already.
    """

    status: Status
    equal: Floats
    bounds: Floats
    z: Floats


def contradictions(programme: Programme) -> tuple[Contradiction, ...]:
    """Irreducible contradictions that share no row, until what is left can all hold."""
    found: list[Contradiction] = []
    for piece, equal, bounds in _pieces(_without_wishes(programme)):
        while True:
            one = _one(piece)
            if one is None:
                break
            found.append(replace(one, equal=equal[one.equal], bounds=bounds[one.bounds]))
            equal_left = np.setdiff1d(np.arange(len(equal)), one.equal)
            bounds_left = np.setdiff1d(np.arange(len(bounds)), one.bounds)
            piece = _some_rows(piece, equal_left, bounds_left)
            equal, bounds = equal[equal_left], bounds[bounds_left]
    return tuple(found)


@dataclass(frozen=True)
class GivingWay:
    """What a compromise rests on: the sign (p,) of the weight of each equality that is missed, else 0;
    whether bounds (q,) may weigh at their low and at their high limit: missed there, or firm and touching;
    which bounds (q,) are missed."""

    equal_sign: Ints
    at_low: Mask
    at_high: Mask
    missed: Mask


def further_contradictions(
    programme: Programme, giving: GivingWay, known: tuple[Contradiction, ...]
) -> tuple[Contradiction, ...]:
    """For each row that gives way and stands in no known contradiction, an irreducible one in which it does."""
    p = len(programme.equal_to)
    waiting = np.concatenate([giving.equal_sign != 0, giving.missed])
    for one in known:
        waiting[one.equal], waiting[p + one.bounds] = False, False
    low, high = np.flatnonzero(giving.at_low), np.flatnonzero(giving.at_high)
    held = np.flatnonzero(giving.equal_sign)
    row = np.concatenate([held, p + low, p + high])
    sign = np.concatenate([giving.equal_sign[held], np.ones(len(low)), -np.ones(len(high))])
    found: list[Contradiction] = []
    for wanted in np.flatnonzero(waiting).tolist():
        if not waiting[wanted]:
            continue
        waiting[wanted] = False
        y = _circuit(programme, row, sign, wanted)
        if y is None:
            continue
        members = np.flatnonzero(np.abs(y) > TAKES_PART * np.abs(y).max())
        one = _contradiction(programme, members, y)
        if one.excess_mm > KEPT_MM:
            found.append(one)
            waiting[members] = False
    return tuple(found)


def _circuit(programme: Programme, row: Ints, sign: Floats, wanted: int) -> Floats | None:
    """Weights (p + q,) that balance, of as few rows (with these signs) as can be, the wanted one among them."""
    from scipy.optimize import linprog
    from scipy.sparse import csr_matrix, vstack

    rows = vstack([csr_matrix(programme.equal), csr_matrix(programme.bounds)], format="csr")
    signed = csr_matrix(rows[row].multiply(sign[:, None])).T
    least = (row == wanted).astype(np.float64)
    answer = linprog(
        np.ones(len(row)),
        A_eq=signed,
        b_eq=np.zeros(signed.shape[0]),
        bounds=np.column_stack([least, np.where(least, 1.0, np.inf)]),
        method="highs-ds",
    )
    if answer.x is None:
        return None
    y = np.zeros(rows.shape[0])
    np.add.at(y, row, sign * answer.x)
    return y


def least_relaxation(
    programme: Programme, equal_scale: Floats, bounds_scale: Floats, may_equal: Mask, may_bounds: Mask
) -> Relaxation:
    """The least by which the rows that may be relaxed must give way; scales (p,), (q,) in mm."""
    p, q = len(programme.equal_to), len(programme.low)
    equal, bounds = np.zeros(p), np.zeros(q)
    crossed = np.flatnonzero((programme.low - programme.high > KEPT_MM) & ~may_bounds)
    if len(crossed):
        return Relaxation("infeasible", equal, bounds, np.zeros(programme.size))
    elastic = _elastic(programme, equal_scale, bounds_scale, may_equal, may_bounds)
    optimum = solve(elastic)
    if optimum.status == "infeasible":
        return Relaxation("infeasible", equal, bounds, np.zeros(programme.size))
    z = optimum.z[: programme.size]
    equal = np.where(may_equal, programme.equal @ z - programme.equal_to, 0.0)
    there = programme.bounds @ z
    over, under = np.maximum(there - programme.high, 0.0), np.maximum(programme.low - there, 0.0)
    bounds = np.where(may_bounds, np.where(over >= under, over, -under), 0.0)
    equal[np.abs(equal) <= KEPT_MM] = 0.0
    bounds[np.abs(bounds) <= KEPT_MM] = 0.0
    return Relaxation(optimum.status, equal, bounds, z)


def _elastic(
    programme: Programme, equal_scale: Floats, bounds_scale: Floats, may_equal: Mask, may_bounds: Mask
) -> Programme:
    """The programme over (z, s): every row that may give way has a term scale * s of its own."""
    n, p, q = programme.size, len(programme.equal_to), len(programme.low)
    give_equal, give_bounds = np.flatnonzero(may_equal), np.flatnonzero(may_bounds)
    free = len(give_equal) + len(give_bounds)
    low, high = programme.low, programme.high
    dense = isinstance(programme.equal, np.ndarray) and isinstance(programme.bounds, np.ndarray)
    if dense and n + free <= DENSE:
        equal, bounds = np.zeros((p, free)), np.zeros((q, free))
        columns = np.arange(free)
        equal[give_equal, columns[: len(give_equal)]] = -equal_scale[give_equal]
        bounds[give_bounds, columns[len(give_equal) :]] = -bounds_scale[give_bounds]
        return Programme(
            np.hstack([np.zeros((free, n)), np.eye(free)]),
            np.zeros(free),
            np.hstack([programme.equal, equal]),
            programme.equal_to,
            np.hstack([programme.bounds, bounds]),
            low,
            high,
        )
    from scipy.sparse import csr_matrix, hstack, identity

    columns = np.arange(free)
    at_equal, at_bounds = columns[: len(give_equal)], columns[len(give_equal) :]
    equal = csr_matrix((-equal_scale[give_equal], (give_equal, at_equal)), shape=(p, free))
    bounds = csr_matrix((-bounds_scale[give_bounds], (give_bounds, at_bounds)), shape=(q, free))
    return Programme(
        hstack([csr_matrix((free, n)), identity(free)], format="csr"),
        np.zeros(free),
        hstack([csr_matrix(programme.equal), equal], format="csr"),
        programme.equal_to,
        hstack([csr_matrix(programme.bounds), bounds], format="csr"),
        low,
        high,
    )


def _without_wishes(programme: Programme) -> Programme:
    empty: Any = programme.objective[:0]
    return replace(programme, objective=empty, target=np.zeros(0))


def _some_rows(programme: Programme, equal: Ints, bounds: Ints) -> Programme:
    return replace(
        programme,
        equal=programme.equal[equal],
        equal_to=programme.equal_to[equal],
        bounds=programme.bounds[bounds],
        low=programme.low[bounds],
        high=programme.high[bounds],
    )


def _used_columns(programme: Programme) -> Programme:
    """The same rows over the marks they speak of; rows in few stand densely."""
    used = np.union1d(np.nonzero(programme.equal)[1], np.nonzero(programme.bounds)[1])
    equal, bounds = programme.equal[:, used], programme.bounds[:, used]
    if len(used) <= DENSE:
        equal = equal if isinstance(equal, np.ndarray) else equal.toarray()
        bounds = bounds if isinstance(bounds, np.ndarray) else bounds.toarray()
    return replace(
        programme, objective=np.zeros((0, len(used))), target=np.zeros(0), equal=equal, bounds=bounds
    )


def _pieces(programme: Programme) -> list[tuple[Programme, Ints, Ints]]:
    """The rows of each set of marks that hang together, and their numbers; not of all sets that can hold."""
    from scipy.sparse import coo_matrix, csr_matrix, vstack
    from scipy.sparse.csgraph import connected_components

    p, n = len(programme.equal_to), programme.size
    rows = vstack([csr_matrix(programme.equal), csr_matrix(programme.bounds)], format="csr")
    entry = rows.tocoo()
    links = coo_matrix((np.ones(entry.nnz), (entry.row, rows.shape[0] + entry.col)), (sum(rows.shape),) * 2)
    _, label = connected_components(links, directed=False)
    suspects = np.arange(rows.shape[0])
    if n > DENSE:
        suspects = _missed_rows(programme)
    pieces = []
    of_row = label[: rows.shape[0]]
    order = np.argsort(of_row, kind="stable")
    first = np.searchsorted(of_row[order], np.unique(of_row[suspects]), "left")
    last = np.searchsorted(of_row[order], np.unique(of_row[suspects]), "right")
    for a, b in zip(first, last, strict=True):
        mine = order[a:b]
        equal, bounds = mine[mine < p], mine[mine >= p] - p
        pieces.append((_used_columns(_some_rows(programme, equal, bounds)), equal, bounds))
    return pieces


def _missed_rows(programme: Programme) -> Ints:
    """The rows that are missed when all may give way alike: every contradiction has some of them."""
    p, q = len(programme.equal_to), len(programme.low)
    by = least_relaxation(programme, np.ones(p), np.ones(q), np.ones(p, bool), np.ones(q, bool))
    return np.concatenate([np.flatnonzero(by.equal), p + np.flatnonzero(by.bounds)])


def _one(programme: Programme) -> Contradiction | None:
    """An irreducible contradiction among the rows; None when they can all hold."""
    crossed = np.flatnonzero(programme.low - programme.high > KEPT_MM)
    if len(crossed):
        row = crossed[0]
        both, none = np.array([row, row], dtype=np.intp), np.zeros(0, dtype=np.intp)
        excess = float(programme.low[row] - programme.high[row])
        sides = np.array([-1, 1], dtype=np.intp)
        return Contradiction(none, both, sides, np.zeros(0), np.array([1.0, -1.0]), excess)
    y = _proof(programme)
    if y is None:
        return None
    members = np.flatnonzero(np.abs(y) > TAKES_PART * np.abs(y).max())
    if len(members) <= READABLE:
        members, y = _filtered(programme, members, y)
    return _contradiction(programme, members, y)


def _proof(programme: Programme) -> Floats | None:
    """Weights y (p + q,) of a contradiction, at a vertex; None when there is none."""
    p = len(programme.equal_to)
    if programme.size <= DENSE:
        optimum = solve(programme)
        if optimum.status != "infeasible":
            return None
        return np.concatenate([optimum.equal_multipliers, optimum.multipliers])
    q = len(programme.low)
    by = least_relaxation(programme, np.ones(p), np.ones(q), np.ones(p, bool), np.ones(q, bool))
    mixed = -np.concatenate([by.equal, by.bounds])
    if not mixed.any():
        return None
    taking_part = np.flatnonzero(mixed)
    equal, bounds = taking_part[taking_part < p], taking_part[taking_part >= p] - p
    few = _used_columns(_some_rows(programme, equal, bounds))
    few_y = _proof(few) if few.size <= DENSE else _vertex(few, mixed[taking_part])
    y = np.zeros(p + q)
    y[taking_part] = mixed[taking_part] if few_y is None else few_y
    return y


def _vertex(programme: Programme, mixed: Floats) -> Floats | None:
    """A vertex of the weights with the signs of `mixed`, in which all rows take part."""
    from scipy.optimize import linprog
    from scipy.sparse import csr_matrix, vstack

    sign = np.sign(mixed)
    limit = np.where(sign[len(programme.equal_to) :] > 0, programme.low, programme.high)
    b = sign * np.concatenate([programme.equal_to, limit])
    rows = vstack([csr_matrix(programme.equal), csr_matrix(programme.bounds)], format="csr")
    signed = csr_matrix(rows.multiply(sign[:, None])).T
    balance = vstack([signed, csr_matrix(b[None, :])], format="csr")
    wanted = np.append(np.zeros(signed.shape[0]), 1.0)
    cost = 1.0 / np.abs(mixed)
    answer = linprog(cost, A_eq=balance, b_eq=wanted, bounds=(0, None), method="highs-ds")
    return None if answer.x is None else sign * answer.x


def _filtered(programme: Programme, members: Ints, y: Floats) -> tuple[Ints, Floats]:
    """The members that are needed, and their weights: each is dropped, for good if the rest still proves."""
    p = len(programme.equal_to)
    k = 0
    while k < len(members):
        fewer = np.delete(members, k)
        equal, bounds = fewer[fewer < p], fewer[fewer >= p] - p
        again = _proof(_used_columns(_sided(programme, equal, bounds, y)))
        if again is None:
            k += 1
            continue
        y = np.zeros_like(y)
        y[fewer] = again
        members = fewer[np.abs(again) > TAKES_PART * np.abs(again).max()]
        k = 0
    return members, y


def _sided(programme: Programme, equal: Ints, bounds: Ints, y: Floats) -> Programme:
    """These rows, each bound with the one limit that takes part."""
    some = _some_rows(programme, equal, bounds)
    weight = y[len(programme.equal_to) + bounds]
    return replace(
        some, low=np.where(weight > 0, some.low, -np.inf), high=np.where(weight < 0, some.high, np.inf)
    )


def _contradiction(programme: Programme, members: Ints, y: Floats) -> Contradiction:
    p = len(programme.equal_to)
    y = y / np.abs(y[members]).max()
    equal, bounds = members[members < p], members[members >= p] - p
    equal_weights, bound_weights = y[equal], y[p + bounds]
    limit = np.where(bound_weights > 0, programme.low[bounds], programme.high[bounds])
    excess = float(equal_weights @ programme.equal_to[equal] + bound_weights @ limit)
    sides = -np.sign(bound_weights).astype(np.intp)
    return Contradiction(equal, bounds, sides, equal_weights, bound_weights, excess)
