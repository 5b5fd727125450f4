"""Part: the drawing of one part, each axis that has marks as a view of its own.

The view that the part is longest along comes first, the others beside each other where they have few marks; each says
how large it is drawn. Under each stand running dimensions, above it how far marks are off plan (dimensions). Waste
is hatched, up to slanted walls where they are. A section shows the end grain, with the faces named, and so which
way up.

Not here: what is said of a mark (cutlines), how a page is written (svg, pdf).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitsolve.drawing.bar import AS_IS, HOLE_MADE
from fitsolve.drawing.cutlines import MADE, START, TO_CUT, CutLine, from_words
from fitsolve.drawing.dimensions import LABEL_ROOM_MM, Scale, draw_dimensions, draw_errors
from fitsolve.drawing.metrics import fitted, width_mm, wrapped
from fitsolve.drawing.shapes import (
    FINE,
    GREY,
    PLAIN,
    THICK,
    Box,
    Page,
    Shape,
    Sketch,
    Text,
    hatching,
    moved,
)
from fitsolve.drawing.slants import AS_BUILT, Slant, draw_slants, seen_so
from fitsolve.drawing.symbols import arrow, datum, edge_mark, face_mark, hole_sign
from fitsolve.light import dataclass

WIDTH_MM = 250.0
MARGIN_MM = 8.0
HOLE_MM = 1.6
VIEWS_APART_MM = 10.0
BESIDE_MOST = 8
"""Views of no more marks than this stand beside each other."""
HIGH_LEAST_MM, HIGH_MOST_MM = 9.0, 34.0
BLOW_UP_MOST = 5.0
HEAD_MM = 30.0
SLANTED_LEAST = 0.3
"""A slanted line that goes over less of a view than this leaves the hatching square."""


@dataclass(frozen=True)
class View:
    """What is drawn of a part along one axis; `across_mm` is how wide it is there, None where unknown."""

    axis: str
    start: str
    lines: tuple[CutLine, ...]
    across_mm: float | None
    way: int = 1
    slants: tuple[Slant, ...] = ()


@dataclass(frozen=True)
class Section:
    """The end grain: how wide and high, None where no marks tell, and the names of its faces."""

    wide_mm: float | None
    high_mm: float | None
    left: str
    right: str
    top: str
    bottom: str
    up: str


@dataclass(frozen=True)
class PartDrawing:
    """What the drawing of a part shows; the view it is longest along comes first. `notes` stand under the views."""

    part: str
    title: str
    number: str
    unit: str
    finest_mm: float
    finest: str
    views: tuple[View, ...]
    section: Section | None
    notes: tuple[str, ...] = ()


def part_page(drawing: PartDrawing) -> Page:
    """Return the drawing of a part as one page, as wide as its marks need."""
    most = max((len(view.lines) for view in drawing.views), default=0)
    width = max(WIDTH_MM, most * LABEL_ROOM_MM + 2 * MARGIN_MM + 8)
    sketch = Sketch()
    _head(sketch, drawing, width)
    y = MARGIN_MM + HEAD_MM
    for row in _rows(drawing.views):
        room = (width - 2 * MARGIN_MM - (len(row) - 1) * VIEWS_APART_MM) / len(row)
        made = [_view(view, room, drawing, view is drawing.views[0]) for view in row]
        for number, (shapes, _) in enumerate(made):
            sketch.add(moved(shape, MARGIN_MM + number * (room + VIEWS_APART_MM), y) for shape in shapes)
        y += max(high for _, high in made) + 4
    for note in drawing.notes:
        for line in wrapped(note, width - 2 * MARGIN_MM, 2.8):
            sketch.shapes.append(Text(MARGIN_MM, y + 2.8, line, 2.8))
            y += 3.8
        y += 1.0
    words = (
        "Heavy line and circle: measured from here. Full line: to cut. Dashed: made. Hatched: waste. Dots: rough now. "
        "[ ]: from the mark before. Loop and angle: face side and face edge."
    )
    sketch.shapes.append(Text(MARGIN_MM, y + 2.5, words, 2.5, colour=GREY))
    if any(line.toward for view in drawing.views for line in view.lines):
        y += 4.0
        drawn = "Arrow at a hole: to the shoulder that its peg draws home."
        sketch.shapes.append(Text(MARGIN_MM, y + 2.5, drawn, 2.5, colour=GREY))
    return Page(width, y + 5 + MARGIN_MM, tuple(sketch.shapes), f"{drawing.part}, {drawing.title}")


def _rows(views: Sequence[View]) -> list[Sequence[View]]:
    """The view a part is longest along by itself, the others beside each other where they have few marks."""
    if len(views) == 3 and all(len(view.lines) <= BESIDE_MOST for view in views[1:]):
        return [views[:1], views[1:]]
    return [[view] for view in views]


def _head(sketch: Sketch, drawing: PartDrawing, width: float) -> None:
    room = width - 2 * MARGIN_MM - 80
    y = MARGIN_MM + 5
    sketch.shapes.append(Text(MARGIN_MM, y, fitted(drawing.part, room, 5.5, True), 5.5, "start", True))
    words = f"{drawing.title}   list {drawing.number}   lengths in {drawing.unit}"
    sketch.shapes.append(Text(MARGIN_MM, y + 6, fitted(words, room, 2.8), 2.8))
    sketch.shapes.append(Text(MARGIN_MM, y + 11, "Fit only, never strength.", 2.8))
    if drawing.section:
        sketch.add(_section(drawing.section, width - MARGIN_MM - 38, MARGIN_MM + 13))


def _section(section: Section, x: float, y: float) -> list[Shape]:
    """The end grain around (x, y), its faces named, with an arrow that tells which way up."""
    wide, high = section.wide_mm or section.high_mm or 1.0, section.high_mm or section.wide_mm or 1.0
    scale = min(16.0 / wide, 15.0 / high)
    half_w, half_h = max(wide * scale / 2, 1.5), max(high * scale / 2, 1.5)
    box = (x - half_w, y - half_h, x + half_w, y + half_h)
    sketch = Sketch()
    sketch.rect(box, THICK)
    for ring in range(1, 6):
        sketch.add(_ring(x, box[3] + 0.4 * (box[3] - box[1]), ring * (box[3] - box[1]) * 0.27, box))
    for words, at, anchor in (
        (section.top, (x, box[1] - 1.2), "middle"), (section.bottom, (x, box[3] + 3.0), "middle"),
        (section.left, (box[0] - 1.2, y + 0.8), "end"), (section.right, (box[2] + 1.2, y + 0.8), "start"),
    ):  # fmt: skip
        room = {"middle": 26.0, "end": 24.0, "start": 20.0}[anchor]  # to the right stands the way up
        assert anchor in ("middle", "end", "start")
        sketch.shapes.append(Text(*at, fitted(words, room, 2.4), 2.4, anchor))  # type: ignore[arg-type]
    if section.up:
        sketch.add(arrow((x + 32, y + 9), (x + 32, y - 2), PLAIN))
        sketch.shapes.append(Text(x + 32, y - 3.2, section.up, 2.4, "middle"))
    return sketch.shapes


def _ring(x: float, y: float, radius: float, box: Box) -> list[Shape]:
    """A growth ring of the end grain, as far as it lies in the section."""
    points = [(x + radius * math.cos(math.pi * k / 40), y - radius * math.sin(math.pi * k / 40)) for k in range(41)]
    inside = [box[0] < px < box[2] and box[1] < py < box[3] for px, py in points]
    sketch = Sketch()
    run: list[tuple[float, float]] = []
    for point, there in zip([*points, points[-1]], [*inside, False], strict=True):
        if there:
            run.append(point)
        else:
            if len(run) > 1:
                sketch.path(run, FINE)
            run = []
    return sketch.shapes


# -- a view ---------------------------------------------------------------------------------


def _view(view: View, room: float, drawing: PartDrawing, main: bool) -> tuple[list[Shape], float]:
    """A view from (0, 0), and how high it is."""
    sketch = Sketch()
    known = [line for line in view.lines if line.at_mm is not None]
    words = ", ".join(filter(None, [from_words(view.axis, view.start, view.lines), seen_so(view.slants)]))
    lost = [line.name for line in view.lines if line.at_mm is None]
    scale = _scale(known, room, view.slants) if known else None
    said = _scale_words(scale.factor) if scale is not None else ""
    if lost:
        said += f"   not fixed by anything: {', '.join(lost)}"
    title = fitted(words, room - 24.0, 3.2, True)
    sketch.shapes.append(Text(0, 3.5, title, 3.2, "start", True))
    x = width_mm(title, 3.2, True) + 4.0
    sketch.shapes.append(Text(x, 3.5, fitted(said.strip(), room - x, 2.4), 2.4, colour=GREY))
    if scale is None:
        return sketch.shapes, 6.0
    top = 6.0
    shown = [line for line in known if line.shift]
    if shown:
        top = draw_errors(sketch, shown, scale, room, (drawing.finest_mm, drawing.finest))
    high = _height(view, scale, main)
    span = (top, top + high)
    _body(sketch, known, scale, span, view.slants)
    if main:
        _face(sketch, [scale.at(line.at_mm or 0.0) for line in known], top)
    bottom = draw_dimensions(sketch, known, scale, room, span)
    return sketch.shapes, bottom


def _scale_words(factor: float) -> str:
    """How large a view is drawn: `1 : 7.7`, `1.3 : 1`."""
    if factor >= 1.0:
        return f"{factor:.1f} : 1"
    return f"1 : {1 / factor:.1f}" if factor > 0.1 else f"1 : {1 / factor:.0f}"


def _scale(lines: Sequence[CutLine], room: float, slants: Sequence[Slant]) -> Scale:
    places = [place for line in lines for place in (line.at_mm, line.now_mm) if place is not None]
    places += [at for slant in slants for at in slant.at_mm]
    low, high = min(places), max(places)
    factor = min((room - 16) / max(high - low, 1e-6), BLOW_UP_MOST)
    return Scale(8.0, low, factor)


def _height(view: View, scale: Scale, main: bool) -> float:
    across = (view.across_mm or 0.0) * scale.factor
    return min(max(across, HIGH_LEAST_MM), HIGH_MOST_MM if main else HIGH_LEAST_MM)


def _body(
    sketch: Sketch, lines: Sequence[CutLine], scale: Scale, span: tuple[float, float], slants: Sequence[Slant]
) -> None:
    top, bottom = span
    xs = [scale.at(line.at_mm or 0.0) for line in lines]
    draw_slants(sketch, slants, (scale.at(0.0), scale.factor), span)
    slanted = {mark for slant in slants for mark in slant.instead}
    left, right = min(xs), max(xs)
    _waste(sketch, lines, scale, span, _walls(lines, scale, slants))
    sketch.path(((left, top), (right, top)), THICK)
    sketch.path(((left, bottom), (right, bottom)), THICK)
    for line, x in zip(lines, xs, strict=True):
        if line.word == START:
            sketch.add(datum(x, top - 1.0, bottom + 1.0))
        elif line.hole:
            pen = HOLE_MADE if line.word == MADE else PLAIN
            room = min(HOLE_MM + 0.6, (bottom - top) / 2)
            y = min(max(bottom - line.height * (bottom - top), top + room), bottom - room)
            sketch.add(hole_sign(x, y, line.toward, HOLE_MM, pen))
        elif line.mark in slanted:
            sketch.line(x, bottom - 1.0, x, bottom + 0.6, PLAIN)
        else:
            outer = x in (left, right)
            made = line.word == MADE
            sketch.line(x, top, x, bottom, AS_BUILT if made else THICK if outer else PLAIN)
        if line.now_mm is not None:
            sketch.line(scale.at(line.now_mm), top, scale.at(line.now_mm), bottom, AS_IS)


def _face(sketch: Sketch, xs: Sequence[float], top: float) -> None:
    places = sorted(xs)
    gaps = [(b - a, a) for a, b in zip(places, places[1:], strict=False)]
    wide, start = max(gaps, default=(0.0, 0.0))
    if wide >= 12:
        sketch.add(face_mark(start + wide / 2, top, 8.0))
        sketch.add(edge_mark(start + wide / 2, top, 2.2))


Wall = tuple[float, float]
"""Where a line lies at the top of a view, and at its foot."""


def _walls(lines: Sequence[CutLine], scale: Scale, slants: Sequence[Slant]) -> list[Wall]:
    """Each line as a wall, slanted where a slanted line is drawn for it."""
    slanted = {mark: slant for slant in slants for mark in slant.instead}
    walls = []
    for line in lines:
        x = scale.at(line.at_mm or 0.0)
        slant = slanted.get(line.mark)
        if slant is None or abs(slant.height[1] - slant.height[0]) < SLANTED_LEAST:
            walls.append((x, x))
            continue
        (first, last), (low, high) = ((scale.at(at) for at in slant.at_mm), slant.height)
        rise = (last - first) / (high - low)
        walls.append((first + rise * (1.0 - low), first - rise * low))
    return walls


def _waste(
    sketch: Sketch, lines: Sequence[CutLine], scale: Scale, span: tuple[float, float], walls: Sequence[Wall]
) -> None:
    """Hatching on the waste side of what is to be cut: to the other wall, to where rough wood ends, or a little."""
    xs = [scale.at(line.at_mm or 0.0) for line in lines]
    for line, x, wall in zip(lines, xs, walls, strict=True):
        if line.word not in TO_CUT or not line.waste:
            continue
        side = line.waste
        beyond = sorted((abs(other - x), k) for k, other in enumerate(xs) if (other - x) * side > 1e-6)
        reach, other = 5.0, None
        if beyond:
            near, k = beyond[0]
            facing = lines[k].waste == -side
            if facing and line.mark > lines[k].mark and lines[k].word in TO_CUT:
                continue  # hatched from the other wall already
            reach, other = (near, walls[k]) if facing else (min(5.0, near / 2), None)
        if line.now_mm is not None:
            reach, other = max(abs(scale.at(line.now_mm) - x), 0.5), None
        far = other or (wall[0] + side * reach, wall[1] + side * reach)
        left, right = (wall, far) if side > 0 else (far, wall)
        sketch.add(hatching(((left[0], span[0]), (right[0], span[0]), (right[1], span[1]), (left[1], span[1]))))
