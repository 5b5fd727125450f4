"""Causes: which readings a number rests on, and what a reading moves.

An answer v (a sum over marks) is linear in the rows that went into it, as long as the same
limits press. With i_k = dv per unit error of row k, s_k its standard uncertainty and r_k its
value less the plan,

    variance of v        sum of i_k^2            so i_k^2 over the sum is its share
    deviation of v       sum of i_k r_k / s_k    plus what fits and limits add; i_k r_k / s_k is
                                                 what row k contributes
    moved by an error e  i_k e / s_k

Not here: words (report).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fitsolve.build.history import MarkState
from fitsolve.findings.solved import Solved, Terms
from fitsolve.findings.values import Doubt
from fitsolve.graph import Source, distance_terms
from fitsolve.rows import Floats
from fitsolve.solve.covariance import DenseErrors, Errors, SparseErrors
from fitsolve.solve.pieces import Piece


@dataclass(frozen=True, slots=True)
class Share:
    """How much of a variance one thing brings in. `kind` is "reading" (`number` is its row in the
    log), "contact", "distance", "station" or "run" (numbers in the assembly), or "cut"."""

    kind: str
    number: int
    share: float


@dataclass(frozen=True, slots=True)
class Moved:
    """What a reading would move if it were wrong: parts still to be cut, those it moves and those not."""

    parts: tuple[str, ...]
    others: tuple[str, ...]


def _weights(solved: Solved, piece: Piece, terms: Terms) -> Floats:
    inside = solved.inside(terms)
    return np.bincount([mark for mark, _ in inside], [coef for _, coef in inside], len(piece.network))


def shares(solved: Solved, terms: Terms) -> list[Share]:
    """Return what the variance of a sum in the finished piece is made of, the largest share first."""
    piece = solved.piece(terms)
    if piece is None:
        return []
    influence = piece.outlook.errors.influence(_weights(solved, piece, terms))
    total = float(influence @ influence)
    if total <= 0.0:
        return []
    part = influence**2 / total
    sources = _sources(solved, piece)
    found = [Share(*_named(solved, s), float(p)) for s, p in zip(sources, part, strict=False) if p > 0]
    cut = float(part[len(sources) :].sum())
    if cut > 0:
        found.append(Share("cut", 0, cut))
    return sorted(found, key=lambda one: -one.share)


def _sources(solved: Solved, piece: Piece) -> list[Source]:
    """Where the rows of the two noisy stages come from, in the order of the errors."""
    graph = solved.graph
    measured = [graph.measured[k] for k in piece.chosen["measured"].tolist()]
    return measured + [graph.planned[k] for k in piece.chosen["planned"].tolist()]


def _named(solved: Solved, source: Source) -> tuple[str, int]:
    if source.kind == "reading":
        return "reading", solved.state.readings[source.number].no
    return source.kind, source.number


def contributions(solved: Solved, terms: Terms) -> list[tuple[int, float]]:
    """Return what each reading (by its row) adds to a chosen sum's deviation from plan, in mm, the
    largest first. For large pieces nothing: it would cost a solution for each sum."""
    piece = solved.piece(terms)
    if piece is None or not isinstance(piece.advice, DenseErrors):
        return []
    rows = piece.network.measured
    influence = piece.advice.influence(_weights(solved, piece, terms))[: len(rows)]
    adds = influence * rows.value / rows.scale
    found = []
    for row, amount in zip(piece.chosen["measured"].tolist(), adds.tolist(), strict=True):
        source = solved.graph.measured[row]
        if source.kind == "reading":
            found.append((solved.state.readings[source.number].no, amount))
    return sorted(found, key=lambda one: -abs(one[1]))


def _response(errors: Errors, k: int) -> Floats:
    """How all marks (n,) move with a unit error of row k of the first stage."""
    if isinstance(errors, DenseErrors):
        return np.asarray(errors.maps[:, k])
    assert isinstance(errors, SparseErrors)
    system = errors.system
    if system.matrix.shape[0] == 0:
        return np.zeros(system.coordinates.shape[0])
    from scipy.sparse.linalg import splu

    moved = splu(system.matrix).solve(system.noise[:, [k]].toarray())
    return np.asarray(system.coordinates @ moved).ravel()


def moved_by(solved: Solved, doubt: Doubt, least_mm: float) -> Moved:
    """Return which parts with uncut marks a suspect reading moves by more than `least_mm`.

    Taken is the error it would have to hold; where nothing checks it, all it is off plan.
    """
    uncut = [k for k, d in enumerate(solved.assembly.distances) if _has_uncut(solved, d.start, d.end)]
    waiting = dict.fromkeys(solved.assembly.distances[k].part for k in uncut)
    piece, row = _row_of(solved, doubt.row)
    if piece is None:
        return Moved((), tuple(waiting))
    measured = piece.network.measured
    if doubt.would_be_mm is None:
        error = abs(float(measured.value[row]))
    else:
        error = abs(doubt.would_be_mm - doubt.reading_mm)
    x = np.zeros(len(solved.piece_of))
    x[piece.marks] = _response(piece.advice, row) * error / float(measured.scale[row])
    moved = dict.fromkeys(
        solved.assembly.distances[k].part
        for k in uncut
        if abs(_sum(x, distance_terms(solved.assembly.distances[k]))) > least_mm
    )
    return Moved(tuple(moved), tuple(part for part in waiting if part not in moved))


def _has_uncut(solved: Solved, start: int, end: int) -> bool:
    marks = solved.state.marks
    return marks[start] != MarkState.MADE or marks[end] != MarkState.MADE


def _sum(x: Floats, terms: Iterable[tuple[int, float]]) -> float:
    return float(sum(coef * x[mark] for mark, coef in terms))


def _row_of(solved: Solved, no: int) -> tuple[Piece | None, int]:
    """The piece in which a reading stands, and its number among the piece's measured rows."""
    for piece in solved.pieces:
        for k, row in enumerate(piece.chosen["measured"].tolist()):
            source = solved.graph.measured[row]
            if source.kind == "reading" and solved.state.readings[source.number].no == no:
                return piece, k
    return None, -1


def piece_of_row(solved: Solved, no: int) -> int:
    """Return the number of the piece in which a reading of the log stands, -1 for none."""
    for reading in solved.state.readings:
        if reading.no == no:
            return int(solved.piece_of[reading.terms[0][0]])
    return -1
