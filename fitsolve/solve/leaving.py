"""Leaving: how much wood to leave on, so that what can't be undone hardly ever happens.

Marks j of one part are moved toward their waste by s_j >= 0. Clearance k, wanted at most `most`, then
errs normally about c_k - sum_j A_kj s_j with standard uncertainty u_k (how the readings and the cuts
err, placements following). More than `most` can't be undone: wood does not grow. Less can be trimmed.

One joint, one mark (A = 1), chance a allowed:

    P(C > most) = a    exactly when   s = c - most + z u,   z = Phi^-1(1 - a);   s = 0 if that is negative

    expected trimming, until the clearance is what its fit aims at:
    E max(0, aim - C) = u (phi(t) + t Phi(t)),   t = (aim - (c - s)) / u      the first partial moment

Several joints. Trimming t_j >= 0 opens clearance k by A_kj t_j, and where A_kj < 0 closes it: of two
shoulders that a part stands on, paring the proud one closes the other. So an error is beyond mending
exactly when no t >= 0 keeps C + A t <= most, and by Fourier-Motzkin elimination of t exactly when some

    y C > y most,     y >= 0,  A'y >= 0        (rows Y, each adding up to 1)

A joint that only its own marks move is a y of its own. These err together; the s of least sum of
squares with  Y A s >= Y (c - most) + z u_y  in every row are taken, with one z for all: the least at
which the chance of *any* is `a`, by seeded draws. It lies between the z of a (one alone) and that of a / q
(q that never go wrong together).

Fails: rows that no mark can close are left out of all of it.
Source: moments of the truncated normal distribution, N. L. Johnson, S. Kotz, N. Balakrishnan,
Continuous Univariate Distributions 1, 2nd ed. (1994), ch. 13 (from memory).
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Floats, Ints
from fitsolve.solve.judge import normal_below
from fitsolve.solve.quadratic import Programme, solve

DRAWS = 20_000
SEED = 40_000
HALVINGS = 20

SURE_MM = 1e-9
"""A smaller standard uncertainty is none."""

CLOSES = 1e-6
"""A mark that closes a clearance by less, mm a mm, does not."""

ALIKE = 1e-9
"""Errors of a correlation nearer to 1 are the same."""

MANY = 400
"""So many rows Y at most are followed up."""

_NORMAL = NormalDist()


@dataclass(frozen=True)
class Joints:
    """Clearances (q,) of one part as they would be, mm: `value`, `covariance` (q, q), `most`, and by how much a
    millimetre left on at each mark closes them, `closing` (q, m)."""

    value: Floats
    covariance: Floats
    most: Floats
    closing: Floats

    @property
    def u(self) -> Floats:
        """Standard uncertainties (q,)."""
        return np.asarray(np.sqrt(np.maximum(np.diagonal(self.covariance), 0.0)))

    def left_on(self, s: Floats) -> Floats:
        """The clearances with so much left on at each mark."""
        return np.asarray(self.value - self.closing @ s)


def beyond_mending(joints: Joints) -> tuple[Joints, Floats]:
    """Return the sums of clearances that no trimming brings below their most again, as clearances by
    themselves, and the rows Y; see the module. Of those that always go wrong together there is one."""
    y = _eliminated(joints.closing)
    y = y[np.any(y @ joints.closing > CLOSES, axis=1)]
    closing = np.maximum(y @ joints.closing, 0.0)
    found = Joints(y @ joints.value, y @ joints.covariance @ y.T, y @ joints.most, closing)
    k = _distinct(found)
    return Joints(found.value[k], found.covariance[np.ix_(k, k)], found.most[k], found.closing[k]), y


def _distinct(joints: Joints) -> Ints:
    """The clearances without those that go wrong exactly when another does: one that errs as it does, with as
    much room for it. So two shoulders of a rail are one, and need no draws."""
    u = np.maximum(joints.u, SURE_MM)
    alike = joints.covariance / np.outer(u, u) > 1.0 - ALIKE
    told = np.column_stack([(joints.most - joints.value) / u, joints.closing / u[:, None]])
    kept: list[int] = []
    for k in range(len(u)):
        if not any(alike[k, other] and np.allclose(told[k], told[other], atol=1e-6) for other in kept):
            kept.append(k)
    return np.array(kept, dtype=np.intp)


def _eliminated(closing: Floats) -> Floats:
    """The rows Y: Fourier-Motzkin, one mark after another."""
    y = np.eye(len(closing))
    for column in closing.T:
        at = y @ column
        up, down = np.flatnonzero(at > CLOSES), np.flatnonzero(at < -CLOSES)
        mixed = [y[a] * -at[b] + y[b] * at[a] for a in up for b in down]
        rows = [y[np.abs(at) <= CLOSES], y[up], np.array(mixed).reshape(-1, y.shape[1])]
        y = np.vstack(rows)
        y = np.unique(np.round(y / y.sum(axis=1, keepdims=True), 12), axis=0)[:MANY]
    return y


@dataclass(frozen=True)
class LeftOn:
    """What is left on at each mark (m,), mm, and the chance that any clearance ends above its most."""

    left_on_mm: Floats
    chance: float


def leave_on(joints: Joints, allowed: float) -> LeftOn:
    """Return what to leave on so that any of these, each beyond mending by itself, is above its most with a
    chance of `allowed` at most."""
    draws = _draws(joints)
    q = max(1, len(joints.value))
    low, high = (_NORMAL.inv_cdf(1 - chance) for chance in (allowed, allowed / q))
    s = _least(joints, low)
    if q == 1:
        return LeftOn(s, chance_of_any(joints, s, draws))
    if chance_of_any(joints, s, draws) > allowed:
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            enough = chance_of_any(joints, _least(joints, middle), draws) <= allowed
            low, high = (low, middle) if enough else (middle, high)
        s = _least(joints, high)
    return LeftOn(s, chance_of_any(joints, s, draws))


def chance_over(value: float, u: float, most: float) -> float:
    """The chance that a normal clearance is above its most."""
    if u < SURE_MM:
        return float(value > most + SURE_MM)
    return normal_below((value - most) / u)


def expected_trimming(value: float, u: float, aim: float) -> float:
    """How much is trimmed on average until a normal clearance is what its fit aims at, mm."""
    if u < SURE_MM:
        return max(0.0, aim - value)
    t = (aim - value) / u
    return u * (_NORMAL.pdf(t) + t * normal_below(t))


def chance_of_any(joints: Joints, s: Floats, draws: Floats | None = None) -> float:
    """The chance that any clearance is above its most; of one by its closed form, of several by seeded draws."""
    value = joints.left_on(s)
    if len(value) == 0:
        return 0.0
    if len(value) == 1:
        return chance_over(float(value[0]), float(joints.u[0]), float(joints.most[0]))
    draws = _draws(joints) if draws is None else draws
    return float(np.any(value[:, None] + draws > joints.most[:, None] + SURE_MM, axis=0).mean())


def _least(joints: Joints, z: float) -> Floats:
    """The s of least sum of squares with z standard uncertainties between every clearance and its most."""
    m = joints.closing.shape[1]
    need = joints.value - joints.most + z * joints.u
    if m == 0 or not np.any(need > 0.0):
        return np.zeros(m)
    optimum = solve(
        Programme(
            objective=np.eye(m),
            target=np.zeros(m),
            equal=np.zeros((0, m)),
            equal_to=np.zeros(0),
            bounds=np.vstack([joints.closing, np.eye(m)]),
            low=np.concatenate([need, np.zeros(m)]),
            high=np.full(len(need) + m, math.inf),
        )
    )
    return np.asarray(np.maximum(optimum.z, 0.0))


def _draws(joints: Joints) -> Floats:
    """Seeded errors (q, DRAWS) of the clearances, by their joint covariance."""
    values, vectors = np.linalg.eigh(joints.covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    return np.asarray(root @ np.random.default_rng(SEED).standard_normal((len(values), DRAWS)))
