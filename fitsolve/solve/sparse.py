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

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.sparse import block_array, csc_array, csr_array, diags_array, eye_array
from scipy.sparse.linalg import SuperLU, splu

from fitsolve.rows import Floats, Rows
from fitsolve.solve.freedom import Freedom

ROUNDING = 1e-12
Sparse = Any
"""A scipy.sparse array (scipy carries no types)."""


def sparse_rows(rows: Rows, width: int) -> Sparse:
    """The rows as a sparse (m, width) matrix."""
    return csr_array((rows.coef, rows.mark, rows.start), shape=(len(rows), width))


def factor(matrix: Sparse) -> SuperLU:
    """Sparse LU of a symmetric positive definite matrix, pivots kept on the diagonal."""
    return splu(
        csc_array(matrix),
        permc_spec="MMD_AT_PLUS_A",
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

    def add(self, rows: Rows) -> SparseStaged:
        """Take one more stage, each row divided by its scale; returns self."""
        n = len(self.x)
        matrix = diags_array(1.0 / rows.scale) @ sparse_rows(rows, n) if len(rows) else csr_array((0, n))
        self.freedom.tie(rows)
        still_free = set(self.freedom.free_marks())
        settled = [k for k, mark in enumerate(self.free) if mark not in still_free]
        settles = csc_array(self.basis[:, settled])
        design = without_rounding(csc_array(matrix @ settles))
        self.stages.append(Stage(csr_array(matrix), settles, design))
        if settled:
            value = rows.value / rows.scale
            lu = factor(design.T @ design)
            for _ in range(2):
                self.x = self.x + settles @ lu.solve(design.T @ (value - matrix @ self.x))
        marks, columns, values, self.free = self.freedom.basis()
        self.basis = csc_array((values, (marks, columns)), shape=(n, len(self.free)))
        return self


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


def system(staged: SparseStaged, noisy: int) -> System:
    """Put the stages together; the first `noisy` of them have rows with unit errors."""
    stages = [stage for stage in staged.stages if stage.settles.shape[1]]
    loud = [stage for stage in staged.stages[:noisy] if stage.settles.shape[1]]
    blocks = [
        [csr_array(stage.design.T @ (stage.rows @ earlier.settles)) for earlier in stages[: k + 1]]
        + [None] * (len(stages) - k - 1)
        for k, stage in enumerate(stages)
    ]
    coordinates = csc_array(np.zeros((len(staged.x), 0))) if not stages else None
    for stage in stages:
        part = stage.settles
        coordinates = part if coordinates is None else csc_array(_beside(coordinates, part))
    if not stages:
        empty = csc_array((0, 0))
        return System(empty, coordinates, empty)
    size = sum(stage.settles.shape[1] for stage in stages)
    noise = csc_array((size, 0))
    offset = 0
    for stage in loud:
        block = stage.design.T.tocoo()
        shifted = csc_array(
            (block.data, (block.coords[0] + offset, block.coords[1])), shape=(size, block.shape[1])
        )
        noise = csc_array(_beside(noise, shifted))
        offset += stage.settles.shape[1]
    return System(csc_array(block_array(blocks)), coordinates, noise)


def _beside(left: Sparse, right: Sparse) -> Sparse:
    return block_array([[left, right]])
