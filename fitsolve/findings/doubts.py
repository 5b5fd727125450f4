"""Doubts: each reading held against all the others, and against the plan where nothing else checks it.

A reading whose standardised residual passes the two-sided critical value is suspect; where
several pass, all are named, for any of them could be the culprit. The error it would have to
hold is residual / redundancy. A reading that nothing checks (redundancy 0) is only screened:
on one part, more off plan than cuts ever miss by is called a slip. Nothing is thrown out.

Source: W. Baarda, A testing procedure for use in geodetic networks (1968, from memory):
alpha 0.001 two-sided gives 3.2905.
"""

from __future__ import annotations

import math

from fitsolve.findings.solved import Solved
from fitsolve.findings.values import Doubt
from fitsolve.solve.pieces import Piece, residuals

CRITICAL = 3.2905
"""Two-sided critical value of a standardised residual at alpha = 0.001."""

SLIP_MM = 6.0
"""Off plan by more than this (and far beyond workmanship), an unchecked reading is screened as a
slip: wood comes out a little off plan, not a quarter of an inch. Common practice, no source."""


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
            suspect = not reading.across and _slipped(off, reading.u_mm, solved.assembly.workmanship_mm / 2)
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


def _slipped(off_mm: float, u_mm: float, u_workmanship_mm: float) -> bool:
    return off_mm > max(SLIP_MM, CRITICAL * math.hypot(u_mm, u_workmanship_mm))
