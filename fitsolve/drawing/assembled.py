"""Assembled: the piece as it came out, in elevation and plan, and how its open joints stand.

Each view shows the parts where the findings have them, their errors drawn larger than lengths are by a
factor that is stated; the plan stands behind, pale and dashed. Parts nearer to the eye cover those
behind. A joint is marked by a shape for its verdict, which the legend names, so that no colour is needed to
read it.

Below, each gap of an open joint is drawn to a scale of its own: the fit as a box from its least to its
most, its aim as a line in it, the gap as a diamond with a whisker of ± U (k = 2) to each side.

Not here: where anything stands (findings), how a page is written (svg, pdf).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fitsolve.drawing.metrics import fitted, width_mm
from fitsolve.drawing.shapes import (
    BLACK,
    BLUE,
    FINE,
    GREY,
    PALE,
    PLAIN,
    THIN,
    VERMILION,
    WHITE,
    Box,
    Page,
    Pen,
    Point,
    Shape,
    Sketch,
    Text,
    moved,
)
from fitsolve.drawing.symbols import arrow
from fitsolve.light import dataclass

WIDTH_MM = 250.0
MARGIN_MM = 8.0
VIEW_WIDE_MM, VIEW_HIGH_MM = 128.0, 85.0
VIEW_LEAST_MM = 14.0
PLAN_PEN = Pen(0.18, (1.2, 0.8), GREY)
UNCUT_PEN = Pen(0.25, (2.4, 0.8))
GAP_ROW_MM = 5.4
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


@dataclass(frozen=True)
class Outline:
    """A part in a view: its sides as built or as to be cut, with errors enlarged, and in the plan; in mm.
    `depth` is larger the nearer to the eye; `made` where all its marks are."""

    part: str
    box: Box
    plan: Box
    depth: float
    made: bool


@dataclass(frozen=True)
class JointSign:
    """A joint in a view."""

    at: Point
    verdict: str


@dataclass(frozen=True)
class SlantLine:
    """A slanted line of a part in a view, errors enlarged."""

    part: str
    start: Point
    end: Point
    made: bool


@dataclass(frozen=True)
class ViewDrawing:
    """One view: its title, the axes to the right and upward, and what stands in it. y runs up here."""

    title: str
    right: str
    up: str
    outlines: tuple[Outline, ...]
    joints: tuple[JointSign, ...]
    slants: tuple[SlantLine, ...] = ()


@dataclass(frozen=True)
class Gap:
    """One gap of an open joint, in mm; None where nothing fixes it."""

    joint: str
    words: str
    verdict: str
    value_mm: float | None
    expanded_mm: float | None
    least_mm: float
    aim_mm: float
    most_mm: float | None
    said: str


@dataclass(frozen=True)
class AssembledDrawing:
    """What the drawing of the whole shows. `missing` are parts that no view can show."""

    title: str
    number: str
    unit: str
    times: int
    step: str
    step_mm: float
    views: tuple[ViewDrawing, ...]
    gaps: tuple[Gap, ...]
    missing: tuple[str, ...]


def assembled_page(drawing: AssembledDrawing) -> Page:
    """Return the drawing as one page."""
    sketch = Sketch()
    room = WIDTH_MM - 2 * MARGIN_MM
    y = MARGIN_MM + 5
    sketch.shapes.append(Text(MARGIN_MM, y, fitted(drawing.title, room, 5.5, True), 5.5, "start", True))
    words = f"as it came out and is to be cut   list {drawing.number}   lengths in {drawing.unit}"
    words += "   fit only, never strength"
    sketch.shapes.append(Text(MARGIN_MM, y + 6, fitted(words, room, 2.8), 2.8))
    if drawing.views:
        y = _views(sketch, drawing, y + 11)
        y = _legend(sketch, drawing, y + 3)
    else:
        said = "Nothing to draw: no part has marks on two axes."
        sketch.shapes.append(Text(MARGIN_MM, y + 13, said, 2.8))
        y += 16
    if drawing.missing:
        words = f"not drawn, for want of marks on two axes: {', '.join(drawing.missing)}"
        sketch.shapes.append(Text(MARGIN_MM, y + 2, fitted(words, room, 2.6), 2.6))
        y += 5
    y = _gaps(sketch, drawing, y + 4)
    return Page(WIDTH_MM, y + MARGIN_MM, tuple(sketch.shapes), f"{drawing.title}, as it came out")


# -- views ----------------------------------------------------------------------------------


def _views(sketch: Sketch, drawing: AssembledDrawing, top: float) -> float:
    """Front elevation and end elevation side by side, the plan under the front; returns the foot."""
    scale = _common_scale(drawing.views)
    y = top
    places: list[tuple[ViewDrawing, float, float]] = []
    row: list[ViewDrawing] = []
    for view in drawing.views:
        if row and sum(_size(v, scale)[0] for v in (*row, view)) + 24 * (len(row) + 1) > WIDTH_MM - 2 * MARGIN_MM:
            y = _row(places, row, scale, y)
            row = []
        row.append(view)
    y = _row(places, row, scale, y)
    for view, x, at in places:
        sketch.add(moved(shape, x, at) for shape in _view(view, scale, drawing))
    return y


def _row(places: list[tuple[ViewDrawing, float, float]], row: Sequence[ViewDrawing], scale: float, y: float) -> float:
    x = MARGIN_MM
    high = 0.0
    for view in row:
        places.append((view, x, y))
        x += _size(view, scale)[0] + 24
        high = max(high, _size(view, scale)[1])
    return y + high + 16 if row else y


def _bounds(view: ViewDrawing) -> Box:
    boxes = [box for one in view.outlines for box in (one.box, one.plan)]
    return (
        min(box[0] for box in boxes), min(box[1] for box in boxes),
        max(box[2] for box in boxes), max(box[3] for box in boxes),
    )  # fmt: skip


def _size(view: ViewDrawing, scale: float) -> tuple[float, float]:
    left, low, right, high = _bounds(view)
    return max((right - left) * scale, VIEW_LEAST_MM), max((high - low) * scale, VIEW_LEAST_MM)


def _common_scale(views: Sequence[ViewDrawing]) -> float:
    """One scale for all views, so that they can be laid beside each other."""
    scale = 1.0
    for view in views:
        wide, high = _size(view, 1.0)
        scale = min(scale, VIEW_WIDE_MM / max(wide, 1e-6), VIEW_HIGH_MM / max(high, 1e-6))
    return scale


def _view(view: ViewDrawing, scale: float, drawing: AssembledDrawing) -> list[Shape]:
    """A view from (0, 0), its title above it and its axes beside it."""
    sketch = Sketch()
    left, low, _, high = _bounds(view)
    head = 6.0

    def at(box: Box) -> Box:
        return (
            8 + (box[0] - left) * scale, head + (high - box[3]) * scale,
            8 + (box[2] - left) * scale, head + (high - box[1]) * scale,
        )  # fmt: skip

    sketch.shapes.append(Text(8, 3.5, view.title, 3.2, "start", True))
    for one in view.outlines:
        sketch.rect(at(one.plan), PLAN_PEN)
    for one in sorted(view.outlines, key=lambda one: (one.depth, one.part)):
        sketch.rect(at(one.box), PLAIN if one.made else UNCUT_PEN, WHITE)
    for one in view.outlines:
        sketch.rect(at(one.box), FINE if one.made else Pen(0.1, (2.4, 0.8)))

    def point(p: Point) -> Point:
        return 8 + (p[0] - left) * scale, head + (high - p[1]) * scale

    for slant in view.slants:
        sketch.path((point(slant.start), point(slant.end)), THIN if slant.made else Pen(0.18, (2.4, 0.8)))
    taken: list[Box] = []
    for verdict, x, y in _beside(view.joints, point):
        sketch.add(sign_shapes(verdict, x, y))
        taken.append((x - SIGN_MM, y - SIGN_MM, x + SIGN_MM, y + SIGN_MM))
    foot = head + max((high - low) * scale, VIEW_LEAST_MM)
    sketch.add(arrow((0.5, foot + 3), (0.5, foot - 7), THIN))
    sketch.add(arrow((0.5, foot + 3), (10.5, foot + 3), THIN))
    sketch.shapes.append(Text(0.5, foot - 8, view.up, 2.4, "middle"))
    sketch.shapes.append(Text(11.5, foot + 3.8, view.right, 2.4))
    _part_names(sketch, view, at, taken)
    return sketch.shapes


def _beside(joints: Sequence[JointSign], at: Callable[[Point], Point]) -> list[tuple[str, float, float]]:
    """Where the signs of joints stand on paper: those that would cover each other once for each verdict,
    beside each other."""
    spots: list[tuple[Point, list[str]]] = []
    for joint in joints:
        x, y = at(joint.at)
        near = next((one for one in spots if abs(one[0][0] - x) + abs(one[0][1] - y) < 2 * SIGN_MM), None)
        if near is None:
            spots.append(((x, y), [joint.verdict]))
        elif joint.verdict not in near[1]:
            near[1].append(joint.verdict)
    step = 2.2 * SIGN_MM
    return [
        (verdict, x + (k - (len(verdicts) - 1) / 2) * step, y)
        for (x, y), verdicts in spots
        for k, verdict in enumerate(verdicts)
    ]


def _part_names(sketch: Sketch, view: ViewDrawing, at: Callable[[Box], Box], taken: list[Box]) -> None:
    """The name of each part within its outline, where it fits and nothing else stands; parts that cover
    each other are named together."""
    for names, (left, top, right, bottom) in _covering(view, at):
        size = 2.4
        long = width_mm(names, size)
        across = right - left >= long + 2 and bottom - top > 3.2
        if not across and not (bottom - top >= long + 2 and right - left > 3.0):
            continue
        x, y = (left + right) / 2, (top + bottom) / 2
        for shift in (0.0, 0.2, -0.2, 0.4, -0.4, 0.5, -0.5):
            dx, dy = (shift * (right - left - long - 2), 0.0) if across else (0.0, shift * (bottom - top - long - 2))
            half = (long / 2 + 0.5, size * 0.6) if across else (size * 0.6, long / 2 + 0.5)
            box = (x + dx - half[0], y + dy - half[1], x + dx + half[0], y + dy + half[1])
            if all(box[2] <= o[0] or box[0] >= o[2] or box[3] <= o[1] or box[1] >= o[3] for o in taken):
                taken.append(box)
                place = (x + dx, y + dy + 0.35 * size) if across else (x + dx + 0.35 * size, y + dy)
                sketch.rect(box, None, WHITE)  # the outlines of what lies behind stop short of the name
                sketch.shapes.append(Text(*place, names, size, "middle", upright=not across))
                break


def _covering(view: ViewDrawing, at: Callable[[Box], Box]) -> list[tuple[str, Box]]:
    """Parts that cover each other on paper, to 2 mm, with the names of all, the nearest first."""
    found: list[tuple[list[str], Box]] = []
    for one in sorted(view.outlines, key=lambda one: (-one.depth, one.part)):
        box = at(one.box)
        same = next((o for o in found if all(abs(a - b) < 2.0 for a, b in zip(o[1], box, strict=True))), None)
        if same is None:
            found.append(([one.part], box))
        else:
            same[0].append(one.part)
    return [(", ".join(names), box) for names, box in found]


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


def _legend(sketch: Sketch, drawing: AssembledDrawing, y: float) -> float:
    """What each sign means, and at what scale errors are drawn."""
    x = MARGIN_MM + 2
    legend: dict[str, tuple[str, list[str]]] = {}
    for verdict, sign in SIGNS.items():
        legend.setdefault(sign.shape, (verdict, []))[1].append(sign.words)
    for verdict, meanings in legend.values():
        sketch.add(sign_shapes(verdict, x, y))
        said = " or ".join(meanings)
        sketch.shapes.append(Text(x + 3.2, y + 0.9, said, 2.6))
        x += width_mm(said, 2.6) + 11
    scale = _common_scale(drawing.views) if drawing.views else 1.0
    large = f"{drawing.times} times as large as lengths" if drawing.times > 1 else "as large as lengths"
    words = (
        f"Errors are drawn {large}: {drawing.step} is {drawing.step_mm * drawing.times * scale:.1f} mm here. "
        "Full: made. Dashes: to be cut. Pale dashes: the plan."
    )
    sketch.shapes.append(Text(MARGIN_MM, y + 6, fitted(words, WIDTH_MM - 2 * MARGIN_MM, 2.6), 2.6, colour=GREY))
    return y + 8


# -- gaps -----------------------------------------------------------------------------------


def _gaps(sketch: Sketch, drawing: AssembledDrawing, y: float) -> float:
    """Each gap of the open joints to one scale, its fit as a box."""
    if not drawing.gaps:
        return y
    left, room = MARGIN_MM, WIDTH_MM - 2 * MARGIN_MM
    names, axis_room = 118.0, 76.0
    low, high = _range(drawing.gaps)
    scale = axis_room / max(high - low, 1e-6)
    zero = left + names - low * scale
    words = f"Gaps of open joints, {scale:.0f} times their size" if scale >= 1.5 else "Gaps of open joints"
    sketch.shapes.append(Text(left, y, words, 3.2, "start", True))
    top = y + 3
    bottom = top + len(drawing.gaps) * GAP_ROW_MM
    sketch.line(zero, top, zero, bottom, THIN)
    sketch.shapes.append(Text(zero, bottom + 3.2, "0", 2.4, "middle"))
    for number, gap in enumerate(drawing.gaps):
        middle = top + (number + 0.5) * GAP_ROW_MM
        sketch.add(sign_shapes(gap.verdict, left + 2, middle))
        sketch.shapes.append(Text(left + 6, middle + 0.9, fitted(gap.words, names - 10, 2.5), 2.5))
        most = min(gap.most_mm, high) if gap.most_mm is not None else high
        box = (zero + gap.least_mm * scale, middle - 1.5, zero + most * scale, middle + 1.5)
        sketch.rect(box, FINE, PALE)
        sketch.line(zero + gap.aim_mm * scale, middle - 1.5, zero + gap.aim_mm * scale, middle + 1.5, THIN)
        _measured(sketch, gap, (zero, middle), scale, (low, high))
        x = left + names + axis_room + 3
        sketch.shapes.append(Text(x, middle + 0.9, fitted(gap.said, left + room - x, 2.5), 2.5))
    words = "box: the fit from least to most, its aim a line; diamond: the gap as found; whisker: ± U (k = 2)"
    words += "; each gap by itself"
    sketch.shapes.append(Text(left, bottom + 7, words, 2.5, colour=GREY))
    return bottom + 8


def _measured(sketch: Sketch, gap: Gap, at: Point, scale: float, span: tuple[float, float]) -> None:
    """A gap with its whisker, kept within the range shown."""
    if gap.value_mm is None:
        return
    zero, y = at
    value = min(max(gap.value_mm, span[0]), span[1])
    spread = gap.expanded_mm or 0.0
    ends = (gap.value_mm - spread, gap.value_mm + spread)
    low, high = max(ends[0], span[0]), min(ends[1], span[1])
    if low < high:
        sketch.line(zero + low * scale, y, zero + high * scale, y, PLAIN)
        for end in ends:
            if span[0] <= end <= span[1]:
                sketch.line(zero + end * scale, y - 0.8, zero + end * scale, y + 0.8, PLAIN)
    x, s = zero + value * scale, 1.0
    sketch.path(((x - s, y), (x, y - s), (x + s, y), (x, y + s)), None, closed=True, fill=BLACK)


def _range(gaps: Sequence[Gap]) -> tuple[float, float]:
    """The range of gaps shown: the fits and what was found, without what would dwarf the others."""
    values = [0.0]
    band = max((gap.most_mm or 0.0) - gap.least_mm for gap in gaps)
    for gap in gaps:
        values += [gap.least_mm, gap.aim_mm]
        if gap.most_mm is not None and gap.most_mm < 50:
            values.append(gap.most_mm)
        if gap.value_mm is not None and abs(gap.value_mm) < 50:
            spread = min(gap.expanded_mm or 0.0, 2 * band)
            values += [gap.value_mm - spread, gap.value_mm + spread]
    return min(values) - 0.05 * (max(values) - min(values)) - 0.01, max(values) + 0.01
