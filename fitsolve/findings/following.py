"""Following: contradictions that are there only because of something not to be believed.

    what is doubted   the worst of each thing that stands out, and each reading that only the plan speaks against
    left out          the same build without it: a reading without its row, a closed contact as if its gap were open,
                      a size said of a cut as if it were cut to plan
    follows           a contradiction whose demands then stand in none, or in such as are less than a quarter as large:
                      what little is left is told once the rest is settled

Each is left out by itself, as long as they are few; what follows only from several is asked with all of them left
out. Nothing is mended by that: it tells which of many things to settle first.

Not here: what is doubted (doubts), words (report).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fitsolve.findings.contradictions import contradiction_findings
from fitsolve.findings.moved import cut_to_plan
from fitsolve.findings.solved import Solved, solved
from fitsolve.findings.values import ContradictionFinding, Following, Suspect
from fitsolve.graph import make_graph
from fitsolve.light import replace
from fitsolve.solve.pieces import solve_network

LITTLE = 0.25
"""What is left of a contradiction where it follows: less than this share. Our own choice."""

SUSPECTS_MOST = 2
"""So many are left out one by one; of more only all together."""

MARKS_MAX = 2000
"""In a build of more marks it is not asked: it would take as long as the answer itself, again and again."""


def following(
    whole: Solved, contradictions: Sequence[ContradictionFinding], suspects: Sequence[Suspect]
) -> tuple[Following, ...]:
    """Return which contradictions follow from which suspects, each by its place among them."""
    if not contradictions or not suspects or len(whole.graph.network) > MARKS_MAX:
        return ()
    left = set(range(len(contradictions)))
    found = []
    for number, who in enumerate(suspects) if len(suspects) <= SUSPECTS_MOST else ():
        if left and (gone := left & _follow(whole, contradictions, [who])):
            found.append(Following((number,), tuple(sorted(gone))))
            left -= gone
    if left and len(suspects) > 1 and (gone := left & _follow(whole, contradictions, suspects)):
        rows = {row for k in gone for row in contradictions[k].rows}
        named = [k for k, who in enumerate(suspects) if who.kind != "reading" or who.number in rows]
        found.append(Following(tuple(named or range(len(suspects))), tuple(sorted(gone))))
    return tuple(found)


def _follow(whole: Solved, contradictions: Sequence[ContradictionFinding], out: Sequence[Suspect]) -> set[int]:
    """The contradictions, by their places, of which little or nothing is left without what is doubted."""
    readings = {who.number for who in out if who.kind == "reading"}
    contacts = {who.number for who in out if who.kind == "contact"}
    state = cut_to_plan(whole.state, {who.number for who in out if who.kind == "cut"})
    state = replace(
        state,
        readings=tuple(one for one in state.readings if one.no not in readings),
        gap_read=state.gap_read | contacts,
    )
    graph = make_graph(whole.assembly, state)
    still: dict[tuple[str, int, int, int], float] = {}
    for one in contradiction_findings(solved(whole.assembly, state, graph, solve_network(graph.network))):
        for key in _keys(one):
            still[key] = max(still.get(key, 0.0), one.amount_mm)
    return {
        k
        for k, one in enumerate(contradictions)
        if max((still.get(key, 0.0) for key in _keys(one)), default=0.0) < LITTLE * one.amount_mm
    }


def _keys(one: ContradictionFinding) -> Iterable[tuple[str, int, int, int]]:
    return ((demand.kind, demand.number, demand.part, demand.side) for demand in one.demands)
