"""Covariance: how far rows of the answer may be off, and with which other rows together.

Small pieces keep the map from unit errors to positions, x_err = M e; then the variance of a
row c is |c'M|^2.

Large pieces keep the sparse system of their stages, K c = B e, x = Q c. One solve for each
distance would be quadratic; instead all variances come from one factorisation. The matrix

    W = [ K   -B B' ]          has in its inverse, upper right,          K^-1 B B' K^-T,
        [ 0     K'  ]

which is Cov(c). Entries of an inverse on the pattern of the (transposed) factors L + U follow
from the factors by a recursion from the last pivot to the first; explicit zeros put into W
make the pattern hold every pair of coordinates that a wanted row touches.

    Z = W^-1 (permuted), U = D U~:   Z_ij = - sum_{k>i} U~_ik Z_kj           (i < j)
                                     Z_ji = - sum_{k>i} Z_jk L_ki
                                     Z_ii = 1 / D_i - sum_{k>i} U~_ik Z_ki

Source: K. Takahashi, J. Fagan, M.-S. Chin (1973); A. Erisman, W. Tinney, On computing certain
elements of the inverse of a sparse matrix, Comm. ACM 18 (1975) (both from memory). Check:
dense inverses, and small pieces solved both ways.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from fitsolve.rows import Floats, Ints, Rows

if TYPE_CHECKING:
    from fitsolve.solve.sparse import System


class Errors(Protocol):
    """How positions err, in whatever form a piece keeps it."""

    def variance(self, rows: Rows) -> Floats:
        """The variance (m,) of each row, mm^2."""

    def covariances(self, groups: Sequence[Rows]) -> list[Floats]:
        """For each group of m rows, their covariance (m, m), mm^2."""

    def influence(self, weights: Floats) -> Floats:
        """How a row, given by its weights on all marks (n,), moves with each unit error."""


@dataclass(frozen=True)
class DenseErrors:
    """Errors as a map (n, e) from independent unit errors."""

    maps: Floats

    def variance(self, rows: Rows) -> Floats:
        """See `Errors`."""
        return np.asarray(np.square(rows.of(self.maps)).sum(axis=1))

    def covariances(self, groups: Sequence[Rows]) -> list[Floats]:
        """See `Errors`."""
        spreads = [rows.of(self.maps) for rows in groups]
        return [spread @ spread.T for spread in spreads]

    def influence(self, weights: Floats) -> Floats:
        """See `Errors`."""
        return np.asarray(weights @ self.maps)


@dataclass(frozen=True)
class SparseErrors:
    """Errors as the sparse system of their stages."""

    system: System

    def variance(self, rows: Rows) -> Floats:
        """See `Errors`."""
        blocks = self.covariances([rows.pick(np.array([k])) for k in range(len(rows))])
        return np.array([block[0, 0] for block in blocks])

    def covariances(self, groups: Sequence[Rows]) -> list[Floats]:
        """See `Errors`."""
        from scipy.sparse import csr_array, vstack

        from fitsolve.solve.sparse import sparse_rows

        n = self.system.coordinates.shape[0]
        if self.system.matrix.shape[0] == 0 or not groups:
            return [np.zeros((len(rows), len(rows))) for rows in groups]
        stacked = vstack([sparse_rows(rows, n) for rows in groups]).tocsr()
        wanted = csr_array(stacked @ self.system.coordinates)
        wanted.eliminate_zeros()
        ends = np.cumsum([len(rows) for rows in groups])
        supports = [
            np.unique(wanted.indices[wanted.indptr[end - len(rows)] : wanted.indptr[end]])
            for rows, end in zip(groups, ends, strict=True)
        ]
        blocks = coordinate_covariances(self.system, supports)
        found = []
        for rows, end, support, block in zip(groups, ends, supports, blocks, strict=True):
            weights = wanted[end - len(rows) : end][:, support].toarray()
            found.append(weights @ block @ weights.T)
        return found

    def influence(self, weights: Floats) -> Floats:
        """See `Errors`."""
        from scipy.sparse.linalg import splu

        lu = splu(self.system.matrix)
        adjoint = lu.solve(np.asarray(self.system.coordinates.T @ weights), trans="T")
        return np.asarray(self.system.noise.T @ adjoint)


def coordinate_covariances(system: System, supports: Sequence[Ints]) -> list[Floats]:
    """For each set of coordinates, the covariance between them."""
    from scipy.sparse import block_array, coo_array, csc_array

    matrix = system.matrix
    size = matrix.shape[0]
    first = np.concatenate([np.repeat(s, len(s)) for s in supports] or [np.zeros(0, dtype=np.intp)])
    second = np.concatenate([np.tile(s, len(s)) for s in supports] or [np.zeros(0, dtype=np.intp)])
    square = system.noise @ system.noise.T
    whole = block_array([[matrix, -square], [None, matrix.T]]).tocoo()
    padded = csc_array(
        coo_array(
            (
                np.concatenate([whole.data, np.zeros(len(first))]),
                (
                    np.concatenate([whole.coords[0], size + second]),
                    np.concatenate([whole.coords[1], first]),
                ),
            ),
            shape=(2 * size, 2 * size),
        )
    )
    values = selected_inverse(padded, first, size + second)
    cuts = np.cumsum([len(s) ** 2 for s in supports])[:-1]
    return [
        block.reshape(len(s), len(s)) for s, block in zip(supports, np.split(values, cuts), strict=True)
    ]


def selected_inverse(matrix: Any, rows: Ints, columns: Ints) -> Floats:
    """Return the entries (rows[k], columns[k]) of the inverse of a sparse matrix.

    Each wanted (i, j) needs a place (j, i) in the matrix, if only an explicit zero.
    """
    from scipy.sparse.linalg import splu

    lu = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=1e-3)
    pattern = _Pattern.of(lu.L, lu.U)
    entries = pattern.recursion()
    # Pr W Pc = L U, so W^-1 = Pc Z Pr: row i of W^-1 is row perm_c[i] of Z.
    return entries[pattern.find(lu.perm_c[rows], lu.perm_r[columns])]


@dataclass(frozen=True)
class _Pattern:
    """Where the entries of Z stand: `keys` are row * n + column, sorted, for the pattern of
    (L + U)'; the columns of L and the rows of U~ below and right of the diagonal."""

    n: int
    keys: Ints
    diagonal: Floats
    low: tuple[Ints, Ints, Floats]
    up: tuple[Ints, Ints, Floats]

    @classmethod
    def of(cls, lower: Any, upper: Any) -> _Pattern:
        """Read the factors: unit L by columns, U by rows and divided by its diagonal."""
        from scipy.sparse import csc_array, csr_array

        n = lower.shape[0]
        lower, by_rows = csc_array(lower), csr_array(upper)
        lower.sort_indices()
        by_rows.sort_indices()
        diagonal = by_rows.data[by_rows.indptr[:-1]]
        low = _off_diagonal(lower, np.ones(n))
        up = _off_diagonal(by_rows, diagonal)
        own = np.arange(n, dtype=np.int64)
        below = np.repeat(own, np.diff(low[0])) * n + low[1]
        above = up[1].astype(np.int64) * n + np.repeat(own, np.diff(up[0]))
        keys = np.sort(np.concatenate([below, above, own * n + own]))
        return cls(n, keys, diagonal, low, up)

    def find(self, rows: Ints, columns: Ints) -> Ints:
        """Where the entries (rows, columns) of Z stand."""
        wanted = np.asarray(rows, dtype=np.int64) * self.n + columns
        place = np.searchsorted(self.keys, wanted)
        assert np.array_equal(self.keys[np.minimum(place, len(self.keys) - 1)], wanted), "outside the pattern"
        return place

    def recursion(self) -> Floats:
        """All entries of Z on the pattern, from the last pivot to the first."""
        n = self.n
        low_start, low_index, low_value = self.low
        up_start, up_index, up_value = self.up
        entries = np.zeros(len(self.keys))
        on_diagonal = self.find(np.arange(n), np.arange(n)).tolist()
        in_row = self.find(np.repeat(np.arange(n), np.diff(low_start)), low_index)
        in_column = self.find(up_index, np.repeat(np.arange(n), np.diff(up_start)))
        inverse_diagonal = (1.0 / self.diagonal).tolist()
        low_at, up_at = low_start.tolist(), up_start.tolist()
        for high in range(n, 0, -CHUNK):
            base = max(0, high - CHUNK)
            gathered, gather_start = self._gathers(base, high)
            for i in range(high - 1, base - 1, -1):
                a, b, c, d = low_at[i], low_at[i + 1], up_at[i], up_at[i + 1]
                if a == b or c == d:
                    entries[on_diagonal[i]] = inverse_diagonal[i]
                    continue
                start = gather_start[i - base]
                block = entries[gathered[start : start + (b - a) * (d - c)]].reshape(d - c, b - a)
                factor = up_value[c:d]
                column = -(block @ low_value[a:b])
                entries[in_row[a:b]] = -(factor @ block)
                entries[in_column[c:d]] = column
                entries[on_diagonal[i]] = inverse_diagonal[i] - factor @ column
        return entries

    def _gathers(self, base: int, high: int) -> tuple[Ints, list[int]]:
        """For pivots base..high, where the block Z[row of U, column of L] of each stands."""
        low_start, low_index, _ = self.low
        up_start, up_index, _ = self.up
        widths = np.diff(low_start[base : high + 1])
        heights = np.diff(up_start[base : high + 1])
        sizes = widths * heights
        start = np.concatenate([[0], np.cumsum(sizes)])
        pivot = np.repeat(np.arange(high - base), sizes)
        inner = np.arange(start[-1]) - np.repeat(start[:-1], sizes)
        row = up_index[up_start[base:high][pivot] + inner // widths[pivot]]
        column = low_index[low_start[base:high][pivot] + inner % widths[pivot]]
        return self.find(row, column), start.tolist()


CHUNK = 4096
"""Pivots whose gathers are prepared together: bounds the memory, keeps numpy busy."""


def _off_diagonal(matrix: Any, divide_by: Floats) -> tuple[Ints, Ints, Floats]:
    """Start, index and value of the entries beyond the diagonal, which comes first in each."""
    start = matrix.indptr
    keep = np.ones(len(matrix.data), dtype=bool)
    keep[start[:-1]] = False
    owner = np.repeat(np.arange(len(start) - 1), np.diff(start))
    value = matrix.data / divide_by[owner]
    return start - np.arange(len(start)), matrix.indices[keep], value[keep]
