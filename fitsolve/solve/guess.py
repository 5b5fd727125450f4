"""Guess: the best positions where a few guesses at the bounds that press do, each solved as stages.

First no bound is taken to press, then those that the answer misses, less those whose multiplier pulls
the wrong way. With E the rows held (holds, pressing bounds at their limits) and F the wishes by their
scales, the answer is two stages of least squares, and with x = M_E e + ... the first of their maps gives the
multipliers: E has independent rows, so E M_E = I and

    F'(F x - g) = E'y   on what was free   means   y = M_E' F'(F x - g).

The last guess stands only if the conditions of an optimum hold for it, worked out from the rows as they
were given. Otherwise, or where anything is not plain (rows that say the same twice, a bound that touches
and does not press), nothing is said and the search has to tell (quadratic).

Source: M. Hintermueller, K. Ito, K. Kunisch, The primal-dual active set strategy as a semismooth Newton
method, SIAM J. Optim. 13 (2002) (from memory).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Flags, Floats, Ints, Rows, stacked
from fitsolve.solve.certificate import Answer, Stacked, certify
from fitsolve.solve.staged import Staged
from fitsolve.solve.wanted import Wanted, at_limits

GUESSES = 4
"""So many guesses are tried."""


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
    active = np.zeros(len(wanted.bounds), dtype=np.intp)
    holds = replace(holds, scale=np.ones(len(holds)))
    for _ in range(GUESSES):
        guess = _with(start, stacked([holds, at_limits(wanted, active)]) if active.any() else holds, wishes)
        if guess is None:
            return None
        multipliers = np.zeros(len(active))
        multipliers[active != 0] = guess.multipliers[len(holds) :]
        at = wanted.bounds.of(guess.staged.x)
        missed = np.where((active == 0) & moved, (at > wanted.high).astype(np.intp) - (at < wanted.low), 0)
        wrong = multipliers * active > 0.0
        if not (missed.any() or wrong.any()):
            break
        active = np.where(wrong, 0, active + missed)
    else:
        return None
    if (np.abs(multipliers[active != 0]) <= presses).any():
        return None
    y = np.concatenate([guess.multipliers[: len(holds)], multipliers[moved]])
    return (guess.staged, active) if _certain(start, wanted, holds, moved, guess, y) else None


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


def _certain(start: Staged, wanted: Wanted, holds: Rows, moved: Flags, guess: _Guess, y: Floats) -> bool:
    """Whether the conditions of an optimum hold, over what was free and from where the guess came to."""
    free, x = start.basis, guess.staged.x
    off, at = holds.value - holds.of(x), wanted.bounds.of(x)
    rows = np.concatenate([start.contract(holds, free), start.contract(wanted.bounds, free)[moved]])
    low = np.concatenate([off, (wanted.low - at)[moved]])
    high = np.concatenate([off, (wanted.high - at)[moved]])
    stated = Stacked(guess.wishes @ free, -guess.over, rows, low, high)
    return certify(stated, Answer("optimal", np.zeros(free.shape[1]), y)).holds
