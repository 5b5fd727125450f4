"""Shapes: what stands on a page, as plain values in millimetres.

x runs to the right and y runs down from the upper left corner of the page. What is drawn is
decided before anything is written: the SVG, the HTML and the PDF all come from these values, so
that they show the same, and a test can ask of each shape where it ends.

Not here: how wide a text runs (metrics), how a shape is written (svg, pdf).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import field
from typing import Literal

from fitsolve.light import dataclass

BLACK = "#000000"
GREY = "#6b6b6b"
PALE = "#e4e4e4"
BLUE = "#0072b2"
"""With BLACK and VERMILION told apart by most eyes, colour-blind ones too: from the palette of
Okabe and Ito, Color Universal Design (2002; from memory). Never the only sign of anything."""
VERMILION = "#d55e00"
WHITE = "#ffffff"

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line is drawn: its width in mm, its dashes and gaps in mm, its colour."""

    width_mm: float = 0.25
    dashes_mm: tuple[float, ...] = ()
    colour: str = BLACK


THIN = Pen(0.18)
"""Dimension and leader lines."""
PLAIN = Pen(0.25)
THICK = Pen(0.5)
"""Edges that are seen. Two widths, 1 to 2 or more, are common practice on technical drawings."""
HEAVY = Pen(1.2)
"""The end that everything is measured from."""
FINE = Pen(0.1)


@dataclass(frozen=True, slots=True)
class Path:
    """Straight lines from point to point; `closed` comes back to the first, `fill` is a colour or ""."""

    points: tuple[Point, ...]
    pen: Pen | None = PLAIN
    closed: bool = False
    fill: str = ""


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle around (x, y)."""

    x: float
    y: float
    radius: float
    pen: Pen | None = PLAIN
    fill: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """Words on one line. (x, y) lies on the baseline at the start, middle or end of the words;
    `size_mm` is the height of the font's body. `upright` turns them to be read from the right."""

    x: float
    y: float
    words: str
    size_mm: float = 3.0
    anchor: Literal["start", "middle", "end"] = "start"
    bold: bool = False
    upright: bool = False
    colour: str = BLACK


Shape = Path | Circle | Text


@dataclass(frozen=True)
class Page:
    """A page and what stands on it. `title` names it for those who cannot see it."""

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]
    title: str = ""


@dataclass(slots=True)
class Sketch:
    """Collects shapes; each method adds one."""

    shapes: list[Shape] = field(default_factory=list)

    def line(self, x1: float, y1: float, x2: float, y2: float, pen: Pen = PLAIN) -> None:
        """A straight line."""
        self.shapes.append(Path(((x1, y1), (x2, y2)), pen))

    def path(self, points: Iterable[Point], pen: Pen | None = PLAIN, *, closed: bool = False, fill: str = "") -> None:
        """Lines from point to point."""
        self.shapes.append(Path(tuple(points), pen, closed, fill))

    def rect(self, box: Box, pen: Pen | None = PLAIN, fill: str = "") -> None:
        """A rectangle."""
        left, top, right, bottom = box
        self.path(((left, top), (right, top), (right, bottom), (left, bottom)), pen, closed=True, fill=fill)

    def circle(self, x: float, y: float, radius: float, pen: Pen | None = PLAIN, fill: str = "") -> None:
        """A circle."""
        self.shapes.append(Circle(x, y, radius, pen, fill))

    def add(self, shapes: Iterable[Shape]) -> None:
        """Shapes made elsewhere."""
        self.shapes.extend(shapes)


def moved(shape: Shape, dx: float, dy: float) -> Shape:
    """Return the shape, moved."""
    if isinstance(shape, Path):
        points = tuple((x + dx, y + dy) for x, y in shape.points)
        return Path(points, shape.pen, shape.closed, shape.fill)
    if isinstance(shape, Circle):
        return Circle(shape.x + dx, shape.y + dy, shape.radius, shape.pen, shape.fill)
    return Text(
        shape.x + dx, shape.y + dy, shape.words, shape.size_mm, shape.anchor, shape.bold, shape.upright, shape.colour
    )


def scaled(shape: Shape, by: float) -> Shape:
    """Return the shape, scaled around (0, 0); lines keep their width."""
    if isinstance(shape, Path):
        return Path(tuple((x * by, y * by) for x, y in shape.points), shape.pen, shape.closed, shape.fill)
    if isinstance(shape, Circle):
        return Circle(shape.x * by, shape.y * by, shape.radius * by, shape.pen, shape.fill)
    size = shape.size_mm * by
    return Text(
        shape.x * by, shape.y * by, shape.words, size, shape.anchor, shape.bold, shape.upright, shape.colour
    )


def hatching(corners: Sequence[Point], spacing_mm: float = 1.6, pen: Pen = FINE) -> list[Shape]:
    """Return lines at 45 degrees that fill an area without hollows, its corners one after another."""
    edges = list(zip(corners, [*corners[1:], corners[0]], strict=True))
    rises = [x + y for x, y in corners]  # along a line x + y is the same
    shapes: list[Shape] = []
    for k in range(math.ceil(min(rises) / spacing_mm), math.floor(max(rises) / spacing_mm) + 1):
        rise = k * spacing_mm
        met = []
        for (x, y), (u, v) in edges:
            first, last = x + y - rise, u + v - rise
            if first * last < 0.0 or (first == 0.0) != (last == 0.0):
                share = first / (first - last)
                met.append((x + share * (u - x), y + share * (v - y)))
        if len(met) > 1 and max(met)[0] - min(met)[0] > 0.05:
            shapes.append(Path((min(met), max(met)), pen))
    return shapes
