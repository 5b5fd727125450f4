"""Staged least squares: each stage settles what the stages before it left free, and no more.

Stage s has rows A_s x = b_s, already divided by their scales. With N_s a basis of what the
stages up to s leave free (N_0 = I),

    x_s = x_(s-1) + N_(s-1) f,   f minimises |A_s N_(s-1) f - (b_s - A_s x_(s-1))|,

so a later stage moves nothing that an earlier one settles: not by weighting, but because it
never gets hold of it. The answer is linear in all the right hand sides, x = sum of M_s b_s,

    M_s = N_(s-1) (A_s N_(s-1))^+,   and  M_t := (I - M_s A_s) M_t  for every earlier t.

The two stages of estimation, the equalities of an active set, and the wishes that
follow them are all stages. Which columns each stage settles is counted exactly (freedom);
the least squares problem itself then has full column rank and is solved by its normal
equations, put right by one step, where that leaves nothing but rounding, else by QR. Marks
never settled stay at zero deviation.

Dense: for pieces of up to a few hundred marks that hang together. See `sparse` for larger.

Source: A. Bjorck, Numerical Methods for Least Squares Problems (1996), null-space method
(from memory). The step: G. Schulz, Iterative Berechnung der reziproken Matrix (1933, from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from itertools import accumulate

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Entries, Flags, Floats, Ints, Rows
from fitsolve.solve.covariance import DenseErrors
from fitsolve.solve.freedom import Freedom

ROUNDING = 1e-12
"""Entries of a contracted row smaller than this (the rows hold 1, 2, 1/2, ...) are rounding."""

EXACTLY = 1e-9
"""What moves rows by less than this part of their weights leaves them alone."""

SQUARED = 2
"""Twice square to what is free leaves of sides 1 : 100 unequal the eighth power."""

EVEN = 1e2
"""Where weights differ by no more, the normal equations are tried."""

PUT_RIGHT = 1e-8
"""Off by no more than this, one step leaves nothing but rounding."""

UNEVEN = 1e3
"""Where weights differ by more, the order of the columns matters to the digits too."""


@dataclass
class Staged:
    """Positions x (n,) after the stages so far, their maps M_s (n, m_s), and what is free."""

    freedom: Freedom
    x: Floats
    maps: list[Floats] = field(default_factory=list)
    _known: tuple[Floats, list[int]] | None = None

    @classmethod
    def start(cls, size: int) -> Staged:
        """Nothing settled: every mark free, at its plan position."""
        return cls(Freedom(size), np.zeros(size), [], (np.eye(size), list(range(size))))

    def copy(self) -> Staged:
        """An independent copy, to go on from here in another way."""
        return Staged(self.freedom.copy(), self.x.copy(), list(self.maps), self._known)

    def _left(self) -> tuple[Floats, list[int]]:
        if self._known is None:
            self._known = self.freedom.dense_basis()
        return self._known

    @property
    def basis(self) -> Floats:
        """N (n, k), a basis of what the stages so far leave free."""
        return self._left()[0]

    @property
    def free(self) -> list[int]:
        """The free mark of each column of the basis."""
        return self._left()[1]

    def add(self, rows: Rows, counted: Rows | None = None) -> Staged:
        """Take one more stage, each row divided by its scale; returns self. What they settle is told
        from `counted` where it is given: rows whose coefficients turn (turning)."""
        own = self._step(rows, counted)  # before the list is named: this makes it anew
        self.maps.append(own)
        return self

    def follow(self, rows: Rows) -> Staged:
        """The same of rows that do not err: the stages before keep their maps, this one gets none."""
        self._step(rows, None)
        return self

    def _step(self, rows: Rows, counted: Rows | None) -> Floats:
        """Take one more stage: returns its map (n, m), all else brought up to it."""
        if len(rows) == 0:
            return np.zeros((len(self.x), 0))
        basis, free = self._left()
        matrix, value, scale = rows.dense(len(self.x)), rows.value, rows.scale
        if len(free) == len(self.x):
            contracted = matrix
        elif rows.plain and self.freedom.plain:  # sums that are exact
            contracted = matrix @ basis
        else:
            contracted = _without_rounding(matrix @ basis)
        reached = np.asarray(contracted.any(axis=1))
        moved = None if reached.all() else reached.nonzero()[0]
        if moved is not None:
            matrix, contracted, value, scale = matrix[moved], contracted[moved], value[moved], scale[moved]
            if len(moved) == 0:
                return np.zeros((len(self.x), len(rows)))
        gone = self.freedom.tie(rows if counted is None else counted, moved)
        if len(gone) < len(free):
            settled = set(gone)
            columns = np.array([k for k, mark in enumerate(free) if mark in settled], dtype=np.intp)
            basis, contracted = basis.take(columns, axis=1), contracted.take(columns, axis=1)
        weight = scale[:, None]
        matrix = matrix / weight
        even = True if rows.plain and scale.max() <= EVEN / 4 * scale.min() else None
        inverse = full_rank_inverse(contracted / weight, even)
        step = basis @ inverse
        if counted is not None:
            own = basis, inverse, turning_marks(rows, counted)
            step = beside_free(matrix, *own, *self.freedom.dense_basis())
        self.x = self.x + step @ (value / scale - matrix @ self.x)
        self.maps = self._brought_up(step, matrix)
        self._known = None
        if moved is None:
            return step
        whole = np.zeros((len(self.x), len(rows)))
        whole[:, moved] = step
        return whole

    def _brought_up(self, step: Floats, matrix: Floats) -> list[Floats]:
        """The earlier maps, I - M A times each: all in one product."""
        if len(self.maps) < 2:
            return [earlier - step @ (matrix @ earlier) for earlier in self.maps]
        every = np.concatenate(self.maps, axis=1)
        every -= step @ (matrix @ every)
        ends = [*accumulate(one.shape[1] for one in self.maps)]
        return [every[:, start:end] for start, end in zip([0, *ends], ends, strict=False)]

    def contract(self, rows: Rows, basis: Floats) -> Floats:
        """The rows over the columns of a basis (m, k)."""
        return contract(rows, basis)

    @staticmethod
    def divided(matrix: Floats, scale: Floats) -> Floats:
        """A contracted matrix (m, k), each row divided by its scale (m,)."""
        return np.asarray(matrix / scale[:, None])

    def settled(self, rows: Rows) -> Flags:
        """Whether the stages so far fix each row (m,)."""
        return np.asarray(~contract(rows, self.basis).any(axis=1))

    @staticmethod
    def touched(matrix: Floats) -> Ints:
        """The rows of a contracted matrix that anything moves."""
        return np.flatnonzero(matrix.any(axis=1))

    @property
    def depth(self) -> int:
        """How many stages there were."""
        return len(self.maps)

    def errors(self, noisy: int, later: Mapping[int, Entries] | None = None) -> DenseErrors:
        """How positions err when the rows of the first stages each have a unit error, and those of `later` stages
        (by number) the errors (m, e) given."""
        noise = [self.maps[stage] @ one.dense(self.maps[stage].shape[1]) for stage, one in (later or {}).items()]
        return DenseErrors(np.hstack([np.zeros((len(self.x), 0)), *self.maps[:noisy], *noise]))


def contract(rows: Rows, basis: Floats) -> Floats:
    """The rows over what is free (m, free), with what cancels exactly zero."""
    return _without_rounding(rows.dense(len(basis)) @ basis) if len(rows) else np.zeros((0, basis.shape[1]))


def _without_rounding(contracted: Floats) -> Floats:
    contracted[np.abs(contracted) < ROUNDING] = 0.0
    return contracted


def turning_marks(rows: Rows, counted: Rows) -> Ints:
    """The marks of the rows that lie otherwise than they are counted."""
    return np.unique(rows.mark[rows.coef != counted.coef])


def beside_free(
    matrix: Floats, settles: Floats, inverse: Floats, turning: Ints, basis: Floats, free: list[int]
) -> Floats:
    """The map (n, m) of rows A (m, n) that lie otherwise than they were counted, so that what counts as free, a
    basis N (n, k), still moves them a little; `settles` is S (n, r), `inverse` (A S)^+.

    Of all vectors N + S y those move the rows least that are N1 = N - S (A S)^+ A N. The rows are fitted square to
    them, at the marks that turn, in S1 = S - N1 C, and once more from there: what is taken to be free is then no
    question of which marks stand for it, nor of what else hangs on them, and A S1 (A S1)^+ the projection on what A
    moves by more than next to nothing. What leaves the rows alone altogether stays where it is.
    """
    least, square = basis, settles
    for _ in range(SQUARED):
        least = least - square @ (inverse @ (matrix @ least))
        square = settles - least @ (np.linalg.pinv(least[turning], rcond=EXACTLY) @ settles[turning])
        inverse = full_rank_inverse(matrix @ square)
    _, size, ways = np.linalg.svd(matrix @ least, full_matrices=True)
    idle = least @ ways[int((size > EXACTLY * max(float(np.abs(matrix).max()), 1.0)).sum()) :].T
    step = square @ inverse
    return np.asarray(step - idle @ (full_rank_inverse(idle[free]) @ step[free]))


def full_rank_inverse(matrix: Floats, even: bool | None = None) -> Floats:
    """The pseudo-inverse (n, m) of a matrix (m, n) of full column rank, by its normal equations where their answer
    can be put right, else by QR. `even` where it is known that no row weighs much more than another."""
    if matrix.shape[1] == 0:
        return np.zeros(matrix.shape[::-1])
    if len(matrix) == matrix.shape[1]:
        row, column = matrix.nonzero()
        if len(row) == len(matrix):  # one entry in each row and column
            inverse = np.zeros(matrix.shape)
            inverse[column, row] = 1.0 / matrix[row, column]
            return inverse
    size = None if even else np.abs(matrix).max(axis=1)
    if size is None or size.max() <= EVEN * size.min():
        found = _by_normal_equations(matrix)
        if found is not None:
            return found
    return _by_qr(matrix, np.abs(matrix).max(axis=1) if size is None else size)


def _by_normal_equations(matrix: Floats) -> Floats | None:
    """X = (A'A)^-1 A', then put right by one step, X + (I - X A) X, which leaves of what X A is off the square; None
    where it is off by so much that this would be more than rounding. Of what QR takes it is half the time."""
    try:
        inverse = np.linalg.inv(matrix.T @ matrix) @ matrix.T
    except np.linalg.LinAlgError:
        return None
    off = -(inverse @ matrix)
    off.ravel()[:: len(off) + 1] += 1.0
    if not np.abs(off).max() <= PUT_RIGHT:  # also where it is no number
        return None
    return np.asarray(inverse + off @ inverse)


def _by_qr(matrix: Floats, size: Floats) -> Floats:
    """The same by QR; `size` (m,) are the rows' largest entries.

    Rows are sorted by size first: with weights that differ by many powers of ten, QR by
    reflections keeps its accuracy row by row only in that order, and with the heaviest column
    first (A. Bjorck 1996, ch. 4, from memory).
    """
    order = (-size).argsort(kind="stable")
    inverse = np.empty(matrix.shape[::-1])
    if size[order[0]] <= UNEVEN * (size[order[-1]] or size[size > 0.0].min()):
        q, r = np.linalg.qr(matrix[order])
        inverse[:, order] = np.linalg.solve(r, q.T)
        return inverse
    from scipy.linalg import qr, solve_triangular

    q, r, turned = qr(matrix[order], mode="economic", pivoting=True)
    inverse[np.ix_(turned, order)] = solve_triangular(r, q.T)
    return inverse
