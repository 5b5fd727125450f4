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


def slope_notes(found: Reconciliation, part: str, axis: str, start: int, way: float) -> dict[str, bool]:
    """What is said of the slopes of a part along an axis whose figures run from `start`, up it (+1) or down (-1), and
    whether all of it is as planned."""
    notes = [_note(found, slope, start, way) for slope in _still_to_cut(found, part, axis)]
    notes += _from_faces(found, part, axis)
    return {text: planned for text, planned in notes if text}


def _from_faces(found: Reconciliation, part: str, axis: str) -> list[tuple[str, bool]]:
    """How far marks still to be cut lie from a station of a slanted face that the plan counts them from: at the wood
    that is measured, not from where the figures of the axis start."""
    assembly, states, measures = found.assembly, found.state.marks, Measures.of(found.assembly)
    faces = {slope.end for slope in assembly.slopes if slope.part == part and slope.whole is not None}
    notes = []
    for distance in assembly.distances if faces else ():
        if (distance.part, distance.axis) != (part, axis) or len(faces & {distance.start, distance.end}) != 1:
            continue
        face, mark = sorted((distance.start, distance.end), key=lambda one: one not in faces)
        wanted = found.between(assembly.marks[face].name, assembly.marks[mark].name).distance_mm
        if states[mark] != MarkState.MADE and wanted is not None:
            figure = measures.full(wanted)
            text = f"{inside(assembly.marks[mark])} lies {figure} from {inside(assembly.marks[face])}"
            notes.append((text, figure == measures.full(distance.plan_mm)))
    return notes


def told_by_slopes(found: Reconciliation, part: str, axis: str, start: int) -> frozenset[int]:
    """The marks along an axis of a part whose figures are told with their slopes, figures running from `start`."""
    told = set[int]()
    for slope in _still_to_cut(found, part, axis):
        if _note(found, slope, start, 1.0)[0]:
            base = found.assembly.marks[slope.start].station_of
            told |= {slope.start, slope.end, slope.start if base is None or slope.placed == slope.start else base}
    return frozenset(told)


def _still_to_cut(found: Reconciliation, part: str, axis: str) -> list[Slope]:
    """The slanted lines of a part along an axis that are still to be cut; their stations go with them."""
    assembly, states = found.assembly, found.state.marks
    return [
        slope
        for slope in assembly.slopes
        if slope.part == part
        and slope.whole is None
        and assembly.marks[slope.start].axis == axis
        and any(states[mark] != MarkState.MADE for mark in (slope.start, slope.end))
    ]


def _note(found: Reconciliation, slope: Slope, start: int, way: float) -> tuple[str, bool]:
    """`slope 1:6: lap-low@inner at 6, lap-low@outer at 5 1/2 (inner..outer 3)`, with the stations between its ends,
    and whether all of it is as planned; nothing where an end is not fixed."""
    marks, measures = found.assembly.marks, Measures.of(found.assembly)
    between = [one for one in found.assembly.on_slope.get(slope.own_marks, ()) if not one.crossing]
    stations = {slope.start: slope.run_start, slope.end: slope.run_end}
    stations |= {mark: one.run_end for one in between for mark in (one.end,) if mark not in stations}
    ahead = 1.0 if marks[slope.run_end].plan_mm > marks[slope.run_start].plan_mm else -1.0
    places, planned = [], True
    for mark in sorted(stations, key=lambda mark: ahead * marks[stations[mark]].plan_mm):
        if mark != start and found.between(marks[start].name, marks[mark].name).distance_mm is None:
            return "", False
        away = way * _apart_mm(found, start, mark)
        behind = OTHER_WAY if away < -TURNED_MM else ""
        figure = measures.full(abs(away))
        planned = planned and figure == measures.full(abs(marks[mark].plan_mm - marks[start].plan_mm))
        places.append(f"{inside(marks[mark])} at {figure}{behind}")
    run = found.between(marks[slope.run_start].name, marks[slope.run_end].name).distance_mm
    if run:  # where something fixes it, it is told at its lines
        run = abs(_apart_mm(found, slope.run_start, slope.run_end))
    ends = (_of_run(found, mark) for mark in (slope.run_start, slope.run_end))
    over = f" ({'..'.join(ends)} {measures.full(run)})" if run else ""
    return f"slope {slope.angle}: {', '.join(places)}{over}", planned


def _of_run(found: Reconciliation, mark: int) -> str:
    """What a mark of a run is called: where it is a slanted face at the height of the slope's end, that face."""
    name = inside(found.assembly.marks[mark])
    crossing = any(slope.crossing and slope.end == mark for slope in found.assembly.slopes)
    return name.partition("@")[0] if crossing else name


def _apart_mm(found: Reconciliation, start: int, mark: int) -> float:
    """How far a mark is along its axis from where figures start, once all is cut at its lines; where one of the two
    has none, as wanted."""
    if mark == start:
        return 0.0
    laid = found.laid_out
    if {mark, start} & laid.without:
        return found.solved.value_mm([(mark, 1.0), (start, -1.0)])
    return float(laid.positions_mm[mark] - laid.positions_mm[start])
