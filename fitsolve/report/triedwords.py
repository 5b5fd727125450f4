"""What cannot be had with a change that is tried, beside what cannot be had without it.

    new            a conflict of which no other is without the change: told whole
    as before      the same demands: only counted, and where one comes to another amount, by which
    gone           one that the change does away with: counted
    following      new, but only because of something not to be believed: counted

The same are those of which every demand asks for the same, wherever it is written.

Not here: the words of one conflict (demands).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fitsolve.findings.values import ContradictionFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.demands import contradiction_text, demand_said
from fitsolve.report.measures import Measures
from fitsolve.report.naming import counted
from fitsolve.report.turnedwords import turned_sets, turned_text

Key = tuple[bool, frozenset[str]]


def conflict_key(found: Reconciliation, one: ContradictionFinding) -> Key:
    """What a conflict is told from others by, with a change and without."""
    return one.facts, frozenset(demand_said(found, demand) for demand in one.demands)


def brought_about(here: Reconciliation, tried: Reconciliation) -> tuple[bool, ...]:
    """Whether a change brings each conflict about that there is with it."""
    before = {conflict_key(here, one) for one in here.contradictions}
    return tuple(conflict_key(tried, one) not in before for one in tried.contradictions)


def tried_conflicts(here: Reconciliation, tried: Reconciliation) -> Iterator[str]:
    """Yield what is to be said of conflicts, those that the change brings about first."""
    before = {conflict_key(here, one): one for one in here.contradictions}
    after = {conflict_key(tried, one): one for one in tried.contradictions}
    new = [one for key, one in after.items() if key not in before]
    told = [one for one in new if one in tried.conflicts]
    yield from (f"with the change: {contradiction_text(tried, one)}" for one in told)
    was = {(one.start, one.end) for one in here.turned}
    turned = [one for one in tried.turned if (one.start, one.end) not in was]
    yield from (f"with the change: {turned_text(tried, *some)}" for some in turned_sets(tried, turned))
    if len(new) > len(told):
        yield f"with the change {_more(len(new) - len(told))} from what stands under STOP: fitsolve sizes."
    kept = [(before[key], one) for key, one in after.items() if key in before]
    stay = len(kept) + len(tried.turned) - len(turned)
    gone = len(before) - len(kept) + len(was - {(one.start, one.end) for one in tried.turned})
    if stay:
        yield f"{_stands(stay)} as without the change{_other_amounts(here, kept)}: fitsolve sizes."
    if gone:
        yield f"{counted(gone, 'CONFLICT')} of fitsolve sizes {'is' if gone == 1 else 'are'} gone with the change."


def _more(count: int) -> str:
    return f"{counted(count, 'CONFLICT')} more {'follows' if count == 1 else 'follow'}"


def _stands(count: int) -> str:
    return f"{counted(count, 'CONFLICT')} {'stands' if count == 1 else 'stand'}"


def _other_amounts(
    here: Reconciliation, kept: Iterable[tuple[ContradictionFinding, ContradictionFinding]]
) -> str:
    """Of conflicts that stay, by how much each now is where that is another amount: `, by 0.25 mm, not 0.30 mm`."""
    measures = Measures.of(here.assembly)
    amounts = ((measures.clearance(one.amount_mm), measures.clearance(other.amount_mm)) for one, other in kept)
    said = [f"by {new}, not {old}" for old, new in amounts if old != new]
    return f", {'; '.join(said)}" if said else ""
