"""Shape in words: where the wood stands otherwise at a station than its plain marks do.

    SHAPE  #114 stile.l.inner@foot..stile.r.inner@foot, 702 by tape: 1.62 mm more than goes with
           stile.l.inner..stile.r.inner, 700.38, ± 0.27, by what else was read. ...
"""

from __future__ import annotations

from fitsolve.findings.values import Bent
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.naming import span_named, words_of

JUDGED_MOST = 4


def bent_text(found: Reconciliation, one: Bent) -> str:
    """What does not go together, what it may be, and what is judged without it."""
    measures, assembly = Measures.of(found.assembly), found.assembly
    plain = span_named(assembly, one.plain_start, one.plain_end)
    way = "more" if one.off_mm > 0 else "less"
    lead = (
        f"#{one.row} {span_named(assembly, one.start, one.end)}, {measures.exact(one.reading_mm)} by {one.tool}: "
        f"{measures.clearance(abs(one.off_mm))} {way} than goes with {plain}, which is "
        f"{measures.full(one.plain_mm)}, {measures.u(one.expanded_mm)}, by what else is read."
    )
    more = [f"{len(one.judged) - JUDGED_MOST} more"] if len(one.judged) > JUDGED_MOST else []
    names = words_of([*one.judged[:JUDGED_MOST], *more])
    judged = f" {names} {'is' if len(one.judged) == 1 else 'are'} judged at the plain marks." if names else ""
    if one.again:
        return f"{lead} It was read twice alike: the wood is bent or leans there.{judged}"
    return (
        f"{lead} One of them is wrong, or the wood is bent or leans there: read both again; read twice alike it is "
        f"taken for the shape of the wood.{judged}"
    )


def bent_waits(found: Reconciliation) -> dict[str, str]:
    """The parts still to be cut that the plain marks would move, each with what is to be read again first."""
    waits: dict[str, list[str]] = {}
    for one in found.bent:
        for part in one.moved:
            waits.setdefault(part, []).append(f"#{one.row}")
    return {part: f"read {words_of(rows)} again first, see SHAPE" for part, rows in waits.items()}
