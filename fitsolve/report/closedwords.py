"""Closed words: what can still be done about a joint that is closed and yet misses its fit.

Dry, it is opened, and the remedy is that of an open one. Glued, wood and joint stay as they are: what shows can be
filled, with a slip or a thin wedge along the grain (common practice, no source). The sizes lose nothing by it, for
they reckon with the joint as it stands, the play of it as doubt. Whether it holds is not judged here.

Not here: by how much it misses (fitwords), joints that are only to be closed (closing).
"""

from __future__ import annotations

from fitsolve.build.assembly import Contact
from fitsolve.findings.values import ContactFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.remedies import amount_text, reaching_end, sides

_AS_IT_IS = "the sizes reckon with it as it stands; whether it holds is not judged here"


def closed_remedy(found: Reconciliation, contact: Contact, one: ContactFinding) -> str:
    """Return what to do about a closed contact beyond its fit: `glued: fill what shows with a slip ...`."""
    glued = found.state.closed.get(contact.joint) == "glued"
    if contact.kind == "room":
        return _room(found, contact, one, glued)
    if contact.kind == "butt":
        if glued:
            return f"Glued: fill the line with a slip and pare it flush, or leave it. Nothing else is lost: {_AS_IT_IS}"
        return "Dry: open it and pare what holds the shoulder off"
    if glued:
        return f"Glued: wedge or fill what shows with thin slips, or leave it. Nothing else is lost: {_AS_IT_IS}"
    part = found.assembly.marks[sides(found, contact)[0][0]].part
    return f"Dry: open it, glue a veneer on {part} and plane it to fit, or remake {part}"


def _room(found: Reconciliation, contact: Contact, one: ContactFinding, glued: bool) -> str:
    """Room that is more than wanted does no harm; an end that stands out is sawn even now; what stands in a room that
    is too little is sawn while the joint can be opened."""
    assert one.clearance_mm is not None
    measures, over = Measures.of(found.assembly), one.clearance_mm > one.most_mm
    end = reaching_end(found, contact)
    if end is not None:
        mark = found.assembly.marks[end]
        if over:
            amount = amount_text(measures, one.clearance_mm - one.most_mm, one.clearance_mm - one.aim_mm)
            return f"Saw {amount} off {mark.name}, closed as it is"
        return f"{mark.name} does not reach so far: " + ("leave it" if glued else f"remake {mark.part}, or leave it")
    if over:
        return "Room to spare: nothing is lost"
    if glued:
        return "Glued: nothing is to be done from outside. Look whether the shoulder is home, and read it"
    amount = amount_text(measures, one.least_mm - one.clearance_mm, one.aim_mm - one.clearance_mm)
    own = found.assembly.marks[next((mark for mark in contact.marks if _is_end(found, mark)), contact.marks[0])]
    return f"Dry: open it, and saw {amount} off {own.name}"


def _is_end(found: Reconciliation, mark: int) -> bool:
    one = found.assembly.marks[mark]
    return mark in found.assembly.outer_ends.get((one.part, one.axis), ())
