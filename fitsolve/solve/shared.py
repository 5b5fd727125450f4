"""Shared: errors that many rows have together, as the zero and the scale of a tool.

Stage 1 with a few unknowns t more, each with a row of its own that says 0 with its u (P the
diagonal of 1 / u^2), all rows divided by their u:

    A x + T t = b,      P^(1/2) t = 0.

The unknowns t are few and touch everything, so they are not put into the rows: pieces would hang
together that have nothing else in common, and large ones would fill in. They are eliminated. With
t known, x(t) = M1 (b - T t) as ever, R0 = I - A M1, and

    S = P + sum over pieces of T' R0 T,      t = S^-1 sum of T' R0 b,      Cov(t) = S^-1.

Then every piece is solved by itself with b - T t. How x errs with t known has nothing to do with
how t errs, so with J = -M1 T (M1 of whatever answer is asked for)

    Cov(x) = Cov(x, t known) + J S^-1 J',  and between two pieces a and b  J_a S^-1 J_b'.

Residuals: R = R0 - (R0 T) S^-1 (R0 T)', between pieces too; for the rows of t themselves
I - P^(1/2) S^-1 P^(1/2), and between both -(R0 T) S^-1 P^(1/2).

Which marks are settled has nothing to do with t: its own rows settle it.

Source: elimination of unknowns from normal equations, any text on adjustment of observations; the
same written as one least squares problem is what the tests hold it against.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from fitsolve.light import dataclass, replace
from fitsolve.rows import Floats, Ints, Network, Rows, Shared
from fitsolve.solve.covariance import Errors

if TYPE_CHECKING:
    from fitsolve.solve.wanted import AnyStaged


@dataclass(frozen=True)
class Told:
    """What is shared, as found: `value` (k,), a root (k, k) of its covariance, `u` (k,) as given."""

    value: Floats
    root: Floats
    u: Floats


@dataclass(frozen=True)
class PieceShared:
    """What the measured rows of a piece (m,) share: T (m, k) and R0 T (m, k), both by u; and `told`."""

    weights: Floats
    unexplained: Floats
    told: Told

    @property
    def spread(self) -> Floats:
        """R0 T S^-1/2 (m, k): R = R0 - spread spread'."""
        return self.unexplained @ self.told.root


def weights_of(shared: Shared, chosen: Ints, scale: Floats, rows: int) -> Floats:
    """T (m, k) of some measured rows (by number in the whole, which has so many), divided by their u."""
    place = np.full(rows, -1, dtype=np.intp)
    place[chosen] = np.arange(len(chosen))
    own = place[shared.row] >= 0
    weights = np.zeros((len(chosen), len(shared.u)))
    np.add.at(weights, (place[shared.row[own]], shared.column[own]), shared.coef[own])
    return np.asarray(weights / scale[:, None])


def find_shared(
    network: Network, pieces: Sequence[tuple[Ints, Rows, Rows | None]], start: Callable[[int], AnyStaged]
) -> list[PieceShared]:
    """Return, piece by piece, what its measured rows share, found from all pieces together.

    `pieces` are, for each, the numbers of its measured rows in the whole, these rows with its marks
    numbered from 0, and how they are counted if otherwise; `start(n)` begins the stages of n marks.
    """
    shared = network.shared
    assert shared is not None, "asked for only where something is shared"
    normal = np.diag(1.0 / shared.u**2)
    right = np.zeros(len(shared.u))
    parts = []
    for chosen, rows, counted in pieces:
        weights = weights_of(shared, chosen, rows.scale, len(network.measured))
        unexplained = weights
        if np.any(weights):
            stage = start(int(rows.mark.max()) + 1).add(rows, counted)
            fitted = columns_of(rows, stage.errors(1).moved(weights)) / rows.scale[:, None]
            unexplained = weights - fitted
            normal = normal + weights.T @ unexplained
            right = right + unexplained.T @ (rows.value / rows.scale)
        parts.append((weights, unexplained))
    covariance = np.linalg.inv(normal)
    covariance = (covariance + covariance.T) / 2
    told = Told(covariance @ right, np.asarray(np.linalg.cholesky(covariance), dtype=np.float64), shared.u)
    return [PieceShared(weights, unexplained, told) for weights, unexplained in parts]


def corrected(network: Network, told: Told) -> Network:
    """The network with what is shared taken off its readings and off what rough marks still are; how well what is
    left of it is known counts into how well that wood is, as if by itself."""
    value = told.value
    shared = network.shared
    assert shared is not None, "asked for only where something is shared"
    off = np.bincount(shared.row, shared.coef * value[shared.column], len(network.measured))
    bounds = network.bounds
    high = bounds.high - np.bincount(shared.bound, shared.bound_coef * value[shared.bound_column], len(bounds.rows))
    weight = np.zeros((len(bounds.rows), len(value)))
    np.add.at(weight, (shared.bound, shared.bound_column), shared.bound_coef)
    beside = np.square(weight @ told.root).sum(axis=1)
    rows = replace(bounds.rows, scale=np.where(beside > 0.0, np.sqrt(bounds.rows.scale**2 + beside), bounds.rows.scale))
    measured = replace(network.measured, value=network.measured.value - off)
    return replace(network, measured=measured, bounds=replace(bounds, rows=rows, high=high))


def columns_of(rows: Rows, x: Floats) -> Floats:
    """What each row comes to at each column of x (n, k), column by column."""
    return np.column_stack([rows.of(x[:, k]) for k in range(x.shape[1])])


@dataclass(frozen=True)
class SharedErrors:
    """How positions err, errors that readings share included; `moves` (n, k) is J S^-1/2."""

    base: Errors
    shared: PieceShared
    moves: Floats

    def variance(self, rows: Rows) -> Floats:
        """See `Errors`."""
        return np.asarray(self.base.variance(rows) + np.square(columns_of(rows, self.moves)).sum(axis=1))

    def covariances(self, rows: Rows, groups: Sequence[Ints]) -> list[Floats]:
        """See `Errors`."""
        every = columns_of(rows, self.moves)
        moves = [every.take(own, axis=0) for own in groups]
        alone = self.base.covariances(rows, groups)
        return [np.asarray(one + moved @ moved.T) for one, moved in zip(alone, moves, strict=True)]

    def influence(self, weights: Floats) -> Floats:
        """See `Errors`. One entry more stands at the end, for what comes in from elsewhere: from what
        the errors that are shared are given, and from readings of other pieces."""
        alone = self.base.influence(weights)
        by_shared = weights @ self.moves
        own = alone.copy()
        own[: len(self.shared.spread)] += self.shared.spread @ by_shared
        total = float(alone @ alone) + float(by_shared @ by_shared)
        return np.append(own, np.sqrt(max(total - float(own @ own), 0.0)))

    def moved(self, errors: Floats) -> Floats:
        """See `Errors`."""
        by_shared = self.shared.spread.T @ errors
        return np.asarray(self.base.moved(errors) + self.moves @ by_shared)


def shared_part(errors: Errors, rows: Rows) -> Floats | None:
    """How rows (m, k) move with the k independent unit errors that the readings of all pieces share, None where with
    none: the covariance of rows of two pieces is the product of theirs."""
    return columns_of(rows, errors.moves) if isinstance(errors, SharedErrors) else None


def with_shared(base: Errors, shared: PieceShared | None) -> Errors:
    """How positions err, errors that are shared counted in."""
    if shared is None or not np.any(shared.weights):
        return base
    return SharedErrors(base, shared, -base.moved(shared.weights) @ shared.told.root)
