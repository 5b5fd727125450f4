"""Spread: positions that come as near as they can to distances that don't quite agree.

Given distances  x_b - x_a = L  with scales s, find x that minimises

    sum ((x_b - x_a - L) / s)^2,     distances without a scale kept exactly.

The unknowns are corrections c to positions already found, so what is exact stays exact:
(c_b - c_a - m) / s with m = L - (x_b - x_a). Marks tied by a kept distance share one
correction (contraction); a kept distance that closes a loop among kept ones cannot be kept,
and joins the others. Of each connected piece only differences mean anything: how far it is moved as a
whole is left to the method.

Small systems are solved densely, large ones by a sparse factorisation of the normal equations.

Not here: which distances those are (sums, place).

Source: any text on the adjustment of levelling nets.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

Edge = tuple[int, int, Fraction, float | None]

_DENSE_MOST = 300


def spread(at: Sequence[Fraction], edges: Sequence[Edge]) -> list[Fraction]:
    """Return positions (mm) near `at` that share out what the edges (from, to, mm, scale) don't agree on."""
    count = len(at)
    root = list(range(count))
    moved = [Fraction(0)] * count

    def find(mark: int) -> tuple[int, Fraction]:
        path = []
        while root[mark] != mark:
            path.append(mark)
            mark = root[mark]
        total = Fraction(0)
        for one in reversed(path):
            total += moved[one]
            root[one], moved[one] = mark, total
        return mark, total

    soft: list[tuple[int, int, Fraction, float]] = []
    for start, end, length, scale in edges:
        missing = length - (at[end] - at[start])
        if scale is None:
            (a, shift_a), (b, shift_b) = find(start), find(end)
            if a != b:
                root[b], moved[b] = a, missing + shift_a - shift_b
                continue
        soft.append((start, end, missing, 1.0 if scale is None else scale))
    places = [find(mark) for mark in range(count)]
    numbers = {mark: k for k, mark in enumerate(dict.fromkeys(mark for mark, _ in places))}
    rows = []
    for start, end, missing, scale in soft:
        (a, shift_a), (b, shift_b) = places[start], places[end]
        if a != b:
            rows.append((numbers[a], numbers[b], float(missing + shift_a - shift_b), scale))
    corrections = _least_squares(len(numbers), rows)
    return [at[mark] + shift + Fraction(corrections[numbers[a]]) for mark, (a, shift) in enumerate(places)]


def _least_squares(count: int, rows: list[tuple[int, int, float, float]]) -> list[float]:
    """Corrections (count,) in mm that minimise sum ((c_b - c_a - m) / s)^2, each piece moved as a whole by anything."""
    import numpy as np

    if not rows:
        return [0.0] * count
    corrections: np.ndarray[Any, Any]
    start, end, missing, scale = (np.array(column) for column in zip(*rows, strict=True))
    weight = 1.0 / scale
    if count <= _DENSE_MOST:
        matrix = np.zeros((len(rows), count))
        matrix[np.arange(len(rows)), end] = weight
        matrix[np.arange(len(rows)), start] = -weight
        corrections = np.linalg.lstsq(matrix, missing * weight, rcond=None)[0]
    else:
        from scipy.sparse import coo_array, diags_array
        from scipy.sparse.csgraph import connected_components
        from scipy.sparse.linalg import splu

        number = np.arange(len(rows))
        sparse = coo_array(
            (
                np.concatenate([weight, -weight]),
                (np.concatenate([number, number]), np.concatenate([end, start])),
            ),
            shape=(len(rows), count),
        ).tocsc()
        normal = (sparse.T @ sparse).tocsc()
        _, piece = connected_components(normal, directed=False)
        _, firsts = np.unique(piece, return_index=True)
        ground = np.zeros(count)
        ground[firsts] = normal.diagonal()[firsts] + 1.0
        factor = splu((normal + diags_array(ground)).tocsc())
        corrections = factor.solve(sparse.T @ (missing * weight))
    return [float(correction) for correction in corrections]
