"""Reference ends: the mark that the others of a part are laid out from, along each axis.

It is the first mark of the longest run. All figures run from it with one tape, so that errors
do not add up from mark to mark. Where it is still to be cut though others are made, they run from the
made mark nearest to it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fitsolve.build.assembly import Assembly


def reference_ends(assembly: Assembly) -> Mapping[tuple[str, str], int]:
    """Return the reference end of each (part, axis) as a mark's number."""
    return assembly.reference_ends


def start_of(assembly: Assembly, there: Sequence[int], end: int) -> int:
    """Where figures run from on a part: its reference end, if that is made (`there` are its marks that are) or if
    none is; else the made mark nearest to it."""
    if end in there or not there:
        return end
    marks = assembly.marks
    return min(there, key=lambda mark: round(abs(marks[mark].plan_mm - marks[end].plan_mm), 6))
