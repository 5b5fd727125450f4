"""First read: what is to be read before a joint of made wood is put together, one choice wherever it is told.

It is the first of what `sizes` says of the joint that was never read:

    a contact that misses its fit       what that rests on and was never read; where a seat tells what to do of it,
                                        what the seat asks for
    one that can't be told              what would tell more of it
    only the seats of its parts bad     what their least room rests on; what would tell more of that

Where that names none, what closing would hide all the same (`wanted`) is read before it is hidden.

Not here: how it is said.
"""

from __future__ import annotations

from fitsolve.findings.values import JointFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.fitwords import ranked_contacts, unsure_of
from fitsolve.report.remedies import never_read, to_know, told_by_seat
from fitsolve.report.seatwords import ALSO_WORTH

Pair = tuple[int, int]


def first_to_read(found: Reconciliation, joint: JointFinding) -> Pair | None:
    """The two marks between which is to be read before an open joint is put together; None where nothing is said of
    it that was never read."""
    ranked = ranked_contacts(joint)
    faults = [one for one in ranked if one.verdict != "can't tell"]
    if faults:
        pairs = [pair for one in faults for pair in one.unread]
        seats = {part: None for one in faults if (part := told_by_seat(found, one.number))}
        pairs += [pair for part in seats for pair in _of_seat(found, part)]
    elif ranked:
        known = ranked[0].clearance_mm is not None
        pairs = [way.pair for way in unsure_of(found, ranked[0]).ways if way.pair] if known else []
    else:
        pairs = [pair for part in joint.parts for pair in _of_seat(found, part)]
    return pairs[0] if pairs else None


def _of_seat(found: Reconciliation, part: str) -> list[Pair]:
    """What is to be read of a part that may not go on all its joints at once."""
    seat = found.seat_of.get(part)
    tightest = found.squeeze_of(part) if seat is not None and seat.verdict != "goes on" else None
    if seat is None or tightest is None:
        return []
    if seat.verdict == "jams":
        return list(never_read(found, tightest))
    return [way.pair for way in to_know(found, list(tightest.terms), ALSO_WORTH) if way.pair]
