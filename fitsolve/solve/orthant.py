"""Orthant: the chance that several normal values are all above nothing.

With A_i the event that value i falls below, p_i and p_ij their chances alone and two at a time,
the chance of any lies between

    max over pairs of  p_i + p_j - p_ij,   2 S1 / (a + 1) - 2 S2 / (a (a + 1)),  a = 1 + floor(2 S2 / S1)
and
    S1 - the sum of p_ij over a spanning tree of the values, the heaviest there is,

S1 and S2 being the sums of the p_i and the p_ij. For one value and for two that is exact, and for those of a
part that has to go on it mostly is as good as that. Where it is not, the chance is found by simulation with
a fixed seed. With r their correlation,

    p_ij = P(-h) P(-k) + 1/(2 pi) * integral from 0 to arcsin r of exp(-(h^2 + k^2 - 2 h k sin t) / (2 cos^2 t)) dt.

Source: D. Hunter, An upper bound for the probability of a union, J. Appl. Prob. 13 (1976); D. Dawson,
D. Sankoff, An inequality for probabilities, Proc. Amer. Math. Soc. 18 (1967); A. Genz, Numerical computation of
rectangular bivariate and trivariate normal and t probabilities, Stat. Comput. 14 (2004) (all from memory);
JCGM 101:2008 for the simulation of distributions. Check: scipy.stats.multivariate_normal.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from itertools import combinations

import numpy as np

from fitsolve.rows import Floats, Ints

CLOSE = 5e-4
"""Bounds no further apart than this are the chance: ten thousand draws leave four times as much open."""

VALUES_MOST = 60
"""For more values than this ask `simulated`."""

DRAWS = 10_000
SEED = 20_000
NODES = 32


def all_above(mean: Floats, covariance: Floats) -> float:
    """Return the chance that normal values (k,), all of some variance, are all at least 0."""
    if len(mean) == 0:
        return 1.0
    u = np.sqrt(covariance.diagonal())
    h = mean / u
    miss = [0.5 * math.erfc(one / math.sqrt(2.0)) for one in h.tolist()]
    least, most = max(miss), sum(miss)
    if most - least > CLOSE:
        least, most = _of_pairs(h, miss, covariance / (u[:, None] * u))
    if most - least > CLOSE:
        return simulated(covariance, lambda drawn: (mean[:, None] + drawn).min(axis=0))
    return min(max(1.0 - (least + most) / 2, 0.0), 1.0)


def _of_pairs(h: Floats, alone: list[float], correlation: Floats) -> tuple[float, float]:
    """The bounds for any of the values (k,) falling below 0, from them alone and two at a time."""
    one, other = _pairs(len(h))
    miss = np.array(alone)
    ones, others = miss[one], miss[other]
    pairs = both_below((h[one], h[other]), (ones, others), correlation[one, other])
    told = pairs.tolist()
    s1, s2 = sum(alone), sum(told)
    a = 1 + math.floor(2 * s2 / s1)
    least = max(float((ones + others - pairs).max()), 2 * s1 / (a + 1) - 2 * s2 / (a * (a + 1)))
    return least, s1 - _heaviest_tree(len(h), told)


def both_below(h: tuple[Floats, Floats], miss: tuple[Floats, Floats], correlation: Floats) -> Floats:
    """The chance (p,) of each pair of values that both fall below -h, chances `miss` alone."""
    steps, weights = _gauss()
    half = np.arcsin(np.minimum(np.maximum(correlation, -1.0), 1.0)) / 2
    sine = np.sin(half[:, None] * steps)
    product, squares = h[0] * h[1], h[0] * h[0] + h[1] * h[1]
    height = np.exp((product[:, None] * sine - squares[:, None] / 2) / np.maximum(1.0 - sine * sine, 1e-300))
    found = miss[0] * miss[1] + half * (height @ weights) / (2 * math.pi)
    return np.asarray(np.minimum(np.maximum(found, 0.0), np.minimum(miss[0], miss[1])))


@lru_cache(maxsize=VALUES_MOST)
def _pairs(k: int) -> tuple[Ints, Ints]:
    """The pairs of k values, the first and the second of each."""
    return np.triu_indices(k, 1)


@lru_cache(maxsize=1)
def _gauss() -> tuple[Floats, Floats]:
    """Nodes, counted from -1, and weights on -1..1, from the three-term recursion (G. Golub, J. Welsch 1969, from
    memory): numpy's own come with all its polynomials, which take longer to import than all chances to work out."""
    k = np.arange(1, NODES)
    beside = np.diag(k / np.sqrt(4.0 * k * k - 1.0), 1)
    nodes, vectors = np.linalg.eigh(beside + beside.T)
    return nodes + 1.0, 2 * vectors[0] ** 2


def _heaviest_tree(k: int, pairs: list[float]) -> float:
    """The weight of the heaviest spanning tree of k values, by their pairs: the heaviest first that joins two trees."""
    tree, total = [*range(k)], 0.0
    for weight, (i, j) in sorted(zip(pairs, combinations(range(k), 2), strict=True), reverse=True):
        own, other = tree[i], tree[j]
        if own != other:
            total += weight
            tree = [other if one == own else one for one in tree]
    return total


def simulated(covariance: Floats, least: Callable[[Floats], Floats]) -> float:
    """The chance by simulation that `least` of errors (k, draws), of this covariance (k, k), is at least 0."""
    values, vectors = np.linalg.eigh(covariance)
    kept = values > values[-1] * 1e-14
    root = vectors[:, kept] * np.sqrt(values[kept])
    return float((least(root @ _normals(root.shape[1])) >= 0.0).mean())


@lru_cache(maxsize=64)
def _normals(k: int) -> Floats:
    """k rows of standard normal draws, the same in every run."""
    return np.random.default_rng(SEED).standard_normal((k, DRAWS))


