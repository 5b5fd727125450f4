"""Part words: what the drawing of a part shows, gathered from the findings."""

from __future__ import annotations

from collections.abc import Sequence

from fitsolve.drawing.cutlines import CutLine, cut_lines, main_axis, waits_of
from fitsolve.drawing.partdraw import PartDrawing, Section, View
from fitsolve.drawing.slants import slants_of
from fitsolve.findings.edges import Edge, edges
from fitsolve.light import replace
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.cutting import part_sizes
from fitsolve.report.leavewords import leave_texts
from fitsolve.report.measures import Measures
from fitsolve.report.naming import inside

_SECTION = {"x": ("y", "z"), "y": ("x", "z"), "z": ("x", "y")}
"""Along each axis, which axis the section shows from left to right, and which upward."""
_UP = {"z": "up", "y": "to the back"}


def part_drawing(found: Reconciliation, part: str, number: str) -> PartDrawing:
    """Return what the drawing of a part shows."""
    own = edges(found.solved, [part])
    first = main_axis(own)
    order = [first, *(edge for edge in own if edge is not first)]
    marks = found.assembly.marks
    wide = {edge.axis: _extent_mm(edge) for edge in own}
    measures = Measures.of(found.assembly)
    views = tuple(
        View(
            edge.axis, inside(marks[edge.reference]), _lines(found, edge, lines, own), _across(edge, wide), edge.way,
            slants_of(found, edge) if found.assembly.slopes else (),
        )
        for edge, lines in zip(order, cut_lines(found, order), strict=True)
    )  # fmt: skip
    unit = "inches" if found.assembly.unit == "in" else "millimetres"
    finest = f"{measures.size(found.assembly.finest_mm)}{f' {measures.unit}' if measures.marks_unit else ''}"
    return PartDrawing(
        part, found.assembly.title or "This build", number, unit, found.assembly.finest_mm, finest, views,
        _section(found, own, first), _notes(found, part),
    )  # fmt: skip


def _notes(found: Reconciliation, part: str) -> tuple[str, ...]:
    """Where both ends of slanted lines still to be cut lie, and what wood to leave on; nothing while the part waits."""
    if part in waits_of(found, [part]):
        return ()
    said = [text for one in part_sizes(found, part) for axis in one.axes for text in axis.slopes]
    return (*said, *leave_texts(found, part))


def _lines(
    found: Reconciliation, edge: Edge, lines: tuple[CutLine, ...], own: Sequence[Edge]
) -> tuple[CutLine, ...]:
    """The lines of a view; each hole as high as it lies on the axis that is drawn upward."""
    upward = next((one for one in own if one.axis == _SECTION[edge.axis][1]), None)
    if upward is None or not any(line.hole for line in lines):
        return lines
    marks, places = found.assembly.marks, found.solved.positions_mm
    reach = [float(places[one.mark]) for one in upward.marks]
    low, high = min(reach), max(reach)
    at = {marks[one.mark].name: float(places[one.mark]) for one in upward.marks}
    found_lines = []
    for line in lines:
        beside = at.get(f"{marks[line.mark].name.rpartition('.')[0]}.{upward.axis}")
        if line.hole and beside is not None and high > low:
            line = replace(line, height=(beside - low) / (high - low))
        found_lines.append(line)
    return tuple(found_lines)


def _extent_mm(edge: Edge) -> float:
    places = [one.figure_mm for one in edge.marks if one.figure_mm is not None]
    return max(places) - min(places) if places else 0.0


def _across(edge: Edge, wide: dict[str, float]) -> float | None:
    """How wide a part is across an edge: along the one of the other axes that the section shows upward."""
    others = [wide[axis] for axis in reversed(_SECTION[edge.axis]) if wide.get(axis)]
    return others[0] if others else None


def _section(found: Reconciliation, own: Sequence[Edge], first: Edge) -> Section | None:
    across, upward = _SECTION[first.axis]
    by_axis = {edge.axis: edge for edge in own}
    if across not in by_axis and upward not in by_axis:
        return None
    left, right = _faces(found, by_axis.get(across))
    bottom, top = _faces(found, by_axis.get(upward))
    wide = _extent_mm(by_axis[across]) if across in by_axis else None
    high = _extent_mm(by_axis[upward]) if upward in by_axis else None
    return Section(wide or None, high or None, left, right, top, bottom, _UP[upward])


def _faces(found: Reconciliation, edge: Edge | None) -> tuple[str, str]:
    """The names of the outermost marks, in the order of the axis."""
    if edge is None or len(edge.marks) < 2:
        return "", ""
    places = found.solved.positions_mm
    order = sorted((one.mark for one in edge.marks), key=lambda mark: float(places[mark]))
    marks = found.assembly.marks
    return inside(marks[order[0]]), inside(marks[order[-1]])
