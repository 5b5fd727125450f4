"""Sizes: every plan distance, as built or to be cut, with its two uncertainties.

The advice errs with the readings alone. The outcome errs also by how cuts land: a location
error for each mark or housing, a width error for the walls of one housing. For a distance
that is made both are the uncertainty of its estimate.
"""

from __future__ import annotations

import numpy as np

from fitsolve.findings.solved import Solved, Terms
from fitsolve.findings.values import Assumption, Between, DistanceFinding, DistanceState
from fitsolve.rows import differences
from fitsolve.solve.pieces import Piece

STATES: tuple[DistanceState, ...] = ("uncut", "rough", "made")
"""By the number of a mark's state: a distance is as far as the mark of its two that is the least so."""


def state_between(solved: Solved, start: int, end: int) -> DistanceState:
    """The state of a distance: made when both marks are, uncut when one does not exist yet."""
    states = solved.state.marks
    return STATES[min(states[start], states[end])]


def distance_findings(solved: Solved) -> tuple[DistanceFinding, ...]:
    """Every plan distance, in the order of the plan."""
    distances = solved.assembly.distances
    u_advice, u_outcome = np.zeros(len(distances)), np.zeros(len(distances))
    fixed = np.zeros(len(distances), dtype=bool)
    first, last = [distance.start for distance in distances], [distance.end for distance in distances]
    ends = np.array([last, first], dtype=np.intp).T
    sign = np.array([distance.sign for distance in distances], dtype=np.float64)
    for number, places in solved.by_piece(first).items():
        piece, own = solved.pieces[number], np.array(places)
        rows = differences(solved.number[ends[own]], sign[own])
        u = np.sqrt(piece.advice.variance(rows))
        u_advice[own], u_outcome[own] = u, np.hypot(u, piece.u_cut(rows))
        fixed[own] = piece.fixed_rows(rows)
    x = solved.positions_mm[ends]
    sizes: list[float | None] = [*(sign * (x[:, 0] - x[:, 1])).tolist()]
    advice: list[float | None] = [*(2 * u_advice).tolist()]
    outcome: list[float | None] = [*(2 * u_outcome).tolist()]
    for k in np.flatnonzero(~fixed).tolist():
        sizes[k] = advice[k] = outcome[k] = None
    states = np.array([*map(int, solved.state.marks)], dtype=np.intp)[ends].min(axis=1).tolist()
    names = [mark.name for mark in solved.assembly.marks]
    told = zip(distances, first, last, sizes, advice, outcome, states, strict=True)
    return tuple([
        DistanceFinding(k, d.part, d.axis, names[start], names[end], d.plan_mm, size, known, comes, STATES[state])
        for k, (d, start, end, size, known, comes, state) in enumerate(told)
    ])


SAME_MM = 1e-6
"""Marks that lie no further apart than this lie in one place."""


def between(solved: Solved, start: int, end: int) -> Between:
    """How far apart two marks are, as built or as to be cut; the distance is never negative."""
    terms = [(end, 1.0), (start, -1.0)]
    state = state_between(solved, start, end)
    if start == end:
        return Between(0.0, 0.0, state)
    piece = solved.piece(terms)
    if piece is None or not piece.fixed(solved.inside(terms)):
        return Between(None, None, state)
    apart = solved.value_mm(terms)
    first = solved.assembly.marks[start if apart > 0 else end].name if abs(apart) > SAME_MM else None
    return Between(abs(apart), 2 * _u_between(solved, piece, terms), state, first)


def _u_between(solved: Solved, piece: Piece, terms: Terms) -> float:
    """Within a part, the advice and the cut; across parts, the finished piece."""
    return solved.u_as_cut(piece, terms) if solved.of_one_part(terms) else solved.u_finished(piece, terms)


def _as_cut(solved: Solved) -> list[int]:
    """The distances, by number, that are rows at plan or at what they were cut to, and those between two marks
    that were each laid out from the same one."""
    laid_from, distances = solved.state.laid_from, solved.assembly.distances
    rows = {source.number for source in solved.graph.planned if source.kind == "distance"}
    if laid_from:
        references = [(laid_from.get(one.start), laid_from.get(one.end)) for one in distances]
        rows |= {k for k, (a, b) in enumerate(references) if a is not None and a == b and not distances[k].derived}
    return sorted(rows)


def assumptions(solved: Solved, sizes: tuple[DistanceFinding, ...]) -> tuple[Assumption, ...]:
    """Distances of made wood that no reading settles: taken at plan, or at what they were cut to."""
    found = []
    inner, homes, distances = solved.numbers, solved.homes, solved.assembly.distances
    read = {*solved.graph.network.measured.mark.tolist()}  # no other mark is tied to any
    for number in _as_cut(solved):
        size, distance = sizes[number], distances[number]
        start, end = distance.start, distance.end
        if size.size_mm is None or size.advice_expanded_mm is None or homes[start] != homes[end]:
            continue
        if start in read and end in read and solved.pieces[homes[start]].read.tied(inner[start], inner[end]):
            continue
        found.append(
            Assumption(
                number,
                size.part,
                size.axis,
                size.start,
                size.end,
                size.size_mm,
                size.advice_expanded_mm,
            )
        )
    return tuple(found)
