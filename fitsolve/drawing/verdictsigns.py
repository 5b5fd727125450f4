"""Verdict signs: a verdict told by its shape, so that no colour is needed to read it.

Not here: where a joint stands (assembled), what its verdict is (findings).
"""

from __future__ import annotations

from fitsolve.drawing.shapes import BLACK, BLUE, GREY, VERMILION, WHITE, Pen, Shape, Sketch
from fitsolve.light import dataclass

SIGN_MM = 1.7


@dataclass(frozen=True)
class Sign:
    """A verdict as it is drawn: its shape, its colour, and its words in the legend."""

    shape: str
    colour: str
    words: str


SIGNS = {
    "fits": Sign("circle", BLUE, "fits"),
    "tight": Sign("up", VERMILION, "tight"),
    "proud": Sign("up", VERMILION, "proud"),
    "loose": Sign("down", VERMILION, "loose"),
    "open": Sign("down", VERMILION, "open"),
    "can't tell": Sign("diamond", BLACK, "can't tell"),
    "closed": Sign("square", GREY, "closed"),
}


def sign_shapes(verdict: str, x: float, y: float) -> list[Shape]:
    """Return the sign of a verdict around (x, y)."""
    sign = SIGNS.get(verdict, SIGNS["can't tell"])
    pen, s = Pen(0.4, (), sign.colour), SIGN_MM
    sketch = Sketch()
    if sign.shape == "circle":
        sketch.circle(x, y, s * 0.9, pen, WHITE)
    elif sign.shape == "square":
        sketch.rect((x - s * 0.5, y - s * 0.5, x + s * 0.5, y + s * 0.5), None, sign.colour)
    elif sign.shape == "diamond":
        sketch.path(((x - s, y), (x, y - s), (x + s, y), (x, y + s)), pen, closed=True, fill=WHITE)
    else:
        tip = -1 if sign.shape == "up" else 1
        points = ((x - s, y - tip * s * 0.7), (x, y + tip * s), (x + s, y - tip * s * 0.7))
        sketch.path(points, pen, closed=True, fill=sign.colour if tip < 0 else WHITE)
    return sketch.shapes
