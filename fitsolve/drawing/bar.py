"""Bar: a part along one axis as a strip to scale, with its marks, what it meets, and its waste.

    heavy line    the end that everything is measured from, with the sign of the origin
    full line     a line to cut to; dashed: made already; dots: where rough wood ends now
    crosses       waste, beside the line they belong to
    arrow         which way the line moved from plan
    above         the tag of each line, or its name where it has none; below: the part met there

Lengths run to scale from left to right, the way the figures run; nothing across them is to scale.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from fitsolve.drawing.cutlines import MADE, START, TO_CUT, CutLine
from fitsolve.drawing.metrics import fitted_end, width_mm
from fitsolve.drawing.shapes import FINE, GREY, PLAIN, THIN, Box, Pen, Shape, Sketch, Text
from fitsolve.drawing.slants import AS_BUILT, Slant, draw_slants
from fitsolve.drawing.spread import spread_out
from fitsolve.drawing.symbols import arrow, cross, datum, edge_mark, face_mark, hole_sign, origin
from fitsolve.light import dataclass

MARKS_MOST = 36
"""A bar shows no more marks than this; what is longer goes on in another bar."""
BLOW_UP_MOST = 4.0
"""A small part is drawn no larger than this many times its size."""
AS_IS = Pen(0.25, (0.3, 0.7))
HOLE_MADE = Pen(0.25, (0.7, 0.5))
TAG_MM = 2.5
MET_MM = 2.3
SHORT_MM = 18.0
"""A name of a part that has no room is cut down to so much, so that it stands beside the sign of the origin."""
LABEL_ROW, LEADER, BODY, BELOW = 3.1, 2.2, 6.8, 3.4
ORIGIN_MM = 2.4
SIDE_MM = 4.0
"""Room at both ends, for the waste beyond them."""
HEIGHT_MM = LABEL_ROW + LEADER + BODY + BELOW


@dataclass(frozen=True, slots=True)
class Placed:
    """A line and where it stands on the paper."""

    line: CutLine
    x: float


def bars(lines: Sequence[CutLine]) -> list[tuple[CutLine, ...]]:
    """Return the marks of an edge in bars of no more than MARKS_MOST, each beginning where the last ended."""
    known = [line for line in lines if line.at_mm is not None]
    if len(known) < 2:
        return [tuple(known)] if known else []
    count = math.ceil((len(known) - 1) / (MARKS_MOST - 1))
    step = math.ceil((len(known) - 1) / count)
    return [tuple(known[k : k + step + 1]) for k in range(0, len(known) - 1, step)]


def bar_shapes(
    lines: Sequence[CutLine], box: Box, names: bool = False, slants: Sequence[Slant] = ()
) -> list[Shape]:
    """Return one bar in a box, which should be HEIGHT_MM high; `names` labels made marks too. Of `slants` those are
    drawn that lie in this bar."""
    sketch = Sketch()
    own = {line.mark for line in lines}
    slants = [slant for slant in slants if own.issuperset(slant.beside)]
    placed, (left, right), scale = _to_scale(lines, box, [at for slant in slants for at in slant.at_mm])
    top = box[1] + LABEL_ROW + LEADER
    bottom = top + BODY
    sketch.rect((left, top, right, bottom), PLAIN, "#ffffff")
    draw_slants(sketch, slants, scale, (top, bottom))
    slanted = {mark for slant in slants for mark in slant.instead}
    for one in placed:
        _line(sketch, one, (top, bottom), one.line.mark in slanted)
    _waste(sketch, placed, (top, bottom))
    _labels(sketch, placed, box, top, names)
    _moves(sketch, placed, top)
    _met(sketch, placed, box, bottom)
    _signs(sketch, placed, (left, right), top)
    return sketch.shapes


def _to_scale(
    lines: Sequence[CutLine], box: Box, also: Sequence[float]
) -> tuple[list[Placed], tuple[float, float], tuple[float, float]]:
    """The lines in their places, where the part begins and ends, and where its figures start on the paper with how
    large it is there; there is room for what lies `also` there."""
    places = [place for line in lines for place in (line.at_mm, line.now_mm) if place is not None]
    places += also
    low, high = min(places), max(places)
    room = box[2] - box[0] - 2 * SIDE_MM
    scale = min(room / max(high - low, 1e-6), BLOW_UP_MOST)
    left = box[0] + SIDE_MM
    placed = [Placed(line, left + (line.at_mm - low) * scale) for line in lines if line.at_mm is not None]
    placed.sort(key=lambda one: one.x)  # marks that a wrong reading turns around come in another order than in plan
    return placed, (left, left + (high - low) * scale), (left - low * scale, scale)


def _line(sketch: Sketch, one: Placed, span: tuple[float, float], slanted: bool) -> None:
    """A mark across the bar; only a stroke at its edge where a slanted line is its line."""
    if one.line.word == START:
        sketch.add(datum(one.x, span[0] - 1.0, span[1] + 1.0))
        sketch.shapes.append(origin(one.x, span[1] + 1.0, 0.8))
    elif one.line.hole:
        pen = HOLE_MADE if one.line.word == MADE else PLAIN
        sketch.add(hole_sign(one.x, (span[0] + span[1]) / 2, one.line.toward, 1.0, pen))
    elif slanted:
        sketch.line(one.x, span[0] - 0.6, one.x, span[0] + 0.6, PLAIN)
    elif one.line.word == MADE:
        sketch.line(one.x, span[0], one.x, span[1], AS_BUILT)
    else:
        sketch.line(one.x, span[0] - 0.6, one.x, span[1] + 0.6, PLAIN)


def _waste(sketch: Sketch, placed: Sequence[Placed], span: tuple[float, float]) -> None:
    """A cross on the waste side of each line to cut; beyond the part where the waste is an end's."""
    middle = (span[0] + span[1]) / 2
    for one in placed:
        side = one.line.waste
        if one.line.word not in TO_CUT or not side:
            continue
        beside = [abs(p.x - one.x) for p in placed if (p.x - one.x) * side > 1e-6]
        room = min(beside, default=4.0)
        half = min(1.1, room / 4)
        if half >= 0.25:
            sketch.add(cross(one.x + side * min(room / 2, 1.9), middle, half, THIN))


def _labels(sketch: Sketch, placed: Sequence[Placed], box: Box, top: float, names: bool) -> None:
    """Tags above, moved apart where the lines stand close."""
    shown = [(one, words) for one in placed if (words := _label(one.line, names))]
    if not shown:
        return
    size = TAG_MM
    rooms = [width_mm(words, size, True) + 1.2 for _, words in shown]
    total = sum(rooms)
    if total > box[2] - box[0]:
        shrink = (box[2] - box[0]) / total
        size, rooms = size * shrink, [room * shrink for room in rooms]
    xs = spread_out([one.x for one, _ in shown], rooms, box[0], box[2])
    assert xs is not None, "shrunk until there was room"
    for (one, words), x in zip(shown, xs, strict=True):
        sketch.shapes.append(Text(x, box[1] + LABEL_ROW - 0.6, words, size, "middle", True))
        sketch.path(((x, box[1] + LABEL_ROW), (one.x, top - 0.8)), FINE)


def _label(line: CutLine, names: bool) -> str:
    if line.tag:
        return line.tag
    return line.name if names and line.word != START else ""


def _moves(sketch: Sketch, placed: Sequence[Placed], top: float) -> None:
    """A small arrow at each line that moved from plan, the way it moved; of one length, not to scale."""
    for one in placed:
        if one.line.shift and one.line.word in TO_CUT:
            y = top + 1.6
            sketch.add(arrow((one.x, y), (one.x + 3.0 * one.line.shift, y), THIN, 1.8))


def _met(sketch: Sketch, placed: Sequence[Placed], box: Box, bottom: float) -> None:
    """Below: the parts that are met, each once for the lines beside each other that meet it."""
    groups: list[tuple[str, list[float]]] = []
    for one in placed:
        words = " and ".join(one.line.meets)
        if groups and groups[-1][0] == words:
            groups[-1][1].append(one.x)
        else:
            groups.append((words, [one.x]))
    shown = [(words, sum(xs) / len(xs)) for words, xs in groups if words]
    if not shown:
        return
    most = (box[2] - box[0]) / len(shown) - 1.5
    wide = any(width_mm(words, MET_MM) > most for words, _ in shown)
    kept = [(fitted_end(words, min(most, SHORT_MM) if wide else most, MET_MM), x) for words, x in shown]
    rooms = [width_mm(words, MET_MM) + 1.5 for words, _ in kept]
    xs = spread_out([x for _, x in kept], rooms, box[0], box[2])
    if xs is None:
        return
    start = next((one.x for one in placed if one.line.word == START), None)
    if start is not None:
        xs = _beside_origin(xs, rooms, start, (box[0], box[2]))
    for (words, _), x in zip(kept, xs, strict=True):
        sketch.shapes.append(Text(x, bottom + BELOW - 0.7, words, MET_MM, "middle", colour=GREY))


def _beside_origin(
    xs: Sequence[float], rooms: Sequence[float], start: float, ends: tuple[float, float]
) -> list[float]:
    """The labels, one on the sign of the origin moved beside it where its neighbours leave room."""
    found = list(xs)
    for k, (x, room) in enumerate(zip(xs, rooms, strict=True)):
        clear = (ORIGIN_MM + room) / 2
        if abs(x - start) >= clear:
            continue
        for side in (1, -1) if x >= start - 1e-6 else (-1, 1):
            beside = start + side * clear
            if beside - room / 2 < ends[0] or beside + room / 2 > ends[1]:
                continue
            if all(j == k or abs(beside - other) >= (room + rooms[j]) / 2 - 1e-6 for j, other in enumerate(found)):
                found[k] = beside
                break
    return found


def _signs(sketch: Sketch, placed: Sequence[Placed], ends: tuple[float, float], top: float) -> None:
    """The marks of face side and face edge in the widest stretch of wood, where there is room for them."""
    xs = [ends[0], *sorted(one.x for one in placed), ends[1]]
    wide, start = max((b - a, a) for a, b in itertools.pairwise(xs))
    if wide >= 12:
        sketch.add(face_mark(start + wide / 2, top, BODY * 0.85))
        sketch.add(edge_mark(start + wide / 2, top, 2.2))
