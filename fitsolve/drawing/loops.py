"""Loops: each way round in which readings check each other, gone step by step to scale.

A step is an arrow to scale from mark to mark, each on a line of its own. The last step should end
where the first began; how far it misses is drawn below to a scale of its own, beside the ± U (k = 2) that
the readings allow, and said in words.

Not here: which loops there are (findings.ways).
"""

from __future__ import annotations

from fitsolve.drawing.metrics import fitted
from fitsolve.drawing.shapes import BLACK, FINE, GREY, PALE, PLAIN, THIN, VERMILION, Page, Pen, Sketch, Text
from fitsolve.drawing.symbols import arrow, origin
from fitsolve.light import dataclass

WIDTH_MM = 250.0
MARGIN_MM = 8.0
ROW_MM = 5.0
WORDS_MM = 120.0
MISS_MM = 24.0


@dataclass(frozen=True)
class LoopStep:
    """A step in words, where it begins and ends along the axis (mm), and whether it was read or is a joint."""

    words: str
    start_mm: float
    end_mm: float
    read: bool


@dataclass(frozen=True)
class Loop:
    """A loop: its title, steps, what it misses by and ± U in mm, and both in words."""

    title: str
    steps: tuple[LoopStep, ...]
    misclosure_mm: float
    expanded_mm: float
    said: str
    open: bool


@dataclass(frozen=True)
class LoopsDrawing:
    """What the drawing of the loops shows; `note` says what is not in it."""

    title: str
    number: str
    loops: tuple[Loop, ...]
    note: str


def loops_page(drawing: LoopsDrawing) -> Page:
    """Return the drawing as one page."""
    sketch = Sketch()
    room = WIDTH_MM - 2 * MARGIN_MM
    y = MARGIN_MM + 5
    title = fitted(f"{drawing.title}: loops", room, 5.5, True)
    sketch.shapes.append(Text(MARGIN_MM, y, title, 5.5, "start", True))
    words = f"list {drawing.number}   arrows are steps to scale; full: read, dashed: a closed joint"
    sketch.shapes.append(Text(MARGIN_MM, y + 6, fitted(words, room, 2.8), 2.8))
    y += 12
    for loop in drawing.loops:
        y = _loop(sketch, loop, y, room)
    if drawing.note:
        sketch.shapes.append(Text(MARGIN_MM, y + 1, fitted(drawing.note, room, 2.6), 2.6, colour=GREY))
        y += 4
    return Page(WIDTH_MM, y + MARGIN_MM, tuple(sketch.shapes), f"{drawing.title}, loops")


def _loop(sketch: Sketch, loop: Loop, y: float, room: float) -> float:
    sketch.line(MARGIN_MM, y, MARGIN_MM + room, y, FINE)
    sketch.shapes.append(Text(MARGIN_MM, y + 4.5, fitted(loop.title, WORDS_MM - 4, 3.0, True), 3.0, "start", True))
    said = fitted(("OPEN: " if loop.open else "") + loop.said, room - WORDS_MM, 3.0, loop.open)
    sketch.shapes.append(Text(MARGIN_MM + WORDS_MM, y + 4.5, said, 3.0, "start", loop.open))
    top = y + 6.5
    places = [place for step in loop.steps for place in (step.start_mm, step.end_mm)]
    low, high = min(places), max(places)
    left = MARGIN_MM + WORDS_MM + 3
    scale = (room - WORDS_MM - 8) / max(high - low, 1e-6)
    for number, step in enumerate(loop.steps):
        middle = top + (number + 0.5) * ROW_MM
        sketch.shapes.append(Text(MARGIN_MM, middle + 0.9, fitted(step.words, WORDS_MM - 4, 2.6), 2.6))
        a, b = left + (step.start_mm - low) * scale, left + (step.end_mm - low) * scale
        if abs(b - a) < 0.4:
            sketch.circle(a, middle, 0.7, PLAIN, BLACK)
        else:
            sketch.add(arrow((a, middle), (b, middle), PLAIN if step.read else Pen(0.25, (1.2, 0.8)), 2.0))
        if number:
            sketch.line(a, middle - ROW_MM, a, middle, FINE)
    foot = top + len(loop.steps) * ROW_MM
    start, end = left + (loop.steps[0].start_mm - low) * scale, left + (loop.steps[-1].end_mm - low) * scale
    sketch.shapes.append(origin(start, top + 0.5 * ROW_MM, 0.9))
    sketch.line(end, foot - 0.5 * ROW_MM, end, foot + 1, FINE)
    _missed(sketch, loop, foot + 4, left + (room - WORDS_MM - 8) / 2)
    return foot + 9


def _missed(sketch: Sketch, loop: Loop, y: float, middle: float) -> None:
    """The misclosure to a scale of its own, beside what the readings allow."""
    most = max(abs(loop.misclosure_mm), loop.expanded_mm, 1e-6)
    scale = MISS_MM / most
    allowed = loop.expanded_mm * scale
    sketch.rect((middle - allowed, y - 1.6, middle + allowed, y + 1.6), FINE, PALE)
    sketch.line(middle, y - 2.2, middle, y + 2.2, THIN)
    at = middle + loop.misclosure_mm * scale
    pen = Pen(0.45, (), VERMILION if loop.open else BLACK)
    if abs(at - middle) > 0.3:
        sketch.add(arrow((middle, y), (at, y), pen, 1.8))
    sketch.line(at, y - 2.2, at, y + 2.2, pen)
    words = f"miss and U, {scale:.0f} times their size" if scale >= 1.5 else "miss and U"
    sketch.shapes.append(Text(MARGIN_MM, y + 0.9, words, 2.4, colour=GREY))
