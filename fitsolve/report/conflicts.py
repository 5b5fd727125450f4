"""Conflicts on a screen: each in full, but for those of one fit of made wood where there are several of them: JOINTS
tells what to do about it, so of these it is said once, with their parts and by how much.

Not here: the words of one conflict (demands), conflicts that follow from what is not to be believed (doubtwords).
"""

from __future__ import annotations

from fitsolve.findings.values import ContradictionFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.naming import rows_listed, words_of
from fitsolve.report.screen import Block, Line


def conflict_blocks(found: Reconciliation) -> list[Block]:
    """Return what cannot all be had, as blocks."""
    if not found.conflicts:
        return []
    from fitsolve.report.demands import contradiction_text

    alone = [one for one in found.conflicts if _one_fit(found, one)]
    alone = alone if len(alone) > 1 else []
    texts = [contradiction_text(found, one) for one in found.conflicts if one not in alone]
    if alone:
        each = (f"{_who(found, one)}{f' ({rows_listed(one.rows)})' if one.rows else ''}" for one in alone)
        texts.append(f"These can't go together as they are made, see JOINTS: {'; '.join(each)}.")
    return [Block("CONFLICT", (Line(text, hang=0),), "bold red") for text in texts]


def _one_fit(found: Reconciliation, one: ContradictionFinding) -> bool:
    """Whether it is about one fit of made wood, which is told of under JOINTS."""
    if not one.facts or {demand.kind for demand in one.demands} - {"contact", "gap"}:
        return False
    numbers = {demand.number for demand in one.demands}
    if len(numbers) != 1:
        return False
    joint = found.joint_of[found.assembly.contacts[next(iter(numbers))].joint]
    return any(own.number in numbers and own.verdict in ("tight", "proud") for own in joint.contacts)


def _who(found: Reconciliation, one: ContradictionFinding) -> str:
    """The parts, and by how much they miss: `leg.fl and long.front, by 0.27 mm`."""
    from fitsolve.report.demands import conflict_parts

    parts = words_of(sorted(conflict_parts(found, one)))
    return f"{parts}, by {Measures.of(found.assembly).clearance(one.amount_mm)}"
