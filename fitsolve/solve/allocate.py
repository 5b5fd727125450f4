"""Allocate: what to cut, given what is there.

The estimate is held; what it leaves free, z, are the marks still to be cut and the placements
of what is made, x = x_hat + N z. Choose z to

    minimise    sum ((wish - value) / scale)^2      distances, gaps of open joints, keeps
    subject to  holds,   low <= bound <= high,

and, where that leaves something free, once more with the late wishes. What not even they fix
stays at its plan place and is reported as fixed by nothing.

A bound no uncut mark can change is a matter of facts. Where facts cannot all hold, they give
way first, by the least they need: that yields a verdict, not a contradiction of the maker's
wishes. Where hard limits cannot all hold, the irreducible sets are named and what may be
relaxed gives way, measured in scale: never facts, never wood that is gone (compromise).

Which bounds press is guessed (guess), and where no guess can be certified the solver searches
for it; the answer itself is then computed as staged least squares:
what gives way (as near to its limits as it can come), the active rows, the wishes, each one
more stage. That gives it to rounding, and with it how the answer moves with every reading.

Fails: `status` is "unproven" when no method could certify its answer.
Source: any text on quadratic programmes, e.g. J. Nocedal, S. Wright, Numerical Optimization,
2nd ed. (2006), ch. 16 (from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fitsolve.light import dataclass, replace
from fitsolve.rows import Floats, Ints, stacked
from fitsolve.solve.given import GivenWay, nothing_given
from fitsolve.solve.guess import guessed
from fitsolve.solve.quadratic import Optimum, Programme, solve
from fitsolve.solve.staged import Staged
from fitsolve.solve.wanted import AnyStaged, Reduced, Wanted, at_limits, reduce

if TYPE_CHECKING:
    from fitsolve.solve.contradict import Contradiction

FEASIBLE_MM = 1e-7
"""A bound missed by less than this is kept: ten times finer than anything the answer promises."""

NONE = np.zeros(0, dtype=np.intp)

ACTIVE = 1e-9
"""A multiplier, in units of the objective per millimetre, below which a bound does not press."""


@dataclass(frozen=True)
class Allocation:
    """What was chosen: positions and their maps are in `staged` (maps 0 and 1 belong to what
    was measured and planned).

    `missed_mm` (q,) is by how much a bound is missed, negative under its low limit; `hold_missed_mm` (p,) likewise.
    `fact_weight` (q,) are the weights with which the missed facts contradict each other. `pressed` are the
    bounds that press: in which stage, from which row of it on, and which; `gave` those that gave way, so too.
    """

    staged: AnyStaged
    missed_mm: Floats
    hold_missed_mm: Floats
    fact_weight: Floats
    contradictions: tuple[Contradiction, ...]
    status: str
    pressed: tuple[tuple[int, int, Ints], ...] = ()
    gave: tuple[tuple[int, int, Ints], ...] = ()


@dataclass(frozen=True)
class _Chosen:
    """What is held before the wishes are asked, the programme of what is left, and its optimum."""

    held: AnyStaged
    way: GivenWay
    reduced: Reduced
    optimum: Optimum


def allocate(estimate: AnyStaged, wanted: Wanted, *, named: bool = True) -> Allocation:
    """Return the sizes and placements that serve the wishes best; see the module. Where contradictions are not to be
    `named` only the numbers come back, in half the time."""
    shortly = _found_shortly(estimate, wanted) if isinstance(estimate, Staged) else None
    if shortly is not None:
        return shortly
    chosen = _choose(wanted, estimate, nothing_given(wanted))
    whole = asked = chosen.reduced.moved
    if chosen.optimum.status == "infeasible":
        chosen, asked = _compromise(chosen, wanted, named)
    allocation = _finish(chosen, wanted, asked)
    settled = np.setdiff1d(whole, asked, assume_unique=True)
    return _with_settled(allocation, wanted, settled) if len(settled) else allocation


def _found_shortly(estimate: Staged, wanted: Wanted) -> Allocation | None:
    """The answer where it takes no search (guess); None where it does."""
    kept = estimate.touched(estimate.contract(wanted.holds, estimate.basis))
    found = guessed(estimate, wanted, wanted.holds.pick(kept), wanted.wishes, ACTIVE)
    if found is None:
        return None
    staged, active = found
    pressed = [(estimate.depth, len(kept), np.flatnonzero(active))]
    if len(staged.free) and len(wanted.late):
        late = guessed(staged, wanted, wanted.holds.pick(NONE), wanted.late, ACTIVE)
        if late is None:
            return None
        pressed.append((staged.depth, 0, np.flatnonzero(late[1])))
        staged = late[0]
    way = nothing_given(wanted)
    return Allocation(staged, way.missed, way.hold_missed, way.fact_weight, (), "optimal", tuple(pressed))


def _compromise(chosen: _Chosen, wanted: Wanted, named: bool) -> tuple[_Chosen, Ints]:
    """What is chosen where not all can be kept, and the bounds that were asked for: facts give way first, then wood
    that is gone, then what was asked."""
    from fitsolve.solve.compromise import give_facts, give_what_was_asked, give_wood, in_whole_numbers, name_all
    from fitsolve.solve.contradict import contradictions

    held, way = give_facts(chosen.held, wanted, chosen.way)
    chosen = chosen if held is chosen.held else _choose(wanted, held, way)
    asked = chosen.reduced.moved
    if chosen.optimum.status == "infeasible":
        told = contradictions(chosen.reduced.programme) if named else ()
        found = in_whole_numbers(chosen.reduced, told)
        held, way = give_wood(chosen.held, wanted, replace(chosen.way, found=found))
        asked = reduce(held, wanted).moved
        for given in give_what_was_asked(held, wanted, way):
            chosen = _choose(wanted, *given)
            if chosen.optimum.status == "optimal" and chosen.way.proven:
                break
        chosen = replace(chosen, way=name_all(held, chosen.held, wanted, chosen.way)) if named else chosen
    return chosen, asked


def _with_settled(allocation: Allocation, wanted: Wanted, settled: Ints) -> Allocation:
    """Also by how much those bounds are missed that facts or wood that is gone leave no choice."""
    at = wanted.bounds.of(allocation.staged.x)[settled]
    over, under = at - wanted.high[settled], wanted.low[settled] - at
    off = np.where(over > FEASIBLE_MM, over, np.where(under > FEASIBLE_MM, -under, 0.0))
    missed = allocation.missed_mm.copy()
    missed[settled] = np.where(missed[settled] == 0.0, off, missed[settled])
    return replace(allocation, missed_mm=missed)


def _choose(wanted: Wanted, held: AnyStaged, way: GivenWay) -> _Chosen:
    reduced = reduce(held, wanted)
    return _Chosen(held, way, reduced, solve(reduced.programme))


def _finish(chosen: _Chosen, wanted: Wanted, asked: Ints) -> Allocation:
    """Compute the answer as stages: holds and pressing bounds, wishes, late wishes."""
    reduced, optimum, way = chosen.reduced, chosen.optimum, chosen.way
    staged = chosen.held.copy()
    active = _pressing(optimum, len(wanted.bounds), reduced.moved)
    holds = wanted.holds.pick(reduced.held)
    holds = replace(holds, scale=np.ones(len(holds)))
    pressed = [*way.pressed, (staged.depth, len(holds), np.flatnonzero(active))]
    staged.add(stacked([holds, at_limits(wanted, active)])).add(wanted.wishes)
    solved, status = chosen.held.x + reduced.basis @ optimum.z, str(optimum.status)
    if len(staged.free) and len(wanted.late):
        solved, late_active, late_status = _late(staged, wanted)
        pressed.append((staged.depth, 0, np.flatnonzero(late_active)))
        staged.add(at_limits(wanted, late_active)).add(wanted.late)
        status = late_status if status == "optimal" else status
    asked = asked[way.missed[asked] == 0.0]
    if status != "optimal" or not _kept(staged.x, wanted, asked):
        staged.x = solved
    if not (way.proven and _kept(staged.x, wanted, asked)):
        status = "unproven"
    missed = way.missed, way.hold_missed, way.fact_weight
    return Allocation(staged, *missed, way.found, status, tuple(pressed), way.gave)


def _pressing(optimum: Optimum, q: int, moved: Ints) -> Ints:
    """Which bounds press: the sign of their multiplier, -1 at the low limit."""
    active = np.zeros(q, dtype=np.intp)
    pressing = np.abs(optimum.multipliers) > ACTIVE
    active[moved[pressing]] = -np.sign(optimum.multipliers[pressing]).astype(np.intp)
    return active


def _late(staged: AnyStaged, wanted: Wanted) -> tuple[Floats, Ints, str]:
    """The second tier: late wishes in what the first leaves free, under the same bounds."""
    basis = staged.basis
    at = wanted.bounds.of(staged.x)
    bounds = staged.contract(wanted.bounds, basis)
    moved = staged.touched(bounds)
    scale = wanted.late.scale
    optimum = solve(
        Programme(
            objective=staged.divided(staged.contract(wanted.late, basis), scale),
            target=(wanted.late.value - wanted.late.of(staged.x)) / scale,
            equal=bounds[:0],
            equal_to=np.zeros(0),
            bounds=bounds[moved],
            low=(wanted.low - at)[moved],
            high=(wanted.high - at)[moved],
        )
    )
    pressing = _pressing(optimum, len(wanted.bounds), moved)
    return staged.x + basis @ optimum.z, pressing, optimum.status


def _kept(x: Floats, wanted: Wanted, asked: Ints) -> bool:
    """Whether these positions keep the bounds that are asked for."""
    at = wanted.bounds.of(x)[asked]
    return bool(np.all(at >= wanted.low[asked] - FEASIBLE_MM) and np.all(at <= wanted.high[asked] + FEASIBLE_MM))
