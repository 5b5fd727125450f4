"""Symbols: the few signs that all drawings share, of our own drawing.

    a filled arrow       the end of a dimension, or the way something moved. Its head is 15 degrees wide
                         to each side (ISO 129-1 allows heads from 15 to 90 degrees; from memory)
    a small open circle  where running dimensions start (ISO 129-1, the sign of the origin; from memory)
    crosses              waste, as a maker marks it with a pencil
    a loop with a tail   the face side; an angle that points to it: the face edge (marks of the trade,
                         common practice, no source)
"""

from __future__ import annotations

import math

from fitsolve.drawing.shapes import BLACK, HEAVY, PLAIN, THIN, Circle, Path, Pen, Point, Shape

HEAD_MM = 2.4
_HALF_ANGLE = math.radians(15)


def arrow(start: Point, end: Point, pen: Pen = THIN, head_mm: float = HEAD_MM) -> list[Shape]:
    """Return a line with a filled head at its end; the head is never longer than the line."""
    length = math.dist(start, end)
    if length == 0:
        return []
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    long = min(head_mm, length)
    half = long * math.tan(_HALF_ANGLE)
    back = (end[0] - long * ux, end[1] - long * uy)
    head = (end, (back[0] - half * uy, back[1] + half * ux), (back[0] + half * uy, back[1] - half * ux))
    return [Path((start, back), pen), Path(head, None, True, pen.colour)]


def origin(x: float, y: float, radius: float = 1.0) -> Shape:
    """Return the sign of where running dimensions start."""
    return Circle(x, y, radius, PLAIN, "#ffffff")


def cross(x: float, y: float, half: float, pen: Pen = PLAIN) -> list[Shape]:
    """Return a cross: waste."""
    down = Path(((x - half, y - half), (x + half, y + half)), pen)
    return [down, Path(((x - half, y + half), (x + half, y - half)), pen)]


def tick_box(x: float, y: float, side: float) -> Shape:
    """Return an empty box to be ticked, (x, y) its upper left corner."""
    return Path(((x, y), (x + side, y), (x + side, y + side), (x, y + side)), PLAIN, True, "#ffffff")


def face_mark(x: float, top: float, size: float = 6.0) -> list[Shape]:
    """Return the mark of the face side: a loop whose tail runs up to the face edge, at (x, top)."""
    points: list[Point] = [(x, top)]
    for k in range(25):
        angle = math.radians(-200 - 310 * k / 24)
        points.append((x + 0.22 * size * math.sin(angle), top + 0.72 * size + 0.22 * size * math.cos(angle)))
    return [Path(tuple(points), Pen(0.35, (), BLACK))]


def edge_mark(x: float, top: float, size: float = 2.2) -> list[Shape]:
    """Return the mark of the face edge: an angle on it whose point, at (x, top), is toward the face."""
    half = size * 0.55
    return [Path(((x - half, top - size), (x, top), (x + half, top - size)), Pen(0.35, (), BLACK))]


def datum(x: float, top: float, bottom: float) -> list[Shape]:
    """Return the heavy end that everything is measured from."""
    return [Path(((x, top), (x, bottom)), HEAVY)]


def hole_sign(x: float, y: float, toward: int, radius: float = 1.6, pen: Pen = PLAIN) -> list[Shape]:
    """Return a hole with its centre lines and, where it is drawn toward a shoulder, an arrow that way."""
    cross_pen = Pen(0.15)
    shapes: list[Shape] = [
        Circle(x, y, radius, pen),
        Path(((x - radius - 1, y), (x + radius + 1, y)), cross_pen),
        Path(((x, y - radius - 1), (x, y + radius + 1)), cross_pen),
    ]
    return shapes + (arrow((x + radius * toward, y), (x + (radius + 4.5) * toward, y), PLAIN) if toward else [])
