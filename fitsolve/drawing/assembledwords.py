"""Assembled words: what the drawing of the whole shows, gathered from the findings.

With p the plan and x the findings, a mark stands in the drawing at  p + N (x - p),  N the factor by which
errors are enlarged. Only differences mean anything: what the plan ties together is moved so that x - p is
0 on the whole, and what nothing ties to it stands beside it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from fitsolve.build.assembly import AXES
from fitsolve.build.history import MarkState
from fitsolve.drawing.assembled import AssembledDrawing, JointSign, Outline, SlantLine, ViewDrawing
from fitsolve.drawing.corners import Sides
from fitsolve.drawing.dimensions import next_round
from fitsolve.drawing.gaps import Gap
from fitsolve.drawing.shapes import Box
from fitsolve.findings.values import ContactFinding, JointFinding
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.fitwords import contact_name
from fitsolve.report.measures import Measures
from fitsolve.report.naming import words_of
from fitsolve.rows import Floats


@dataclass(frozen=True, slots=True)
class _Sight:
    """How a view is looked at: the axes to the right, upward and of sight, and whether what lies further
    along that one is nearer to the eye (+1) or behind (-1)."""

    title: str
    right: str
    up: str
    sight: str
    nearer: int


_VIEWS = (
    _Sight("front", "x", "z", "y", -1),
    _Sight("from the right", "y", "z", "x", 1),
    _Sight("from above", "x", "y", "z", 1),
)
_WAYS = {"x": "right", "y": "back", "z": "up"}
_ALONG = {"x": "from left to right", "y": "from front to back", "z": "up and down"}
_NAMED_MOST = 4
NOTHING_MM = 1e-6
_SHARE = 30.0
"""No error is drawn larger than the whole divided by this."""
_SHARE_OF_PART = 3.0
GAPS_MOST = 60


def assembled_drawing(found: Reconciliation, number: str) -> AssembledDrawing:
    """Return what the drawing of the whole shows."""
    measures = Measures.of(found.assembly)
    places = _places(found)
    outer = _outermost(found, places)
    times = _times(places, outer)
    sides = Sides(found.assembly, outer)
    drawn = places.plan + times * places.off
    seen = ((how, _view(found, sides, how, places, drawn)) for how in _VIEWS)
    shown_views = [(how, view) for how, view in seen if view.outlines]
    views = tuple(view for _, view in shown_views)
    shown = {one.part for view in views for one in view.outlines}
    finest = f"{measures.size(found.assembly.finest_mm)}{f' {measures.unit}' if measures.marks_unit else ''}"
    return AssembledDrawing(
        found.assembly.title or "This build",
        number,
        "inches" if found.assembly.unit == "in" else "millimetres",
        times,
        finest,
        found.assembly.finest_mm,
        views,
        _gaps(found, measures),
        tuple(part for part in found.assembly.parts if part not in shown),
        _apart(found, {axis for how, _ in shown_views for axis in (how.right, how.up)}),
        bool(np.abs(places.off).max(initial=0.0) > NOTHING_MM),
    )


def _apart(found: Reconciliation, axes: set[str]) -> tuple[str, ...]:
    """What is to be said of parts that nothing ties along an axis of a view: they stand beside each other."""
    said = []
    for axis in AXES:
        own = [_parts_of(found, cluster) for cluster in _clusters(found, axis)] if axis in axes else []
        if len(own) < 2:
            continue
        names = [words_of(parts if len(parts) <= _NAMED_MOST else [*parts[:_NAMED_MOST], "others"]) for parts in own]
        more = f"; and {len(names) - _NAMED_MOST} more" if len(names) > _NAMED_MOST else ""
        listed = "; ".join(names[:_NAMED_MOST]) + more
        said.append(f"Nothing ties these to each other {_ALONG[axis]}, so there they stand side by side: {listed}")
    return tuple(said)


def _parts_of(found: Reconciliation, cluster: list[list[int]]) -> list[str]:
    return list(dict.fromkeys(found.assembly.marks[mark].part for group in cluster for mark in group))


@dataclass(frozen=True)
class _Places:
    """Where marks (n,) stand in the drawing if they are as planned, and how far they are off that."""

    plan: Floats
    off: Floats


def _places(found: Reconciliation) -> _Places:
    """Along each axis, marks that the plan ties stand as planned beside each other, together moved to
    where the findings have them on the whole; what nothing ties to the others stands beside them."""
    solved = found.solved
    plan = solved.graph.network.plan_mm.copy()
    x = solved.positions_mm.copy()
    for axis in AXES:
        after: float | None = None
        for own in _clusters(found, axis):
            for group in own:
                plan[group] += float((x[group] - plan[group]).mean())
            marks = [mark for group in own for mark in group]
            low, high = float(plan[marks].min()), float(plan[marks].max())
            shift = 0.0 if after is None else after - low
            plan[marks] += shift
            x[marks] += shift
            after = high + shift + 0.08 * (high - low) + 20.0
    return _Places(plan, x - plan)


def _clusters(found: Reconciliation, axis: str) -> list[list[list[int]]]:
    """Along an axis, the marks that the plan ties in groups, and the groups that the findings tie in clusters."""
    assembly, piece_of = found.assembly, found.solved.piece_of
    groups: dict[int, list[int]] = {}
    for number, mark in enumerate(assembly.marks):
        if mark.axis == axis:
            groups.setdefault(assembly.placed[number], []).append(number)
    clusters: list[tuple[set[int], list[list[int]]]] = []
    for own in groups.values():
        pieces = {int(piece_of[mark]) for mark in own}
        joined = [one for one in clusters if one[0] & pieces]
        clusters = [one for one in clusters if not one[0] & pieces]
        together = [group for _, some in joined for group in some]
        clusters.append((pieces.union(*(one[0] for one in joined)), [*together, own]))
    return [some for _, some in clusters]


def _times(places: _Places, outer: _Outer) -> int:
    """By how much errors are enlarged: 1, 2, 5, 10, ..., the largest that keeps each of them below a thirtieth of the
    whole, and no part from being drawn a third larger or smaller than it is."""
    if not len(places.plan):
        return 1
    off = float(np.abs(places.off).max())
    if off <= NOTHING_MM:
        return 1
    most = max(float(places.plan.max() - places.plan.min()), 1e-6) / (_SHARE * off)
    for low, high in (pair for own in outer.values() for pair in own.values()):
        grown = abs(float(places.off[high] - places.off[low]))
        if grown > NOTHING_MM:
            most = min(most, float(places.plan[high] - places.plan[low]) / (_SHARE_OF_PART * grown))
    step = 1
    while next_round(step) <= most and step < 1000:
        step = next_round(step)
    return step


_Outer = dict[str, dict[str, tuple[int, int]]]
"""By part and axis: its outermost marks in the plan, the lower first."""


def _outermost(found: Reconciliation, places: _Places) -> _Outer:
    outer: _Outer = {}
    members: dict[tuple[str, str], list[int]] = {}
    for number, mark in enumerate(found.assembly.marks):
        members.setdefault((mark.part, mark.axis), []).append(number)
    for (part, axis), own in members.items():
        low = min(own, key=lambda mark: float(places.plan[mark]))
        high = max(own, key=lambda mark: float(places.plan[mark]))
        if low != high:
            outer.setdefault(part, {})[axis] = low, high
    return outer


def _view(found: Reconciliation, sides: Sides, how: _Sight, places: _Places, drawn: Floats) -> ViewDrawing:
    states: dict[str, bool] = {}
    for mark, state in zip(found.assembly.marks, found.state.marks, strict=True):
        states[mark.part] = states.get(mark.part, True) and state == MarkState.MADE
    outlines = []
    for part, own in sides.outer.items():
        if how.right in own and how.up in own:
            middle = sum(float(places.plan[mark]) for mark in own[how.sight]) / 2 if how.sight in own else 0.0
            now, plan = (_box(own, how, x) for x in (drawn, places.plan))
            corners, planned = (sides.corners(part, (how.right, how.up), x) for x in (drawn, places.plan))
            outlines.append(Outline(part, now, plan, how.nearer * middle, states[part], corners, planned))
    shown = {one.part: one for one in outlines}
    signs = [sign for joint in found.joints if (sign := _sign(joint, shown)) is not None]
    ways = _WAYS[how.right], _WAYS[how.up]
    slants = _slants(found, how, drawn, sides) if found.assembly.slopes else ()
    return ViewDrawing(how.title, *ways, tuple(outlines), tuple(signs), slants)


def _slants(found: Reconciliation, how: _Sight, drawn: Floats, sides: Sides) -> tuple[SlantLine, ...]:
    """The slanted lines that lie in a view, from end to end; the outline has those that `sides` drew."""
    marks, states = found.assembly.marks, found.state.marks
    lines = []
    for slope in found.assembly.slopes:
        across: dict[str, int] = {marks[slope.start].axis: 0, marks[slope.run_start].axis: 1}
        drawn_so = frozenset((slope.start, slope.end)) in sides.drawn
        if slope.whole is not None or drawn_so or set(across) != {how.right, how.up}:
            continue
        ends = [
            ((own, run)[across[how.right]], (own, run)[across[how.up]])
            for own, run in ((slope.start, slope.run_start), (slope.end, slope.run_end))
        ]
        (x, y), (u, v) = (tuple(float(drawn[mark]) for mark in end) for end in ends)
        made = all(states[mark] == MarkState.MADE for mark in (slope.start, slope.end))
        lines.append(SlantLine(slope.part, (x, y), (u, v), made))
    return tuple(lines)


def _box(own: Mapping[str, tuple[int, int]], how: _Sight, x: Floats) -> Box:
    across, along = ([float(x[mark]) for mark in own[axis]] for axis in (how.right, how.up))
    return (min(across), min(along), max(across), max(along))


def _sign(joint: JointFinding, shown: dict[str, Outline]) -> JointSign | None:
    """A joint where its parts lie over each other."""
    boxes = [shown[part].box for part in joint.parts if part in shown]
    if len(boxes) < 2:
        return None
    x = (max(box[0] for box in boxes) + min(box[2] for box in boxes)) / 2
    y = (max(box[1] for box in boxes) + min(box[3] for box in boxes)) / 2
    return JointSign((x, y), "closed" if joint.closed else joint.verdict)


def _gaps(found: Reconciliation, measures: Measures) -> tuple[Gap, ...]:
    """The gaps of the open joints, the worst first, no more than can be looked at."""
    order = ("tight", "proud", "loose", "open", "can't tell", "fits")
    gaps = [
        (order.index(one.verdict), joint.number, _gap(found, joint, one, measures))
        for joint in found.joints
        if not joint.closed
        for one in joint.contacts
        if one.kind != "room"
    ]
    gaps.sort(key=lambda one: one[:2])
    return tuple(gap for _, _, gap in gaps[:GAPS_MOST])


def _gap(found: Reconciliation, joint: JointFinding, one: ContactFinding, measures: Measures) -> Gap:
    said: str = one.verdict
    if one.clearance_mm is not None and one.expanded_mm is not None:
        said = f"{measures.clearance(one.clearance_mm)} {measures.u(one.expanded_mm)}, {one.verdict}"
    words = contact_name(found, found.assembly.contacts[one.number])
    most = one.most_mm if math.isfinite(one.most_mm) else None
    return Gap(joint.name, words, one.verdict, one.clearance_mm, one.expanded_mm, one.least_mm, one.aim_mm, most, said)
