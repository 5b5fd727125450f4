"""Pegs: where the tenon's hole goes, and whether the peg will draw the shoulder up.

In the assembled piece the tenon's hole lies nearer to the shoulder than the mortise's by

    offset = w (x[hole] - x[tenon hole]),

the draw, what the two holes are off, and what the shoulder stands open there: a rail too long for
its frame or a shoulder that stands off moves the tenon's hole out with it. A peg draws while the
offset is more than 0 and no more than its taper can find: a quarter of its diameter (common
practice, no source).

A hole pricked through the mortise with the shoulder a gap g off is moved by draw + g toward the shoulder.

A tenon that is glued in and of whose hole nobody said that it is bored can't be bored by itself any more: whether
its peg draws can't be told.
"""

from __future__ import annotations

import numpy as np

from fitsolve.build.assembly import Peg
from fitsolve.build.state import MarkState
from fitsolve.findings.solved import Solved, Terms, rows_of
from fitsolve.findings.values import PegFinding, PegVerdict
from fitsolve.solve.judge import Side, judge

MOST_OF_DIAMETER = 0.25
"""The most that a tapered peg is asked to find, of its diameter: common practice, no source."""

WORDS: dict[Side, PegVerdict] = {
    "in": "draws",
    "low": "does not draw",
    "high": "draws too much",
    "unsure": "can't tell",
}


def peg_findings(solved: Solved) -> tuple[PegFinding, ...]:
    """Return every peg: where its tenon's hole is laid out, and a verdict on its offset."""
    return tuple(_finding(solved, peg) for peg in solved.assembly.pegs)


def _finding(solved: Solved, peg: Peg) -> PegFinding:
    marks, states = solved.assembly.marks, solved.state.marks
    way = float(peg.way)
    known = all(states[mark] == MarkState.MADE for mark in (peg.hole, peg.face))
    shut = peg.tenon_hole in shut_in(solved)
    offset = _sum(solved, [(peg.hole, way), (peg.tenon_hole, -way)])
    most = MOST_OF_DIAMETER * peg.diameter_mm
    chance, verdict = None, WORDS["unsure"]
    if known and offset is not None and not shut:
        judged = judge(offset[0], offset[1] / 2, 0.0, most)
        chance, verdict = judged.chance, WORDS[judged.side]
    own = [(peg.tenon_hole, way), (peg.shoulder, -way)]
    return PegFinding(
        solved.assembly.joints[peg.joint].name,
        marks[peg.hole].name,
        marks[peg.tenon_hole].name,
        marks[peg.shoulder].name,
        marks[peg.face].name,
        peg.diameter_mm,
        peg.draw_mm,
        _sum(solved, own),
        _gap(solved, peg),
        offset,
        most,
        chance,
        verdict,
        states[peg.tenon_hole] == MarkState.MADE,
        known and _read(solved, peg),
        shut,
    )


def shut_in(solved: Solved) -> frozenset[int]:
    """The tenons' holes, by mark, that are not bored though their joint is closed for good."""
    state = solved.state
    glued = (peg for peg in solved.assembly.pegs if state.closed.get(peg.joint) == "glued")
    return frozenset(peg.tenon_hole for peg in glued if state.marks[peg.tenon_hole] != MarkState.MADE)


def _gap(solved: Solved, peg: Peg) -> tuple[float, float] | None:
    """What the shoulder stands off, where that was read while the joint was open."""
    pair = {peg.shoulder, peg.face}
    read = any(len(r.terms) == 2 and {mark for mark, _ in r.terms} == pair for r in solved.state.readings)
    if not read:
        return None
    way = float(peg.way)
    return _sum(solved, [(peg.face, way), (peg.shoulder, -way)])


def _read(solved: Solved, peg: Peg) -> bool:
    """Whether readings settle how far the mortise's hole lies from its face."""
    terms = [(peg.hole, 1.0), (peg.face, -1.0)]
    piece = solved.piece(terms)
    return piece is not None and piece.read.settled(solved.inside(terms))


def _sum(solved: Solved, terms: Terms) -> tuple[float, float] | None:
    """A sum and its U (k = 2): within a part of the advice, else of the finished piece."""
    piece = solved.piece(terms)
    if piece is None or not piece.fixed(solved.inside(terms)):
        return None
    if solved.of_one_part(terms):
        u = float(np.sqrt(piece.advice.variance(rows_of([solved.inside(terms)])))[0])
    else:
        u = solved.u_finished(piece, terms)
    return solved.value_mm(terms), 2 * u
