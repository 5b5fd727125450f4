"""Compromise: what cannot all be kept gives way by the least it needs, tier by tier.

    facts             bounds that no uncut mark can change, among themselves
    wood that is gone what is known of rough marks, where readings do not add up
    what was asked    holds, limits and fits

In each tier v, by how much rows are missed, minimise sum (v / scale)^2 over the rows that may
give way, the firm ones being kept. A quadratic programme says which rows are missed, and on
which firm ones that presses; v itself is then one stage of least squares: the missed rows, each
as near to its limit as it comes, the pressing firm ones being held. So v is exact, and moves
with the readings as it should. With the rest kept it is the least, for

    sum (v / scale^2) row = sum lambda row (firm),    lambda >= 0,    v out of bounds

are the conditions for that. What a tier settles the next one no longer moves.

Not here: which few rows contradict each other (contradict), whether the rest can be kept
(allocate finds out).
"""

from __future__ import annotations

import numpy as np

from fitsolve.light import dataclass, replace
from fitsolve.rows import Flags, Floats, Ints, stacked
from fitsolve.solve.contradict import Contradiction, GivingWay, further_contradictions, least_relaxation
from fitsolve.solve.given import GivenWay
from fitsolve.solve.quadratic import Programme, solve
from fitsolve.solve.wanted import AnyStaged, Reduced, Wanted, at_limits, reduce

KEPT_MM = 1e-9
"""A row missed by less is kept."""

COARSELY_MM = 1e-7
"""At first only rows missed by more than this are taken to give way: the programme may be off by less."""

TOUCHING_MM = 1e-6
"""A firm row nearer to its limit than this may be pressed on."""

BALANCED = 1e-6
"""Forces that are left over by less than this part of the largest are in balance."""


def give_facts(held: AnyStaged, wanted: Wanted, way: GivenWay) -> tuple[AnyStaged, GivenWay]:
    """Let the bounds that are matters of fact give the least they need, nothing else being asked."""
    facts = ~wanted.hard
    staged, way = _give_alone(held, wanted, way, facts, facts)
    return staged, replace(way, fact_weight=way.missed / wanted.bounds.scale**2)


def give_wood(held: AnyStaged, wanted: Wanted, way: GivenWay) -> tuple[AnyStaged, GivenWay]:
    """Where what is known of wood that is gone contradicts itself (three readings that do not add up),
    let that give the least it needs, in units of how well it was read."""
    return _give_alone(held, wanted, way, ~wanted.relaxable, wanted.hard & ~wanted.relaxable)


def _give_alone(
    held: AnyStaged, wanted: Wanted, way: GivenWay, chosen: Flags, may: Flags
) -> tuple[AnyStaged, GivenWay]:
    """Ask for the chosen bounds only, of which some may give way."""
    reduced = reduce(held, wanted)
    among = np.flatnonzero(chosen[reduced.moved])
    rows = reduced.moved[among]
    if not np.any(may[rows]):
        return held, way
    programme = reduced.programme
    alone = replace(
        programme,
        equal=programme.equal[:0],
        equal_to=programme.equal_to[:0],
        bounds=programme.bounds[among],
        low=programme.low[among],
        high=programme.high[among],
    )
    relaxation = least_relaxation(alone, np.zeros(0), wanted.bounds.scale[rows], np.zeros(0, bool), may[rows])
    missed = np.zeros(len(wanted.bounds))
    missed[rows] = relaxation.bounds
    return _give(held, wanted, way, _Guess(reduced, missed, np.zeros(len(wanted.holds)), chosen & ~may, relaxation.z))


@dataclass(frozen=True)
class _Guess:
    """By how much bounds (q,) and holds (p,) are missed, roughly, at z; which bounds (q,) are firm."""

    reduced: Reduced
    missed: Floats
    hold_missed: Floats
    firm: Flags
    z: Floats

    def only(self, least_mm: float) -> _Guess:
        """Without what is missed by no more than this."""
        missed = np.where(np.abs(self.missed) > least_mm, self.missed, 0.0)
        return replace(
            self, missed=missed, hold_missed=np.where(np.abs(self.hold_missed) > least_mm, self.hold_missed, 0.0)
        )


def give_what_was_asked(held: AnyStaged, wanted: Wanted, way: GivenWay) -> list[tuple[AnyStaged, GivenWay]]:
    """Let holds, limits and fits give the least they need. The answers to try, the likeliest first: the
    first with which the rest can be kept is the one."""
    reduced = reduce(held, wanted)
    relaxation = least_relaxation(
        reduced.programme,
        wanted.holds.scale[reduced.held],
        wanted.bounds.scale[reduced.moved],
        np.ones(len(reduced.held), bool),
        wanted.relaxable[reduced.moved],
    )
    missed, hold_missed = np.zeros(len(wanted.bounds)), np.zeros(len(wanted.holds))
    missed[reduced.moved] = relaxation.bounds
    hold_missed[reduced.held] = relaxation.equal
    guess = _Guess(reduced, missed, hold_missed, ~wanted.relaxable, relaxation.z)
    return [_give(held, wanted, way, guess.only(least_mm)) for least_mm in (COARSELY_MM, KEPT_MM)]


def in_whole_numbers(reduced: Reduced, found: tuple[Contradiction, ...]) -> tuple[Contradiction, ...]:
    """The contradictions with rows numbered as in the lists they came from."""
    return tuple(
        replace(one, equal=reduced.held[one.equal], bounds=reduced.moved[one.bounds]) for one in found
    )


def name_all(held: AnyStaged, given: AnyStaged, wanted: Wanted, way: GivenWay) -> GivenWay:
    """With further contradictions, so that every hold, limit or fit that gives way stands in one.

    `held` is what was settled before they gave way, `given` after.
    """
    missed = wanted.relaxable & (way.missed != 0.0)
    bounds_named = np.concatenate([one.bounds for one in way.found] or [np.zeros(0, dtype=np.intp)])
    holds_named = np.concatenate([one.equal for one in way.found] or [np.zeros(0, dtype=np.intp)])
    unnamed, holds = missed.copy(), way.hold_missed != 0.0
    unnamed[bounds_named], holds[holds_named] = False, False
    if not (np.any(unnamed) or np.any(holds)):
        return way
    reduced = reduce(held, wanted)
    there, moved = wanted.bounds.of(given.x), reduced.moved
    firm = ~wanted.relaxable
    at_low = (missed & (way.missed < 0.0)) | (firm & (there - wanted.low < TOUCHING_MM))
    at_high = (missed & (way.missed > 0.0)) | (firm & (wanted.high - there < TOUCHING_MM))
    number = np.full(len(wanted.bounds), -1, dtype=np.intp)
    number[moved] = np.arange(len(moved))
    hold_number = np.full(len(wanted.holds), -1, dtype=np.intp)
    hold_number[reduced.held] = np.arange(len(reduced.held))
    known = tuple(
        replace(one, equal=_among(hold_number, one.equal), bounds=_among(number, one.bounds))
        for one in way.found
    )
    sign = -np.sign(way.hold_missed[reduced.held]).astype(np.intp)
    giving = GivingWay(sign, at_low[moved], at_high[moved], missed[moved])
    further = further_contradictions(reduced.programme, giving, known)
    return replace(way, found=(*way.found, *in_whole_numbers(reduced, further)))


def _among(number: Ints, rows: Ints) -> Ints:
    """The rows under their numbers here, those that are not here left out."""
    here = number[rows]
    return here[here >= 0]


def _give(held: AnyStaged, wanted: Wanted, way: GivenWay, guess: _Guess) -> tuple[AnyStaged, GivenWay]:
    """Work out exactly by how much the rows that are missed in the guess are missed; those that turn out
    not to be are left out."""
    while True:
        side, holds = np.sign(guess.missed).astype(np.intp), np.flatnonzero(guess.hold_missed)
        if not (np.any(side) or len(holds)):
            return held, way
        firm, _ = _firm(wanted, guess)
        missing = stacked([wanted.holds.pick(holds), at_limits(wanted, side, weighed=True)])
        staged = held.copy().add(at_limits(wanted, firm)).add(missing)
        exact = _missed(staged, wanted, guess)
        good = side * exact.missed >= np.abs(side) * KEPT_MM
        if np.all(good) and np.all(np.abs(exact.hold_missed[holds]) >= KEPT_MM):
            break
        guess = replace(exact, missed=np.where(good, exact.missed, 0.0)).only(KEPT_MM)
    _, balanced = _firm(wanted, exact)
    return staged, replace(
        way,
        missed=way.missed + exact.missed,
        hold_missed=way.hold_missed + exact.hold_missed,
        proven=way.proven and balanced,
        pressed=(*way.pressed, (held.depth, 0, np.flatnonzero(firm))),
        gave=(*way.gave, (held.depth + 1, len(holds), np.flatnonzero(side))),
    )


def _missed(staged: AnyStaged, wanted: Wanted, guess: _Guess) -> _Guess:
    """By how much the rows of the guess are missed at these positions."""
    at = wanted.bounds.of(staged.x)
    missed = np.zeros(len(at))
    low, high = guess.missed < 0.0, guess.missed > 0.0
    missed[low], missed[high] = (at - wanted.low)[low], (at - wanted.high)[high]
    off = wanted.holds.of(staged.x) - wanted.holds.value
    return replace(guess, missed=missed, hold_missed=np.where(guess.hold_missed != 0.0, off, 0.0))


def _firm(wanted: Wanted, guess: _Guess) -> tuple[Ints, bool]:
    """Which firm bounds (q,) are pressed on, -1 at low, +1 at high; and whether all forces balance."""
    programme, moved = guess.reduced.programme, guess.reduced.moved
    by_bounds = (guess.missed / wanted.bounds.scale**2)[moved]
    by_holds = (guess.hold_missed / wanted.holds.scale**2)[guess.reduced.held]
    force = programme.bounds.T @ by_bounds + programme.equal.T @ by_holds
    meeting = abs(programme.bounds).T @ np.abs(by_bounds) + abs(programme.equal).T @ np.abs(by_holds)
    enough = BALANCED * float(meeting.max(initial=0.0))
    pressed = np.zeros(len(guess.missed), dtype=np.intp)
    there = programme.bounds @ guess.z
    at_high, at_low = programme.high - there < TOUCHING_MM, there - programme.low < TOUCHING_MM
    rows = np.flatnonzero(guess.firm[moved] & (at_high | at_low))
    if len(rows) == 0 or float(np.abs(force).max(initial=0.0)) <= enough:
        return pressed, bool(np.abs(force).max(initial=0.0) <= enough)
    firm = programme.bounds[rows].T
    firm = firm if isinstance(firm, np.ndarray) else firm.tocsr()
    none, one = np.zeros((0, len(rows))), np.eye(len(rows))
    low, high = np.where(at_low[rows], -np.inf, 0.0), np.where(at_high[rows], np.inf, 0.0)
    holding = solve(Programme(firm, -force, none, np.zeros(0), one, low, high)).z
    presses = np.abs(holding) > BALANCED * float(np.abs(holding).max(initial=0.0))
    pressed[moved[rows[presses]]] = np.sign(holding[presses]).astype(np.intp)
    return pressed, bool(np.abs(firm @ holding + force).max(initial=0.0) <= enough)
