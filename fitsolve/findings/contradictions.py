"""Contradictions: what cannot all be had, from the rows that say so back to what the maker wrote.

Hard limits are at odds as soon as they cannot all hold. Facts contradict each other only
beyond their uncertainty: made wood that misses a fit by less than U is a verdict (can't
tell), not a contradiction.
"""

from __future__ import annotations

import numpy as np

from fitsolve.findings.solved import Solved
from fitsolve.findings.values import ContradictionFinding, Demand
from fitsolve.rows import Floats, Rows
from fitsolve.solve.pieces import NOISY, Piece

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
    on_marks = _on_marks(rows, weight, len(piece.network))
    excess = float(weight @ missed)
    influence = piece.estimate.errors(NOISY).influence(on_marks)
    expanded = 2 * float(np.linalg.norm(influence))
    if excess <= expanded:
        return []
    demands = [_demand(solved, piece, int(k), int(np.sign(missed[k]))) for k in np.flatnonzero(weight)]
    return [ContradictionFinding(tuple(demands), _log_rows(solved, piece, influence), facts=True)]


def _of_limits(solved: Solved, piece: Piece) -> list[ContradictionFinding]:
    """The irreducible sets of holds, limits and fits that cannot all hold."""
    found = []
    for one in piece.allocation.contradictions:
        demands = []
        for hold in one.equal:
            source = solved.graph.holds[int(piece.chosen["holds"][hold])]
            missed = float(piece.allocation.hold_missed_mm[hold])
            demands.append(Demand(source.kind, source.number, source.part, 0, missed))
        for bound, side in zip(one.bounds, one.sides, strict=True):
            demands.append(_demand(solved, piece, int(bound), int(side)))
        on_marks = _on_marks(piece.network.bounds.rows.pick(one.bounds), one.bound_weights, len(piece.network))
        on_marks += _on_marks(piece.network.holds.pick(one.equal), one.equal_weights, len(piece.network))
        influence = piece.estimate.errors(NOISY).influence(on_marks)
        found.append(ContradictionFinding(tuple(demands), _log_rows(solved, piece, influence), facts=False))
    return found


def _on_marks(rows: Rows, weight: Floats, size: int) -> Floats:
    """The weighted sum of rows, as weights on marks (size,)."""
    return np.bincount(rows.mark, rows.coef * weight[rows.owner()], size).astype(np.float64)


def _demand(solved: Solved, piece: Piece, bound: int, side: int) -> Demand:
    source = solved.graph.bounds[int(piece.chosen["bounds"][bound])]
    missed = float(piece.allocation.missed_mm[bound])
    return Demand(source.kind, source.number, source.part, side, missed)


def _log_rows(solved: Solved, piece: Piece, influence: Floats) -> tuple[int, ...]:
    """The log rows of the readings among the errors that move a combination of rows."""
    measured = piece.chosen["measured"]
    size = np.abs(influence[: len(measured)])
    moved = size > NEGLIGIBLE * (1 + size.max(initial=0.0))
    numbers = set()
    for row in measured[moved]:
        source = solved.graph.measured[int(row)]
        if source.kind == "reading":
            numbers.add(solved.state.readings[source.number].no)
    return tuple(sorted(numbers))
