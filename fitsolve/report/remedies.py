"""Remedies: what would settle a doubt, and what would save a joint, at the least cost.

A doubt is settled by what brings in most of its uncertainty: a reading taken again with a
better tool, a made size read at last, a cut knifed off the part it must meet.

Wood goes one way: it can be taken off. The cheap part is the one to touch. Cheap means that nothing else
meets there, and then short, for the longer part is the dearer to make again. A shoulder is pared and a tenon's end sawn
on the piece that goes in, however long it is: the face and the mortise of the other serve more
than one joint (common practice, no source). Where a mark is still to be cut, that is the cheapest
of all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitsolve.build.assembly import Assembly, Contact
from fitsolve.build.history import MarkState
from fitsolve.build.readings import Reading
from fitsolve.build.tools import BUILT_IN
from fitsolve.findings.causes import SURE_RATIO, Share, Squeeze, shares
from fitsolve.findings.grounds import u_to_prove
from fitsolve.findings.solved import Terms
from fitsolve.findings.values import ContactFinding
from fitsolve.graph import gap_terms
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.naming import span_named, span_of, words_of

WAYS_MOST = 2
WORTH = 0.25
"""A share of the variance below this is not worth another reading, if something else is."""

REACHED_MM = 1.0
"""Two ends nearer than this to each other lie flush: a reading would have to say which stands proud."""

NEGLIGIBLE_MM = 1e-6
HAIR = 1.02
"""An amount is told once though another way of looking at it makes so little more of it."""

JAW_MM = 150.0
"""What a caliper of the bench opens to."""


def needed_u_mm(value_mm: float, low_mm: float, high_mm: float) -> float | None:
    """Return the U (k = 2) at which a value is proven to lie within limits; None where no U proves it."""
    u = u_to_prove(value_mm, low_mm, high_mm) if low_mm < value_mm < high_mm else None
    return None if u is None else 2 * u


NEVER_WAS = "which never was"
KNIFE = "knife it off the part it meets"
"""What does away with the error of a cut: the part itself is the rule."""


@dataclass(frozen=True, slots=True)
class Way:
    """Something that would tell more: what to do, `read leg.fl foot..head`, and why, `which never was`. `kind` says
    what it is about: "unread" wood that is taken as cut, a "closed" joint, "taken" for what is as drawn, else "".
    `pair` are the marks between which unread wood is to be read."""

    do: str
    why: str = ""
    kind: str = ""
    pair: tuple[int, int] | None = None

    @property
    def text(self) -> str:
        """All of it."""
        return f"{self.do}, {self.why}" if self.why else self.do


def to_know(found: Reconciliation, terms: Terms, worth: float = WORTH, knifed: bool = True) -> list[Way]:
    """Return what would tell more about a sum, the best first: `read leg.fl foot..head (#51) by rod`; unless it can be
    `knifed`, of what else there is."""
    said: list[Way] = []
    told = [one for one in shares(found.solved, terms) if knifed or one.kind != "cut"]
    for one in told[:WAYS_MOST]:
        way = Way("") if _out_of_reach(found, one) else _settled_by(found, one)
        if way.do and way not in said and (one.share >= worth or not said):
            said.append(way)
    return said


def _out_of_reach(found: Reconciliation, one: Share) -> bool:
    """Whether a size lies in a joint that is closed for good: walls and cheeks that nobody can read any more."""
    assembly, state = found.assembly, found.state
    if one.kind == "distance":
        ends = [assembly.distances[one.number].start, assembly.distances[one.number].end]
    elif one.kind == "layout":
        ends = [state.laid_from[one.number], one.number]
    else:
        return False
    for mark in ends:
        own = [assembly.contacts[k] for k in assembly.contacts_of[assembly.marks[mark].part]]
        own = [contact for contact in own if mark in contact.marks]
        inside = [one for one in own if one.kind != "butt" and state.closed.get(one.joint) == "glued"]
        if inside and all(contact.joint in state.closed for contact in own):
            return True
    return False


def _settled_by(found: Reconciliation, one: Share) -> Way:
    assembly = found.assembly
    if one.kind == "reading":
        reading = next(r for r in found.state.readings if r.no == one.number)
        return Way(f"read {span_named(assembly, reading.start, reading.end)} (#{one.number}) {better(reading)}")
    if one.kind == "distance":
        distance = assembly.distances[one.number]
        return _unread(assembly, NEVER_WAS, distance.start, distance.end)
    if one.kind == "contact":
        contact = assembly.contacts[one.number]
        joint = assembly.joints[contact.joint].name
        pair = _outside(found, contact)
        if pair is None:
            return Way(f"read across {joint} on {contact.axis}", "closed and never read", "closed")
        return Way(f"read {span_of(assembly, *pair)}", f"across {joint}, closed and never read", "closed")
    if one.kind == "cut":
        return Way(KNIFE)
    if one.kind == "tool":
        tools = dict.fromkeys(shared.tool for shared in found.solved.graph.shared)
        return Way(f"check the {' and the '.join(tools)} against a length that is known")
    if one.kind == "layout":
        reference = found.state.laid_from[one.number]
        return _unread(assembly, "laid out and never read", reference, one.number)
    if one.kind == "station":
        return Way(f"read {assembly.marks[one.number].name}", "taken as straight", "taken")
    if one.kind == "peg":
        peg = assembly.pegs[one.number]
        return _unread(assembly, "laid out and never read", peg.shoulder, peg.tenon_hole)
    if one.kind == "slope":
        slope = assembly.slopes[one.number]
        return Way(f"read {span_of(assembly, slope.start, slope.end)}", f"taken as {slope.angle}", "taken")
    run = assembly.runs[one.number]
    return _unread(assembly, NEVER_WAS, run[0], run[-1]) if run else Way("")


def _unread(assembly: Assembly, why: str, start: int, end: int) -> Way:
    return Way(f"read {span_of(assembly, start, end)}", why, "unread", (start, end))


def _outside(found: Reconciliation, contact: Contact) -> tuple[int, int] | None:
    """Two marks that a rule can reach, one on each part of a closed contact, from the lower to the higher: outer
    ends of the two, that do not lie flush."""
    assembly, states = found.assembly, found.state.marks
    parts = list(dict.fromkeys(assembly.marks[mark].part for mark in contact.marks))
    ends = [
        [mark for mark in assembly.outer_ends.get((part, contact.axis), ()) if states[mark] == MarkState.MADE]
        for part in parts
    ]
    for one in ends[0]:
        for other in ends[-1]:
            apart = assembly.marks[other].plan_mm - assembly.marks[one].plan_mm
            if assembly.placed[one] == assembly.placed[other] and abs(apart) > REACHED_MM:
                return (one, other) if apart > 0 else (other, one)
    return None


def better(reading: Reading) -> str:
    """How to take a reading again so that it tells more: `by rod`, `again`."""
    names = ("caliper", "rod") if reading.shown_mm <= JAW_MM else ("rod",)
    for name in names:
        if name != reading.tool and BUILT_IN[name].u_mm(reading.shown_mm) < 0.7 * reading.u_mm:
            return f"by {name}"
    return "again"


def extent_mm(assembly: Assembly, part: str) -> float:
    """The longest side of a part, in mm."""
    return max(assembly.reach_mm[part].values(), default=0.0)


def sides(found: Reconciliation, contact: Contact) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The marks of a contact, the side to touch first: one still to be cut; at a shoulder or a tenon's end the
    piece that goes in; else one that meets nothing else, and then the shorter part."""
    half = len(contact.marks) // 2
    first, second = contact.marks[:half], contact.marks[half:]
    piece = "" if contact.kind == "housing" else going_in(found, contact)
    costs = [_cost(found, marks, piece) for marks in (first, second)]
    return (first, second) if costs[0] <= costs[1] else (second, first)


def _cost(found: Reconciliation, marks: tuple[int, ...], piece: str) -> tuple[bool, bool, int, float]:
    made = all(found.state.marks[mark] == MarkState.MADE for mark in marks)
    part = found.assembly.marks[marks[0]].part
    others = min(met_by(found, mark) for mark in marks)
    return (made, bool(piece) and part != piece, others, extent_mm(found.assembly, part))


def met_by(found: Reconciliation, mark: int) -> int:
    """In how many contacts a mark stands: what comes off it moves them all."""
    contacts = found.assembly.contacts
    return sum(mark in contacts[k].marks for k in found.assembly.contacts_of[found.assembly.marks[mark].part])


def going_in(found: Reconciliation, contact: Contact) -> str:
    """The part that goes into the other in the housings of a contact's joint: the one with the shoulder and the
    tenon's end. Without a housing, the one that is not joined up yet, as a drawer that goes between two sides. Empty
    where there is none, or each goes into the other."""
    assembly = found.assembly
    own = {assembly.marks[mark].part for mark in contact.marks}
    others = (assembly.contacts[number] for number in assembly.joints[contact.joint].contacts)
    pieces = {assembly.marks[one.marks[0]].part for one in others if one.kind == "housing"}
    if not pieces:
        pieces = {part for part in own if not any(joint in found.state.closed for joint in assembly.joints_of[part])}
    return pieces.pop() if len(pieces) == 1 and pieces <= own else ""


def beyond_wood(found: Reconciliation, mark: int, off_mm: float) -> bool:
    """Whether so much is more than a face or a wall can lose: half the way to the next mark of its part."""
    assembly = found.assembly
    own = assembly.marks[mark]
    family = (assembly.marks[one] for one in assembly.families[own.part, own.axis])
    ways = (abs(one.plan_mm - own.plan_mm) for one in family if one.station_of is None)
    return off_mm > 0.5 * min((way for way in ways if way > REACHED_MM), default=math.inf)


NO_WOOD = "no piece can lose so much: is a reading wrong? Else remake "


def joined(found: Reconciliation, one: str, other: str) -> bool:
    """Whether closed joints make one thing of two parts, by whatever way."""
    assembly, closed = found.assembly, found.state.closed
    seen, waiting = {one}, [one]
    while waiting:
        part = waiting.pop()
        near = {p for number in assembly.joints_of[part] if number in closed for p in assembly.joints[number].parts}
        waiting += near - seen
        seen |= near
    return other in seen


def reaching_end(found: Reconciliation, contact: Contact) -> int | None:
    """The end of a part that reaches through a room, as a tenon that stands out beyond its post: its own wood fills
    the room, and what comes off it makes the room less. None where both marks only bound the room."""
    if contact.kind != "room":
        return None
    assembly = found.assembly
    for mark, coef in gap_terms(contact)[0][:2]:
        one = assembly.marks[mark]
        if one.outward * coef > 0 and mark in assembly.outer_ends.get((one.part, one.axis), ()):
            return mark
    return None


def still_to_cut(found: Reconciliation, marks: tuple[int, ...]) -> bool:
    """Whether one of the marks is not as it will be."""
    return any(found.state.marks[mark] != MarkState.MADE for mark in marks)


def face_to_plane(found: Reconciliation, marks: tuple[int, ...]) -> int:
    """Of the two faces of a tongue or walls of a socket, the one that meets the fewest other parts; of those the one
    on which a part bears that jams."""
    assembly = found.assembly
    meets = dict.fromkeys(marks, 0)
    near: dict[str, None] = {}
    for part in {assembly.marks[mark].part for mark in marks}:
        for number in assembly.contacts_of[part]:
            contact = assembly.contacts[number]
            for mark in marks:
                meets[mark] += mark in contact.marks
            near.update(dict.fromkeys(assembly.marks[mark].part for mark in contact.marks))
    bears = {mark for part in near for mark in jammed_marks(found, part)}
    return min(marks, key=lambda mark: (meets[mark], mark not in bears))


def jammed_marks(found: Reconciliation, part: str) -> tuple[int, ...]:
    """The marks between which a part jams, none where it does not."""
    seat = found.seat_of.get(part)
    tightest = found.squeeze_of(part) if seat is not None and seat.verdict == "jams" else None
    return () if tightest is None else tuple(mark for mark, _ in tightest.terms)


def to_take(found: Reconciliation, tightest: Squeeze) -> tuple[float, float]:
    """How much two gaps lack to give their fits the least, and the aim, mm: half a fit for a gap of a housing."""
    gaps = found.solved.value_mm(list(tightest.terms))
    numbers = (tightest.first,) if tightest.alone else (tightest.first, tightest.second)
    contacts = [found.assembly.contacts[number] for number in numbers]
    parts = [0.5 if one.kind == "housing" else 1.0 for one in contacts]
    least = sum(part * one.least_mm for part, one in zip(parts, contacts, strict=True)) - gaps
    aim = sum(part * one.aim_mm for part, one in zip(parts, contacts, strict=True)) - gaps
    return max(least, 0.0), max(aim, 0.0)


def contact_found(found: Reconciliation, number: int) -> ContactFinding:
    """What is found of a contact, by its number."""
    joint = found.joint_of[found.assembly.contacts[number].joint]
    return next(one for one in joint.contacts if one.number == number)


def told_by_joints(found: Reconciliation, tightest: Squeeze) -> bool:
    """Whether what each joint by itself says to take off is all that two gaps lack, but for a hair."""
    numbers = {tightest.first, tightest.second}
    own = [one for number in numbers if (one := contact_found(found, number)).verdict == "tight"]
    lacks = sum(one.least_mm - (one.clearance_mm or 0.0) for one in own)
    return bool(own) and to_take(found, tightest)[0] <= HAIR * lacks + NEGLIGIBLE_MM


def told_by_seat(found: Reconciliation, contact: int) -> str:
    """The part under SEATS of which it is told what to take off a contact, for it jams by more; empty for none."""
    assembly = found.assembly
    for part in dict.fromkeys(assembly.marks[mark].part for mark in assembly.contacts[contact].marks):
        seat = found.seat_of.get(part)
        tightest = found.squeeze_of(part) if seat is not None and seat.verdict == "jams" else None
        if tightest is None or contact not in (tightest.first, tightest.second):
            continue
        if still_to_cut(found, tuple(mark for mark, _ in tightest.terms)):
            continue  # what is still to be cut is told of there, and not what comes off made wood
        if tightest.room_mm < -SURE_RATIO * tightest.expanded_mm and not told_by_joints(found, tightest):
            return part
    return ""


def no_amount(measures: Measures, mm: float) -> bool:
    """Whether an amount is nothing at all as it is shown."""
    return not measures.bare(mm).strip("-0.")


def hair(measures: Measures, mm: float) -> str:
    """An amount by which something misses: `0.012 in`; `less than 0.001 in` where it would be shown as nothing."""
    if no_amount(measures, mm):
        return f"less than {measures.clearance(10.0**-measures.places * measures.unit_mm)}"
    return measures.clearance(mm)


def amount_text(measures: Measures, least_mm: float, aim_mm: float) -> str:
    """What to take off so that a fit has its least, up to what it aims at: `0.012 to 0.018 in`, `0.012 in`."""
    if measures.bare(least_mm) == measures.bare(aim_mm):
        return hair(measures, least_mm)
    if no_amount(measures, least_mm):
        return f"up to {measures.clearance(aim_mm)}"
    return f"{measures.bare(least_mm)} to {measures.clearance(aim_mm)}"


def never_read(found: Reconciliation, tightest: Squeeze) -> tuple[tuple[int, int], ...]:
    """The pairs of marks that a part's want of room rests on and that were never read."""
    from fitsolve.findings.unread import unread

    return unread(found.solved, list(tightest.terms))


def read_first(found: Reconciliation, pairs: Sequence[tuple[int, int]]) -> str:
    """What is to be read before anything is done: `read leg left..right first, which never was`; empty for nothing."""
    if not pairs:
        return ""
    names = words_of([span_of(found.assembly, *pair) for pair in pairs])
    return f"read {names} first, which never {'was' if len(pairs) == 1 else 'were'}"


def then(first: str, rescue: str) -> str:
    """A rescue, after what is to be read before it: `Read ... first, which never was. If it is so, plane ...`."""
    return f"{capital(first)}. If it is so, {rescue}" if first else capital(rescue)


def capital(text: str) -> str:
    """The text beginning with a capital."""
    return text[:1].upper() + text[1:]
