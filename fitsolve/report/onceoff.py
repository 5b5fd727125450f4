"""Once off: one face whose wood is in the way at several joints loses it once.

A rail is too thick for the mortises at both its ends. To pare a wall of each mortise is twice the work, and to the
rougher face; the rail is planed once. So of a tight housing each face is looked at that stands in other tight
housings too: with a taken off it, every open housing there has a more,

    a >= least_i - clearance_i   of those that are tight,      a <= most_i - clearance_i   of all that are made,

and where some a does for all, it is told. Of several such faces the one with the most tight housings counts, and then
the tongue's: outer faces are planed, walls pared (common practice, no source).

Not here: a face that serves one tight joint alone (remedies, fitwords); shoulders, which are pared by themselves.
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
    read_first,
    still_to_cut,
    then,
    told_by_seat,
)
from fitsolve.report.waits import at_odds


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
