"""Selected: how far rows of large pieces may be off, and with which other rows together (covariance).

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

Pivots stay on the diagonal: the leading minors of W are products of those of K, positive in
any symmetric order.

Source: K. Takahashi, J. Fagan, M.-S. Chin (1973); A. Erisman, W. Tinney, On computing certain
elements of the inverse of a sparse matrix, Comm. ACM 18 (1975) (both from memory). Check:
dense inverses, and small pieces solved both ways.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fitsolve.light import cached_property, dataclass
from fitsolve.rows import Floats, Ints, Rows

if TYPE_CHECKING:
    from fitsolve.solve.sparse import System


@dataclass(frozen=True)
class SparseErrors:
    """Errors as the sparse system of their stages."""

    system: System

    @cached_property
    def _factors(self) -> Any:
        return _in_symmetric_mode(self.system.matrix, "COLAMD")

    def variance(self, rows: Rows) -> Floats:
        """See `Errors`."""
        wanted = self._in_coordinates(rows)
        owner, a, b = _pairs(wanted.indptr)
        covariance = self._covariance(wanted.indices[a], wanted.indices[b])
        addend = wanted.data[a] * wanted.data[b] * np.where(a == b, 1.0, 2.0) * covariance
        variance = np.bincount(owner, addend, len(rows))
        return np.where(variance > ROUNDING * np.bincount(owner, np.abs(addend), len(rows)), variance, 0.0)

    def covariances(self, rows: Rows, groups: Sequence[Ints]) -> list[Floats]:
        """See `Errors`."""
        if not groups:
            return []
        wanted = self._in_coordinates(rows.pick(np.concatenate(groups)))
        size = max(wanted.shape[1], 1)
        sizes = [len(rows) for rows in groups]
        group_of_row = np.repeat(np.arange(len(groups)), sizes)
        row_of_entry = np.repeat(np.arange(wanted.shape[0]), np.diff(wanted.indptr))
        keys, place = np.unique(group_of_row[row_of_entry] * size + wanted.indices, return_inverse=True)
        start = np.searchsorted(keys, np.arange(len(groups) + 1) * size)
        owner, a, b = _pairs(start)
        few = np.diff(start)[owner] <= COORDINATES_MOST
        owner, a, b = owner[few], a[few], b[few]
        covariance = self._covariance(keys[a] % size, keys[b] % size)
        pair_start = np.searchsorted(owner, np.arange(len(groups) + 1))
        row_start = np.concatenate([[0], np.cumsum(sizes)])
        found = []
        for k in range(len(groups)):
            entries = slice(wanted.indptr[row_start[k]], wanted.indptr[row_start[k + 1]])
            weights = np.zeros((sizes[k], start[k + 1] - start[k]))
            weights[row_of_entry[entries] - row_start[k], place[entries] - start[k]] = wanted.data[entries]
            pairs = slice(pair_start[k], pair_start[k + 1])
            if weights.shape[1] > COORDINATES_MOST:
                block = self._block(keys[start[k] : start[k + 1]] % size)
            else:
                block = np.zeros((weights.shape[1], weights.shape[1]))
                block[a[pairs] - start[k], b[pairs] - start[k]] = covariance[pairs]
                block[b[pairs] - start[k], a[pairs] - start[k]] = covariance[pairs]
            found.append(_without_rounding(weights, block))
        return found

    def _in_coordinates(self, rows: Rows) -> Any:
        """The rows as weights on the coordinates of the system, in compressed rows."""
        from scipy.sparse import csr_array

        from fitsolve.solve.sparse import sparse_rows

        wanted = csr_array(sparse_rows(rows, self.system.coordinates.shape[0]) @ self.system.coordinates)
        wanted.eliminate_zeros()
        wanted.sort_indices()
        return wanted

    def _covariance(self, first: Ints, second: Ints) -> Floats:
        """The covariance of pairs of coordinates, each pair worked out once."""
        size = self.system.matrix.shape[0]
        if len(first) == 0:
            return np.zeros(0)
        keys, back = np.unique(first.astype(np.int64) * size + second, return_inverse=True)
        return coordinate_covariance(self.system, keys // size, keys % size)[back]

    def _block(self, coordinates: Ints) -> Floats:
        """The covariances of many coordinates with each other, from one solve each: all their pairs would fill
        the factors."""
        unit = np.zeros((self.system.matrix.shape[0], len(coordinates)))
        unit[coordinates, np.arange(len(coordinates))] = 1.0
        influence = np.asarray(self.system.noise.T @ self._factors.solve(unit, trans="T"))
        return np.asarray(influence.T @ influence)

    def influence(self, weights: Floats) -> Floats:
        """See `Errors`."""
        adjoint = self._factors.solve(np.asarray(self.system.coordinates.T @ weights), trans="T")
        return np.asarray(self.system.noise.T @ adjoint)

    def moved(self, errors: Floats) -> Floats:
        """See `Errors`."""
        if self.system.matrix.shape[0] == 0:
            return np.zeros((self.system.coordinates.shape[0], errors.shape[1]))
        moved = self._factors.solve(self.system.noise[:, : len(errors)] @ errors)
        return np.asarray(self.system.coordinates @ moved)


def _without_rounding(weights: Floats, block: Floats) -> Floats:
    """The covariance of rows given by their weights, nothing for rows whose variance is only rounding."""
    covariance = np.asarray(weights @ block @ weights.T)
    addends = np.einsum("ij,jk,ik->i", np.abs(weights), np.abs(block), np.abs(weights), optimize=True)
    nothing = np.diagonal(covariance) <= ROUNDING * addends
    covariance[nothing] = 0.0
    covariance[:, nothing] = 0.0
    return covariance


def _pairs(start: Ints) -> tuple[Ints, Ints, Ints]:
    """All pairs a <= b of places within each stretch start[k]:start[k + 1]: (stretch, a, b)."""
    counts = np.diff(start)
    own = np.arange(start[-1] - start[0]) + start[0]
    following = np.repeat(start[1:], counts) - own
    a = np.repeat(own, following)
    first = np.concatenate([[0], np.cumsum(following)])[:-1]
    b = a + np.arange(len(a)) - np.repeat(first, following)
    owner = np.repeat(np.repeat(np.arange(len(counts)), counts), following)
    return owner, a, b


def coordinate_covariance(system: System, first: Ints, second: Ints) -> Floats:
    """The covariance between coordinates first[k] and second[k]."""
    return selected_inverse(_padded(system, first, second), first, system.matrix.shape[0] + second)


def _padded(system: System, first: Ints, second: Ints) -> Any:
    """W with a place for every wanted entry of its inverse."""
    from scipy.sparse import block_array, coo_array, csc_array

    matrix, size = system.matrix, system.matrix.shape[0]
    whole = block_array([[matrix, -(system.noise @ system.noise.T)], [None, matrix.T]]).tocoo()
    rows = np.concatenate([whole.coords[0], size + second])
    columns = np.concatenate([whole.coords[1], first])
    values = np.concatenate([whole.data, np.zeros(len(first))])
    return csc_array(coo_array((values, (rows, columns)), shape=(2 * size, 2 * size)))


def selected_inverse(matrix: Any, rows: Ints, columns: Ints) -> Floats:
    """Return the entries (rows[k], columns[k]) of the inverse of a sparse matrix.

    The matrix must have nonzero leading minors under every symmetric permutation, as W has:
    they are products of those of K, whose diagonal blocks are positive definite. Each wanted
    (i, j) needs a place (i, j) or (j, i) in the matrix, if only an explicit zero.
    """
    pattern, order = _symbolic(matrix)
    entries = pattern.recursion(*_factors(matrix, order, pattern))
    return entries[pattern.find(order[rows], order[columns])]


def _symbolic(matrix: Any) -> tuple[_Pattern, Ints]:
    """The pattern of the factors, and the new number of each row under a fill-reducing order.

    Read off the factor of an M-matrix of the same pattern: all its fill has one sign, so
    nothing cancels and every place that can be filled is seen. Fill is a product of two entries
    and a pivot of at least 1; where entries are so small that one could vanish, as of a part with
    a hundred joints, the places are worked out one column after the other instead.
    """
    from scipy.sparse import csc_array

    places = csc_array((np.ones(matrix.nnz), matrix.indices, matrix.indptr), shape=matrix.shape)
    both = csc_array(places + places.T)  # of ones: sparse sums leave explicit zeros out
    del places
    both.data[:] = -1.0
    both.setdiag(0.0)
    both.setdiag(1.0 - np.asarray(both.sum(axis=0)))
    lu = _in_symmetric_mode(both, "COLAMD")
    order, lower = np.asarray(lu.perm_c, dtype=np.intp), csc_array(lu.L)
    del lu
    if np.abs(lower.data[lower.data != 0.0]).min(initial=1.0) < VANISHES:
        back = np.argsort(order)
        lower = _filled(csc_array(both[back][:, back]))
    lower.sort_indices()
    return _Pattern.of(lower), order


def _filled(places: Any) -> Any:
    """A lower triangle, with its diagonal, that holds every place a factor of a matrix with these places (of a
    symmetric pattern) can fill: below the diagonal, a column hands its places on to the column of the first."""
    from scipy.sparse import csc_array

    columns: list[Ints] = []
    under: dict[int, list[Ints]] = {}
    for k in range(places.shape[0]):
        own = places.indices[places.indptr[k] : places.indptr[k + 1]]
        column = np.unique(np.concatenate([own, *under.pop(k, [])]))
        column = column[column > k]
        columns.append(np.concatenate([[k], column]))
        if len(column):
            under.setdefault(int(column[0]), []).append(column)
    start = np.concatenate([[0], np.cumsum([len(column) for column in columns])])
    indices = np.concatenate(columns) if columns else np.zeros(0, dtype=np.intp)
    return csc_array((np.ones(len(indices)), indices, start), shape=places.shape)


def _in_symmetric_mode(matrix: Any, order: str) -> Any:
    from scipy.sparse import csc_array
    from scipy.sparse.linalg import splu

    lu = splu(
        csc_array(matrix), permc_spec=order, diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    assert np.array_equal(lu.perm_r, lu.perm_c), "a pivot left the diagonal"
    return lu


def _factors(matrix: Any, order: Ints, pattern: _Pattern) -> tuple[Floats, Floats, Floats]:
    """D, and L and U~' below the diagonal on the pattern (entries,), for the matrix in this order."""
    from scipy.sparse import csc_array

    back = np.argsort(order)
    lu = _in_symmetric_mode(csc_array(matrix)[back][:, back], "NATURAL")
    assert np.array_equal(lu.perm_c, np.arange(len(order))), "the order was changed"
    diagonal = lu.U.diagonal()
    low, up = np.zeros(len(pattern.index)), np.zeros(len(pattern.index))
    lower, upper = lu.L.tocoo(), lu.U.tocoo()
    below = lower.row > lower.col
    low[pattern.below(lower.row[below], lower.col[below])] = lower.data[below]
    above = upper.row < upper.col
    up[pattern.below(upper.col[above], upper.row[above])] = upper.data[above] / diagonal[upper.row[above]]
    return diagonal, low, up


@dataclass(frozen=True)
class _Pattern:
    """Where the factors can be nonzero below the diagonal: rows index[start[i]:start[i+1]] of column i.

    Entries of Z are kept in one array: first those below the diagonal, in the order of `index`,
    then those above (mirrored), then the diagonal. `keys` are column * n + row, ascending.
    """

    n: int
    start: Ints
    index: Ints
    keys: Ints

    @classmethod
    def of(cls, lower: Any) -> _Pattern:
        """Read a lower triangular factor with its diagonal, columns sorted."""
        n = lower.shape[0]
        start = lower.indptr.astype(np.intp)
        keep = np.ones(len(lower.indices), dtype=bool)
        keep[start[:-1]] = False
        index = lower.indices[keep].astype(np.int64)
        start = start - np.arange(n + 1)
        keys = np.repeat(np.arange(n, dtype=np.int64), np.diff(start)) * n + index
        return cls(n, start, index, keys)

    def below(self, rows: Ints, columns: Ints) -> Ints:
        """Where entries with row > column stand among those below the diagonal."""
        wanted = columns.astype(np.int64) * self.n + rows
        place = np.searchsorted(self.keys, wanted)
        assert np.array_equal(self.keys[np.minimum(place, len(self.keys) - 1)], wanted), "outside the pattern"
        return place

    def find(self, rows: Ints, columns: Ints) -> Ints:
        """Where the entries (rows, columns) of Z stand."""
        count = len(self.keys)
        place = 2 * count + rows
        low, up = rows > columns, rows < columns
        place[low] = self.below(rows[low], columns[low])
        place[up] = count + self.below(columns[up], rows[up])
        return place

    def recursion(self, diagonal: Floats, low: Floats, up: Floats) -> Floats:
        """All entries of Z on the pattern, from the last pivot to the first."""
        count, start = len(self.keys), self.start.tolist()
        entries = np.zeros(2 * count + self.n)
        inverse_diagonal = (1.0 / diagonal).tolist()
        for high in range(self.n, 0, -CHUNK):
            base = max(0, high - CHUNK)
            gathered, gather_start = self._gathers(base, high)
            for i in range(high - 1, base - 1, -1):
                a, b = start[i], start[i + 1]
                if a == b:
                    entries[2 * count + i] = inverse_diagonal[i]
                    continue
                g = gather_start[i - base]
                block = entries[gathered[g : g + (b - a) ** 2]].reshape(b - a, b - a)
                column = -(block @ low[a:b])
                entries[a:b] = column
                entries[count + a : count + b] = -(up[a:b] @ block)
                entries[2 * count + i] = inverse_diagonal[i] - up[a:b] @ column
        return entries

    def _gathers(self, base: int, high: int) -> tuple[Ints, list[int]]:
        """For pivots base..high, where the block Z[S, S] of each stands, S its rows below."""
        widths = np.diff(self.start[base : high + 1])
        sizes = widths * widths
        start = np.concatenate([[0], np.cumsum(sizes)])
        pivot = np.repeat(np.arange(high - base), sizes)
        inner = np.arange(start[-1]) - np.repeat(start[:-1], sizes)
        first = self.start[base:high][pivot]
        row = self.index[first + inner // widths[pivot]]
        column = self.index[first + inner % widths[pivot]]
        return self.find(row, column), start.tolist()


COORDINATES_MOST = 150
"""The pairs of so many coordinates are taken from the factors together; of more, one after the other."""

VANISHES = 1e-140
"""The product of two entries smaller than this may be too small for a number, and be left out as nothing."""

ROUNDING = 1e-12
"""A sum of squares this small beside its addends is nothing: what cancels exactly must not look
like a doubt, for a value that stands on its limit without doubt keeps it."""

CHUNK = 4096
"""Pivots whose gathers are prepared together: bounds the memory, keeps numpy busy."""
