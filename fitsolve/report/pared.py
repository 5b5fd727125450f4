"""Pared: which parts are to be cut to a face that is told to lose wood first.

A mortise is too narrow for the rail that is made, and is to be pared; the other rail that goes in it is still
to be cut. Cut to the mortise as it is, it would be loose in what the mortise will be.
"""

from __future__ import annotations

from fitsolve.build.history import MarkState
from fitsolve.reconciliation import Reconciliation


def pared_first(found: Reconciliation) -> dict[str, str]:
    """Return the parts that wait for a face to lose wood, each with what it waits for:
    `post.s.b is to lose wood first, see JOINTS`."""
    missed = any(one.verdict in ("tight", "proud") for joint in found.joints for one in joint.contacts)
    if not missed and not any(seat.verdict == "jams" for seat in found.seats):
        return {}
    from fitsolve.report.fitwords import face_told
    from fitsolve.report.seatwords import walls_told

    faces: dict[int, str] = {}
    for joint in found.joints:
        for one in joint.contacts:
            if (face := face_told(found, one)) is not None:
                faces.setdefault(face, "JOINTS")
    for seat in found.seats:
        for wall in walls_told(found, seat):
            faces.setdefault(wall, "SEATS")
    waits: dict[str, str] = {}
    for face, where in faces.items():
        name = found.assembly.marks[face].name
        for part in _fitted_to(found, face):
            waits.setdefault(part, f"{name} is to lose wood first, see {where}")
    return waits


def _fitted_to(found: Reconciliation, face: int) -> list[str]:
    """The parts with marks still to be cut that meet a face in open joints."""
    assembly, state = found.assembly, found.state
    own = assembly.marks[face].part
    contacts = [assembly.contacts[number] for number in assembly.contacts_of[own]]
    opened = (contact for contact in contacts if face in contact.marks and contact.joint not in state.closed)
    meeting = (mark for contact in opened for mark in contact.marks)
    return list(dict.fromkeys(
        assembly.marks[mark].part
        for mark in meeting
        if assembly.marks[mark].part != own and state.marks[mark] != MarkState.MADE
    ))  # fmt: skip
