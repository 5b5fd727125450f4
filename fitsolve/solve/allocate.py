"""Allocate: what to cut, given what is there.

The estimate is held; what it leaves free, z, are the marks still to be cut and the placements
of what is made, x = x_hat + N z. Choose z to

    minimise    sum ((wish - value) / scale)^2      distances, gaps of open joints, keeps
    subject to  holds,   low <= bound <= high,

and, where that leaves something free, once more with the late wishes. What not even they fix
stays at its plan place and is reported as fixed by nothing.

A bound no uncut mark can change is a matter of facts. Where facts cannot all hold, the sum of
(violation / scale)^2 is made least, then held: it yields a verdict, not a contradiction of
the maker's wishes. Where hard limits cannot all hold, the irreducible sets are named and the
least relaxation, measured in scale, is made of what may be relaxed: never facts, never wood
that is gone.

The solver finds the active set; the answer itself is then computed as staged least squares,
the active rows being one more stage. That gives it to rounding, and with it how the answer
moves with every reading.

Fails: `status` is "unproven" when no method could certify its answer.
Source: any text on quadratic programmes, e.g. J. Nocedal, S. Wright, Numerical Optimization,
2nd ed. (2006), ch. 16 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from fitsolve.rows import Flags, Floats, Ints, Rows, stacked
from fitsolve.solve.contradict import Contradiction, contradictions, least_relaxation
from fitsolve.solve.quadratic import Optimum, Programme, solve
from fitsolve.solve.staged import Staged

if TYPE_CHECKING:
    from fitsolve.solve.sparse import SparseStaged

AnyStaged: TypeAlias = "Staged | SparseStaged"

FEASIBLE_MM = 1e-7
"""A bound missed by less than this is kept: ten times finer than anything the answer promises."""

ACTIVE = 1e-9
"""A multiplier, in units of the objective per millimetre, below which a bound does not press."""


@dataclass(frozen=True)
class Wanted:
    """The rows of one piece that hangs together; see `fitsolve.graph.Graph` for the lists."""

    wishes: Rows
    late: Rows
    holds: Rows
    bounds: Rows
    low: Floats
    high: Floats
    hard: Flags
    relaxable: Flags


@dataclass(frozen=True)
class Allocation:
    """What was chosen: positions and their maps are in `staged` (maps 0 and 1 belong to what
    was measured and planned).

    `active` (q,) is -1 at its low limit, +1 at its high one, 0 else; `missed_mm` (q,) by how
    much a bound is missed, negative under its low limit; `hold_missed_mm` (p,) likewise.
    `fact_weight` (q,) are the weights with which the missed facts contradict each other.
    """

    staged: AnyStaged
    active: Ints
    missed_mm: Floats
    hold_missed_mm: Floats
    fact_weight: Floats
    contradictions: tuple[Contradiction, ...]
    status: str


@dataclass(frozen=True)
class _Reduced:
    """The programme over z: the columns kept, the bounds and holds that z can move, and what
    all bounds (q,) come to at the estimate."""

    programme: Programme
    basis: Any
    moved: Ints
    held: Ints
    at: Floats


def allocate(estimate: AnyStaged, wanted: Wanted) -> Allocation:
    """Return the sizes and placements that serve the wishes best; see the module."""
    reduced = _reduce(estimate, wanted)
    q, p = len(wanted.bounds), len(wanted.holds)
    missed, hold_missed, weight = np.zeros(q), np.zeros(p), np.zeros(q)
    found: tuple[Contradiction, ...] = ()
    optimum = solve(reduced.programme)
    if optimum.status == "infeasible":
        reduced, missed, weight = _yield_to_facts(reduced, wanted, missed, weight)
        optimum = solve(reduced.programme)
    if optimum.status == "infeasible":
        found = _in_whole_numbers(reduced, contradictions(reduced.programme))
        reduced, missed, hold_missed = _compromise(reduced, wanted, missed, hold_missed)
        optimum = solve(reduced.programme)
    return _finish(estimate, wanted, reduced, optimum, (missed, hold_missed, weight, found))


def _reduce(estimate: AnyStaged, wanted: Wanted) -> _Reduced:
    """Contract all rows onto what is free, leaving out columns and rows that nothing moves."""
    reach = estimate.freedom.copy()
    for rows in (wanted.holds, wanted.wishes, wanted.late, wanted.bounds):
        reach.tie(rows.pick(np.flatnonzero(~estimate.settled(rows))))
    nowhere = set(reach.free_marks())
    basis = estimate.columns(set(estimate.free) - nowhere)
    bounds = estimate.contract(wanted.bounds, basis)
    holds = estimate.contract(wanted.holds, basis)
    moved, held = estimate.touched(bounds), estimate.touched(holds)
    at = wanted.bounds.of(estimate.x)
    scale = wanted.wishes.scale
    programme = Programme(
        objective=estimate.contract(wanted.wishes, basis, scale),
        target=(wanted.wishes.value - wanted.wishes.of(estimate.x)) / scale,
        equal=holds[held],
        equal_to=(wanted.holds.value - wanted.holds.of(estimate.x))[held],
        bounds=bounds[moved],
        low=(wanted.low - at)[moved],
        high=(wanted.high - at)[moved],
    )
    return _Reduced(programme, basis, moved, held, at)


def _yield_to_facts(
    reduced: _Reduced, wanted: Wanted, missed: Floats, weight: Floats
) -> tuple[_Reduced, Floats, Floats]:
    """Give the bounds that are matters of fact the least they need, in units of their scale."""
    facts = np.flatnonzero(~wanted.hard[reduced.moved])
    if len(facts) == 0:
        return reduced, missed, weight
    programme = reduced.programme
    only_facts = replace(
        programme,
        equal=programme.equal[:0],
        equal_to=programme.equal_to[:0],
        bounds=programme.bounds[facts],
        low=programme.low[facts],
        high=programme.high[facts],
    )
    rows = reduced.moved[facts]
    scale = wanted.bounds.scale[rows]
    relaxation = least_relaxation(only_facts, np.zeros(0), scale, np.zeros(0, bool), np.ones(len(facts), bool))
    missed, weight = missed.copy(), weight.copy()
    missed[rows] = relaxation.bounds
    weight[rows] = relaxation.bounds / scale**2
    return _relaxed(reduced, missed, np.zeros(len(wanted.holds))), missed, weight


def _compromise(
    reduced: _Reduced, wanted: Wanted, missed: Floats, hold_missed: Floats
) -> tuple[_Reduced, Floats, Floats]:
    """Relax what may be relaxed, as little as will do, in units of its scale."""
    relaxation = least_relaxation(
        reduced.programme,
        wanted.holds.scale[reduced.held],
        wanted.bounds.scale[reduced.moved],
        np.ones(len(reduced.held), bool),
        wanted.relaxable[reduced.moved],
    )
    more, hold_missed = np.zeros_like(missed), hold_missed.copy()
    more[reduced.moved] = relaxation.bounds
    hold_missed[reduced.held] = relaxation.equal
    return _relaxed(reduced, more, hold_missed), missed + more, hold_missed


def _relaxed(reduced: _Reduced, missed: Floats, hold_missed: Floats) -> _Reduced:
    """The programme with each bound moved to where it is missed by, and then held there."""
    programme, by = reduced.programme, missed[reduced.moved]
    low = programme.low + np.minimum(by, 0.0)
    high = programme.high + np.maximum(by, 0.0)
    relaxed = replace(
        programme,
        low=np.where(by > 0, high, low),
        high=np.where(by < 0, low, high),
        equal_to=programme.equal_to + hold_missed[reduced.held],
    )
    return replace(reduced, programme=relaxed)


def _in_whole_numbers(reduced: _Reduced, found: tuple[Contradiction, ...]) -> tuple[Contradiction, ...]:
    """The contradictions with rows numbered as in the lists they came from."""
    return tuple(
        replace(one, equal=reduced.held[list(one.equal)], bounds=reduced.moved[list(one.bounds)])
        for one in found
    )


def _finish(
    estimate: AnyStaged,
    wanted: Wanted,
    reduced: _Reduced,
    optimum: Optimum,
    misses: tuple[Floats, Floats, Floats, tuple[Contradiction, ...]],
) -> Allocation:
    """Compute the answer as stages: holds and pressing bounds, wishes, then the late wishes."""
    missed, hold_missed, weight, found = misses
    staged = estimate.copy()
    active = _pressing(optimum, len(wanted.bounds), reduced.moved)
    active = np.where(missed != 0.0, np.sign(missed), active).astype(np.intp)
    staged.add(_equalities(wanted, reduced, hold_missed, active)).add(wanted.wishes)
    solved = estimate.x + reduced.basis @ optimum.z
    if len(staged.free) and len(wanted.late):
        solved, late_active = _late(staged, wanted, reduced)
        staged.add(_equalities(wanted, reduced, hold_missed, late_active, holds=False)).add(wanted.late)
        active = np.where(active == 0, late_active, active)
    if optimum.status != "optimal" or not _kept(staged.x, wanted, reduced):
        staged.x = solved
    return Allocation(staged, active, missed, hold_missed, weight, found, optimum.status)


def _pressing(optimum: Optimum, q: int, moved: Ints) -> Ints:
    """Which bounds press: the sign of their multiplier, -1 at the low limit."""
    active = np.zeros(q, dtype=np.intp)
    pressing = np.abs(optimum.multipliers) > ACTIVE
    active[moved[pressing]] = -np.sign(optimum.multipliers[pressing]).astype(np.intp)
    return active


def _equalities(
    wanted: Wanted, reduced: _Reduced, hold_missed: Floats, active: Ints, holds: bool = True
) -> Rows:
    """The holds and the bounds that press, as rows of one stage; facts already moved."""
    pressing = np.flatnonzero(active)
    bounds = wanted.bounds.pick(pressing)
    limit = _limits(wanted, reduced)
    value = np.where(active[pressing] < 0, limit[0][pressing], limit[1][pressing])
    bounds = replace(bounds, value=value, scale=np.ones(len(pressing)))
    if not holds:
        return bounds
    kept = wanted.holds.pick(reduced.held)
    kept = replace(kept, value=kept.value + hold_missed[reduced.held], scale=np.ones(len(kept)))
    return stacked([kept, bounds])


def _limits(wanted: Wanted, reduced: _Reduced) -> tuple[Floats, Floats]:
    """The limits of all bounds after relaxation, as deviations from the plan."""
    low, high = wanted.low.copy(), wanted.high.copy()
    low[reduced.moved] = reduced.programme.low + reduced.at[reduced.moved]
    high[reduced.moved] = reduced.programme.high + reduced.at[reduced.moved]
    return low, high


def _late(staged: AnyStaged, wanted: Wanted, reduced: _Reduced) -> tuple[Floats, Ints]:
    """The second tier: late wishes in what the first leaves free, under the same bounds."""
    basis = staged.basis
    low, high = _limits(wanted, reduced)
    at = wanted.bounds.of(staged.x)
    bounds = staged.contract(wanted.bounds, basis)
    moved = staged.touched(bounds)
    scale = wanted.late.scale
    optimum = solve(
        Programme(
            objective=staged.contract(wanted.late, basis, scale),
            target=(wanted.late.value - wanted.late.of(staged.x)) / scale,
            equal=bounds[:0],
            equal_to=np.zeros(0),
            bounds=bounds[moved],
            low=(low - at)[moved],
            high=(high - at)[moved],
        )
    )
    pressing = _pressing(optimum, len(wanted.bounds), moved)
    return staged.x + basis @ optimum.z, pressing


def _kept(x: Floats, wanted: Wanted, reduced: _Reduced) -> bool:
    """Whether the finished answer keeps every bound."""
    low, high = _limits(wanted, reduced)
    at = wanted.bounds.of(x)[reduced.moved]
    return bool(
        np.all(at >= low[reduced.moved] - FEASIBLE_MM) and np.all(at <= high[reduced.moved] + FEASIBLE_MM)
    )
