"""Mending: what is left to do about a check when nothing still uncut can take it up.

Set up. A value that changes when bodies (parts and what is closed to them) shift against each other, and that
rests on a reading across such bodies, is only how they were set up: they can be moved, and read again.

Setting anew. What only dry joints hold can be opened, moved and closed again: a body of parts that are glued to
each other, or one part, moves a value by k a mm, k the sum of its marks' weights along an axis. It can be moved as
far as the gaps of its dry joints on that axis leave it room; a shoulder leaves none.

Paring. A sum that goes across the gap of an open butt by F, sizes kept (portions), comes down by F t when t is
pared off a shoulder there and the parts are brought together: with the sign of its value, |v| / |F| mends it.
What meets the same two parts beside it has to be pared too, or it holds the parts off; where that is closed
already nothing is gained.

Not here: checks that planing or a shim mends, rack (pulled in as long as no joint is glued), words (report).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from fitsolve.build.bodies import Bodies
from fitsolve.build.readings import Reading
from fitsolve.build.state import MarkState
from fitsolve.findings.checks import CheckValue
from fitsolve.findings.portions import carried_by_gaps
from fitsolve.findings.solved import Solved
from fitsolve.findings.takeup import WORTH, influences, piece_of_value
from fitsolve.graph import gap_terms
from fitsolve.light import dataclass

RESTS = 1e-3
"""A value that moves less than this part of a reading does not rest on it."""


@dataclass(frozen=True, slots=True)
class Paring:
    """Butts that would have to be pared, all of them by so much, mm; contacts of the plan."""

    contacts: tuple[int, ...]
    off_mm: float


@dataclass(frozen=True, slots=True)
class Resetting:
    """Parts that would have to be moved together along an axis, by so much, mm, positive up the axis; the dry joints
    that hold them; and what of the value is left then."""

    parts: tuple[str, ...]
    axis: str
    by_mm: float
    joints: tuple[int, ...]
    left_mm: float


def resetting(solved: Solved, value: CheckValue) -> Resetting | None:
    """Return what could be moved in its dry joints that takes most of a value; None where nothing could."""
    if not value.value_mm:
        return None
    closed = solved.state.closed
    body = Bodies(solved.assembly.joints[joint].parts for joint, how in closed.items() if how != "dry")
    found = []
    for (own, axis), weight in _sums(solved, value.terms, body).items():
        joints = [joint for joint, how in closed.items() if how == "dry" and _holds(solved, joint, own, body)]
        if joints and abs(weight) > RESTS:
            wanted = -value.value_mm / weight
            by = _room(solved, own, axis, wanted, body, joints)
            parts = tuple(part for part in solved.assembly.parts if body.of(part) == own)
            found.append(Resetting(parts, axis, by, tuple(sorted(joints)), value.value_mm + weight * by))
    best = min(found, key=lambda one: (round(abs(one.left_mm), 6), one.parts), default=None)
    return None if best is None or abs(best.left_mm) > (1 - WORTH) * abs(value.value_mm) else best


def _holds(solved: Solved, joint: int, own: str, body: Bodies) -> bool:
    """Whether a joint holds a body to another."""
    bodies = {body.of(part) for part in solved.assembly.joints[joint].parts}
    return own in bodies and len(bodies) > 1


def _room(solved: Solved, own: str, axis: str, wanted: float, body: Bodies, joints: Sequence[int]) -> float:
    """How far of what is wanted a body can move along an axis within the gaps of these joints, mm."""
    marks, way = solved.assembly.marks, 1.0 if wanted > 0 else -1.0
    room = abs(wanted)
    for joint in joints:
        for number in solved.assembly.joints[joint].contacts:
            contact = solved.assembly.contacts[number]
            if contact.axis != axis:
                continue
            if contact.kind == "butt":
                return 0.0
            least = min(0.0, contact.least_mm) / 2 if contact.kind == "housing" else 0.0
            for terms in gap_terms(contact):
                grows = way * sum(coef for mark, coef in terms if body.of(marks[mark].part) == own)
                if grows < -RESTS:
                    room = min(room, max(solved.value_mm(terms) - least, 0.0) / -grows)
    return way * room


def set_up(solved: Solved, value: CheckValue) -> Reading | None:
    """Return the reading that a value rests on most of those between parts that are only set up; None for none."""
    piece = piece_of_value(solved, value)
    if piece is None or value.value_mm is None:
        return None
    body = Bodies(solved.assembly.joints[joint].parts for joint in solved.state.closed)
    if not _shifts(solved, value.terms, body):
        return None
    _, _, influence = influences(solved, piece, value)
    found: dict[int, float] = {}
    for place, row in enumerate(piece.chosen["measured"].tolist()):
        source = solved.graph.measured[row]
        if source.kind == "reading" and _shifts(solved, solved.state.readings[source.number].terms, body):
            found[source.number] = max(found.get(source.number, 0.0), abs(float(influence[place])))
    best = max(found, key=lambda number: (round(found[number], 6), -number), default=None)
    return None if best is None or found[best] < RESTS else solved.state.readings[best]


def _shifts(solved: Solved, terms: Sequence[tuple[int, float]], body: Bodies) -> bool:
    """Whether a sum changes when bodies shift against each other."""
    return any(abs(each) > RESTS for each in _sums(solved, terms, body).values())


def _sums(solved: Solved, terms: Sequence[tuple[int, float]], body: Bodies) -> dict[tuple[str, str], float]:
    """By how much a sum changes for a mm that each body moves along each axis."""
    sums: dict[tuple[str, str], float] = defaultdict(float)
    for number, coef in terms:
        mark = solved.assembly.marks[number]
        sums[body.of(mark.part), mark.axis] += coef
    return sums


def parings(solved: Solved, value: CheckValue) -> tuple[Paring, ...]:
    """Return the shoulders any of which could be pared to bring a value to 0; empty where none would do."""
    if not value.value_mm:
        return ()
    contacts, found = solved.assembly.contacts, []
    for number, carried in carried_by_gaps(solved, value.terms).items():
        if carried * value.value_mm <= 0 or contacts[number].kind != "butt":
            continue
        together = _beside(solved, number)
        if all(_can_be_pared(solved, each) for each in together):
            found.append(Paring(together, abs(value.value_mm / carried)))
    return tuple(sorted(found, key=lambda one: (round(one.off_mm, 6), one.contacts)))


def _can_be_pared(solved: Solved, number: int) -> bool:
    contact, marks = solved.assembly.contacts[number], solved.state.marks
    made = all(marks[mark] == MarkState.MADE for mark in contact.marks)
    return made and contact.joint not in solved.state.closed


def _beside(solved: Solved, number: int) -> tuple[int, ...]:
    """A butt, and the butts of other parts that hold the same parts off along the same axis: for a rail between
    two legs those of the rails above it."""
    contacts, marks = solved.assembly.contacts, solved.assembly.marks
    above: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    below: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for each, contact in enumerate(contacts):
        if contact.kind == "butt" and contact.axis == contacts[number].axis:
            low, high = (marks[mark].part for mark in contact.marks)
            above[low][high].append(each)
            below[high][low].append(each)
    low, high = (marks[mark].part for mark in contacts[number].marks)
    found = set(above[low][high])
    for here, there, held, between in ((above, below, low, high), (below, above, high, low)):
        for part in here[held]:  # what lies on the same side of `held`, and holds it off the same parts
            if set(here[between]) & set(here[part]):
                found.update(there[part][held])
    return tuple(sorted(found))
