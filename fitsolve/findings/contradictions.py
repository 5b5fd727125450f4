"""Contradictions: what cannot all be had, from the rows that say so back to what the maker wrote.

Hard limits are at odds as soon as they cannot all hold. Facts contradict each other only
beyond their uncertainty: made wood that misses a fit by less than U is a verdict (can't
tell), not a contradiction.
"""

from __future__ import annotations

import numpy as np

from fitsolve.findings.solved import Solved
from fitsolve.findings.values import ContradictionFinding, Demand
from fitsolve.light import dataclass, replace
from fitsolve.rows import Floats, Ints, Rows
from fitsolve.solve.pieces import Piece

NEGLIGIBLE = 1e-9

FEW_NODES_MAX = 120
"""A group of more facts, or about more things that can move, is told of whole."""

PAIRED_BOUNDS_MAX = 5000
"""In pieces with more bounds facts are told of by groups."""


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
        pairs = too_wide(solved, piece, group) or opposed(solved, piece, group)
        for pair in pairs:
            one = _of_pair(solved, piece, pair)
            if one is not None:
                found.append(one)
        if pairs:
            continue
        few = _in_few(solved, piece, group, missed[group])
        if few:
            found += few
            continue
        own = np.zeros_like(weight)
        own[group] = weight[group]
        influence = piece.facts.influence(_on_marks(piece.network.bounds.rows, own, len(piece.network)))
        if float(own @ missed) <= 2 * float(np.linalg.norm(influence)):
            continue
        demands = [_demand(solved, piece, int(k), int(np.sign(missed[k]))) for k in group]
        # facts side by side share what bears on them: each counts by its share of the largest
        excess = float(own @ missed) / float(np.abs(own).max())
        found.append(ContradictionFinding(tuple(demands), _log_rows(solved, piece, influence), True, excess))
    return found


def _in_few(solved: Solved, piece: Piece, group: Ints, missed: Floats) -> list[ContradictionFinding]:
    """A group of facts (k,), each missed by so much (k,), as irreducible sets that are beyond their own U, every
    fact in one at least that is: what only gives way because others press on it is left out."""
    from fitsolve.solve.contradict import GivingWay, contradictions, further_contradictions
    from fitsolve.solve.quadratic import Programme

    rows, bounds = piece.network.bounds.rows.pick(group), piece.network.bounds
    ends = [piece.estimate.freedom.contract(terms) for terms in rows.terms()]
    nodes = {node: k for k, node in enumerate(sorted({node for one in ends for node in one}))}
    if not 1 <= len(nodes) <= FEW_NODES_MAX or len(group) > FEW_NODES_MAX:
        return []
    matrix = np.zeros((len(group), len(nodes)))
    for k, one in enumerate(ends):
        for node, coef in one.items():
            matrix[k, nodes[node]] = float(coef)
    value, empty = rows.of(piece.x), np.zeros((0, len(nodes)))
    programme = Programme(
        empty, np.zeros(0), empty, np.zeros(0), matrix, bounds.low[group] - value, bounds.high[group] - value
    )
    sets = contradictions(programme)
    giving = GivingWay(np.zeros(0, dtype=np.intp), missed < 0.0, missed > 0.0, np.ones(len(group), dtype=bool))
    found = []
    for few in (*sets, *further_contradictions(programme, giving, sets)):
        weight = np.zeros(len(bounds.rows))
        weight[group[few.bounds]] = few.bound_weights
        influence = piece.facts.influence(_on_marks(bounds.rows, weight, len(piece.network)))
        if few.excess_mm <= 2 * float(np.linalg.norm(influence)):
            continue
        share = np.abs(few.bound_weights) / np.abs(few.bound_weights).max()
        demands = tuple(
            replace(_demand(solved, piece, int(group[bound]), int(side)), share=float(part))
            for bound, side, part in zip(few.bounds, few.sides, share, strict=True)
        )
        found.append(ContradictionFinding(demands, _log_rows(solved, piece, influence), True, few.excess_mm))
    return found


@dataclass(frozen=True, slots=True)
class Limit:
    """A bound (by its number in the piece) as it limits how far one thing may move, t, from where it is: the
    least t for which it holds, or the most; `per_mm` is what it gains for 1 mm of t."""

    bound: int
    side: int
    at_mm: float
    per_mm: float


def too_wide(solved: Solved, piece: Piece, group: Ints) -> list[tuple[Limit, Limit]]:
    """Return the two gaps of each housing whose piece is too wide for it, where all of a group are such: each
    housing then contradicts itself, wherever its parts lie. Nothing where anything else is missed too."""
    gaps: dict[int, dict[int, int]] = {}
    for number in group.tolist():
        source = solved.graph.bounds[int(piece.chosen["bounds"][number])]
        if source.kind != "gap":
            return []
        gaps.setdefault(source.number, {})[source.part] = number
    rows, low = piece.network.bounds.rows, piece.network.bounds.low
    value, found = rows.of(piece.x), []
    for own in gaps.values():
        both = [term for terms in rows.pick(np.array(list(own.values()))).terms() for term in terms]
        if set(own) != {0, 1} or not piece.estimate.freedom.settled(both):
            return []
        first, second = own[0], own[1]
        found.append((
            Limit(first, -1, float(low[first] - value[first]), 1.0),
            Limit(second, -1, float(value[second] - low[second]), -1.0),
        ))  # fmt: skip
    return found


def opposed(solved: Solved, piece: Piece, group: Ints) -> list[tuple[Limit, Limit]]:
    """Return facts against each other two by two, where all of a group is about where one thing lies.

    Then what they ask is an interval each, and two contradict each other where one begins behind the
    other's end; no third is needed. Those of one kind come first (two shoulders, two tenons' ends, the
    walls of housings), for they are mended together; what else is missed stands against what opposes it
    most. Nothing is returned where more than one thing moves.
    """
    rows = piece.network.bounds.rows
    ends = [piece.estimate.freedom.contract(terms) for terms in rows.pick(group).terms()]
    nodes = sorted({node for one in ends for node in one})
    if not 1 <= len(nodes) <= 2 or len(rows) > PAIRED_BOUNDS_MAX:
        return []
    kinds: dict[str, tuple[list[Limit], list[Limit]]] = {}
    value, bounds = rows.of(piece.x), piece.network.bounds
    for number, terms in enumerate(rows.terms()):
        moves = {} if bounds.hard[number] else piece.estimate.freedom.contract(terms)
        if not moves or not set(moves) <= set(nodes) or (len(nodes) == 2 and sum(moves.values()) != 0):
            continue
        per = float(moves[nodes[0]] if nodes[0] in moves else -moves[nodes[1]])
        low, high = kinds.setdefault(_kind(solved, piece, number), ([], []))
        for side, bound in ((-1, bounds.low[number]), (1, bounds.high[number])):
            if np.isfinite(bound):
                limit = Limit(number, side, (float(bound) - float(value[number])) / per, per)
                (low if (side < 0) == (per > 0) else high).append(limit)
    return _paired(kinds, set(group.tolist()))


def _paired(kinds: dict[str, tuple[list[Limit], list[Limit]]], missed: set[int]) -> list[tuple[Limit, Limit]]:
    """The pairs that contradict each other, and none of what is missed left out."""
    every = ([one for low, _ in kinds.values() for one in low], [one for _, high in kinds.values() for one in high])
    found = []
    for low, high in kinds.values():
        if low and high:
            pair = max(low, key=lambda one: one.at_mm), min(high, key=lambda one: one.at_mm)
            if pair[0].at_mm - pair[1].at_mm > NEGLIGIBLE and missed & {one.bound for one in pair}:
                found.append(pair)
    named = {one.bound for pair in found for one in pair}
    for one in sorted((*every[0], *every[1]), key=lambda one: one.bound):
        if one.bound not in missed - named:
            continue
        lower = one in every[0]
        other = min(every[1], key=lambda two: two.at_mm) if lower else max(every[0], key=lambda two: two.at_mm)
        pair = (one, other) if lower else (other, one)
        if pair[0].at_mm - pair[1].at_mm > NEGLIGIBLE:
            found.append(pair)
            named |= {one.bound, other.bound}
    return found


def _kind(solved: Solved, piece: Piece, bound: int) -> str:
    source = solved.graph.bounds[int(piece.chosen["bounds"][bound])]
    if source.kind in ("contact", "gap"):
        return str(solved.assembly.contacts[source.number].kind)
    return str(source.kind)


def _of_pair(solved: Solved, piece: Piece, pair: tuple[Limit, Limit]) -> ContradictionFinding | None:
    """Two facts against each other; None where they are no further apart than their U."""
    apart = pair[0].at_mm - pair[1].at_mm
    weight = np.zeros(len(piece.network.bounds.rows))
    weight[pair[0].bound] += 1.0 / pair[0].per_mm
    weight[pair[1].bound] -= 1.0 / pair[1].per_mm
    influence = piece.facts.influence(_on_marks(piece.network.bounds.rows, weight, len(piece.network)))
    if apart <= 2 * float(np.linalg.norm(influence)):
        return None
    demands = []
    for one in pair:
        source = solved.graph.bounds[int(piece.chosen["bounds"][one.bound])]
        demands.append(Demand(source.kind, source.number, source.part, one.side, one.side * apart / 2))
    return ContradictionFinding(tuple(demands), _log_rows(solved, piece, influence), True, apart)


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
            if source.kind == "slope":
                missed /= solved.assembly.slopes[source.number].of
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
