"""Strip: every mark of one edge of a part at its true size, to lay on the wood and knife through.

A strip longer than the paper comes in pieces that overlap. Piece k shows the strip from k (L - o) to
k (L - o) + L, with L what fits between the margins and o the overlap; in the middle of each overlap stands
a match line with a letter, once on each of the two pieces. All that is true to size lies along x.

A printer that is off by a factor is made up for: what is laid out is multiplied by k = nominal /
measured, along the strip. The lines are drawn where the size wanted is exactly, not where it is rounded to.

Not here: what is said of a mark (cutlines), how a page is written (pdf).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitsolve.drawing.cutlines import LEAVE, MADE, START, TO_CUT, CutLine, from_words
from fitsolve.drawing.metrics import fitted
from fitsolve.drawing.papers import Paper
from fitsolve.drawing.shapes import FINE, PLAIN, THIN, Page, Pen, Sketch, Text
from fitsolve.drawing.spread import spread_out
from fitsolve.drawing.symbols import cross, datum
from fitsolve.light import dataclass

OVERLAP_MM = 20.0
BEYOND_MM = 8.0
"""How far the strip goes on beyond its outermost marks."""
BAND_MM = 80.0
HEAD_MM, FOOT_MM = 10.0, 15.0
HEAD_WIDTH_MM = 250.0
TICK_MM = 22.0
LANE_MM = 6.0
LEADER_MM = 7.0
LABEL_MM = 38.0
SIZE_MM = 2.8
ROOM_MM = 7.0
KNIFE = Pen(0.15)
AS_BUILT = Pen(0.15, (1.6, 0.9))
AS_IS = Pen(0.15, (0.3, 0.7))
PIECES_MOST = 400
"""More pieces of paper than this nobody lays on each other."""


@dataclass(frozen=True)
class StripPlan:
    """What a strip shows. `scale` is what lengths are multiplied by for a printer that is off."""

    part: str
    axis: str
    start: str
    lines: tuple[CutLine, ...]
    number: str
    title: str
    inches: bool
    scale: float = 1.0


@dataclass(frozen=True)
class Piece:
    """One piece: the stretch of the strip it shows, and its match lines."""

    number: int
    begin_mm: float
    end_mm: float
    matches: tuple[tuple[float, str], ...]


def pieces_of(plan: StripPlan, paper: Paper) -> list[Piece]:
    """Return the pieces that the strip is cut into for a paper."""
    places = [place for line in plan.lines for place in (line.at_mm, line.now_mm) if place is not None]
    begin, end = min(places, default=0.0) - BEYOND_MM, max(places, default=0.0) + BEYOND_MM
    long = paper.room_mm / plan.scale
    if end - begin <= long:
        return [Piece(0, begin, end, ())]
    step = long - OVERLAP_MM
    count = math.ceil((end - begin - OVERLAP_MM) / step)
    return [
        Piece(
            k,
            begin + k * step,
            min(begin + k * step + long, end),
            tuple((begin + j * step + OVERLAP_MM / 2, letter(j)) for j in (k, k + 1) if 0 < j < count),
        )
        for k in range(count)
    ]


def letter(number: int) -> str:
    """Return the letters of a match line, from 1 on: A, B, ... Z, AA, AB, ...

    >>> letter(1), letter(26), letter(27)
    ('A', 'Z', 'AA')
    """
    text = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


def strip_pages(plan: StripPlan, paper: Paper) -> list[Page]:
    """Return the pages of a strip."""
    pieces = pieces_of(plan, paper)
    per_page = paper.bands
    pages = []
    for first in range(0, len(pieces), per_page):
        some = pieces[first : first + per_page]
        sketch = Sketch()
        number = first // per_page + 1
        _head(sketch, plan, paper, (number, math.ceil(len(pieces) / per_page)))
        for k, piece in enumerate(some):
            corner = (paper.margin_mm, paper.margin_mm + HEAD_MM + k * BAND_MM)
            _band(sketch, plan, piece, corner, len(pieces))
        _foot(sketch, plan, paper)
        width = paper.width_mm
        if paper.endless:
            longest = max((piece.end_mm - piece.begin_mm) * plan.scale for piece in some)
            width = max(longest, scale_length_mm(plan) * plan.scale, HEAD_WIDTH_MM) + 2 * paper.margin_mm
        title = f"{plan.part}, {plan.axis} from {plan.start}, page {number}"
        pages.append(Page(width, paper.height_mm, tuple(sketch.shapes), title))
    return pages


def scale_length_mm(plan: StripPlan) -> float:
    """Return the length of the printed scale: 10 in or 200 mm."""
    return 254.0 if plan.inches else 200.0


def _head(sketch: Sketch, plan: StripPlan, paper: Paper, page: tuple[int, int]) -> None:
    x, y = paper.margin_mm, paper.margin_mm + 3.5
    room = min(paper.room_mm, HEAD_WIDTH_MM)
    lead = fitted(f"{plan.part}   {from_words(plan.axis, plan.start, plan.lines)}", room * 0.55, 4.0, True)
    sketch.shapes.append(Text(x, y, lead, 4.0, "start", True))
    at = f"{plan.title}   list {plan.number}   page {page[0]} of {page[1]}"
    sketch.shapes.append(Text(x + room, y, fitted(at, room * 0.43, 2.8), 2.8, "end"))
    how = "Cut along the lower line, lay it on the arris with the heavy end flush, and knife through the lines."
    waits = dict.fromkeys(line.why for line in plan.lines if line.word == LEAVE and line.at_mm is not None)
    how = f"NOT TO BE CUT YET: {', '.join(waits)}. Dots end short of the edge." if waits else how
    corrected = "" if plan.scale == 1 else f"   Lengths are multiplied by {plan.scale:.5f} for this printer."
    sketch.shapes.append(Text(x, y + 4.5, fitted(how + corrected, room, 2.6), 2.6))


def _foot(sketch: Sketch, plan: StripPlan, paper: Paper) -> None:
    """The scale to be held against a rule."""
    top = paper.height_mm - paper.margin_mm - FOOT_MM
    x, y, k = paper.margin_mm, top + 7.0, plan.scale
    said, steps = ("10 in", 10) if plan.inches else ("200 mm", 20)
    long = scale_length_mm(plan)
    sketch.line(x, y, x + long * k, y, THIN)
    for step in range(steps + 1):
        at = x + step * long / steps * k
        high = 4.0 if step in (0, steps) else 2.0
        sketch.line(at, y - high, at, y, KNIFE)
        if (not plan.inches and step % 5) or step in (0, steps):
            continue
        label = str(step) if plan.inches else str(step * 10)
        sketch.shapes.append(Text(at, y - 2.6, label, 2.2, "middle"))
    words = (
        f"If this is not {said} long, print again at 100 %. If it still is not, give its length as it is: "
        f"fitsolve strip {plan.part} --scale-reads LENGTH --output FILE"
    )
    sketch.shapes.append(Text(x, y + 4.0, fitted(words, min(paper.room_mm, HEAD_WIDTH_MM), 2.6), 2.6))


def _band(sketch: Sketch, plan: StripPlan, piece: Piece, corner: tuple[float, float], count: int) -> None:
    (left, top), k = corner, plan.scale
    right = left + (piece.end_mm - piece.begin_mm) * k

    def at(place_mm: float) -> float:
        return left + (place_mm - piece.begin_mm) * k

    bottom = top + BAND_MM - 5.0
    lane = bottom - TICK_MM - LANE_MM
    sketch.line(left, bottom, right, bottom, PLAIN)
    if count > 1:
        said = f"piece {piece.number + 1} of {count}"
        sketch.shapes.append(Text((left + right) / 2, bottom + 3.2, said, 2.4, "middle"))
    for place, name in piece.matches:
        _match(sketch, at(place), lane, name, bottom)
    shown = [line for line in plan.lines if line.at_mm is not None and piece.begin_mm <= line.at_mm <= piece.end_mm]
    for line in shown:
        assert line.at_mm is not None
        _knife_line(sketch, line, at(line.at_mm), (lane + LANE_MM, bottom))
        if line.now_mm is not None and piece.begin_mm <= line.now_mm <= piece.end_mm:
            sketch.line(at(line.now_mm), bottom - TICK_MM / 2, at(line.now_mm), bottom, AS_IS)
    _wastes(sketch, shown, [at(line.at_mm or 0.0) for line in shown], (left, right), bottom)
    _labels(sketch, shown, [at(line.at_mm or 0.0) for line in shown], (left, right), lane)


def _match(sketch: Sketch, x: float, lane: float, name: str, bottom: float) -> None:
    """A match line: a diamond on a line in its own lane, and dots down to the edge."""
    sketch.line(x, lane, x, lane + LANE_MM - 1, KNIFE)
    middle = lane + 2.0
    sketch.path(((x - 1.2, middle), (x, middle - 1.2), (x + 1.2, middle), (x, middle + 1.2)), FINE, closed=True)
    sketch.shapes.append(Text(x + 1.8, middle + 2.6, name, 2.6, "start", True))
    sketch.shapes.append(Text(x, bottom + 3.2, f"lay {name} on {name}", 2.2, "middle"))


def _knife_line(sketch: Sketch, line: CutLine, x: float, span: tuple[float, float]) -> None:
    if line.word == START:
        sketch.add(datum(x - (0.6 if line.waste < 0 else -0.6 if line.waste > 0 else 0.0), span[0] + 6, span[1]))
        sketch.line(x, *(span[0], x, span[1]), KNIFE)
        return
    pen = {MADE: AS_BUILT, LEAVE: AS_IS}.get(line.word, KNIFE)
    sketch.line(x, span[0], x, span[1] - (8.0 if line.word == LEAVE else 0.0), pen)
    if line.hole:  # only its middle along this edge: across, it is measured
        sketch.circle(x, span[1] - 8.0, 1.5, KNIFE)


def _wastes(
    sketch: Sketch, lines: Sequence[CutLine], places: Sequence[float], ends: tuple[float, float], bottom: float
) -> None:
    """Crosses on the waste side of what is to be cut, as large as there is room for."""
    for line, x in zip(lines, places, strict=True):
        if line.word not in TO_CUT or not line.waste:
            continue
        beside = [(p - x) * line.waste for p in places if (p - x) * line.waste > 1e-6]
        edge = (ends[1] - x) if line.waste > 0 else (x - ends[0])
        room = min([edge, *beside, 8.0])
        half = min(1.6, room / 4)
        if half >= 0.3:
            sketch.add(cross(x + line.waste * min(room / 2, 2.6), bottom - 5.0, half, KNIFE))


def _labels(
    sketch: Sketch, lines: Sequence[CutLine], places: Sequence[float], ends: tuple[float, float], lane: float
) -> None:
    """What is said of each line, upright, moved apart where they stand close, with a leader to each."""
    if not lines:
        return
    order = sorted(range(len(lines)), key=lambda k: (places[k], k))
    width = ends[1] - ends[0]
    room = min(ROOM_MM, width / len(lines))
    xs = spread_out([places[k] for k in order], [room] * len(order), *ends)
    assert xs is not None, "the room was shared out among all"
    size = min(SIZE_MM, room / 2.45)
    foot = lane - LEADER_MM
    for k, x in zip(order, xs, strict=True):
        sketch.path(((places[k], lane + LANE_MM), (places[k], lane), (x, foot + 0.6)), FINE)
        for row, words in enumerate(_said(lines[k])):
            y = foot
            kept = fitted(words, LABEL_MM, size, row == 0)
            sketch.shapes.append(Text(x - 0.1 * size + row * 1.15 * size, y, kept, size, "start", row == 0, True))


def _said(line: CutLine) -> tuple[str, str]:
    lead = f"{line.word} {line.name}" if line.word != MADE else f"{line.name} made"
    if line.word == LEAVE:
        return lead, line.why
    side = "" if line.word not in TO_CUT or not line.waste else f"  waste {'right' if line.waste > 0 else 'left'}"
    return lead, f"{line.figure}{side}"
