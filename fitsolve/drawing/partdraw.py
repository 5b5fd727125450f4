"""Part: the drawing of one part, each axis that has marks as a view of its own.

Under each view stand running dimensions: one line from the sign of the origin, an arrow at each mark,
the figure at the end of each extension line (superimposed running dimensioning, ISO 129-1; from memory). Waste is
hatched. Above stands how far each mark is off plan: an arrow from where the plan has it, drawn
larger than lengths are by a factor that is stated,

    N = the first of 1, 2, 5, 10, 20, ... that makes the finest line laid out at least 2.5 mm long,

and cut off, with a stroke through it, where it would be longer than 20 mm. A section shows the end
grain, with the faces named, and so which way up.

Not here: what is said of a mark (cutlines), how a page is written (svg, pdf).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitsolve.drawing.bar import AS_BUILT, AS_IS, HOLE_MADE
from fitsolve.drawing.cutlines import AS_PLANNED, MADE, START, TO_CUT, CutLine, from_words
from fitsolve.drawing.metrics import fitted, width_mm, wrapped
from fitsolve.drawing.shapes import (
    BLUE,
    FINE,
    GREY,
    PLAIN,
    THICK,
    THIN,
    Box,
    Page,
    Pen,
    Shape,
    Sketch,
    Text,
    hatching,
    moved,
)
from fitsolve.drawing.slants import Slant, draw_slants, seen_so
from fitsolve.drawing.spread import spread_out
from fitsolve.drawing.symbols import arrow, datum, edge_mark, face_mark, hole_sign, origin
from fitsolve.light import dataclass

WIDTH_MM = 250.0
MARGIN_MM = 8.0
LABEL_ROOM_MM = 7.2
HOLE_MM = 1.6
LABEL_MM = 50.0
OFF_MM = 17.0
OFF_ROOM_MM = 3.4
SHOWN_LEAST_MM, SHOWN_MOST_MM = 2.5, 20.0
HIGH_LEAST_MM, HIGH_MOST_MM = 9.0, 34.0
BLOW_UP_MOST = 5.0
HEAD_MM = 30.0
OFF_PLAN = Pen(0.35, (), BLUE)


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
    for number, view in enumerate(drawing.views):
        shapes, high = _view(view, width - 2 * MARGIN_MM, drawing, number == 0)
        sketch.add(moved(shape, MARGIN_MM, y) for shape in shapes)
        y += high + 3
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
        room = 26.0 if anchor == "middle" else 24.0
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


@dataclass(frozen=True, slots=True)
class _Scale:
    """Where a place along the part stands on the paper."""

    left: float
    low_mm: float
    factor: float

    def at(self, place_mm: float) -> float:
        """The x of a place."""
        return self.left + (place_mm - self.low_mm) * self.factor


def _view(view: View, room: float, drawing: PartDrawing, main: bool) -> tuple[list[Shape], float]:
    """A view from (0, 0), and how high it is."""
    sketch = Sketch()
    known = [line for line in view.lines if line.at_mm is not None]
    words = ", ".join(filter(None, [from_words(view.axis, view.start, view.lines), seen_so(view.slants)]))
    title = fitted(words, room / 2, 3.2, True)
    sketch.shapes.append(Text(0, 3.5, title, 3.2, "start", True))
    lost = [line.name for line in view.lines if line.at_mm is None]
    if lost:
        words = fitted(f"not fixed by anything: {', '.join(lost)}", room / 2 - 4, 2.6)
        sketch.shapes.append(Text(room, 3.5, words, 2.6, "end"))
    if not known:
        return sketch.shapes, 6.0
    scale = _scale(known, room, view.slants)
    top = 6.0
    shown = [line for line in known if line.word != START and line.off not in ("", AS_PLANNED)]
    if shown:
        top = _errors(sketch, shown, scale, room, drawing)
    high = _height(view, scale, main)
    span = (top, top + high)
    _body(sketch, known, scale, span, view.slants)
    if main:
        _face(sketch, [scale.at(line.at_mm or 0.0) for line in known], top)
    bottom = _dimensions(sketch, known, scale, room, span)
    return sketch.shapes, bottom


def _scale(lines: Sequence[CutLine], room: float, slants: Sequence[Slant]) -> _Scale:
    places = [place for line in lines for place in (line.at_mm, line.now_mm) if place is not None]
    places += [at for slant in slants for at in slant.at_mm]
    low, high = min(places), max(places)
    factor = min((room - 16) / max(high - low, 1e-6), BLOW_UP_MOST)
    return _Scale(8.0, low, factor)


def _height(view: View, scale: _Scale, main: bool) -> float:
    across = (view.across_mm or 0.0) * scale.factor
    return min(max(across, HIGH_LEAST_MM), HIGH_MOST_MM if main else HIGH_LEAST_MM)


def exaggeration(finest_mm: float, factor: float) -> int:
    """Return how many times larger than lengths errors are drawn: 1, 2, 5, 10, ..., so that the finest
    line is at least SHOWN_LEAST_MM on paper that shows lengths `factor` times their size."""
    step = 1
    while finest_mm * factor * step < SHOWN_LEAST_MM and step < 10**6:
        step = step * 5 // 2 if str(step)[0] == "2" else step * 2
    return step


def _errors(sketch: Sketch, lines: Sequence[CutLine], scale: _Scale, room: float, drawing: PartDrawing) -> float:
    """How far each mark is off plan, in words and as an arrow from its place in the plan; returns where the
    view below begins."""
    times = exaggeration(drawing.finest_mm, scale.factor)
    long = drawing.finest_mm * scale.factor * times
    large = f"{times} times as large as lengths" if times > 1 else "as large as lengths"
    words = f"errors drawn {large}: {drawing.finest} is {long:.1f} mm here"
    sketch.shapes.append(Text(room / 2, 3.5, fitted(words, room / 2, 2.6), 2.6, colour=GREY))
    lanes = _arrow_lanes(lines, scale, times)
    deepest = max(lane for _, _, lane in lanes)
    foot = 5.0 + OFF_MM
    bottom = foot + 3.0 + (deepest + 1) * 3.0
    order = sorted(range(len(lines)), key=lambda k: lanes[k][0])
    rooms = [min(OFF_ROOM_MM, room / len(lines))] * len(lines)
    xs = spread_out([lanes[k][0] for k in order], rooms, 0.0, room)
    assert xs is not None, "the room was shared out among all"
    size = min(2.6, rooms[0] / 1.25)
    for k, x in zip(order, xs, strict=True):
        start, end, lane = lanes[k]
        y = foot + 3.0 + lane * 3.0
        said = fitted(lines[k].off, OFF_MM, size)
        sketch.shapes.append(Text(x + 0.3 * size, foot, said, size, upright=True, colour=BLUE))
        sketch.path(((x, foot + 0.5), (start, y - 1.0), (start, bottom + 1.0)), Pen(0.1, (0.6, 0.6)))
        cut_off = abs(end - start) > SHOWN_MOST_MM
        tip = start + math.copysign(SHOWN_MOST_MM, end - start) if cut_off else end
        sketch.add(arrow((start, y), (tip, y), OFF_PLAN, 1.8))
        if cut_off:
            middle = (start + tip) / 2
            sketch.line(middle - 0.8, y + 1.2, middle + 0.8, y - 1.2, OFF_PLAN)
    return bottom + 1.0


def _arrow_lanes(lines: Sequence[CutLine], scale: _Scale, times: int) -> list[tuple[float, float, int]]:
    """Start and end of each arrow, and a lane so that no two in one run into each other."""
    ends: list[float] = []
    found: list[tuple[float, float, int]] = []
    for line in lines:
        assert line.at_mm is not None
        start = scale.at(line.plan_mm)
        end = start + (line.at_mm - line.plan_mm) * scale.factor * times
        short = max(min(end, start + SHOWN_MOST_MM), start - SHOWN_MOST_MM)
        low, high = min(start, short) - 0.8, max(start, short) + 0.8
        lane = next((k for k, taken in enumerate(ends) if taken <= low), len(ends))
        if lane == len(ends):
            ends.append(high)
        ends[lane] = high
        found.append((start, end, lane))
    return found


def _body(
    sketch: Sketch, lines: Sequence[CutLine], scale: _Scale, span: tuple[float, float], slants: Sequence[Slant]
) -> None:
    top, bottom = span
    xs = [scale.at(line.at_mm or 0.0) for line in lines]
    draw_slants(sketch, slants, (scale.at(0.0), scale.factor), span)
    slanted = {mark for slant in slants for mark in slant.instead}
    left, right = min(xs), max(xs)
    _waste(sketch, lines, scale, span)
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


def _waste(sketch: Sketch, lines: Sequence[CutLine], scale: _Scale, span: tuple[float, float]) -> None:
    """Hatching on the waste side of what is to be cut: to the other wall, to where rough wood ends, or a little."""
    xs = [scale.at(line.at_mm or 0.0) for line in lines]
    for line, x in zip(lines, xs, strict=True):
        if line.word not in TO_CUT or not line.waste:
            continue
        side = line.waste
        beyond = sorted((abs(other - x), k) for k, other in enumerate(xs) if (other - x) * side > 1e-6)
        reach = 5.0
        if beyond:
            near, k = beyond[0]
            facing = lines[k].waste == -side
            if facing and line.mark > lines[k].mark and lines[k].word in TO_CUT:
                continue  # hatched from the other wall already
            reach = near if facing else min(5.0, near / 2)
        if line.now_mm is not None:
            reach = max(abs(scale.at(line.now_mm) - x), 0.5)
        box = (x, span[0], x + reach, span[1]) if side > 0 else (x - reach, span[0], x, span[1])
        sketch.add(hatching(box))


def _dimensions(
    sketch: Sketch, lines: Sequence[CutLine], scale: _Scale, room: float, span: tuple[float, float]
) -> float:
    """Running dimensions under a view: one line from the origin with an arrow at each mark; returns the foot."""
    y = span[1] + 6.0
    placed = sorted(((scale.at(line.at_mm or 0.0), k) for k, line in enumerate(lines)), key=lambda one: one[0])
    start = next((scale.at(line.at_mm or 0.0) for line in lines if line.word == START), placed[0][0])
    for x, k in placed:
        sketch.line(x, span[1] + 1.0, x, y + 1.5, THIN)
        if lines[k].word != START:
            side = 1.0 if x >= start else -1.0
            sketch.add(arrow((x - side * min(2.2, abs(x - start) / 2), y), (x, y), THIN, 2.2))
    sketch.line(min(start, placed[0][0]), y, max(start, placed[-1][0]), y, THIN)
    sketch.shapes.append(origin(start, y))
    each = min(LABEL_ROOM_MM, room / len(lines))
    xs = spread_out([x for x, _ in placed], [each] * len(placed), 0.0, room)
    assert xs is not None, "the room was shared out among all"
    size = min(2.8, each / 2.45)
    head = y + 8.0
    for (x, k), at in zip(placed, xs, strict=True):
        sketch.path(((x, y + 1.5), (at, head - 1.0)), FINE)
        for row, (words, bold) in enumerate(_said(lines[k])):
            kept = fitted(words, LABEL_MM, size, bold)
            sketch.shapes.append(
                Text(at - 0.1 * size + row * 1.15 * size, head, kept, size, "end", bold, True)
            )
    longest = max(width_mm(words, size, bold) for line in lines for words, bold in _said(line))
    return head + min(longest, LABEL_MM)


def _said(line: CutLine) -> tuple[tuple[str, bool], tuple[str, bool]]:
    word = "" if line.word == START else f"{line.word} "
    chain = f" {line.chain}" if line.chained and line.chain else ""
    return (f"{word}{line.name}", True), (line.knife or f"{line.figure}{chain}", False)
