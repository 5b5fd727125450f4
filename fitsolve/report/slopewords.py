"""Slopes at the layout of a part: where both ends of a slanted line still to be cut lie.

A slope's end has no figure of its own where it follows from the other: it is told beside the figures, from the line
that the other is cut to.
"""

from __future__ import annotations

from fitsolve.build.assembly import Slope
from fitsolve.build.history import MarkState
from fitsolve.reconciliation import TURNED_MM, Reconciliation
from fitsolve.report.linewords import OTHER_WAY
from fitsolve.report.measures import Measures
from fitsolve.report.naming import inside


def slope_notes(found: Reconciliation, part: str, axis: str, start: int, way: float) -> tuple[str, ...]:
    """What is said of the slopes of a part along an axis whose figures run from `start`, up it (+1) or down (-1)."""
    assembly, states = found.assembly, found.state.marks
    return tuple(
        text
        for slope in assembly.slopes
        if slope.part == part
        and assembly.marks[slope.start].axis == axis
        and any(states[mark] != MarkState.MADE for mark in (slope.start, slope.end))
        and (text := _note(found, slope, start, way))
    )


def _note(found: Reconciliation, slope: Slope, start: int, way: float) -> str:
    """`slope 1:6: lap-low@inner at 6, lap-low@outer at 5 1/2 (inner..outer 3)`; nothing where an end is not fixed."""
    marks, measures = found.assembly.marks, Measures.of(found.assembly)
    places = []
    for mark in (slope.start, slope.end):
        if mark != start and found.between(marks[start].name, marks[mark].name).distance_mm is None:
            return ""
        away = way * _apart_mm(found, start, mark)
        behind = OTHER_WAY if away < -TURNED_MM else ""
        places.append(f"{inside(marks[mark])} at {measures.full(abs(away))}{behind}")
    run = found.between(marks[slope.run_start].name, marks[slope.run_end].name).distance_mm
    if run:  # where something fixes it, it is told at its lines
        run = abs(_apart_mm(found, slope.run_start, slope.run_end))
    over = f" ({inside(marks[slope.run_start])}..{inside(marks[slope.run_end])} {measures.full(run)})" if run else ""
    return f"slope {slope.angle}: {places[0]}, {places[1]}{over}"


def _apart_mm(found: Reconciliation, start: int, mark: int) -> float:
    """How far a mark is along its axis from where figures start, once all is cut at its lines; where one of the two
    has none, as wanted."""
    if mark == start:
        return 0.0
    laid = found.laid_out
    if {mark, start} & laid.without:
        return found.solved.value_mm([(mark, 1.0), (start, -1.0)])
    return float(laid.positions_mm[mark] - laid.positions_mm[start])
