"""Contradictions: what cannot all be had, from the rows that say so back to what the maker wrote.

Hard limits are at odds as soon as they cannot all hold. Facts contradict each other only
beyond their uncertainty: made wood that misses a fit by less than U is a verdict (can't
tell), not a contradiction.
"""

from __future__ import annotations

import numpy as np

from fitsolve.findings.solved import Solved
from fitsolve.findings.values import ContradictionFinding, Demand
from fitsolve.rows import Floats, Ints, Rows
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
    """The facts that a piece's made wood cannot satisfy, where that is beyond their U.

    Facts that share nothing that could still move have nothing to do with each other: each
    group is held against its own U.
    """
    weight, missed = piece.allocation.fact_weight, piece.allocation.missed_mm
    found = []
    for group in _facts_that_meet(piece, np.flatnonzero(weight)):
        own = np.zeros_like(weight)
        own[group] = weight[group]
        influence = piece.facts.influence(_on_marks(piece.network.bounds.rows, own, len(piece.network)))
        if float(own @ missed) <= 2 * float(np.linalg.norm(influence)):
            continue
        demands = [_demand(solved, piece, int(k), int(np.sign(missed[k]))) for k in group]
        found.append(ContradictionFinding(tuple(demands), _log_rows(solved, piece, influence), facts=True))
    return found


def _facts_that_meet(piece: Piece, facts: Ints) -> list[Ints]:
    """The facts in groups that can contradict each other: those on common loops of what still moves.

    Clusters that can move are nodes, a fact between them an edge; two aprons over one frame meet
    only in the frame, and neither can do anything about the other.
    """
    if len(facts) == 0:
        return []
    import networkx

    rows = piece.network.bounds.rows.pick(facts)
    ends = [sorted(piece.estimate.freedom.contract(terms)) for terms in rows.terms()]
    moving = networkx.Graph()
    for nodes in ends:
        moving.add_edges_from((a, b) for k, a in enumerate(nodes) for b in nodes[k + 1 :])
    block_of = {
        frozenset(edge): number
        for number, edges in enumerate(networkx.biconnected_component_edges(moving))
        for edge in edges
    }
    groups: dict[object, list[int]] = {}
    for fact, nodes in zip(facts.tolist(), ends, strict=True):
        key: object = block_of[frozenset(nodes[:2])] if len(nodes) > 1 else tuple(nodes)
        groups.setdefault(key, []).append(fact)
    return [np.array(members, dtype=np.intp) for members in groups.values()]


def _of_limits(solved: Solved, piece: Piece) -> list[ContradictionFinding]:
    """The irreducible sets of holds, limits and fits that cannot all hold."""
    found = []
    bounds, holds = piece.network.bounds, piece.network.holds
    for one in piece.allocation.contradictions:
        on_marks = _on_marks(bounds.rows.pick(one.bounds), one.bound_weights, len(piece.network))
        on_marks += _on_marks(holds.pick(one.equal), one.equal_weights, len(piece.network))
        influence = _influence(piece, on_marks)
        if len(one.equal) == 0 and not np.any(bounds.relaxable[one.bounds]):
            u_read = one.bound_weights * np.where(bounds.hard[one.bounds], bounds.rows.scale[one.bounds], 0.0)
            if one.excess_mm <= 2 * float(np.hypot(np.linalg.norm(influence), np.linalg.norm(u_read))):
                continue  # wood that is gone, read so and so: no contradiction within its U
        demands = []
        for hold in one.equal:
            source = solved.graph.holds[int(piece.chosen["holds"][hold])]
            missed = float(piece.allocation.hold_missed_mm[hold])
            demands.append(Demand(source.kind, source.number, source.part, 0, missed))
        for bound, side in zip(one.bounds, one.sides, strict=True):
            demands.append(_demand(solved, piece, int(bound), int(side)))
        found.append(ContradictionFinding(tuple(demands), _log_rows(solved, piece, influence), facts=False))
    return found


def _influence(piece: Piece, on_marks: Floats) -> Floats:
    """How a combination of rows moves with each unit error of what was measured and planned."""
    return piece.facts.influence(on_marks)


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
