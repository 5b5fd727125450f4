"""Staged least squares for large pieces: the same stages as `staged`, on sparse matrices.

With V_s the columns that stage s settles and Q_s = N_(s-1)[:, V_s], positions are x = Q c with
one coordinate for each settled degree of freedom, and stage s says, with G_s = A_s Q_s,

    G_s' (A_s Q_1 c_1 + ... + A_s Q_s c_s) = G_s' b_s.

All stages together are one block lower triangular system K c = B b with K_ss = G_s'G_s. Its
diagonal blocks are symmetric positive definite, solved by sparse LU in symmetric mode with
one step of refinement. `covariance` takes K and B further.

Source: T. Davis, Direct Methods for Sparse Linear Systems (2006), for ordering and symmetric
mode (from memory); the stages as in `staged`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import Any

import numpy as np
from scipy.sparse import block_array, csc_array, csr_array, diags_array, eye_array
from scipy.sparse.linalg import SuperLU, splu

from fitsolve.light import dataclass
from fitsolve.rows import Cuts, Entries, Flags, Floats, Ints, Rows
from fitsolve.solve.freedom import Freedom
from fitsolve.solve.selected import SparseErrors
from fitsolve.solve.staged import EXACTLY, SQUARED, turning_marks

ROUNDING = 1e-12
FILL_MOST = 40_000
"""More entries than this are not filled in for the sake of what is free: 200 marks that one frame ties. A piece
where it is more counts its diagonals to first order of how unequal its sides are."""

Sparse = Any
"""A scipy.sparse array (scipy carries no types)."""


def sparse_rows(rows: Rows, width: int) -> Sparse:
    """The rows as a sparse (m, width) matrix."""
    return csr_array((rows.coef, rows.mark, rows.start), shape=(len(rows), width))


def factor(matrix: Sparse) -> SuperLU:
    """Sparse LU of a symmetric positive definite matrix, pivots kept on the diagonal."""
    return splu(
        csc_array(matrix),
        permc_spec="COLAMD",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )


@dataclass(frozen=True)
class Stage:
    """One stage: its rows A (m, n) divided by their scale, Q (n, k) of what it settles, G = A Q."""

    rows: Sparse
    settles: Sparse
    design: Sparse


@dataclass
class SparseStaged:
    """Positions x (n,) after the stages so far, the stages, and what is free; as `Staged`."""

    freedom: Freedom
    x: Floats
    basis: Sparse
    free: list[int]
    stages: list[Stage] = field(default_factory=list)

    @classmethod
    def start(cls, size: int) -> SparseStaged:
        """Nothing settled: every mark free, at its plan position."""
        return cls(Freedom(size), np.zeros(size), csc_array(eye_array(size)), list(range(size)))

    def copy(self) -> SparseStaged:
        """An independent copy, to go on from here in another way."""
        return SparseStaged(self.freedom.copy(), self.x.copy(), self.basis, self.free, list(self.stages))

    def add(self, rows: Rows, counted: Rows | None = None) -> SparseStaged:
        """Take one more stage, each row divided by its scale; returns self. `counted` as in `Staged.add`."""
        n = len(self.x)
        matrix = diags_array(1.0 / rows.scale) @ sparse_rows(rows, n) if len(rows) else csr_array((0, n))
        self.freedom.tie(rows if counted is None else counted)
        still_free = set(self.freedom.free_marks())
        settled = [k for k, mark in enumerate(self.free) if mark not in still_free]
        settles = csc_array(self.basis[:, settled])
        if counted is not None and settled:
            settles = square_to_free(matrix, settles, turning_marks(rows, counted), self.freedom)
        design = without_rounding(csc_array(matrix @ settles))
        self.stages.append(Stage(csr_array(matrix), settles, design))
        if settled:
            value = rows.value / rows.scale
            lu = factor(design.T @ design)
            for _ in range(2):
                self.x = self.x + settles @ lu.solve(design.T @ (value - matrix @ self.x))
        self.basis, self.free = free_basis(self.freedom)
        return self

    def contract(self, rows: Rows, basis: Sparse) -> Sparse:
        """The rows over the columns of a basis (m, k)."""
        return contract(rows, basis)

    @staticmethod
    def divided(matrix: Sparse, scale: Floats) -> Sparse:
        """A contracted matrix (m, k), each row divided by its scale (m,)."""
        return csr_array(diags_array(1.0 / scale) @ matrix)

    def settled(self, rows: Rows) -> Flags:
        """Whether the stages so far fix each row (m,)."""
        return np.asarray(np.diff(contract(rows, self.basis).indptr) == 0)

    @staticmethod
    def touched(matrix: Sparse) -> Ints:
        """The rows of a contracted matrix that anything moves."""
        return np.flatnonzero(np.diff(matrix.indptr) > 0)

    @property
    def depth(self) -> int:
        """How many stages there were."""
        return len(self.stages)

    def errors(self, noisy: int, later: Mapping[int, Entries] | None = None) -> SparseErrors:
        """How positions err; `later` as in `Staged.errors`."""
        noises: list[Sparse | None] = [None] * noisy
        for stage in range(noisy, max(later) + 1 if later else noisy):
            rows = self.stages[stage].rows.shape[0]
            given = (later or {}).get(stage)
            noises.append(csr_array((rows, 0)) if given is None else sparse_entries(given, rows))
        return SparseErrors(system(self, noises))


def free_basis(freedom: Freedom) -> tuple[Sparse, list[int]]:
    """N (n, free), a basis of what is free, and the free mark of each column."""
    marks, columns, values, free = freedom.basis()
    return csc_array((values, (marks, columns)), shape=(freedom.size, len(free))), free


def square_to_free(matrix: Sparse, settles: Sparse, turning: Ints, freedom: Freedom) -> Sparse:
    """What a stage settles (n, r), at the marks that turn square to what counts as free and yet moves its rows
    A (m, n) a little: see `staged.beside_free`, of which this is the sparse form. Where that would fill in too
    much, S as it is."""
    basis, _ = free_basis(freedom)
    moves = without_rounding(csc_array(matrix @ basis))
    bent = np.flatnonzero(np.diff(moves.indptr) > 0)
    if len(bent) == 0 or len(turning) ** 2 > FILL_MOST:
        return settles
    least, square, alone = basis[:, bent].toarray(), settles, None
    at_turning = csr_array(settles)[turning].toarray()
    for _ in range(SQUARED):
        design = without_rounding(csc_array(matrix @ square))
        least = least - square @ factor(design.T @ design).solve(design.T @ (matrix @ least))
        if alone is None:
            _, size, ways = np.linalg.svd(matrix @ least, full_matrices=True)
            rank = int((size > EXACTLY * max(float(abs(matrix).max()), 1.0)).sum())
            least, idle = least @ ways[:rank].T, least @ ways[rank:].T
            still = csr_array(basis[:, np.setdiff1d(np.arange(basis.shape[1]), bent)])[turning].toarray()
            alone = np.hstack([still[:, still.any(axis=0)], idle[turning]])
        share = np.linalg.pinv(np.hstack([least[turning], alone]), rcond=EXACTLY)[:rank] @ at_turning
        if np.count_nonzero(least) * np.count_nonzero(share) > FILL_MOST * max(rank, 1):
            return settles
        square = csc_array(settles - csc_array(least) @ csc_array(share))
    return square


def contract(rows: Rows, basis: Sparse) -> Sparse:
    """The rows over what is free (m, free), with what cancels exactly zero."""
    return csr_array(without_rounding(csr_array(sparse_rows(rows, basis.shape[0]) @ basis)))


def without_rounding(matrix: Sparse) -> Sparse:
    """The matrix with entries that are only rounding taken out."""
    matrix.data[np.abs(matrix.data) < ROUNDING] = 0.0
    matrix.eliminate_zeros()
    return matrix


@dataclass(frozen=True)
class System:
    """K (c, c) and Q (n, c) of all stages, and for the first stages their noise B (c, b)."""

    matrix: Sparse
    coordinates: Sparse
    noise: Sparse


def system(staged: SparseStaged, noises: Sequence[Sparse | None]) -> System:
    """Put the stages together; `noises` are the errors of the rows of the first stages.

    None stands for a unit error in each row, else a matrix (m, e) says how they err.
    """
    settling = [k for k, stage in enumerate(staged.stages) if stage.settles.shape[1]]
    stages = [staged.stages[k] for k in settling]
    n = len(staged.x)
    if not stages:
        nothing = csc_array((0, 0))
        return System(nothing, csc_array((n, 0)), nothing)
    blocks = [
        [csr_array(stage.design.T @ (stage.rows @ earlier.settles)) for earlier in stages[: k + 1]]
        + [None] * (len(stages) - k - 1)
        for k, stage in enumerate(stages)
    ]
    coordinates = csc_array(block_array([[stage.settles for stage in stages]]))
    matrix = csc_array(block_array(blocks))
    return System(matrix, coordinates, _noise(staged, settling, noises))


def cut_noise(staged: SparseStaged, cuts: Cuts, left: Entries) -> Sparse:
    """How the rows of the last stage, the layout of uncut marks, err by location, width and `left` (n, e)."""
    groups = int(cuts.group.max(initial=-1)) + 1
    cut = np.flatnonzero(cuts.group >= 0)
    values = np.concatenate([np.full(len(cut), cuts.u_location_mm), cuts.side[cut] * cuts.u_width_mm / 2, left.value])
    columns = np.concatenate([cuts.group[cut], groups + cuts.group[cut], 2 * groups + left.column])
    marks = np.concatenate([cut, cut, left.row])
    errors = csr_array((values, (marks, columns)), shape=(len(cuts.group), 2 * groups + left.columns))
    return csr_array(staged.stages[-1].rows @ errors)


def sparse_entries(entries: Entries, rows: int) -> Sparse:
    """Entries as a sparse matrix (rows, columns)."""
    return csr_array((entries.value, (entries.row, entries.column)), shape=(rows, entries.columns))


def _noise(staged: SparseStaged, settling: list[int], noises: Sequence[Sparse | None]) -> Sparse:
    """B: how the errors of each stage's rows enter its equations, stage by stage down the diagonal.

    Every stage keeps its columns, even one that settles nothing: error k is row k."""
    columns = []
    for number, noise in enumerate(noises):
        given = staged.stages[number].rows.shape[0] if noise is None else noise.shape[1]
        column = []
        for k in settling:
            stage = staged.stages[k]
            if k == number:
                column.append(csr_array(stage.design.T if noise is None else stage.design.T @ noise))
            else:
                column.append(csr_array((stage.settles.shape[1], given)))
        columns.append(column)
    return csc_array(block_array([list(row) for row in zip(*columns, strict=True)]))
