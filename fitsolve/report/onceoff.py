"""Once off: one face whose wood is in the way at several joints loses it once.

A rail is too thick for the mortises at both its ends. To pare a wall of each mortise is twice the work, and to the
rougher face; the rail is planed once. So of a tight housing each face is looked at that stands in other tight
housings too: with a taken off it, every open housing there has a more,

    a >= least_i - clearance_i   of those that are tight,      a <= most_i - clearance_i   of all that are made,

and where some a does for all, it is told. Of several such faces the one with the most tight housings counts, and then
the tongue's: outer faces are planed, walls pared (common practice, no source).

A piece too long between two shoulders loses half at each, or all of it at one: both are told.

Not here: a face that serves one tight joint alone (remedies, fitwords).
"""

from __future__ import annotations

import math

from fitsolve.build.assembly import Contact
from fitsolve.findings.values import ContactFinding
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.naming import words_of
from fitsolve.report.remedies import (
    amount_text,
    beyond_wood,
    contact_found,
    face_to_plane,
    hair,
    read_first,
    sides,
    still_to_cut,
    then,
    told_by_seat,
)
from fitsolve.report.waits import at_odds, in_conflict


@dataclass(frozen=True, slots=True)
class OnceOff:
    """What comes off a face, mm, from the least that does to what the fits aim at; the tight contacts it does for."""

    face: int
    least_mm: float
    aim_mm: float
    tight: tuple[ContactFinding, ...]
    tongue: bool


def once_off(found: Reconciliation, one: ContactFinding) -> OnceOff | None:
    """Return the face that is cheapest to touch once for a tight housing and others; None where there is none."""
    contact = found.assembly.contacts[one.number]
    if contact.kind != "housing" or not _tight(found, one):
        return None
    tongue = face_to_plane(found, contact.marks[:2])
    order = (tongue, *(mark for mark in contact.marks if mark != tongue))
    every = [each for mark in order if (each := _off_face(found, contact, mark)) is not None]
    return max(every, key=lambda each: len(each.tight), default=None)  # of as many the first


def once_text(found: Reconciliation, off: OnceOff) -> str:
    """`Plane 0.50 to 0.70 mm off rail.back once, for tenon rail post.l and tenon rail post.r`."""
    amount = amount_text(Measures.of(found.assembly), off.least_mm, off.aim_mm)
    joints = (found.assembly.joints[found.assembly.contacts[one.number].joint].name for one in off.tight)
    unread = list(dict.fromkeys(pair for one in off.tight for pair in one.unread))
    rescue = f"{'plane' if off.tongue else 'pare'} {amount} off {found.assembly.marks[off.face].name} once, for "
    return then(read_first(found, unread), rescue + words_of(list(dict.fromkeys(joints))))


def one_shoulder(found: Reconciliation, one: ContactFinding) -> str:
    """What one shoulder alone would have to lose, where a piece is too long between two: `; or 3.00 mm off one of
    rail.l.shoulder and rail.r.shoulder alone`; empty elsewhere."""
    conflict = in_conflict(found, one.number)
    if conflict is None or found.assembly.contacts[one.number].kind != "butt":
        return ""
    numbers = {demand.number for demand in conflict.demands if demand.kind in ("contact", "gap")}
    both = [contact_found(found, number) for number in sorted(numbers)]
    if len(both) != 2 or any(each.kind != "butt" or each.verdict != "proud" for each in both):
        return ""
    contacts = [found.assembly.contacts[each.number] for each in both]
    if any(still_to_cut(found, contact.marks) for contact in contacts):
        return ""
    marks = [found.assembly.marks[face_to_plane(found, sides(found, contact)[0])] for contact in contacts]
    if marks[0].part != marks[1].part or marks[0].name == marks[1].name:
        return ""
    under = sum(each.least_mm - (each.clearance_mm or 0.0) for each in both)
    amount = hair(Measures.of(found.assembly), under)
    return f"; or {amount} off one of {words_of([mark.name for mark in marks])} alone"


def _tight(found: Reconciliation, one: ContactFinding) -> bool:
    """Whether made wood of a contact is too tight, and it is told by itself what to do about it."""
    contact = found.assembly.contacts[one.number]
    if one.verdict != "tight" or one.clearance_mm is None or still_to_cut(found, contact.marks):
        return False
    return contact.joint not in found.state.closed and not told_by_seat(found, one.number)


def _off_face(found: Reconciliation, contact: Contact, face: int) -> OnceOff | None:
    """What comes off a face so that all open housings it stands in have their fit; None where it does for one alone,
    or for none."""
    own = found.assembly.marks[face].part
    tight: list[ContactFinding] = []
    most = math.inf
    for number in found.assembly.contacts_of[own]:
        other = found.assembly.contacts[number]
        if face not in other.marks or other.kind == "room":
            continue
        if other.kind != "housing" or other.joint in found.state.closed:
            return None
        if still_to_cut(found, other.marks):
            continue  # it will be cut to what is there then
        one = contact_found(found, number)
        if one.clearance_mm is None or at_odds(found, number):
            return None
        most = min(most, other.most_mm - one.clearance_mm)
        if _tight(found, one):
            tight.append(one)
    least = max((one.least_mm - (one.clearance_mm or 0.0) for one in tight), default=0.0)
    joints = {found.assembly.contacts[one.number].joint for one in tight}  # a tail is held at both its ends by one
    if len(joints) < 2 or least > most or beyond_wood(found, face, least):
        return None
    aim = max(one.aim_mm - (one.clearance_mm or 0.0) for one in tight)
    return OnceOff(face, least, min(aim, most), tuple(tight), face in contact.marks[:2])
