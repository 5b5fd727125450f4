"""Unfixed: what is said of a distance that nothing settles, and the reading that would.

Two marks are settled where the rows tie them. Where they are not, the marks hang together with two
different lots of wood, which can shift against each other along that axis:

    both are there           a reading between the two lots settles it; where a joint that is still open
                             brings them together, closing it does as well
    one is still to be cut   it comes with what it is cut to fit: first the wood that is there, then it
    nothing brings them      no joint, no keep: the plan itself leaves it open

Not here: which distances are settled (solve).
"""

from __future__ import annotations

from fitsolve.build.history import MarkState
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.naming import span_named, words_of


def unfixed_text(found: Reconciliation, start: str, end: str) -> str:
    """Return what would fix the distance between two marks, by their whole names, as a sentence."""
    assembly, states = found.assembly, found.state.marks
    first, second = assembly.index[start], assembly.index[end]
    parts = list(dict.fromkeys(assembly.marks[mark].part for mark in (first, second)))
    axis = assembly.marks[first].axis
    whose = f"how {words_of(parts)} stand to each other along {axis}" if len(parts) > 1 else f"it along {axis}"
    uncut = [mark for mark in (first, second) if states[mark] != MarkState.MADE]
    if uncut and assembly.placed[first] != assembly.placed[second]:
        return f"nothing fixes {whose}: no joint and no keep of the plan does"
    if uncut:
        names = words_of(list(dict.fromkeys(assembly.marks[mark].part for mark in uncut)))
        return f"nothing fixes {whose}: that comes with cutting {names}"
    joints = [assembly.joints[number] for number in assembly.joints_of[parts[0]] if number not in found.state.closed]
    joint = next((one.name for one in joints if set(parts) <= set(one.parts)), "")
    close = f", or close {joint}" if joint and len(parts) > 1 else ""
    return f"nothing fixes {whose}: read {span_named(assembly, start, end)}{close}"
