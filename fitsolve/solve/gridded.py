"""Gridded: the marks to be cut as whole steps from what they are laid out from, and what bounds them.

With x the exact answer, x + delta what is laid out instead, every mark i that is laid out from mark r
runs  w_i (x_i - x_r) = F_i  (w = +1 or -1, the way its figures run) and is moved by lambda_i:

    delta_i = delta_r + w_i lambda_i,      lambda_i = f_i (k_i + b_i) - F_i,   k_i = floor(F_i / f_i)

with f_i its finest step and b_i whole; its line is k_i + b_i steps from r. Marks that are there move
with what they are tied to only: delta = N z over them, N a basis of what the facts leave free. So
every bound  low <= c x <= high  becomes a row over lambda and z,

    low - c x  <=  L lambda + Z z  <=  high - c x.

A bound that the exact answer itself misses may be missed by as much. Holds are rows with 0 on both
sides; a slope whose ends both stand on lines may be off by one step, and so may a hole laid out from another
where nothing is left that could follow. Variables and rows that share
nothing fall into groups, each rounded by itself (rounding). Where no row notices that everything moves
together (each row of Z adds up to 0), one z may be left at 0: the one that most rows share, so that
what only stands beside it falls apart.

Not here: which multiple (rounding), what the rows are about (findings).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from fitsolve.light import dataclass, replace
from fitsolve.rows import Flags, Floats, Ints, Rows, stacked

if TYPE_CHECKING:
    from fitsolve.solve.wanted import Wanted

ROUNDING = 1e-12
ON_A_LINE = 1e-7
"""A figure nearer than this (mm) to a multiple of its step is that multiple."""

FOLLOWS = 1e-9
"""What is left of a row, to this part of it, once all that other rows have taken is out of it, is rounding."""

DENSE_MOST = 200_000
"""Up to so many entries the rows are kept as arrays, which need no sparse library."""

Sparse = Any


@dataclass(frozen=True)
class Lines:
    """The marks (m,) to be laid out: from which mark, which way (+1 or -1), in steps of so many mm, and
    their exact figures, mm. `same` (n,) names for each mark the one that it is cut with (itself, but for
    stations)."""

    mark: Ints
    reference: Ints
    way: Floats
    step_mm: Floats
    figure_mm: Floats
    same: Ints

    def __len__(self) -> int:
        return len(self.mark)

    @property
    def whole(self) -> Floats:
        """The steps (m,) at or below each figure."""
        return np.floor((self.figure_mm + ON_A_LINE) / self.step_mm)

    def at(self, lines: Ints | Floats) -> Floats:
        """Where lines (m,) so many steps away are, mm."""
        return np.asarray(lines * self.step_mm)


@dataclass(frozen=True)
class Group:
    """Lines that are bound to each other: `member` (m,) numbers them in the whole, `row` (q,) the rows.

    `step_mm`, `over_mm` (m,): the step f, and how far the figure is above the line under it; `lines`
    (q, m) and `placing` (q, k) are L and Z, sparse or dense, `low` and `high` (q,) what bounds them, mm.
    """

    member: Ints
    row: Ints
    step_mm: Floats
    over_mm: Floats
    lines: Sparse
    placing: Sparse
    low: Floats
    high: Floats

    def with_steps(self, chosen: Ints, step_mm: Floats, figure_mm: Floats) -> Group:
        """The same with other steps for the chosen lines; `figure_mm` (m,) are all exact figures."""
        step, over = self.step_mm.copy(), self.over_mm.copy()
        step[chosen] = step_mm
        over[chosen] = over_line(figure_mm[chosen], step_mm)
        return replace(self, step_mm=step, over_mm=over)


def over_line(figure_mm: Floats, step_mm: Floats) -> Floats:
    """How far figures are above the multiples of their steps at or below them; 0 where they stand on one."""
    over = figure_mm - np.floor((figure_mm + ON_A_LINE) / step_mm) * step_mm
    return np.where(np.abs(over) <= ON_A_LINE, 0.0, over)


def groups(lines: Lines, wanted: Wanted, x: Floats, basis: Any) -> Iterator[Group]:
    """Yield what is bound together; `x` (n,) is the exact answer, `basis` (n, free) what facts leave free.

    Rows are numbered with the bounds first, then the holds. Lines come in their own order.
    """
    rows = stacked([wanted.bounds, wanted.holds])
    at = wanted.bounds.of(x)
    small = isinstance(basis, np.ndarray) and len(rows) * (len(basis) + basis.shape[1]) <= DENSE_MOST
    on_lines, on_placing = (_contracted_dense if small else _contracted)(rows, lines, basis)
    still = np.zeros(len(wanted.holds))
    low = np.concatenate([np.minimum(wanted.low - at, 0.0), -still])
    high = np.concatenate([np.maximum(wanted.high - at, 0.0), still])
    off = np.concatenate([np.zeros(len(at)), _off_a_slope(wanted.holds, float(lines.step_mm.max(initial=0.0)))])
    q, m = on_lines.shape
    _, label = together(_beside(on_lines, on_placing))
    whole = _beside(on_lines, _one_standing(on_placing, label[:q], label[q + m :]))
    count, label = together(whole)
    row_of, column_of = _members(label[:q], count), _members(label[q:], count)
    over = over_line(lines.figure_mm, lines.step_mm)
    for one in sorted(set(label[q : q + m].tolist())):
        columns, own = column_of[one], row_of[one]
        member = columns[columns < m]
        block = whole[np.ix_(own, columns)] if small else _block(whole, own, columns)
        slack = np.zeros(len(own))
        held = np.flatnonzero(own >= len(at))
        slack[held] = np.where(_follows(block[held][:, len(member) :], off[own[held]] > 0), 0.0, off[own[held]])
        yield Group(
            member,
            own,
            lines.step_mm[member],
            over[member],
            block[:, : len(member)],
            block[:, len(member) :],
            low[own] - slack,
            high[own] + slack,
        )


def dense(matrix: Sparse) -> Floats:
    """A matrix, sparse or not, as an array."""
    return matrix if isinstance(matrix, np.ndarray) else np.asarray(matrix.toarray(), dtype=np.float64)


def touched(matrix: Sparse) -> Flags:
    """The rows of a matrix, sparse or not, that have entries."""
    if isinstance(matrix, np.ndarray):
        return np.asarray((matrix != 0.0).any(axis=1))
    return np.asarray(np.diff(matrix.indptr) > 0)


def _beside(first: Sparse, second: Sparse) -> Sparse:
    if isinstance(first, np.ndarray):
        return np.hstack([first, second])
    from scipy.sparse import csr_array, hstack

    return csr_array(hstack([first, second], format="csr"))


def _off_a_slope(holds: Rows, step_mm: float) -> Floats:
    """How far each hold (p,) may be off at the layout: a slope whose ends both stand on lines by one
    step, for no whole steps keep 1 in 7, and so a hole laid out from another; a distance not at all. A row that
    counts its first mark several times may be off by so many."""
    times = np.abs(holds.coef[holds.start[:-1]]) if len(holds) else np.zeros(0)
    return np.where(holds.lengths > 2, step_mm * times, 0.0)


def _follows(placing: Sparse, may_be_off: Flags) -> Flags:
    """The holds (p,) of a group that something can follow which stands on no line: an end that a slope places.
    What one row has taken no other can have, so that a hole laid out from such an end may be off: those count that
    add to the rank, those that may not be off first, then in their order."""
    if placing.shape[0] * placing.shape[1] > DENSE_MOST:
        return touched(placing)
    rows = dense(placing)
    found = np.zeros(len(rows), dtype=bool)
    taken: list[Floats] = []
    for k in np.argsort(may_be_off, kind="stable").tolist():
        left = rows[k].copy()
        for _ in range(2):  # twice is enough against rounding
            for one in taken:
                left -= (left @ one) * one
        length = float(np.linalg.norm(left))
        if length > FOLLOWS * max(float(np.linalg.norm(rows[k])), 1e-300):
            found[k] = True
            taken.append(left / length)
    return found


def together(matrix: Sparse) -> tuple[int, Ints]:
    """How many groups the rows and columns of a matrix fall into, and the group of each row, then column."""
    if isinstance(matrix, np.ndarray):
        return _together_dense(matrix)
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components

    q, width = matrix.shape
    entries = matrix.tocoo()
    links = csr_array((np.ones(entries.nnz), (entries.coords[0], q + entries.coords[1])), shape=(q + width, q + width))
    count, label = connected_components(links, directed=False)
    return count, label


def _together_dense(matrix: Floats) -> tuple[int, Ints]:
    q, width = matrix.shape
    beside: list[list[int]] = [[] for _ in range(q + width)]
    for row, column in np.argwhere(matrix).tolist():
        beside[row].append(q + column)
        beside[q + column].append(row)
    label = [-1] * (q + width)
    count = 0
    for first in range(q + width):
        if label[first] >= 0:
            continue
        label[first] = count
        reached = [first]
        while reached:
            for other in beside[reached.pop()]:
                if label[other] < 0:
                    label[other] = count
                    reached.append(other)
        count += 1
    return count, np.array(label, dtype=np.intp)


def _one_standing(placing: Sparse, row_group: Ints, column_group: Ints) -> Sparse:
    """Z without the column that most rows share, in every group whose rows all add up to 0."""
    moved = np.abs(np.asarray(placing.sum(axis=1))) > ROUNDING
    bound_to_place = set(row_group[moved].tolist())
    entries = np.asarray((placing != 0.0).sum(axis=0))
    order = np.lexsort((-entries, column_group))
    first = order[np.diff(column_group[order], prepend=-1) > 0]
    stands = [column for column in first.tolist() if int(column_group[column]) not in bound_to_place]
    keep = np.ones(placing.shape[1])
    keep[stands] = 0.0
    if isinstance(placing, np.ndarray):
        return placing * keep
    from scipy.sparse import csr_array, diags_array

    return _clean(csr_array(placing @ diags_array(keep)))


def _block(whole: Sparse, rows: Ints, columns: Ints) -> Sparse:
    """These rows and columns; all entries of the rows lie in them."""
    from scipy.sparse import csr_array

    lengths = whole.indptr[rows + 1] - whole.indptr[rows]
    start = np.concatenate([[0], np.cumsum(lengths)])
    entry = np.repeat(whole.indptr[rows] - start[:-1], lengths) + np.arange(start[-1])
    place = np.searchsorted(columns, whole.indices[entry])
    return csr_array((whole.data[entry], place, start), shape=(len(rows), len(columns)))


def _members(label: Ints, count: int) -> list[Ints]:
    order = np.argsort(label, kind="stable")
    return np.split(order, np.searchsorted(label[order], np.arange(1, count))) if count else []


def _entries(rows: Rows, lines: Lines, n: int) -> tuple[tuple[Floats, Ints, Ints], tuple[Floats, Ints, Ints]]:
    """The entries (coefficient, row, column) of the rows over the lines, and over the marks that stand for them."""
    place = np.full(n, -1, dtype=np.intp)
    place[lines.mark] = np.arange(len(lines))
    mark, owner = lines.same[rows.mark], rows.owner()
    at = place[mark]
    laid = at >= 0
    moved = mark.copy()
    moved[laid] = lines.reference[at[laid]]
    return (rows.coef[laid] * lines.way[at[laid]], owner[laid], at[laid]), (rows.coef, owner, moved)


def _contracted(rows: Rows, lines: Lines, basis: Any) -> tuple[Sparse, Sparse]:
    """Rows over lambda (q, m) and over z (q, free)."""
    from scipy.sparse import csr_array

    n = basis.shape[0]
    (coef, owner, at), (moved_coef, moved_owner, moved) = _entries(rows, lines, n)
    on_lines = csr_array((coef, (owner, at)), shape=(len(rows), len(lines)))
    kept = csr_array((moved_coef, (moved_owner, moved)), shape=(len(rows), n))
    return _clean(on_lines), _clean(csr_array(kept @ csr_array(basis)))


def _contracted_dense(rows: Rows, lines: Lines, basis: Floats) -> tuple[Floats, Floats]:
    """The same as arrays."""
    (coef, owner, at), (moved_coef, moved_owner, moved) = _entries(rows, lines, len(basis))
    on_lines, on_marks = np.zeros((len(rows), len(lines))), np.zeros((len(rows), len(basis)))
    np.add.at(on_lines, (owner, at), coef)
    np.add.at(on_marks, (moved_owner, moved), moved_coef)
    on_placing = on_marks @ basis
    none = np.abs(on_lines) < ROUNDING, np.abs(on_placing) < ROUNDING
    return np.where(none[0], 0.0, on_lines), np.where(none[1], 0.0, on_placing)


def _clean(matrix: Sparse) -> Sparse:
    matrix.sum_duplicates()
    matrix.data[np.abs(matrix.data) < ROUNDING] = 0.0
    matrix.eliminate_zeros()
    return matrix
