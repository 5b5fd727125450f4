"""Running figures: each mark still to be cut, from the reference end of its part.

Figures run from the reference end (build.reference); the distance from the neighbour toward
that end is a check on them.

Uncertainties are those of the advice, the readings alone; how the cut lands comes on top.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from fitsolve.build.assembly import AXES, Assembly
from fitsolve.build.history import MarkState
from fitsolve.build.reference import reference_ends
from fitsolve.findings.solved import Solved, rows_of
from fitsolve.findings.values import DistanceState

_WORDS: dict[MarkState, DistanceState] = {
    MarkState.UNCUT: "uncut",
    MarkState.ROUGH: "rough",
    MarkState.MADE: "made",
}


@dataclass(frozen=True, slots=True)
class Running:
    """One mark from the reference end. `before` is its neighbour toward that end on a run. The
    figure is None where nothing fixes it. `fitted` where an open joint meets at the mark."""

    mark: int
    before: int
    plan_mm: float
    figure_mm: float | None
    advice_expanded_mm: float | None
    state: DistanceState
    fitted: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """The marks of a part along one axis, still to be cut, in order from the reference end.
    `way` is +1 or -1: the way they run along the axis."""

    part: str
    axis: str
    reference: int
    way: int
    marks: tuple[Running, ...]


def layouts(solved: Solved) -> tuple[Layout, ...]:
    """Return a layout for each part and axis that still has marks to be cut, in the order of the plan."""
    assembly, marks = solved.assembly, solved.state.marks
    members: dict[tuple[str, str], list[int]] = defaultdict(list)
    for number, mark in enumerate(assembly.marks):
        if mark.station_of is None:
            members[mark.part, mark.axis].append(number)
    ends, before, fitted = reference_ends(assembly), _neighbours(assembly), _fitted(solved)
    found = []
    for part in assembly.parts:
        for axis in AXES:
            own = members.get((part, axis), [])
            if not any(marks[mark] != MarkState.MADE for mark in own):
                continue
            reference = _start(solved, own, ends[part, axis])
            at = {mark: assembly.marks[mark].plan_mm - assembly.marks[reference].plan_mm for mark in own}
            furthest = max(own, key=lambda mark: abs(at[mark]))
            way = -1 if at[furthest] < 0 else 1
            wanted = [mark for mark in own if mark != reference and marks[mark] != MarkState.MADE]
            wanted.sort(key=lambda mark: (way * at[mark], mark))
            figures = _running(solved, wanted, reference, way, before, fitted)
            found.append(Layout(part, axis, reference, way, tuple(figures)))
    return tuple(found)


def _start(solved: Solved, own: list[int], reference: int) -> int:
    """The reference end; where it is not cut yet though other marks are, the made mark nearest to it."""
    states, marks = solved.state.marks, solved.assembly.marks
    there = [mark for mark in own if states[mark] == MarkState.MADE]
    if states[reference] == MarkState.MADE or not there:
        return reference
    return min(there, key=lambda mark: abs(marks[mark].plan_mm - marks[reference].plan_mm))


def _running(
    solved: Solved,
    wanted: list[int],
    reference: int,
    way: int,
    before: dict[int, list[int]],
    fitted: set[int],
) -> list[Running]:
    """The figures of some marks of one part, along one axis."""
    if not wanted:
        return []
    assembly, x = solved.assembly, solved.positions_mm
    terms = [[(mark, float(way)), (reference, -float(way))] for mark in wanted]
    pieces = [solved.piece(row) for row in terms]
    known = [
        k for k, piece in enumerate(pieces) if piece is not None and piece.fixed(solved.inside(terms[k]))
    ]
    expanded = np.zeros(len(wanted))
    if known:
        piece = pieces[known[0]]
        assert piece is not None, "only fixed rows are asked for"
        rows = rows_of([solved.inside(terms[k]) for k in known])
        expanded[known] = 2 * np.sqrt(piece.advice.variance(rows))
    found, fixed = [], set(known)
    for k, mark in enumerate(wanted):
        plan = way * (assembly.marks[mark].plan_mm - assembly.marks[reference].plan_mm)
        figure = float(way * (x[mark] - x[reference])) if k in fixed else None
        found.append(
            Running(
                mark,
                _nearest(assembly, mark, reference, before),
                plan,
                figure,
                float(expanded[k]) if figure is not None else None,
                _WORDS[max(solved.state.marks[mark], MarkState.UNCUT)],
                mark in fitted,
            )
        )
    return found


def _neighbours(assembly: Assembly) -> dict[int, list[int]]:
    """The marks beside each mark on its runs."""
    beside: dict[int, list[int]] = defaultdict(list)
    for run in assembly.runs:
        for first, second in itertools.pairwise(run):
            beside[first].append(second)
            beside[second].append(first)
    return beside


def _nearest(assembly: Assembly, mark: int, reference: int, beside: dict[int, list[int]]) -> int:
    """The neighbour toward the reference end that is nearest to the mark, else the reference end."""
    at = assembly.marks[mark].plan_mm
    to_end = assembly.marks[reference].plan_mm - at
    toward = [one for one in beside.get(mark, ()) if (assembly.marks[one].plan_mm - at) * to_end > 0]
    return min(toward, key=lambda one: abs(assembly.marks[one].plan_mm - at), default=reference)


def _fitted(solved: Solved) -> set[int]:
    return {
        mark
        for contact in solved.assembly.contacts
        if contact.joint not in solved.state.closed and contact.kind != "room"
        for mark in contact.marks
    }
