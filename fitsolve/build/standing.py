"""Standing: what the marks of a frame come to together, as rows over where they lie.

Marks k lie along one axis at w_k and stand at places p_k = (u_k, v_k) on the two others.

Off the plane. With X the rows (1, u_k, v_k), R = I - X X+ takes the best plane off. Mark k stands off
the best plane through all the others by

    (R w)_k / R_kk

(leaving one row out of a least squares fit). Of four marks the others are three, and it is what that
mark stands off the plane through them; at the corners of a rectangle (w_1 - w_2) - (w_3 - w_4) for each
of them, give or take the sign. A mark that the others' plane does not reach (R_kk = 0) has no such row.

Over a base. The base's own plane P is the best plane through its marks; where they stand in one line
it is level across that line, where they are one it is level. w_k - P(p_k) is what a mark stands over it.

Stances. On a flat floor a frame stands on three feet: on a face of the lower hull of its feet. It
stands on the face under the middle of the feet, and can be rocked onto those that share an edge with it.
A foot k then stands off by w_k - sum of b_j w_j, b its barycentric coordinates in the face.

Diagonals. Corners 1 and 4, 2 and 3 lie across: rack is |p_4 - p_1| - |p_3 - p_2|, and as a row
d_1 / |d_1| on the first, less d_2 / |d_2| on the second, d as the corners lie.

Not here: which marks, and what they are called (framing); whether it will do (findings).

Source: leaving one out, any text on linear regression (e.g. D. Belsley, E. Kuh, R. Welsch, Regression
Diagnostics, 1980; from memory). Hand cases: specs/hand_cases.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

Places = Sequence[tuple[float, float]]
Weights = tuple[float, ...]

REACHED = 1e-6
"""A part R_kk of 1 below this: the plane of the others does not reach the mark."""

FLAT = 1e-9
"""Places whose spread across a line is less than this part of that along it stand in line."""

DIGITS = 12
"""Weights are rounded to so many places: those of a rectangle are then whole."""

MARKS_MOST = 200
"""More marks than this are not held against each other: the numbers are as many as their square."""

FEET_MOST = 12
"""A frame on more feet than this is not asked about: every three of them would be tried."""


def spread(places: Places) -> int:
    """Return what marks at these places stand on: 0 one place, 1 a line, 2 a plane."""
    import numpy as np

    at = np.array(places, dtype=np.float64)
    size = np.linalg.svd(at - at.mean(axis=0), compute_uv=False)
    scale = max(float(np.abs(at - at.mean(axis=0)).max(initial=0.0)), 1e-300)
    across = [one for one in size.tolist() if one > FLAT * max(size[0], scale)]
    return len(across) if float(size[0]) > FLAT else 0


def off_plane(places: Places) -> list[tuple[int, Weights]]:
    """Return, for each mark that the plane of the others reaches, the row of what it stands off it."""
    import numpy as np

    at = np.array(places, dtype=np.float64)
    centred = at - at.mean(axis=0)
    centred = centred / max(float(np.abs(centred).max(initial=0.0)), 1e-300)
    left, size, _ = np.linalg.svd(np.column_stack([np.ones(len(at)), centred]), full_matrices=False)
    kept = left[:, size > FLAT * size[0]]
    rest = np.eye(len(at)) - kept @ kept.T
    return [
        (k, tuple(np.round(rest[k] / rest[k, k], DIGITS).tolist())) for k in range(len(at)) if rest[k, k] > REACHED
    ]


def under(places: Places, base: Places) -> list[Weights]:
    """Return, for each place, the weights of the base's marks that make the height of its plane there."""
    import numpy as np

    feet = np.array(base, dtype=np.float64)
    middle = feet.mean(axis=0)
    tilt = np.linalg.pinv(feet - middle, rcond=FLAT)
    weights = 1.0 / len(feet) + (np.array(places, dtype=np.float64) - middle) @ tilt
    return [tuple(row) for row in np.round(weights, DIGITS).tolist()]


def stances(places: Places, heights: Sequence[float]) -> list[tuple[tuple[int, int, int], int, Weights]]:
    """Return (the three feet stood on, a foot that is off, the row of how far) for each way it stands."""
    faces = _lower_faces(places, heights)
    home = [face for face in faces if under_middle(places, face)] or faces
    edges = {frozenset(pair) for face in home for pair in combinations(face, 2)}
    found = []
    for face in faces:
        if face not in home and not any(frozenset(pair) in edges for pair in combinations(face, 2)):
            continue
        for foot in range(len(places)):
            if foot in face:
                continue
            row = [0.0] * len(places)
            row[foot] = 1.0
            for own, part in zip(face, _inside(places, face, places[foot]), strict=True):
                row[own] -= round(part, DIGITS)
            found.append((face, foot, tuple(row)))
    return found


def under_middle(places: Places, face: tuple[int, int, int]) -> bool:
    """Whether three feet stand round the middle of all: a frame on them stays where it is."""
    middle = (math.fsum(u for u, _ in places) / len(places), math.fsum(v for _, v in places) / len(places))
    return min(_inside(places, face, middle)) >= -REACHED


def _lower_faces(places: Places, heights: Sequence[float]) -> list[tuple[int, int, int]]:
    """The threes of feet with every other foot on or over their plane."""
    low = min(heights)
    scale = max(max(heights) - low, 1e-300)
    faces = []
    for face in combinations(range(len(places)), 3):
        if abs(_area(*(places[k] for k in face))) <= FLAT * _size(places) ** 2:
            continue
        over = [w - low - _plane(places, face, heights, at) for at, w in zip(places, heights, strict=True)]
        if all(one >= -FLAT * scale for one in over):
            faces.append(face)
    return faces


def _plane(places: Places, face: tuple[int, int, int], heights: Sequence[float], at: tuple[float, float]) -> float:
    """How high the plane of three feet is at a place, over the lowest foot of all."""
    low = min(heights)
    return sum(part * (heights[k] - low) for part, k in zip(_inside(places, face, at), face, strict=True))


def _size(places: Places) -> float:
    return max(float(max(along) - min(along)) for along in zip(*places, strict=True))


def _area(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    """Twice the area of a triangle, with its sign."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _inside(places: Places, face: tuple[int, int, int], at: tuple[float, float]) -> tuple[float, float, float]:
    """The barycentric coordinates of a place in a triangle: all from 0 to 1 where it lies in it."""
    a, b, c = (places[k] for k in face)
    whole = _area(a, b, c)
    return _area(at, b, c) / whole, _area(a, at, c) / whole, _area(a, b, at) / whole


def rack(corners: Sequence[tuple[float, float]]) -> tuple[float, list[tuple[float, float]]]:
    """Return by how much diagonal 1..4 is longer than 2..3, and the weights of each corner on both axes.

    Corners are front left, front right, rear left, rear right; corners in one place have no direction.
    """
    (u1, v1), (u2, v2), (u3, v3), (u4, v4) = corners
    one, other = math.hypot(u4 - u1, v4 - v1), math.hypot(u3 - u2, v3 - v2)
    c, d = max(one, 1e-300), max(other, 1e-300)
    first, second = ((u4 - u1) / c, (v4 - v1) / c), ((u3 - u2) / d, (v3 - v2) / d)
    return one - other, [(-first[0], -first[1]), second, (-second[0], -second[1]), first]
