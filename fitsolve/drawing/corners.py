"""Corners: where the corners of a part lie in a view, a side that slants or leans slanted.

A side is an outermost mark of the part along one axis, seen over the other axis of the view. Its stations on that
axis, `outer@foot` and `outer@head`, say where it lies at two places: it is drawn as the line through the two that lie
farthest from each other, if that is half the part at least, else straight. So is a side with more stations of which
some lie on slopes, as that of a stretcher with a tail at each end. A corner is where two sides meet,

    u = a + k v,   v = b + m u      at      u = (a + k b) / (1 - k m).

Not here: where marks lie (assembledwords), how a side is drawn (assembled).
"""

from __future__ import annotations

from collections.abc import Mapping

from fitsolve.build.assembly import Assembly
from fitsolve.drawing.shapes import Point
from fitsolve.light import dataclass
from fitsolve.rows import Floats

APART_LEAST = 0.5
"""Stations nearer to each other than this share of the part say nothing of how its far end lies."""
STEEPEST = 4.0

Corners = tuple[Point, Point, Point, Point]


@dataclass(frozen=True, slots=True)
class _Side:
    """A side as a line over the other axis: where it lies at 0, and how much farther at 1."""

    at: float
    rise: float = 0.0


class Sides:
    """The outermost marks of all parts along each axis, and their stations; `outer` has the marks, the lower first.
    `drawn` are the pairs of stations that sides were drawn through so far."""

    def __init__(self, assembly: Assembly, outer: Mapping[str, Mapping[str, tuple[int, int]]]) -> None:
        self.assembly, self.outer = assembly, outer
        self.sloped = {mark for slope in assembly.slopes for mark in (slope.start, slope.end)}
        self.faces = [
            {face.start, face.end, *(one.end for one in assembly.on_slope.get(face.own_marks, ()))}
            for face in assembly.slopes
            if face.whole is None
        ]
        self.drawn: set[frozenset[int]] = set()
        self.bases: dict[str, list[int]] = {}
        for number, one in enumerate(assembly.marks):
            self.bases.setdefault(one.name.partition("@")[0], []).append(number)

    def corners(self, part: str, axes: tuple[str, str], x: Floats) -> Corners:
        """The corners of a part in a view, from its lower left on around; `x` (n,) is where marks lie."""
        right, up = axes
        left, over = (self._side(part, mark, up, x) for mark in self.outer[part][right])
        low, high = (self._side(part, mark, right, x) for mark in self.outer[part][up])
        return _meet(left, low), _meet(over, low), _meet(over, high), _meet(left, high)

    def _on(self, mark: int) -> list[int]:
        """The marks of a side: itself and its stations."""
        return self.bases[self.assembly.marks[mark].name.partition("@")[0]]

    def _side(self, part: str, mark: int, over: str, x: Floats) -> _Side:
        """A side over the other axis of the view."""
        marks, straight = self.assembly.marks, _Side(float(x[mark]))
        places = []
        for number in self._on(mark):
            station = self.assembly.index.get(f"{part}.{marks[number].name.partition('@')[2]}")
            if station is not None and marks[station].axis == over:
                places.append((float(x[station]), float(x[number]), number))
        own = {number for *_, number in places}
        whole = len(own) > 2 and any(own <= face for face in self.faces)
        if len(places) < 2 or (len(places) > 2 and not whole and self.sloped & own):
            return straight
        (first, low, start), (last, high, end) = min(places), max(places)
        below, above = (float(x[one]) for one in self.outer[part][over])
        if last - first < APART_LEAST * abs(above - below) or abs(high - low) > STEEPEST * (last - first):
            return straight
        self.drawn.add(frozenset((start, end)))
        rise = (high - low) / (last - first)
        return _Side(low - rise * first, rise)


def _meet(across: _Side, along: _Side) -> Point:
    """Where a side to the left or right meets one below or above."""
    apart = 1.0 - across.rise * along.rise
    if abs(apart) < 1e-6:
        return across.at, along.at
    right = (across.at + across.rise * along.at) / apart
    return right, along.at + along.rise * right
