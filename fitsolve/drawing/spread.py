"""Spread: labels beside the marks they belong to, moved apart as little as will do.

Labels k = 0..n-1, in order, want to stand at x_k and need a room r_k each, so that neighbours
stand at least d_k = (r_k + r_k+1) / 2 apart. Minimise

    sum (y_k - x_k)^2   subject to   y_k+1 - y_k >= d_k,   low <= y_0 - r_0 / 2,   y_n-1 + r_n-1 / 2 <= high

With D_k = d_0 + ... + d_k-1 and z = y - D this is the nearest sequence that does not fall: neighbours
that would are pooled at their mean, from left to right. Cutting z off at the bounds keeps it
the nearest within them. Source: Barlow, Bartholomew, Bremner and Brunk, Statistical Inference under
Order Restrictions (1972), the pool-adjacent-violators way (from memory).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence


def spread_out(wanted: Sequence[float], rooms: Sequence[float], low: float, high: float) -> list[float] | None:
    """Return where labels stand, in the order given (which must not fall), or None where there is
    no room for all of them between the bounds."""
    if not wanted:
        return []
    assert all(a <= b for a, b in itertools.pairwise(wanted)), "labels come in order"
    steps = list(itertools.accumulate(((a + b) / 2 for a, b in itertools.pairwise(rooms)), initial=0.0))
    least, most = low + rooms[0] / 2, high - rooms[-1] / 2 - steps[-1]
    if least > most + 1e-9:
        return None
    pools: list[tuple[float, int]] = []
    for x, step in zip(wanted, steps, strict=True):
        mean, count = x - step, 1
        while pools and pools[-1][0] > mean:
            other, more = pools.pop()
            mean, count = (mean * count + other * more) / (count + more), count + more
        pools.append((mean, count))
    flat = [min(max(mean, least), most) for mean, count in pools for _ in range(count)]
    return [z + step for z, step in zip(flat, steps, strict=True)]
