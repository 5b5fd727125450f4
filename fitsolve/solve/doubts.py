"""Doubts: do the rows agree with each other, and if not, which one would explain it?

Rows with standard uncertainties u, divided by them: A x = b + e, errors e of unit variance. With
H = A (A'A)^-1 A' (in stages: the map from rows to adjusted rows) and R = I - H,

    z = (adjusted - observed) / u = -R e,     Cov(z) = R,     r_k = R_kk  (redundancy)
    w_k = z_k / sqrt(r_k)                     standard normal where only e is at work
    z'z                                       chi-square with trace R degrees of freedom

One row alone wrong by d: taking row a out changes z'z by w_a^2, so the row with the largest |w|
explains most. Row b explains nearly as much, and cannot be told from a, when

    w_a^2 - w_b^2 < EQUAL                     a likelihood ratio, chi-square with 1 degree of freedom

Leaving a out, the others are tested again without a new solution: with q = R_a / sqrt(r_a),

    R := R - q q',     z := z - q w_a,     z'z := z'z - w_a^2,

and so on while a row stands out. Rows that stood out only because of a no longer do. The error
that a holds is -w_a u_a / sqrt(r_a), adjusted less observed being the other way round.

Smallest error that is found: an error of size u delta0 / sqrt(r) makes |w| pass the critical
value with a chance of 0.80 (delta0 = 3.2905 + 0.8416 = 4.132).

Not here: which row is which reading (findings), what it may have been (slips).

Source: W. Baarda, A testing procedure for use in geodetic networks (1968, from memory). Chi-square
for whole degrees of freedom as a finite sum: M. Abramowitz, I. Stegun, Handbook of Mathematical
Functions (1964), 26.4.4 and 26.4.5 (from memory). Variance of a quadratic form of normal values,
2 trace (R R): any text on linear models; the matching chi-square: F. Satterthwaite (1946, from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Floats

ALPHA = 0.001
"""How often a row that is all right is called suspect, and rows that agree are said not to."""

CRITICAL = 3.2905
"""Two-sided critical value of w at ALPHA (standard normal quantile)."""

DELTA0 = 4.132
"""Non-centrality at which an error is found with a chance of 0.80: 3.2905 + 0.8416."""

EQUAL = 6.635
"""Rows whose w^2 differ by less explain a misfit alike: chi-square, 1 degree of freedom, 1 %."""

TOGETHER = 0.5
"""Residuals that go together less than this (as a correlation) are not each other's explanation."""

ALIKE = 1e-9
"""Residuals of the same size but for rounding: the first in the order of the rows is taken first."""

BEYOND_TELLING = 1e-7
"""A redundancy left below this after others were left out is rounding: nothing checks the row."""

ROUNDS_MOST = 50
"""So many rows at most are left out one after another; a log with more is not one reading wrong."""


COLUMNS_MOST, PROBES, SEED = 100, 32, 20
"""Up to so many columns of a large matrix are worked out one by one, of more so many sums; the draws' seed."""


@dataclass(frozen=True)
class Standing:
    """One row that stands out, after those found before it were left out.

    `equals` are rows that explain the misfit as well, `because` those that stood out only
    because of it (both by number, the worst first, of those alike but for rounding the first row).
    `error` (mm) is what the row holds beyond the truth, `w` its standardised residual, `redundancy`
    what still checks it. `square_sum`, `freedom` are those of the rows left when it is left out too;
    `direction` (m,) is q.
    """

    row: int
    w: float
    redundancy: float
    error: float
    equals: tuple[int, ...]
    because: tuple[int, ...]
    square_sum: float
    freedom: int
    direction: Floats

    @property
    def rest_agrees(self) -> bool:
        """Whether what is left agrees once this row is left out."""
        return agrees(self.square_sum, self.freedom)


def stand_out(z: Floats, redundancy: Floats, scale: Floats, column: Callable[[int], Floats]) -> list[Standing]:
    """Return the rows (m,) that stand out, one after another, each left out before the next is sought.

    `z` are residuals by u, `column(k)` is column k of H (m,).
    """
    z, r = z.astype(np.float64), redundancy.astype(np.float64)
    square_sum, freedom = float(z @ z), round(float(redundancy.sum()))
    out: list[int] = []
    taken: list[Floats] = []
    found: list[Standing] = []
    w = _standardised(z, r)
    while len(found) < ROUNDS_MOST and np.abs(w).max(initial=0.0) > CRITICAL:
        size = np.abs(w)
        k = int(np.flatnonzero(size >= size.max() * (1.0 - ALIKE))[0])
        own = -column(k)
        own[k] += 1.0
        for q in taken:
            own = own - q * q[k]
        q = own / math.sqrt(r[k])
        w_k, r_k = float(w[k]), float(r[k])
        before, before_r = w, r
        z, r = z - q * w_k, r - q * q
        out.append(k)
        r[out] = 0.0
        taken.append(q)
        w = _standardised(z, r)
        square_sum, freedom = max(square_sum - w_k * w_k, 0.0), freedom - 1
        equals, because = _also(before, w, q / np.sqrt(np.maximum(before_r, BEYOND_TELLING)), k)
        error = -w_k * float(scale[k]) / math.sqrt(r_k)
        found.append(Standing(k, w_k, r_k, error, equals, because, square_sum, freedom, q))
    return found


def _standardised(z: Floats, r: Floats) -> Floats:
    checked = r > BEYOND_TELLING
    return np.where(checked, z / np.sqrt(np.where(checked, r, 1.0)), 0.0)


def _also(before: Floats, after: Floats, alike: Floats, k: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Rows that explain what row k explains as well, and those that stood out only because of it;
    `alike` (m,) is how the residuals go together with that of row k."""
    size = np.abs(before)
    settled = (np.abs(after) <= CRITICAL) & (np.arange(len(size)) != k)
    equal = settled & (size[k] ** 2 - size**2 < EQUAL) & (np.abs(alike) >= TOGETHER)
    because = settled & (size > CRITICAL) & ~equal
    order = np.argsort(-np.rint(size / (size[k] * ALIKE)), kind="stable")
    return tuple(order[equal[order]].tolist()), tuple(order[because[order]].tolist())


def smallest_error(u: float, redundancy: float) -> float | None:
    """Return the smallest error, mm, that would be found with a chance of 0.80; None where none would."""
    return u * DELTA0 / math.sqrt(redundancy) if redundancy > 0.0 else None


def chance_above(square_sum: float, freedom: int) -> float:
    """Return the chance that a chi-square value with `freedom` degrees lies above `square_sum`."""
    if freedom <= 0 or square_sum <= 0.0:
        return 1.0
    half = square_sum / 2
    odd = freedom % 2
    powers = np.arange((freedom - odd) // 2) + (0.5 if odd else 0.0)
    logs = powers * math.log(half) - half - np.array([math.lgamma(power + 1.0) for power in powers.tolist()])
    tail = math.erfc(math.sqrt(half)) if odd else 0.0
    return min(1.0, tail + float(np.exp(logs).sum()))


def agrees(square_sum: float, freedom: int) -> bool:
    """Whether residuals are as large as stated, or smaller; ALPHA is the chance of saying no wrongly."""
    return freedom <= 0 or chance_above(square_sum, freedom) >= ALPHA


@dataclass(frozen=True)
class Scatter:
    """How far some rows scatter beside what was stated: `factor` times as far, with so many
    `freedom`; `chance` is that of scattering as far, or further, with the stated uncertainties."""

    factor: float
    freedom: float
    chance: float

    @property
    def verdict(self) -> Literal["as stated", "further", "less"]:
        """`as stated`, or `further` or `less` where that is clear (two-sided, ALPHA)."""
        if self.chance < ALPHA / 2:
            return "further"
        return "less" if self.chance > 1 - ALPHA / 2 else "as stated"


def scatter(z: Floats, blocks: Sequence[Floats]) -> Scatter | None:
    """Return how far some rows (m,) scatter, `blocks` being their part of R, piece by piece; None
    where nothing checks them. Their square sum has mean trace R and variance 2 trace (R R), and is
    taken for a chi-square value of the same mean and variance."""
    mean = sum(float(np.trace(block)) for block in blocks)
    return scatter_of(float(z @ z), mean, sum(float(np.square(block).sum()) for block in blocks))


def scatter_of(square_sum: float, mean: float, spread: float) -> Scatter | None:
    """The same from the square sum itself, trace R and trace (R R)."""
    if mean <= BEYOND_TELLING or spread <= 0.0:
        return None
    freedom = mean * mean / spread
    return Scatter(math.sqrt(square_sum / mean), freedom, _chance(square_sum * mean / spread, freedom))


def square_trace(product: Callable[[Floats], Floats], size: int) -> float:
    """Return trace (R R) of a symmetric R (size, size) that is at hand only as its product with columns:
    the sum of the squares of all its columns where they are few, else the mean of |R v|^2 over seeded
    v of plus and minus one (M. Hutchinson 1990, from memory; off by about sqrt(2 / PROBES) of its root)."""
    if size <= COLUMNS_MOST:
        return float(np.square(product(np.asarray(np.eye(size), dtype=np.float64))).sum())
    signs = np.random.default_rng(SEED).choice(np.array([-1.0, 1.0]), (size, PROBES))
    return float(np.square(product(signs)).sum()) / PROBES


def _chance(square_sum: float, freedom: float) -> float:
    """The chance above for any degrees of freedom; where it is nowhere near a verdict, by a formula
    good to a hundredth (E. Wilson, M. Hilferty 1931, from memory), which needs no large library."""
    third = 2.0 / (9.0 * freedom)
    z = ((square_sum / freedom) ** (1 / 3) - 1.0 + third) / math.sqrt(third)
    if abs(z) < 2.5:
        return 0.5 * math.erfc(z / math.sqrt(2.0))
    from scipy.special import gammaincc

    return float(gammaincc(freedom / 2, square_sum / 2))


def block_diagonal(blocks: Sequence[Floats]) -> Floats:
    """The blocks down the diagonal of one matrix."""
    sizes = [len(block) for block in blocks]
    whole = np.zeros((sum(sizes), sum(sizes)))
    at = 0
    for block, size in zip(blocks, sizes, strict=True):
        whole[at : at + size, at : at + size] = block
        at += size
    return whole
