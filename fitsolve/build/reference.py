"""Reference ends: the mark that the others of a part are laid out from, along each axis.

It is the first mark of the longest run. All figures run from it with one tape, so that errors
do not add up from mark to mark.
"""

from __future__ import annotations

from fitsolve.build.assembly import Assembly


def reference_ends(assembly: Assembly) -> dict[tuple[str, str], int]:
    """Return the reference end of each (part, axis) as a mark's number."""
    longest: dict[tuple[str, str], tuple[float, int]] = {}
    for run in assembly.runs:
        if not run:
            continue
        first, last = assembly.marks[run[0]], assembly.marks[run[-1]]
        length = abs(last.plan_mm - first.plan_mm)
        key = (first.part, first.axis)
        if key not in longest or length > longest[key][0] + 1e-9:
            longest[key] = (length, run[0])
    ends = {key: mark for key, (_, mark) in longest.items()}
    for number, mark in enumerate(assembly.marks):
        ends.setdefault((mark.part, mark.axis), number)
    return ends
