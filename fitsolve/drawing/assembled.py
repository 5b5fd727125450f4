"""Assembled: the piece as it came out, in elevation and plan, and how its open joints stand.

Each view shows the parts where the findings have them, their errors drawn larger than lengths are by a
factor that is stated; the plan stands behind, pale and dashed. Parts nearer to the eye cover those
behind. A joint is marked by a shape for its verdict, which the legend names, so that no colour is needed to
read it.

Below stand the gaps of the open joints (gaps).

Not here: where anything stands (findings), how a page is written (svg, pdf).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fitsolve.drawing.corners import Corners
from fitsolve.drawing.gaps import Gap, draw_gaps
from fitsolve.drawing.metrics import fitted, width_mm, wrapped
from fitsolve.drawing.shapes import (
    FINE,
    GREY,
    PLAIN,
    THIN,
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
from fitsolve.drawing.verdictsigns import SIGN_MM, SIGNS, sign_shapes
from fitsolve.light import dataclass

WIDTH_MM = 250.0
MARGIN_MM = 8.0
HIGH_MOST_MM = 165.0
"""All views together are no higher than this."""
VIEW_LEAST_MM = 14.0
BESIDE_MM, UNDER_MM = 24.0, 16.0
MUCH_LARGER = 1.15
PLAN_PEN = Pen(0.18, (1.2, 0.8), GREY)
UNCUT_PEN = Pen(0.25, (2.4, 0.8))


@dataclass(frozen=True)
class Outline:
    """A part in a view: its sides as built or as to be cut, with errors enlarged, and in the plan; in mm.
    `depth` is larger the nearer to the eye; `made` where all its marks are. Its corners slant where its sides do."""

    part: str
    box: Box
    plan: Box
    depth: float
    made: bool
    corners: Corners
    plan_corners: Corners


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
class AssembledDrawing:
    """What the drawing of the whole shows. `missing` are parts that no view can show; `apart` says of others that they
    stand apart for want of anything that ties them; `off` whether anything is off plan."""

    title: str
    number: str
    unit: str
    times: int
    step: str
    step_mm: float
    views: tuple[ViewDrawing, ...]
    gaps: tuple[Gap, ...]
    missing: tuple[str, ...]
    apart: tuple[str, ...]
    off: bool


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
    for note in drawing.apart:
        for line in wrapped(note, room, 2.6):
            sketch.shapes.append(Text(MARGIN_MM, y + 2, line, 2.6))
            y += 3.6
        y += 1.0
    if drawing.gaps:
        y = draw_gaps(sketch, drawing.gaps, (MARGIN_MM, y + 4, room), drawing.unit == "inches")
    return Page(WIDTH_MM, y + MARGIN_MM, tuple(sketch.shapes), f"{drawing.title}, as it came out")


# -- views ----------------------------------------------------------------------------------


def _views(sketch: Sketch, drawing: AssembledDrawing, top: float) -> float:
    """Front and side beside each other and the plan under the front, or whichever way they can be largest; returns the
    foot."""
    scale, rows = _arranged(drawing.views)
    y = top
    for row in rows:
        x = MARGIN_MM
        for view in row:
            sketch.add(moved(shape, x, y) for shape in _view(view, scale, drawing))
            x += _size(view, scale)[0] + BESIDE_MM
        y += max(_size(view, scale)[1] for view in row) + UNDER_MM
    return y


def _arranged(views: Sequence[ViewDrawing]) -> tuple[float, list[Sequence[ViewDrawing]]]:
    """One scale for all views, so that they can be laid beside each other, and their rows: front and side, and the plan
    under the front; others where the views are much larger so."""
    ways: list[list[Sequence[ViewDrawing]]]
    ways = [[views[:2], views[2:]], [views], [views[:1], views[1:]], [[view] for view in views]]
    every = [[row for row in way if row] for way in ways]
    scales = [_scale(rows) for rows in every]
    best = max(range(len(every)), key=lambda k: (scales[k] * (MUCH_LARGER if k == 0 else 1.0), -k))
    return scales[best], every[best]


def _scale(rows: Sequence[Sequence[ViewDrawing]]) -> float:
    """The largest scale at which rows of views have room."""
    scale = 1.0
    for row in rows:
        room = WIDTH_MM - 2 * MARGIN_MM - BESIDE_MM * len(row)
        scale = min(scale, room / max(sum(_size(view, 1.0)[0] for view in row), 1e-6))
    high = sum(max(_size(view, 1.0)[1] for view in row) for row in rows)
    return min(scale, (HIGH_MOST_MM - UNDER_MM * len(rows)) / max(high, 1e-6))


def _bounds(view: ViewDrawing) -> Box:
    points = [point for one in view.outlines for point in (*one.corners, *one.plan_corners)]
    across, along = [x for x, _ in points], [y for _, y in points]
    return min(across), min(along), max(across), max(along)


def _size(view: ViewDrawing, scale: float) -> tuple[float, float]:
    left, low, right, high = _bounds(view)
    return max((right - left) * scale, VIEW_LEAST_MM), max((high - low) * scale, VIEW_LEAST_MM)


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

    def point(p: Point) -> Point:
        return 8 + (p[0] - left) * scale, head + (high - p[1]) * scale

    sketch.shapes.append(Text(8, 3.5, view.title, 3.2, "start", True))
    for one in view.outlines:
        sketch.path(map(point, one.plan_corners), PLAN_PEN, closed=True)
    for one in sorted(view.outlines, key=lambda one: (round(one.depth, 3), one.part)):
        sketch.path(map(point, one.corners), PLAIN if one.made else UNCUT_PEN, closed=True, fill=WHITE)
    for one in view.outlines:
        sketch.path(map(point, one.corners), FINE if one.made else Pen(0.1, (2.4, 0.8)), closed=True)
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
    for one in sorted(view.outlines, key=lambda one: (-round(one.depth, 3), one.part)):
        box = at(one.box)
        same = next((o for o in found if all(abs(a - b) < 2.0 for a, b in zip(o[1], box, strict=True))), None)
        if same is None:
            found.append(([one.part], box))
        else:
            same[0].append(one.part)
    return [(", ".join(names), box) for names, box in found]


def _legend(sketch: Sketch, drawing: AssembledDrawing, y: float) -> float:
    """What each sign means, and at what scale errors are drawn."""
    x = MARGIN_MM + 2
    shown = {sign.verdict for view in drawing.views for sign in view.joints} | {gap.verdict for gap in drawing.gaps}
    legend: dict[str, tuple[str, list[str]]] = {}
    for verdict, sign in SIGNS.items():
        if verdict in shown:
            legend.setdefault(sign.shape, (verdict, []))[1].append(sign.words)
    for verdict, meanings in legend.values():
        sketch.add(sign_shapes(verdict, x, y))
        said = " or ".join(meanings)
        sketch.shapes.append(Text(x + 3.2, y + 0.9, said, 2.6))
        x += width_mm(said, 2.6) + 11
    y += 6.0 if legend else 0.0
    large = f"{drawing.times} times as large as lengths" if drawing.times > 1 else "as large as lengths"
    step = drawing.step_mm * drawing.times * _arranged(drawing.views)[0]
    words = f"Errors are drawn {large}: {drawing.step} is {step:.1f} mm here." if drawing.off else "All is as planned."
    words += " Full: made. Dashes: to be cut. Pale dashes: the plan."
    sketch.shapes.append(Text(MARGIN_MM, y, fitted(words, WIDTH_MM - 2 * MARGIN_MM, 2.6), 2.6, colour=GREY))
    return y + 2
