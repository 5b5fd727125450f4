"""Covariance: how far rows of the answer may be off, and with which other rows together.

Small pieces keep the map from unit errors to positions, x_err = M e; then the variance of a
row c is |c'M|^2. Large pieces keep the sparse system of their stages (selected).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

import numpy as np

from fitsolve.light import cached_property, dataclass
from fitsolve.rows import Floats, Ints, Rows


class Errors(Protocol):
    """How positions err, in whatever form a piece keeps it."""

    def variance(self, rows: Rows) -> Floats:
        """The variance (m,) of each row, mm^2."""

    def covariances(self, rows: Rows, groups: Sequence[Ints]) -> list[Floats]:
        """For each group of m rows, by their numbers, their covariance (m, m), mm^2."""

    def influence(self, weights: Floats) -> Floats:
        """How a row, given by its weights on all marks (n,), moves with each unit error."""

    def moved(self, errors: Floats) -> Floats:
        """How all marks move (n, k) with given errors (m, k) of the first m rows, in units of their u."""


@dataclass(frozen=True)
class DenseErrors:
    """Errors as a map (n, e) from independent unit errors."""

    maps: Floats

    @cached_property
    def few(self) -> Floats:
        """The same errors over at most 2 n unit errors, where there are many more readings than marks: with
        M' = Q R, M M' = R' R."""
        marks, errors = self.maps.shape
        if errors <= 2 * marks:
            return self.maps
        triangle: Any = np.linalg.qr(self.maps.T, mode="r")
        return np.asarray(triangle.T)

    def variance(self, rows: Rows) -> Floats:
        """See `Errors`."""
        return np.asarray(np.square(rows.of(self.few)).sum(axis=1))

    def covariances(self, rows: Rows, groups: Sequence[Ints]) -> list[Floats]:
        """See `Errors`."""
        every = rows.of(self.few)
        spreads = [every.take(own, axis=0) for own in groups]
        return [spread @ spread.T for spread in spreads]

    def influence(self, weights: Floats) -> Floats:
        """See `Errors`."""
        return np.asarray(weights @ self.maps)

    def moved(self, errors: Floats) -> Floats:
        """See `Errors`."""
        return np.asarray(self.maps[:, : len(errors)] @ errors)
