"""Slants: the slanted lines of a part as they lie on paper.

A slanted line lies over two axes of its part. It is seen along the one that the part is longer along, if that is
drawn, the other across:

    at_mm    where each end lies along the edge, from where its figures start
    height   how far up each end lies, from 0 at the lowest mark of the part along the other axis to 1 at the highest

Not here: where it is drawn (bar, partdraw), what is said of it (slopewords).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from fitsolve.build.assembly import Slope
from fitsolve.build.history import MarkState
from fitsolve.drawing.cutlines import CUT, MADE, START, CutLine
from fitsolve.drawing.shapes import PLAIN, Pen, Sketch
from fitsolve.findings.edges import Edge
from fitsolve.light import dataclass, replace
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.linewords import OTHER_WAY
from fitsolve.report.measures import Measures
from fitsolve.report.naming import inside

SAME_MM = 0.1
"""Lines nearer to each other than this are one on paper."""
AS_BUILT = Pen(0.25, (1.2, 0.8))


@dataclass(frozen=True, slots=True)
class Slant:
    """A slanted line with both its ends. `beside` are the marks of the edge that it goes with, `instead` those
    whose line it is, which are not drawn straight then. Across lies `across`, from `low` to `high`."""

    at_mm: tuple[float, float]
    height: tuple[float, float]
    made: bool
    beside: tuple[int, ...]
    instead: tuple[int, ...]
    across: str
    low: str
    high: str


def slants_of(found: Reconciliation, edge: Edge, shown: Collection[str] = "xyz") -> tuple[Slant, ...]:
    """Return the slanted lines of a part that are seen along an edge and whose ends are fixed; `shown` are the axes of
    the part that are drawn."""
    return tuple(
        slant
        for slope in found.assembly.slopes
        if slope.part == edge.part
        and slope.whole is None
        and (slant := _slant(found, edge, slope, shown)) is not None
    )


def _slant(found: Reconciliation, edge: Edge, slope: Slope, shown: Collection[str]) -> Slant | None:
    marks, states = found.assembly.marks, found.state.marks
    own, run = (slope.start, slope.end), (slope.run_start, slope.run_end)
    lies = marks[slope.start].axis == edge.axis
    along, over = (own, run) if lies else (run, own)
    if marks[along[0]].axis != edge.axis:
        return None
    first, last = _away(found, edge, along[0]), _away(found, edge, along[1])
    reach, across = _reach(found, along[0]), _across(found, over)
    if first is None or last is None or across is None:
        return None
    if _reach(found, over[0]) > reach and marks[over[0]].axis in shown:
        return None
    bases = [mark if base is None else base for mark in along for base in (marks[mark].station_of,)]
    beside = tuple(dict.fromkeys(bases))
    made = all(states[mark] == MarkState.MADE for mark in own)
    return Slant((first, last), across[0], made, beside, beside if lies else (), marks[over[0]].axis, *across[1:])


def _away(found: Reconciliation, edge: Edge, mark: int) -> float | None:
    """Where a mark lies, from where the figures of an edge start; None where nothing fixes it."""
    if mark == edge.reference:
        return 0.0
    terms = [(mark, float(edge.way)), (edge.reference, -float(edge.way))]
    piece = found.solved.piece(terms)
    if piece is None or not piece.fixed(found.solved.inside(terms)):
        return None
    return found.solved.value_mm(terms)


def _outermost(found: Reconciliation, mark: int) -> tuple[int, int]:
    """The outermost marks along the axis of a mark, of its part."""
    one, places = found.assembly.marks[mark], found.solved.positions_mm
    own = found.assembly.families[one.part, one.axis]
    return min(own, key=lambda one: float(places[one])), max(own, key=lambda one: float(places[one]))


def _reach(found: Reconciliation, mark: int) -> float:
    """How long the part is along the axis of a mark."""
    low, high = _outermost(found, mark)
    return float(found.solved.positions_mm[high] - found.solved.positions_mm[low])


def _across(found: Reconciliation, ends: tuple[int, int]) -> tuple[tuple[float, float], str, str] | None:
    """How far up two marks lie between the outermost marks of their axis, and the names of those."""
    marks, places = found.assembly.marks, found.solved.positions_mm
    low, high = _outermost(found, ends[0])
    reach = _reach(found, ends[0])
    if reach <= 0.0:
        return None
    up = [(float(places[one]) - float(places[low])) / reach for one in ends]
    return (up[0], up[1]), inside(marks[low]), inside(marks[high])


def with_slanted_ends(found: Reconciliation, edge: Edge, lines: Sequence[CutLine]) -> tuple[CutLine, ...]:
    """Return the lines of an edge with one for each end of a slanted line that lies elsewhere than its mark: laid on
    that face, the wood is knifed there. The mark is named by the end that lies where it does."""
    marks, measures = found.assembly.marks, Measures.of(found.assembly)
    own = {line.mark: line for line in lines}
    ends: dict[int, float] = {}
    for slope in found.assembly.slopes:
        own_end = slope.part == edge.part and slope.whole is None
        for mark in (slope.start, slope.end) if own_end else ():
            at = _away(found, edge, mark) if marks[mark].station_of in own else None
            if at is not None:
                ends[mark] = at
    named = dict(own)
    more = []
    for mark, at in ends.items():
        base = marks[mark].station_of
        assert base is not None, "so they were chosen"
        line = own[base]
        if line.at_mm is not None and abs(at - line.at_mm) < SAME_MM:
            named[base] = replace(line, name=inside(marks[mark]))
        else:
            word = CUT if line.word == START and found.state.marks[mark] != MarkState.MADE else line.word
            figure = measures.full(abs(at)) + (OTHER_WAY if (at < 0) != (line.plan_mm < 0) else "")
            more.append(
                replace(
                    line, name=inside(marks[mark]), word=MADE if word == START else word, at_mm=at, now_mm=None,
                    figure="?" if line.figure == "?" else figure, chain="", off="", tag="", beside="",
                )
            )  # fmt: skip
    return tuple(sorted((*named.values(), *more), key=lambda line: (line.at_mm is None, line.at_mm or 0.0)))


def draw_slants(
    sketch: Sketch, slants: Sequence[Slant], scale: tuple[float, float], span: tuple[float, float]
) -> None:
    """Draw slanted lines in a body from `span`, its top and foot; `scale` is where figures start on the paper, and mm
    of paper a mm."""
    zero, factor = scale
    top, foot = span
    for one in slants:
        ends = zip(one.at_mm, one.height, strict=True)
        points = [(zero + at * factor, foot - up * (foot - top)) for at, up in ends]
        sketch.path(points, AS_BUILT if one.made else PLAIN)


def seen_so(slants: Sequence[Slant]) -> str:
    """Which way slanted lines are drawn: `slanted: inner above, outer below`; empty where there are none."""
    ways = dict.fromkeys(f"{one.high} above, {one.low} below" for one in slants)
    return f"slanted: {'; '.join(ways)}" if ways else ""
