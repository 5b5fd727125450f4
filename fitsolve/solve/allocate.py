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

The solver finds the active set; the answer itself is then computed as staged least squares:
what gives way (as near to its limits as it can come), the active rows, the wishes, each one
more stage. That gives it to rounding, and with it how the answer moves with every reading.

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
class _GivenWay:
    """What could not be kept: by how much bounds (q,) and holds (p,) are missed, with what weight
    facts (q,) are, which firm bounds (q,) the compromise presses on, and the contradictions.
    `proven` is false where less might have done."""

    missed: Floats
    hold_missed: Floats
    fact_weight: Floats
    firm: Ints
    found: tuple[Contradiction, ...] = ()
    proven: bool = True


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
    way = _none_given(wanted)
    optimum = solve(reduced.programme)
    if optimum.status == "infeasible":
        reduced, way = _yield_to_facts(reduced, wanted, way)
        optimum = solve(reduced.programme)
    if optimum.status == "infeasible":
        found = _in_whole_numbers(reduced, contradictions(reduced.programme))
        reduced, way = _yield_to_wood(reduced, wanted, replace(way, found=found))
        reduced, way = _compromise(reduced, wanted, way)
        optimum = solve(reduced.programme)
        way = replace(way, firm=_firm(reduced, wanted, way, optimum.z))
    return _finish(estimate, wanted, reduced, optimum, way)


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


def _none_given(wanted: Wanted) -> _GivenWay:
    q, p = len(wanted.bounds), len(wanted.holds)
    return _GivenWay(np.zeros(q), np.zeros(p), np.zeros(q), np.zeros(q, dtype=np.intp))


def _yield_to_facts(reduced: _Reduced, wanted: Wanted, way: _GivenWay) -> tuple[_Reduced, _GivenWay]:
    """Give the bounds that are matters of fact the least they need, in units of their scale."""
    facts = ~wanted.hard[reduced.moved]
    missed, proven = _least_by_themselves(reduced, wanted, facts, facts)
    way = replace(way, missed=missed, fact_weight=missed / wanted.bounds.scale**2, proven=proven)
    return _relaxed(reduced, missed, way.hold_missed), way


def _yield_to_wood(reduced: _Reduced, wanted: Wanted, way: _GivenWay) -> tuple[_Reduced, _GivenWay]:
    """Where what is known of wood that is gone contradicts itself (three readings that do not add
    up), give that the least it needs, in units of how well it was read."""
    firm = ~wanted.relaxable[reduced.moved]
    missed, proven = _least_by_themselves(reduced, wanted, firm, firm & wanted.hard[reduced.moved])
    way = replace(way, missed=way.missed + missed, proven=way.proven and proven)
    return _relaxed(reduced, missed, way.hold_missed), way


def _least_by_themselves(
    reduced: _Reduced, wanted: Wanted, chosen: Flags, may: Flags
) -> tuple[Floats, bool]:
    """By how much the chosen of the moved bounds miss (q,), nothing else being asked, when those that
    may give the least they need; and whether less could not do."""
    missed = np.zeros(len(wanted.bounds))
    among = np.flatnonzero(chosen)
    if not np.any(may):
        return missed, True
    programme = reduced.programme
    alone = replace(
        programme,
        equal=programme.equal[:0],
        equal_to=programme.equal_to[:0],
        bounds=programme.bounds[among],
        low=programme.low[among],
        high=programme.high[among],
    )
    rows = reduced.moved[among]
    relaxation = least_relaxation(
        alone, np.zeros(0), wanted.bounds.scale[rows], np.zeros(0, bool), may[among]
    )
    missed[rows] = relaxation.bounds
    return missed, relaxation.status == "optimal"


def _compromise(reduced: _Reduced, wanted: Wanted, way: _GivenWay) -> tuple[_Reduced, _GivenWay]:
    """Relax what may be relaxed, as little as will do, in units of its scale."""
    relaxation = least_relaxation(
        reduced.programme,
        wanted.holds.scale[reduced.held],
        wanted.bounds.scale[reduced.moved],
        np.ones(len(reduced.held), bool),
        wanted.relaxable[reduced.moved],
    )
    more, hold_missed = np.zeros_like(way.missed), way.hold_missed.copy()
    more[reduced.moved] = relaxation.bounds
    hold_missed[reduced.held] = relaxation.equal
    proven = way.proven and relaxation.status == "optimal"
    way = replace(way, missed=way.missed + more, hold_missed=hold_missed, proven=proven)
    return _relaxed(reduced, more, hold_missed), way


def _firm(reduced: _Reduced, wanted: Wanted, way: _GivenWay, z: Floats) -> Ints:
    """Which bounds (q,) that may not be relaxed the compromise presses on: -1 at low, +1 at high.

    Where it stands the forces v / scale^2 of what is missed are held by those of firm bounds.
    """
    programme, moved = reduced.programme, reduced.moved
    missed = np.where(wanted.relaxable, way.missed, 0.0)[moved]
    force = programme.bounds.T @ (missed / wanted.bounds.scale[moved] ** 2)
    force = force + programme.equal.T @ (way.hold_missed / wanted.holds.scale**2)[reduced.held]
    firm, at = ~wanted.relaxable[moved], programme.bounds @ z
    over = np.flatnonzero(firm & (programme.high - at < FEASIBLE_MM))
    under = np.flatnonzero(firm & (at - programme.low < FEASIBLE_MM))
    rows, side = np.concatenate([over, under]), np.repeat([1, -1], [len(over), len(under)])
    pressed = np.zeros(len(way.missed), dtype=np.intp)
    if len(rows):
        signed = programme.bounds[rows] * side[:, None]
        one = np.eye(len(rows))
        none, free = np.zeros((0, len(rows))), np.full(len(rows), np.inf)
        holding = solve(Programme(signed.T, -force, none, np.zeros(0), one, np.zeros(len(rows)), free)).z
        presses = holding > ACTIVE
        pressed[moved[rows[presses]]] = side[presses]
    return pressed


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
    estimate: AnyStaged, wanted: Wanted, reduced: _Reduced, optimum: Optimum, way: _GivenWay
) -> Allocation:
    """Compute the answer as stages: what gives way, holds and pressing bounds, wishes, late wishes."""
    staged = estimate.copy()
    for stage in _giving(wanted, way):
        staged.add(stage)
    active = np.where(way.missed == 0.0, _pressing(optimum, len(wanted.bounds), reduced.moved), 0)
    kept = reduced.held[way.hold_missed[reduced.held] == 0.0]
    held = replace(wanted.holds.pick(kept), scale=np.ones(len(kept)))
    staged.add(stacked([held, _at_limits(wanted, active)])).add(wanted.wishes)
    solved, status = estimate.x + reduced.basis @ optimum.z, str(optimum.status)
    if len(staged.free) and len(wanted.late):
        solved, late_active, late_status = _late(staged, wanted, reduced)
        late_active = np.where(way.missed == 0.0, late_active, 0)
        staged.add(_at_limits(wanted, late_active)).add(wanted.late)
        active = np.where(active == 0, late_active, active)
        status = late_status if status == "optimal" else status
    if status != "optimal" or not _kept(staged.x, wanted, reduced):
        staged.x = solved
    if not way.proven:
        status = "unproven"
    active = np.where(way.missed == 0.0, active, np.sign(way.missed)).astype(np.intp)
    return Allocation(staged, active, way.missed, way.hold_missed, way.fact_weight, way.found, status)


def _giving(wanted: Wanted, way: _GivenWay) -> list[Rows]:
    """What gives way, as stages: it comes as near to what was wanted as it can, and moves with the
    readings as that does. Facts first, then wood that is gone, then what the maker asked for."""
    if not (np.any(way.missed) or np.any(way.hold_missed)):
        return []
    side = np.sign(way.missed).astype(np.intp)
    facts, wood, asked = (
        _at_limits(wanted, np.where(which, side, 0), weighed=True)
        for which in (~wanted.hard, wanted.hard & ~wanted.relaxable, wanted.relaxable)
    )
    holds = wanted.holds.pick(np.flatnonzero(way.hold_missed))
    return [facts, wood, _at_limits(wanted, way.firm), stacked([holds, asked])]


def _pressing(optimum: Optimum, q: int, moved: Ints) -> Ints:
    """Which bounds press: the sign of their multiplier, -1 at the low limit."""
    active = np.zeros(q, dtype=np.intp)
    pressing = np.abs(optimum.multipliers) > ACTIVE
    active[moved[pressing]] = -np.sign(optimum.multipliers[pressing]).astype(np.intp)
    return active


def _at_limits(wanted: Wanted, side: Ints, weighed: bool = False) -> Rows:
    """Bounds (by side (q,), -1 low, +1 high, 0 not) as rows at their limits; the scale says by what
    they are weighed against each other where they can't all be met."""
    chosen = np.flatnonzero(side)
    rows = wanted.bounds.pick(chosen)
    value = np.where(side[chosen] < 0, wanted.low[chosen], wanted.high[chosen])
    return replace(rows, value=value, scale=rows.scale if weighed else np.ones(len(chosen)))


def _limits(wanted: Wanted, reduced: _Reduced) -> tuple[Floats, Floats]:
    """The limits of all bounds after relaxation, as deviations from the plan."""
    low, high = wanted.low.copy(), wanted.high.copy()
    low[reduced.moved] = reduced.programme.low + reduced.at[reduced.moved]
    high[reduced.moved] = reduced.programme.high + reduced.at[reduced.moved]
    return low, high


def _late(staged: AnyStaged, wanted: Wanted, reduced: _Reduced) -> tuple[Floats, Ints, str]:
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
    return staged.x + basis @ optimum.z, pressing, optimum.status


def _kept(x: Floats, wanted: Wanted, reduced: _Reduced) -> bool:
    """Whether the finished answer keeps every bound."""
    low, high = _limits(wanted, reduced)
    at = wanted.bounds.of(x)[reduced.moved]
    return bool(
        np.all(at >= low[reduced.moved] - FEASIBLE_MM) and np.all(at <= high[reduced.moved] + FEASIBLE_MM)
    )
