"""Guess: the best positions where it takes no search which bounds press; solved as stages.

First no bound is taken to press. Where the answer x misses some, those are taken to press, less those whose
multiplier pulls the wrong way, and so on: with W how the bounds follow the wishes, pulls y on them move them by
W W'y, so these rounds are over the few bounds alone.

With E the rows held (holds, pressing bounds at their limits) and F the wishes by their scales, the answer is
two stages of least squares, and the map M_E of the first gives the multipliers: E has independent rows, so
E M_E = I and

    F'(F x - g) = E'y   on what was free   means   y = M_E' F'(F x - g).

It stands only if the conditions of an optimum hold for it, worked out from the rows as they were given.
Otherwise, or where anything is not plain (rows that say the same twice, a bound that touches and does
not press), nothing is said and the search has to tell (quadratic).

Source: M. Hintermueller, K. Ito, K. Kunisch, The primal-dual active set strategy as a semismooth Newton
method, SIAM J. Optim. 13 (2002) (from memory).
"""

from __future__ import annotations

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Flags, Floats, Ints, Rows, stacked
from fitsolve.solve.certificate import Answer, Stacked, certify
from fitsolve.solve.staged import Staged
from fitsolve.solve.wanted import Wanted, at_limits

ROUNDS = 10
"""So many sets of pressing bounds are tried."""


@dataclass(frozen=True)
class _Asked:
    """What is free at the start, what is held and what is bounded: the bounds over what is free (q, k), and which of
    them it moves (q,)."""

    start: Staged
    wanted: Wanted
    holds: Rows
    bounds: Floats
    moved: Flags


@dataclass(frozen=True)
class _Guess:
    """The stages with what is held and what is wished; F (m, n), F x - g (m,), and a multiplier for each row held."""

    staged: Staged
    wishes: Floats
    over: Floats
    multipliers: Floats


def guessed(
    start: Staged, wanted: Wanted, holds: Rows, wishes: Rows, presses: float
) -> tuple[Staged, Ints] | None:
    """Return the stages with holds and pressing bounds, then wishes, and which bounds press (q,), -1 at low, +1
    at high; None where no guess will do. A bound presses by a multiplier of more than `presses`."""
    bounds = start.contract(wanted.bounds, start.basis)
    moved = np.asarray(bounds.any(axis=1))
    holds = Rows(holds.start, holds.mark, holds.coef, holds.value, np.ones(len(holds)))
    active = np.zeros(len(moved), dtype=np.intp)
    guess = _with(start, holds, wishes)
    if guess is None:
        return None
    at = wanted.bounds.of(guess.staged.x)
    if (moved & ((at > wanted.high) | (at < wanted.low))).any():
        gives = wanted.bounds.of(guess.staged.maps[-1])
        found = _pressing(at, wanted.low, wanted.high, np.where(moved[:, None], gives, 0.0))
        guess = None if found is None else _with(start, stacked([holds, at_limits(wanted, found)]), wishes)
        if guess is None or found is None:
            return None
        active = found
    multipliers = np.zeros(len(active))
    multipliers[active != 0] = guess.multipliers[len(holds) :]
    if (multipliers * active > 0.0).any() or (np.abs(multipliers[active != 0]) <= presses).any():
        return None
    y = np.concatenate([guess.multipliers[: len(holds)], multipliers[moved]])
    return (guess.staged, active) if _certain(_Asked(start, wanted, holds, bounds, moved), guess, y) else None


def _pressing(at: Floats, low: Floats, high: Floats, gives: Floats) -> Ints | None:
    """Which bounds (q,) press, found by rounds over the bounds alone: they stand `at` (q,) with none pressing, and a
    pull on them moves them by W W', W (q, m) how they follow the wishes. None where the rounds come to no end."""
    moves = gives @ gives.T
    active, there, pulls = np.zeros(len(at), dtype=np.intp), at, np.zeros(len(at))
    movable = moves.diagonal() > 0.0
    for _ in range(ROUNDS):
        missed = np.where((active == 0) & movable, (there > high).astype(np.intp) - (there < low), 0)
        wrong = pulls * active > 0.0
        if not (missed.any() or wrong.any()):
            return active
        active = np.where(wrong, 0, active + missed)
        own = active.nonzero()[0]
        limit = np.where(active[own] < 0, low[own], high[own])
        pulls = np.zeros(len(at))
        try:
            pulls[own] = np.linalg.solve(moves[own[:, None], own], limit - at[own])
        except np.linalg.LinAlgError:
            return None
        there = at + moves @ pulls
    return None


def _with(start: Staged, held: Rows, wishes: Rows) -> _Guess | None:
    """The answer when these rows are held; None where they depend on each other or on what is settled."""
    staged = start.copy().add(held)
    if len(start.free) - len(staged.free) < len(held):
        return None
    follows = staged.maps[-1]
    staged.add(wishes)
    weighed = wishes.dense(len(staged.x)) / wishes.scale[:, None]
    over = (wishes.of(staged.x) - wishes.value) / wishes.scale
    return _Guess(staged, weighed, over, follows.T @ (weighed.T @ over))


def _certain(asked: _Asked, guess: _Guess, y: Floats) -> bool:
    """Whether the conditions of an optimum hold, over what was free and from where the guess came to."""
    free, x, wanted, holds, moved = asked.start.basis, guess.staged.x, asked.wanted, asked.holds, asked.moved
    off, at = holds.value - holds.of(x), wanted.bounds.of(x)
    stated = Stacked(
        guess.wishes @ free,
        -guess.over,
        np.concatenate([asked.start.contract(holds, free), asked.bounds[moved]]),
        np.concatenate([off, (wanted.low - at)[moved]]),
        np.concatenate([off, (wanted.high - at)[moved]]),
    )
    return certify(stated, Answer("optimal", np.zeros(free.shape[1]), y)).holds
