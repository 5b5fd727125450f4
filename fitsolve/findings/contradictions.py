"""Contradictions: what cannot all be had, from the rows that say so back to what the maker wrote.

Hard limits are at odds as soon as they cannot all hold. Facts contradict each other only
beyond their uncertainty: made wood that misses a fit by less than U is a verdict (can't
tell), not a contradiction.
"""

from __future__ import annotations

import numpy as np

from fitsolve.findings.solved import Solved
from fitsolve.findings.values import ContradictionFinding, Demand
from fitsolve.rows import Floats
from fitsolve.solve.pieces import Piece

NEGLIGIBLE = 1e-9


def contradiction_findings(solved: Solved) -> tuple[ContradictionFinding, ...]:
    """Every contradiction of every piece: facts first, then what the maker asked for."""
    found: list[ContradictionFinding] = []
    for piece in solved.pieces:
        found += _of_facts(solved, piece)
        found += _of_limits(solved, piece)
    return tuple(found)


def _of_facts(solved: Solved, piece: Piece) -> list[ContradictionFinding]:
    """The facts that a piece's made wood cannot satisfy, if that is beyond their U."""
    weight = piece.allocation.fact_weight
    missed = piece.allocation.missed_mm
    if not np.any(weight):
        return []
    rows = piece.network.bounds.rows
    maps = np.hstack(piece.estimate.maps[:2])
    excess = float(weight @ missed)
    expanded = 2 * float(np.linalg.norm(weight @ rows.of(maps)))
    if excess <= expanded:
        return []
    demands = [_demand(solved, piece, int(k), int(np.sign(missed[k]))) for k in np.flatnonzero(weight)]
    return [ContradictionFinding(tuple(demands), _rests_on(solved, piece, weight), facts=True)]


def _of_limits(solved: Solved, piece: Piece) -> list[ContradictionFinding]:
    """The irreducible sets of holds, limits and fits that cannot all hold."""
    found = []
    for one in piece.allocation.contradictions:
        demands = []
        for hold in one.equal:
            source = solved.graph.holds[int(piece.chosen["holds"][hold])]
            missed = float(piece.allocation.hold_missed_mm[hold])
            demands.append(Demand(source.kind, source.number, source.part, 0, missed))
        weight = np.zeros(len(piece.network.bounds.rows))
        for bound, side in zip(one.bounds, one.sides, strict=True):
            demands.append(_demand(solved, piece, int(bound), int(side)))
            weight[bound] = 1.0
        rows = _touched(solved, piece, weight, [int(hold) for hold in one.equal])
        found.append(ContradictionFinding(tuple(demands), rows, facts=False))
    return found


def _demand(solved: Solved, piece: Piece, bound: int, side: int) -> Demand:
    source = solved.graph.bounds[int(piece.chosen["bounds"][bound])]
    missed = float(piece.allocation.missed_mm[bound])
    return Demand(source.kind, source.number, source.part, side, missed)


def _rests_on(solved: Solved, piece: Piece, weight: Floats) -> tuple[int, ...]:
    """The log rows of the readings that a combination of bounds depends on."""
    moved = np.abs(weight @ piece.network.bounds.rows.of(piece.estimate.maps[0]))
    return _log_rows(solved, piece, moved > NEGLIGIBLE * (1 + moved.max(initial=0.0)))


def _touched(solved: Solved, piece: Piece, weight: Floats, holds: list[int]) -> tuple[int, ...]:
    """The log rows that bear on any of the rows in a contradiction, seen from what is free."""
    maps = piece.estimate.maps[0]
    rows = [piece.network.bounds.rows.pick(np.flatnonzero(weight)), piece.network.holds.pick(np.array(holds, int))]
    basis = piece.estimate.basis
    touched = np.zeros(maps.shape[1], dtype=bool)
    left = np.vstack([part.of(basis) for part in rows])
    sensed = np.vstack([part.of(maps) for part in rows])
    combination = np.linalg.svd(left.T)[2][-1] if len(left) else np.zeros(0)
    if len(left) and np.abs(left.T @ combination).max(initial=0.0) < 1e-9:
        touched = np.abs(combination @ sensed) > NEGLIGIBLE
    return _log_rows(solved, piece, touched)


def _log_rows(solved: Solved, piece: Piece, touched: np.ndarray) -> tuple[int, ...]:
    numbers = set()
    for row in piece.chosen["measured"][touched]:
        source = solved.graph.measured[int(row)]
        if source.kind == "reading":
            numbers.add(solved.state.readings[source.number].no)
    return tuple(sorted(numbers))
