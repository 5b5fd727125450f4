"""Running figures: each mark still to be cut, from the reference end of its part.

Figures run from the reference end (build.reference); the distance from the neighbour toward
that end is a check on them.

Uncertainties are those of the advice, the readings alone; how the cut lands comes on top.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from fitsolve.build.assembly import AXES, Assembly
from fitsolve.build.history import MarkState, State
from fitsolve.build.reference import reference_ends, start_of
from fitsolve.findings.solved import Solved, rows_of
from fitsolve.findings.values import DistanceState
from fitsolve.light import dataclass

_WORDS: dict[MarkState, DistanceState] = {
    MarkState.UNCUT: "uncut",
    MarkState.ROUGH: "rough",
    MarkState.MADE: "made",
}


@dataclass(frozen=True, slots=True)
class Running:
    """One mark from the reference end. `before` is its neighbour toward that end on a run. The
    figure is None where nothing fixes it. `fitted` where an open joint meets at the mark whose other side is
    made: what is not made yet is fitted to this one later."""

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
    assembly, states = solved.assembly, solved.state.marks
    plans = _plans(assembly, states)
    figures, spreads = _figures(solved, plans)
    before, fitted = neighbours(assembly), _fitted(solved)
    found = []
    for one in plans:
        running = [
            Running(
                mark,
                neighbour_toward(assembly, mark, one.reference, before),
                one.way * (assembly.marks[mark].plan_mm - assembly.marks[one.reference].plan_mm),
                figures.get(mark),
                spreads.get(mark),
                _WORDS[states[mark]],
                mark in fitted,
            )
            for mark in one.marks
        ]
        found.append(Layout(one.part, one.axis, one.reference, one.way, tuple(running)))
    return tuple(found)


def cut_pairs(assembly: Assembly, state: State) -> list[tuple[str, int, int, float | None]]:
    """Return every mark still to be cut with its part, what it is laid out from, and its plan distance,
    in the order of the layouts; nothing is solved for."""
    marks = assembly.marks
    return [
        (one.part, one.reference, mark, abs(marks[mark].plan_mm - marks[one.reference].plan_mm))
        for one in _plans(assembly, state.marks)
        for mark in one.marks
    ]


def layout_marks(assembly: Assembly, state: State) -> list[tuple[int, int]]:
    """Return every mark still to be cut with what it is laid out from, in the order of the layouts; nothing is
    solved for."""
    return [(mark, one.reference) for one in _plans(assembly, state.marks) for mark in one.marks]


def _plans(assembly: Assembly, states: Sequence[MarkState]) -> list[_Wanted]:
    """What is to be laid out: each part and axis that still has marks to be cut."""
    members: dict[tuple[str, str], list[int]] = defaultdict(list)
    for number, mark in enumerate(assembly.marks):
        if mark.station_of is None:
            members[mark.part, mark.axis].append(number)
    ends = reference_ends(assembly)
    plans: list[_Wanted] = []
    for part in assembly.parts:
        for axis in AXES:
            own = members.get((part, axis), [])
            if any(states[mark] != MarkState.MADE for mark in own):
                plans.append(_wanted(assembly, states, own, ends[part, axis]))
    return plans


@dataclass(frozen=True, slots=True)
class _Wanted:
    """The marks of one layout, before anything is known of them."""

    part: str
    axis: str
    reference: int
    way: int
    marks: list[int]


def _wanted(assembly: Assembly, states: Sequence[MarkState], own: list[int], end: int) -> _Wanted:
    marks = assembly.marks
    reference = start_of(assembly, [mark for mark in own if states[mark] == MarkState.MADE], end)
    at = {mark: marks[mark].plan_mm - marks[reference].plan_mm for mark in own}
    way = -1 if at[max(own, key=lambda mark: abs(at[mark]))] < 0 else 1
    wanted = [mark for mark in own if mark != reference and states[mark] != MarkState.MADE]
    order = sorted(wanted, key=lambda mark: (way * at[mark], mark))
    return _Wanted(marks[end].part, marks[end].axis, reference, way, order)


def _figures(solved: Solved, plans: list[_Wanted]) -> tuple[dict[int, float], dict[int, float]]:
    """The figure of each mark that something fixes, and its U (k = 2), asked for piece by piece."""
    terms = {
        mark: [(mark, float(one.way)), (one.reference, -float(one.way))]
        for one in plans
        for mark in one.marks
    }
    marks = list(terms)
    figures: dict[int, float] = {}
    spreads: dict[int, float] = {}
    x = solved.positions_mm
    for number, places in solved.by_piece(marks).items():
        piece = solved.pieces[number]
        known = [marks[k] for k in places if solved.piece(terms[marks[k]]) is piece]
        known = [mark for mark in known if piece.fixed(solved.inside(terms[mark]))]
        if not known:
            continue
        spread = 2 * np.sqrt(piece.advice.variance(rows_of([solved.inside(terms[mark]) for mark in known])))
        spreads.update(zip(known, spread.tolist(), strict=True))
        figures.update((mark, float(sum(coef * x[one] for one, coef in terms[mark]))) for mark in known)
    return figures, spreads


def neighbours(assembly: Assembly) -> dict[int, list[int]]:
    """The marks beside each mark on its runs."""
    beside: dict[int, list[int]] = defaultdict(list)
    for run in assembly.runs:
        for first, second in itertools.pairwise(run):
            beside[first].append(second)
            beside[second].append(first)
    return beside


def neighbour_toward(assembly: Assembly, mark: int, reference: int, beside: dict[int, list[int]]) -> int:
    """The neighbour toward the reference end that is nearest to the mark, else the reference end."""
    at = assembly.marks[mark].plan_mm
    to_end = assembly.marks[reference].plan_mm - at
    toward = [one for one in beside.get(mark, ()) if (assembly.marks[one].plan_mm - at) * to_end > 0]
    return min(toward, key=lambda one: abs(assembly.marks[one].plan_mm - at), default=reference)


def _fitted(solved: Solved) -> set[int]:
    assembly, states = solved.assembly, solved.state.marks
    fitted: set[int] = set()
    for contact in assembly.contacts:
        if contact.joint in solved.state.closed or contact.kind == "room":
            continue
        half = len(contact.marks) // 2
        for own, others in ((contact.marks[:half], contact.marks[half:]), (contact.marks[half:], contact.marks[:half])):
            if any(states[other] == MarkState.MADE for other in others):
                fitted.update(own)
    return fitted
