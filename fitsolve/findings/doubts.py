"""Doubts: each reading held against all the others, and against the plan where nothing else checks it.

A reading whose standardised residual passes the two-sided critical value is suspect; where
several pass, all are named, for any of them could be the culprit. The error it would have to
hold is residual / redundancy. A reading that nothing checks (redundancy 0) is only screened:
where the plan says how far its marks are apart, more off plan than cuts ever miss by is called a
slip. Nothing is thrown out.

Source: W. Baarda, A testing procedure for use in geodetic networks (1968, from memory):
alpha 0.001 two-sided gives 3.2905.
"""

from __future__ import annotations

from fitsolve.findings.slips import CRITICAL, far_off_plan
from fitsolve.findings.solved import Solved
from fitsolve.findings.values import Doubt
from fitsolve.solve.pieces import Piece, residuals

__all__ = ["CRITICAL", "doubts"]


def doubts(solved: Solved) -> tuple[Doubt, ...]:
    """One entry a reading that counts, in the order of the log."""
    found = [doubt for piece in solved.pieces for doubt in _piece_doubts(solved, piece)]
    return tuple(sorted(found, key=lambda doubt: doubt.row))


def _piece_doubts(solved: Solved, piece: Piece) -> list[Doubt]:
    rows = piece.chosen["measured"]
    if len(rows) == 0:
        return []
    checked = residuals(piece)
    found = []
    for k, row in enumerate(rows.tolist()):
        source = solved.graph.measured[row]
        if source.kind != "reading":
            continue
        reading = solved.state.readings[source.number]
        way = -1.0 if reading.value_mm < 0 else 1.0
        residual, redundancy = float(checked.residual_mm[k]), float(checked.redundancy[k])
        w = float(checked.standardised[k])
        if redundancy > 0:
            suspect = abs(w) > CRITICAL
            would_be = way * (reading.value_mm + residual / redundancy)
        else:
            off = abs(float(piece.network.measured.value[k]))
            tied = len({solved.assembly.placed[mark] for mark, _ in reading.terms}) == 1
            screened = tied or not reading.across
            suspect = screened and far_off_plan(off, reading.u_mm, solved.assembly.workmanship_mm)
            would_be = None
        found.append(
            Doubt(
                reading.no,
                reading.start,
                reading.end,
                reading.tool,
                reading.shown_mm,
                way * residual,
                way * w if redundancy > 0 else None,
                redundancy,
                suspect,
                would_be,
            )
        )
    return found
