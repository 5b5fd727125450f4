"""Gaps: each gap of the open joints to one scale, its fit as a box.

A box reaches from the least of a fit to its most, its aim a line in it; the gap is a diamond with a whisker of ± U
(k = 2) to each side. What is far beyond all others is cut off at the edge, so that it does not dwarf them. Names that
are too long for one line go on in a second.

Not here: what a gap comes to (findings), what is said of it (assembledwords).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitsolve.drawing.metrics import fitted, width_mm, wrapped
from fitsolve.drawing.shapes import BLACK, FINE, GREY, PALE, PLAIN, THIN, Point, Sketch, Text
from fitsolve.drawing.verdictsigns import sign_shapes
from fitsolve.light import dataclass

ROW_MM, LINE_MM = 5.4, 3.0
NAMES_MOST_MM, NAMES_LEAST_MM = 118.0, 50.0
SAID_MM = 37.0
NAME_MM = 2.5
TICKS_LEAST_MM = 14.0
LINES_MOST = 2


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


@dataclass(frozen=True, slots=True)
class _Row:
    """A gap with the lines of its name, and where its middle lies."""

    gap: Gap
    names: tuple[str, ...]
    middle: float


def draw_gaps(sketch: Sketch, gaps: Sequence[Gap], box: tuple[float, float, float], inches: bool) -> float:
    """Draw the gaps from `box`: its left edge, its top, how wide it is; returns the foot."""
    left, y, room = box
    names = _names_mm(gaps)
    axis_room = room - names - SAID_MM - 3.0
    low, high = _range(gaps)
    scale = axis_room / max(high - low, 1e-6)
    zero = left + names - low * scale
    words = f"Gaps of open joints, {scale:.0f} times their size" if scale >= 1.5 else "Gaps of open joints"
    sketch.shapes.append(Text(left, y, words, 3.2, "start", True))
    rows = _rows(gaps, names, y + 3)
    bottom = rows[-1].middle + ROW_MM / 2 + (len(rows[-1].names) - 1) * LINE_MM / 2
    _ticks(sketch, (low, high), (zero, scale), (y + 3, bottom), inches)
    for row in rows:
        gap, middle = row.gap, row.middle
        sketch.add(sign_shapes(gap.verdict, left + 2, middle))
        first = middle + 0.9 - (len(row.names) - 1) * LINE_MM / 2
        for k, line in enumerate(row.names):
            sketch.shapes.append(Text(left + 6, first + k * LINE_MM, line, NAME_MM))
        most = min(gap.most_mm, high) if gap.most_mm is not None else high
        sketch.rect((zero + gap.least_mm * scale, middle - 1.5, zero + most * scale, middle + 1.5), FINE, PALE)
        sketch.line(zero + gap.aim_mm * scale, middle - 1.5, zero + gap.aim_mm * scale, middle + 1.5, THIN)
        _measured(sketch, gap, (zero, middle), scale, (low, high))
        x = left + names + axis_room + 3
        sketch.shapes.append(Text(x, middle + 0.9, fitted(gap.said, left + room - x, NAME_MM), NAME_MM))
    words = "box: the fit from least to most, its aim a line; diamond: the gap as found; whisker: ± U (k = 2)"
    sketch.shapes.append(Text(left, bottom + 7, f"{words}; each gap by itself", NAME_MM, colour=GREY))
    return bottom + 8


def _names_mm(gaps: Sequence[Gap]) -> float:
    """How wide the column of names is, with the sign before it: as the longest wants it, within bounds."""
    longest = max(width_mm(gap.words, NAME_MM) for gap in gaps)
    return min(max(longest + 10.0, NAMES_LEAST_MM), NAMES_MOST_MM)


def _rows(gaps: Sequence[Gap], names_mm: float, top: float) -> list[_Row]:
    rows, y = [], top
    for gap in gaps:
        lines = wrapped(gap.words, names_mm - 10.0, NAME_MM)
        if len(lines) > LINES_MOST:
            rest = " ".join(lines[LINES_MOST - 1 :])
            lines = [*lines[: LINES_MOST - 1], fitted(rest, names_mm - 10.0, NAME_MM)]
        high = ROW_MM + (len(lines) - 1) * LINE_MM
        rows.append(_Row(gap, tuple(lines), y + high / 2))
        y += high
    return rows


def _ticks(
    sketch: Sketch,
    span: tuple[float, float],
    axis: tuple[float, float],
    height: tuple[float, float],
    inches: bool,
) -> None:
    """The line of nothing, and round figures to each side of it in the unit of the build."""
    (low, high), (zero, scale), (top, bottom) = span, axis, height
    unit = 25.4 if inches else 1.0
    step, places = _round_step(TICKS_LEAST_MM / (scale * unit))
    for k in range(math.ceil(low / unit / step), math.floor(high / unit / step) + 1):
        x = zero + k * step * unit * scale
        sketch.line(x, top if k == 0 else bottom - 0.8, x, bottom, THIN)
        sketch.shapes.append(Text(x, bottom + 3.2, f"{k * step:.{places}f}" if k else "0", 2.4, "middle"))


def _round_step(least: float) -> tuple[float, int]:
    """The first of 1, 2, 5 times a power of ten that is no less, and the decimals it has."""
    power = math.floor(math.log10(least))
    for k, p in ((1, power), (2, power), (5, power), (1, power + 1)):
        if k * 10.0**p >= least * (1 - 1e-9):
            return k * 10.0**p, max(0, -p)
    raise AssertionError("10 times a power of ten is no less than what lies above that")


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
