"""Tool errors: what the readings tell of the errors that all readings of a tool share.

A zero (mm) or a scale (mm in a metre) is an unknown like a position, with a row of its own that
says 0 give or take what the maker gives it. Estimated with the sizes, it is told when

    |estimate| > 2 u        what it is beyond doubt (k = 2), and
    u < NARROWED u_given    the readings have really narrowed it down.

Not here: words (report).
"""

from __future__ import annotations

import numpy as np

from fitsolve.findings.solved import Solved
from fitsolve.findings.values import ToolError

NARROWED = 0.8
"""An uncertainty not below this share of what was given says what was given: the readings can't tell."""


def tool_errors(solved: Solved) -> tuple[ToolError, ...]:
    """One entry for each error that the readings of a tool share."""
    told = next((piece.shared.told for piece in solved.pieces if piece.shared is not None), None)
    if told is None:
        return ()
    found = []
    u_found = np.sqrt(np.square(told.root).sum(axis=1))
    for shared, error, u in zip(solved.graph.shared, told.value.tolist(), u_found.tolist(), strict=True):
        sure = abs(error) > 2 * u and u < NARROWED * shared.u
        found.append(ToolError(shared.tool, shared.term, error, 2 * u, 2 * shared.u, sure))
    return tuple(found)
