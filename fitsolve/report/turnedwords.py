"""Turned words: what is said of marks that would change sides, for no piece can be cut so.

What turns one distance of a part around turns those beside it: three or more along one axis are one
thing to settle, told by the worst of them.

Not here: which they are (reconciliation), that their part waits (waits).
"""

from __future__ import annotations

from collections.abc import Iterable

from fitsolve.findings.values import DistanceFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.doubtwords import suspect_groups
from fitsolve.report.measures import Measures
from fitsolve.report.naming import counted, inside, words_of

_ONE_BY_ONE_MOST = 2
Turned = list[DistanceFinding]


def turned_sets(found: Reconciliation, some: Iterable[DistanceFinding] | None = None) -> list[Turned]:
    """The distances that would be turned around, or some of them, in sets that are told at once, the worst first."""
    along: dict[tuple[str, str, bool], Turned] = {}
    for one in found.turned if some is None else some:
        along.setdefault((one.part, one.axis, one.state == "made"), []).append(one)
    sets: list[Turned] = []
    for members in along.values():
        if len(members) <= _ONE_BY_ONE_MOST:
            sets += [[one] for one in members]
        else:
            sets.append(sorted(members, key=_size))
    return sets


def turned_count(found: Reconciliation) -> int:
    """How many things to settle they are. What a doubted reading turns of made wood goes with the doubt."""
    turned = found.turned
    made = sum(one.state == "made" for one in turned)
    if made > 1 and suspect_groups(found):
        turned = tuple(one for one in turned if one.state != "made")
    return len(turned_sets(found, turned))


def turned_texts(found: Reconciliation) -> list[str]:
    """What is said of marks that would change sides. Where a reading is doubted, it may well be what turns made
    wood around: that is said once, and not of each distance."""
    alone, follow = found.turned, list[DistanceFinding]()
    if suspect_groups(found):
        follow = [one for one in found.turned if one.state == "made"]
        alone = tuple(one for one in found.turned if one.state != "made")
    texts = [turned_text(found, *some) for some in turned_sets(found, alone)]
    if len(follow) < 2:
        return texts + [turned_text(found, one) for one in follow]
    worst = min(follow, key=_size)
    parts = words_of(list(dict.fromkeys(one.part for one in follow)))
    return [
        *texts,
        f"{len(follow)} distances of {parts} come out the other way round than they can lie, {worst.part} "
        f"{'..'.join(_ends(found, worst))} by the most. One of the readings is wrong: settle what stands under STOP "
        "first.",
    ]


def turned_text(found: Reconciliation, one: DistanceFinding, *less: DistanceFinding) -> str:
    """Two marks that would change sides, and how many more of the part with them: `apron end..left is 6 in plan, but
    left would have to lie 3 in on ...`."""
    measures = Measures.of(found.assembly)
    start, end = _ends(found, one)
    unit = f" {measures.unit}" if measures.marks_unit else ""
    past = f"{measures.size(abs(one.size_mm or 0.0))}{unit}"
    lead = f"{one.part} {start}..{end} is {measures.exact(one.plan_mm)} in plan, but"
    more = f"; and so with {counted(len(less), 'distance')} more along {one.axis}" if less else ""
    if one.state == "made":
        lies = f"by what is read {end} lies {past} on the other side of {start}{more}"
        return f"{lead} {lies}. {'Settle STOP first' if found.odd_cuts else 'One of the readings is wrong'}."
    if found.odd_cuts:
        return f"{lead} {end} would have to lie {past} on the other side of {start}{more}. Settle STOP first."
    why = "Is a reading wrong?" if found.state.readings else "Is a size, a keep or a joint of the plan wrong?"
    return (
        f"{lead} {end} would have to lie {past} on the other side of {start}{more}: no such piece can be cut. "
        f"{why} Else {one.part} needs another length."
    )


def _size(one: DistanceFinding) -> float:
    """The size, which is below 0: the least is the worst."""
    return one.size_mm or 0.0


def _ends(found: Reconciliation, one: DistanceFinding) -> tuple[str, str]:
    marks, index = found.assembly.marks, found.assembly.index
    return inside(marks[index[one.start]]), inside(marks[index[one.end]])
