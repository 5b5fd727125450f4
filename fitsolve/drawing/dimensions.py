"""Dimensions: running figures under a view, and above it how far each mark is off plan.

    below   one line from the sign of the origin, an arrow at each mark, its name and figure at the end of its
            extension line (superimposed running dimensioning, ISO 129-1; from memory)
    above   an arrow from where the plan has the mark, drawn larger than lengths are by a factor that is stated,

                N = the first of 1, 2, 5, 10, 20, ... that makes the finest line laid out at least 2.5 mm long,

            and cut off, with a stroke through it, where it would be longer than 20 mm

Words lie where all of them have room beside each other close to their marks, else they stand upright.

Not here: the view itself (partdraw), what is said (cutlines).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitsolve.drawing.cutlines import START, CutLine
from fitsolve.drawing.metrics import fitted, width_mm
from fitsolve.drawing.shapes import BLUE, FINE, GREY, THIN, Pen, Sketch, Text
from fitsolve.drawing.spread import spread_out
from fitsolve.drawing.symbols import arrow, origin
from fitsolve.light import dataclass

LABEL_ROOM_MM = 7.2
LABEL_MM = 50.0
OFF_MM = 17.0
OFF_ROOM_MM = 3.4
SHOWN_LEAST_MM, SHOWN_MOST_MM = 2.5, 20.0
OFF_PLAN = Pen(0.35, (), BLUE)
LEADER = Pen(0.1, (0.6, 0.6))
LYING_MOST_MM = 16.0
"""Words lie where none has to stand farther than this from its mark."""
SIZE_MM, OFF_SIZE_MM = 2.8, 2.6
BESIDE_MM = 2.2


@dataclass(frozen=True, slots=True)
class Scale:
    """Where a place along the part stands on the paper."""

    left: float
    low_mm: float
    factor: float

    def at(self, place_mm: float) -> float:
        """The x of a place."""
        return self.left + (place_mm - self.low_mm) * self.factor


def exaggeration(finest_mm: float, factor: float) -> int:
    """Return how many times larger than lengths errors are drawn: 1, 2, 5, 10, ..., so that the finest
    line is at least SHOWN_LEAST_MM on paper that shows lengths `factor` times their size."""
    step = 1
    while finest_mm * factor * step < SHOWN_LEAST_MM and step < 10**6:
        step = next_round(step)
    return step


def next_round(step: int) -> int:
    """Return the one behind in 1, 2, 5, 10, 20, ..."""
    return step * 5 // 2 if str(step)[0] == "2" else step * 2


def draw_errors(
    sketch: Sketch, lines: Sequence[CutLine], scale: Scale, room: float, finest: tuple[float, str]
) -> float:
    """How far each mark is off plan, in words and as an arrow from its place in the plan; returns where the
    view below begins. `finest` is the finest line, mm, and as it is said."""
    times = exaggeration(finest[0], scale.factor)
    long = finest[0] * scale.factor * times
    large = f"{times} times as large as lengths" if times > 1 else "as large as lengths"
    words = f"errors drawn {large}: {finest[1]} is {long:.1f} mm here"
    sketch.shapes.append(Text(0, 7.2, fitted(words, room, 2.4), 2.4, colour=GREY))
    lanes = _arrow_lanes(lines, scale, times)
    order = sorted(range(len(lines)), key=lambda k: lanes[k][0])
    wanted = [lanes[k][0] for k in order]
    lying = _lying(wanted, [width_mm(lines[k].off, OFF_SIZE_MM) for k in order], room)
    rooms = [min(OFF_ROOM_MM, room / len(lines))] * len(lines)
    xs = lying or spread_out(wanted, rooms, 0.0, room)
    assert xs is not None, "the room was shared out among all"
    foot = 11.5 if lying else 9.5 + OFF_MM
    bottom = foot + 3.0 + (max(lane for _, _, lane in lanes) + 1) * 3.0
    size = OFF_SIZE_MM if lying else min(OFF_SIZE_MM, rooms[0] / 1.25)
    for k, x in zip(order, xs, strict=True):
        y = foot + 3.0 + lanes[k][2] * 3.0
        if lying:
            sketch.shapes.append(Text(x, foot, lines[k].off, size, "middle", colour=BLUE))
        else:
            said = fitted(lines[k].off, OFF_MM, size)
            sketch.shapes.append(Text(x + 0.3 * size, foot, said, size, upright=True, colour=BLUE))
        start = lanes[k][0]
        sketch.path(((x, foot + 0.6), (start, y - 1.0), (start, bottom + 1.0)), LEADER)
        _off_plan(sketch, lanes[k], y)
    return bottom + 1.0


def _off_plan(sketch: Sketch, lane: tuple[float, float, int], y: float) -> None:
    """An arrow from where the plan has a mark, cut off where it would be too long."""
    start, end, _ = lane
    cut_off = abs(end - start) > SHOWN_MOST_MM
    tip = start + math.copysign(SHOWN_MOST_MM, end - start) if cut_off else end
    sketch.add(arrow((start, y), (tip, y), OFF_PLAN, 1.8))
    if cut_off:
        middle = (start + tip) / 2
        sketch.line(middle - 0.8, y + 1.2, middle + 0.8, y - 1.2, OFF_PLAN)


def _lying(wanted: Sequence[float], widths: Sequence[float], room: float) -> list[float] | None:
    """Where the middles of lying words stand; None where they have no room close to what they belong to."""
    xs = spread_out(wanted, [width + BESIDE_MM for width in widths], 0.0, room)
    if xs is None or any(abs(x - at) > LYING_MOST_MM for x, at in zip(xs, wanted, strict=True)):
        return None
    return xs


def _arrow_lanes(lines: Sequence[CutLine], scale: Scale, times: int) -> list[tuple[float, float, int]]:
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


def draw_dimensions(
    sketch: Sketch, lines: Sequence[CutLine], scale: Scale, room: float, span: tuple[float, float]
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
    wanted = [x for x, _ in placed]
    under = [_said(lines[k], True) for _, k in placed]
    widths = [max(width_mm(words, SIZE_MM, bold) for words, bold in one) for one in under]
    lying = _lying(wanted, widths, room)
    if lying:
        return _lie(sketch, wanted, lying, under, y)
    return _stand(sketch, wanted, [_said(lines[k], False) for _, k in placed], room, y)


_Said = tuple[tuple[str, bool], ...]


def _lie(sketch: Sketch, wanted: Sequence[float], xs: Sequence[float], said: Sequence[_Said], y: float) -> float:
    """Words under each other below their marks; returns the foot."""
    head = y + (4.0 if max(abs(x - at) for x, at in zip(xs, wanted, strict=True)) < 0.5 else 6.0)
    for at, x, one in zip(wanted, xs, said, strict=True):
        sketch.path(((at, y + 1.5), (x, head - 0.6)), FINE)
        for row, (words, bold) in enumerate(one):
            foot = head + 2.2 + row * 3.5
            sketch.shapes.append(Text(x, foot, words, SIZE_MM, "middle", bold))
    return head + 3.5 * max(len(one) for one in said)


def _stand(sketch: Sketch, wanted: Sequence[float], said: Sequence[_Said], room: float, y: float) -> float:
    """Words upright below their marks; returns the foot."""
    each = min(LABEL_ROOM_MM, room / len(wanted))
    xs = spread_out(wanted, [each] * len(wanted), 0.0, room)
    assert xs is not None, "the room was shared out among all"
    size = min(SIZE_MM, each / 2.45)
    head = y + 8.0
    for x, at, one in zip(wanted, xs, said, strict=True):
        sketch.path(((x, y + 1.5), (at, head - 1.0)), FINE)
        for row, (words, bold) in enumerate(one):
            kept = fitted(words, LABEL_MM, size, bold)
            sketch.shapes.append(Text(at - 0.1 * size + row * 1.15 * size, head, kept, size, "end", bold, True))
    longest = max(width_mm(words, size, bold) for one in said for words, bold in one)
    return head + min(longest, LABEL_MM)


def _said(line: CutLine, under: bool) -> _Said:
    """Name, figure and chain of a mark, the chain behind the figure or `under` it."""
    word = "" if line.word == START else f"{line.word} "
    name = (f"{word}{line.name}", True)
    chain = line.chain if line.chained and not line.knife else ""
    if under:
        return (name, (line.knife or line.figure, False), *([(chain, False)] if chain else []))
    return name, (line.knife or f"{line.figure} {chain}".rstrip(), False)
