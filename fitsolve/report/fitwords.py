"""Joints in words: the verdict, a diagnosis, the cheapest rescue.

    tight   0.006 in under, ± 0.004. Plane 0.006 to 0.012 in off leg.fl.outer, not apron.front

What is to be taken off is told here once: what reaches the fit's least, and what reaches its aim. A fault that
rests on what was never read is to be read first. A part that is closed already went together: only what stands
too far apart is said of it. What cannot be told says what U would prove it, and how to get there.
"""

from __future__ import annotations

from collections.abc import Iterable

from fitsolve.build.assembly import Contact
from fitsolve.build.history import MarkState
from fitsolve.findings.values import ALIKE, ContactFinding, ContradictionFinding, JointFinding
from fitsolve.findings.verdicts import missed_share
from fitsolve.graph import clearance_terms, merged
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.doubtwords import read_again_first, rests_on
from fitsolve.report.measures import Measures
from fitsolve.report.naming import housed, inside, words_of
from fitsolve.report.onceoff import once_off, once_text, one_shoulder
from fitsolve.report.remedies import (
    NO_WOOD,
    Way,
    amount_text,
    beyond_wood,
    face_to_plane,
    going_in,
    hair,
    joined,
    needed_u_mm,
    never_read,
    no_amount,
    reaching_end,
    read_first,
    sides,
    still_to_cut,
    then,
    to_know,
    told_by_seat,
)
from fitsolve.report.waits import at_odds, gone_from, in_conflict, settling

SEE_CONFLICT = "What to do stands under CONFLICT"
SEE_STOP = "It follows from what stands under STOP: settle that first"
EITHER = ": can't tell either"
BY_ITSELF = "by itself it fits, but see "
"""So begins what is said of a joint that is only as good as the seats of its parts."""


def ranked_contacts(joint: JointFinding) -> list[ContactFinding]:
    """The contacts of a joint that do not plainly fit, the worst first; of a closed one what can't be told is none."""
    ranked = sorted(
        (one for one in joint.contacts if one.verdict != "fits"),
        key=lambda one: (one.verdict == "can't tell", _chance(one), -missed_share(one)),
    )
    return [one for one in ranked if one.verdict != "can't tell"] if joint.closed else ranked


def joint_lines(found: Reconciliation, joint: JointFinding) -> list[str]:
    """Return what is to be said of a joint that does not plainly fit, its worst contact first."""
    ranked = ranked_contacts(joint)
    lines = [
        (_also(found, one, joint.closed) if k else contact_text(found, one, joint.closed))
        + "".join(_at_station(found, one, other) for other in others)
        for k, (one, *others) in enumerate(_walls(found, ranked))
    ]
    along = slant_line(found, ranked or list(joint.contacts))
    if along and not joint.closed:
        lines.insert(1, along)
    if not joint.closed and not any(one.verdict not in ("fits", "can't tell") for one in joint.contacts):
        seats = [found.seat_of[part] for part in joint.parts if part in found.seat_of]
        unsure = [seat.part for seat in seats if joint.name in seat.joints and seat.verdict != "goes on"]
        shown = {seat.part for seat in found.seats}  # of one part alone only its own
        where = "under SEATS" if shown.issuperset(unsure) else "under SEATS of the whole, fitsolve sizes"
        if unsure and not lines:
            lines = [f"{BY_ITSELF}{words_of(unsure)} {where}"]
        elif unsure and joint.verdict != "can't tell":
            lines.insert(0, f"see {words_of(unsure)} {where}; of this joint by itself:")
    return lines


def _walls(found: Reconciliation, ranked: list[ContactFinding]) -> list[list[ContactFinding]]:
    """Contacts of the same marks at several stations together: slanted walls and shoulders, each one cut."""
    walls: dict[tuple[str, ...], list[ContactFinding]] = {}
    for one in ranked:
        contact = found.assembly.contacts[one.number]
        names = [found.assembly.marks[mark].name.partition("@") for mark in contact.marks]
        stations = any(station for _, _, station in names)
        key = (contact.kind, *(base for base, _, _ in names), "" if stations else str(one.number))
        walls.setdefault(key, []).append(one)
    return list(walls.values())


def _at_station(found: Reconciliation, told: ContactFinding, one: ContactFinding) -> str:
    """What another station of a slanted wall comes to, behind what was told of it: `; at lap-low@inner 0.005 in
    under, ± 0.006: there 0.005 to 0.013 in`."""
    measures, contacts = Measures.of(found.assembly), found.assembly.contacts
    contact, cheap = contacts[one.number], sides(found, contacts[one.number])[0]
    other = {*contact.marks} - {*contacts[told.number].marks}
    mark = next((mark for mark in (*cheap, *contact.marks) if mark in other), contact.marks[0])
    where = f"; at {inside(found.assembly.marks[mark])} "
    if one.clearance_mm is None or one.expanded_mm is None or told.clearance_mm is None:
        return f"{where}not fixed by anything yet"
    if one.verdict == "can't tell":
        return f"{where}{known_text(one, measures)}: can't tell"
    little = one.verdict in ("tight", "proud")
    if one.verdict == told.verdict and _missed(measures, one) == _missed(measures, told):
        return f"; as much {where[2:]}".rstrip()
    amount = ""
    if little and face_told(found, one) is not None:
        under = one.least_mm - one.clearance_mm
        amount = f": there {amount_text(measures, under, one.aim_mm - one.clearance_mm)}"
    return f"{where}{_missed(measures, one)}{amount}"


def _missed(measures: Measures, one: ContactFinding) -> str:
    """By how much a contact misses its fit: `0.005 in under, ± 0.006`."""
    assert one.clearance_mm is not None
    assert one.expanded_mm is not None
    little = one.verdict in ("tight", "proud")
    off = one.least_mm - one.clearance_mm if little else one.clearance_mm - one.most_mm
    return f"{hair(measures, off)} {'under' if little else 'over'}, {measures.u(one.expanded_mm)}"


def _chance(one: ContactFinding) -> float:
    return round(one.chance, ALIKE) if one.chance is not None else 0.0


def to_be_read(found: Reconciliation, joint: JointFinding) -> bool:
    """Whether the fault of a joint rests on what was never read: it is no fault before that is read."""
    faults = [one for one in joint.contacts if one.verdict not in ("fits", "can't tell")]
    if joint.closed or joint.verdict in ("fits", "can't tell"):
        return False
    if faults:
        return all(one.unread for one in faults)
    seats = [found.seat_of[part] for part in joint.parts if part in found.seat_of]
    jammed = [found.squeeze_of(seat.part) for seat in seats if seat.verdict == "jams"]
    return all(one is not None and never_read(found, one) for one in jammed)


def _also(found: Reconciliation, one: ContactFinding, closed: bool) -> str:
    """A further contact of a joint: in short where it only can't be told."""
    if one.verdict != "can't tell" or one.clearance_mm is None or one.expanded_mm is None:
        return contact_text(found, one, closed)
    measures = Measures.of(found.assembly)
    name = contact_name(found, found.assembly.contacts[one.number])
    return f"{name}: {known_text(one, measures)}{EITHER}"


def known_text(one: ContactFinding, measures: Measures) -> str:
    """A clearance with its U: `0.003 in, ± 0.006`; below nothing the two overlap."""
    assert one.clearance_mm is not None
    assert one.expanded_mm is not None
    amount = measures.clearance(abs(one.clearance_mm))
    lapped = one.clearance_mm < 0 and not no_amount(measures, one.clearance_mm)
    return f"{'overlaps by ' if lapped else ''}{amount}, {measures.u(one.expanded_mm)}"


def contact_text(found: Reconciliation, one: ContactFinding, closed: bool) -> str:
    """One contact: by how much it misses its fit, and what to do about it."""
    contact = found.assembly.contacts[one.number]
    where = f"{contact_name(found, contact)}: "
    if one.clearance_mm is None or one.expanded_mm is None:
        return f"{where}not fixed by anything yet"
    measures = Measures.of(found.assembly)
    spread = measures.u(one.expanded_mm)
    if one.verdict == "can't tell":
        return where + _unsure(found, contact, one)
    if closed:
        from fitsolve.report.closedwords import closed_remedy

        past, limit = one.clearance_mm - one.most_mm, "over the most"
        if past < 0:  # of what is closed only a room is held to its least as well
            past, limit = one.least_mm - one.clearance_mm, "under the least"
        missed = f"closed, yet {hair(measures, past)} {limit} its fit allows, {spread}"
        return f"{where}{missed}. {closed_remedy(found, contact, one)}"
    terms = merged(clearance_terms(contact))
    if rests := rests_on(found, terms):  # no wood comes off for what may be a slip
        low = one.verdict in ("tight", "proud")
        by = hair(measures, one.least_mm - one.clearance_mm if low else one.clearance_mm - one.most_mm)
        return f"{where}{by} {'under' if low else 'over'}, {spread}. It rests on {rests}: see STOP"
    if one.verdict in ("tight", "proud"):
        return where + read_again_first(found, terms, _too_little(found, contact, one, measures))
    over = hair(measures, one.clearance_mm - one.most_mm)
    rescue = f"{over} over, {spread}. {_too_much(found, contact, one, measures)}"
    return where + read_again_first(found, terms, rescue)


def slant_line(found: Reconciliation, contacts: list[ContactFinding]) -> str:
    """The slanted contact that stands off furthest, or has the least of its travel left."""
    slanted = [
        (one.slant.travel_mm, one.number, one)
        for one in contacts
        if one.slant is not None and one.slant.travel_mm is not None
    ]
    return slant_text(found, min(slanted)[2]) if slanted else ""


def slant_text(found: Reconciliation, one: ContactFinding) -> str:
    """What the clearance of a slanted contact is worth along its run; empty where that is no news:
    `At 1:6 it stands 1.20 mm off leg.fl.inner, ± 0.71`, `At 1:8 12.1 mm of travel is left, ± 0.8`."""
    slant = one.slant
    if slant is None or slant.travel_mm is None or slant.expanded_mm is None:
        return ""
    measures, assembly = Measures.of(found.assembly), found.assembly
    if slant.left_mm is not None and slant.left_expanded_mm is not None:
        left = measures.coarse(slant.left_mm)
        spread = measures.coarse_u(slant.left_expanded_mm)
        if slant.left_mm < 0:
            return f"At {slant.angle} it is not tight when it has gone all its way"
        return f"At {slant.angle} it is tight with {left} {measures.unit} of its travel left, {spread}"
    if slant.travel_mm >= 0:
        return ""
    off = ""
    if slant.shoulder is not None:
        own = assembly.marks[assembly.contacts[one.number].marks[0]].part
        marks = [assembly.marks[mark] for mark in assembly.contacts[slant.shoulder].marks]
        off = f" off {next(mark.name for mark in marks if mark.part != own)}"
    stands = measures.clearance(-slant.travel_mm)
    return f"At {slant.angle} it stands {stands}{off or ' back'}, {measures.u(slant.expanded_mm)}"


def short_name(found: Reconciliation, contact: Contact) -> str:
    """A contact by its marks, where its joint was named, and so its parts: `outer/inner in l.dado-o/l.dado-i`."""
    names = [inside(found.assembly.marks[mark]) for mark in contact.marks]
    if contact.kind == "housing":
        return f"{names[0]}/{names[1]} in {names[2]}/{names[3]}"
    return f"{names[0]} {'short of' if contact.kind == 'room' else 'against'} {names[1]}"


def contact_name(found: Reconciliation, contact: Contact) -> str:
    """A contact by its marks: `leg.fl outer/inner in apron.front l.dado-o/l.dado-i`."""
    if contact.kind == "housing":
        return housed(found.assembly, contact)
    marks = [found.assembly.marks[mark] for mark in contact.marks]
    word = "short of" if contact.kind == "room" else "against"
    return f"{marks[0].part} {inside(marks[0])} {word} {marks[1].part} {inside(marks[1])}"


def _too_little(found: Reconciliation, contact: Contact, one: ContactFinding, measures: Measures) -> str:
    """Under its least: what to take off, and where."""
    assert one.clearance_mm is not None
    assert one.expanded_mm is not None
    under = one.least_mm - one.clearance_mm
    said = f"{hair(measures, under)} under, {measures.u(one.expanded_mm)}. "
    cheap, dear = sides(found, contact)
    part = found.assembly.marks[cheap[0]].part
    other = found.assembly.marks[dear[0]].part
    if still_to_cut(found, cheap):
        if (conflict := in_conflict(found, one.number)) is not None:
            return said + _no_cut(found, conflict, part, "" if still_to_cut(found, dear) else f"take it off {other}")
        room = "wider" if contact.kind == "housing" and cheap == contact.marks[2:] else "smaller"
        return f"{said}{part} is still to be cut: cut it {hair(measures, under)} {room} than shown here"
    if at_odds(found, one.number):
        return f"{said}{_see_conflict(found, one.number)}"
    if part_jams := told_by_seat(found, one.number):
        return f"{said}What to do: see {part_jams} under SEATS"
    if no_amount(measures, under):
        return f"{said}Nothing is to be done about so little"
    end = reaching_end(found, contact)
    if end is not None:
        short = found.assembly.marks[end]
        return said + then(read_first(found, one.unread), f"remake {short.part}: {short.name} does not reach so far")
    if (once := once_off(found, one)) is not None:
        return f"{said}{once_text(found, once)}"
    amount = amount_text(measures, under, one.aim_mm - one.clearance_mm)
    face = face_to_plane(found, cheap)
    if beyond_wood(found, face, under):
        return said + then(read_first(found, one.unread), f"{NO_WOOD}{part}")
    name = found.assembly.marks[face].name
    verb = "plane" if contact.kind == "housing" and cheap == contact.marks[:2] else "pare"
    if contact.kind == "room" and part == going_in(found, contact):
        own = (found.assembly.contacts[number] for number in found.assembly.joints[contact.joint].contacts)
        verb = "saw" if any(each.kind == "housing" for each in own) else "plane"
    rescue = f"{verb} {amount} off {name}, not {other}{one_shoulder(found, one)}"
    return said + then(read_first(found, one.unread), rescue)


def face_told(found: Reconciliation, one: ContactFinding) -> int | None:
    """The face of made wood of which it is told here that something has to come off; None for none."""
    contact = found.assembly.contacts[one.number]
    under = one.least_mm - (one.clearance_mm or 0.0)
    if one.verdict not in ("tight", "proud") or contact.joint in found.state.closed:
        return None
    if still_to_cut(found, contact.marks) or no_amount(Measures.of(found.assembly), under):
        return None
    if at_odds(found, one.number) or told_by_seat(found, one.number) or reaching_end(found, contact) is not None:
        return None
    if rests_on(found, merged(clearance_terms(contact))):
        return None
    if (once := once_off(found, one)) is not None:
        return once.face
    face = face_to_plane(found, sides(found, contact)[0])
    return None if beyond_wood(found, face, under) else face


def _too_much(found: Reconciliation, contact: Contact, one: ContactFinding, measures: Measures) -> str:
    """Over its most: wood cannot be put back, so only what is still uncut can make up for it."""
    assert one.clearance_mm is not None
    cheap, _ = sides(found, contact)
    part = found.assembly.marks[cheap[0]].part
    fuller = hair(measures, one.clearance_mm - one.most_mm)
    if still_to_cut(found, cheap):
        if (conflict := in_conflict(found, one.number)) is not None:
            return _no_cut(found, conflict, part, f"glue a veneer on {part} and plane it to fit")
        return f"{part} is still to be cut: leave it {fuller} fuller than shown here"
    if (end := reaching_end(found, contact)) is not None:
        amount = amount_text(measures, one.clearance_mm - one.most_mm, one.clearance_mm - one.aim_mm)
        return then(read_first(found, one.unread), f"saw {amount} off {found.assembly.marks[end].name}")
    if contact.kind == "room":
        return "Room to spare: no harm unless a close fit is wanted"
    if at_odds(found, one.number):
        return _see_conflict(found, one.number)
    if no_amount(measures, one.clearance_mm - one.most_mm):
        return "Nothing is to be done about so little"
    if one.slant is not None and one.slant.left_mm is not None and one.slant.left_mm >= 0:
        return then(read_first(found, one.unread), "drive it further: that takes it up")
    rescue = f"glue a veneer on {part} and plane it to fit"
    if contact.kind == "butt":
        rescue = "pare what holds the shoulder off"
        if joined(found, *(found.assembly.marks[mark].part for mark in contact.marks)):
            rescue = "nothing brings it home any more: glue a slip behind the shoulder and pare it to fit"
    return then(read_first(found, one.unread), f"{rescue}, or remake {part}")


def _see_conflict(found: Reconciliation, contact: int) -> str:
    """Where it is told what to do of a contact of made wood that stands in a conflict."""
    return SEE_CONFLICT if in_conflict(found, contact) in found.conflicts else SEE_STOP


def _no_cut(found: Reconciliation, conflict: ContradictionFinding, part: str, instead: str) -> str:
    """Why no size of a part that is still to be cut has the fit, and what would."""
    row = gone_from(found, conflict, part)
    if row:
        return f"{part} is rough, but its wood is gone (#{row}): remake it{f', or {instead}' if instead else ''}"
    return f"{part} is still to be cut, but no size of it has this and all the rest: {settling(found, conflict)}"


AT_LEAST = "just at its least"
TOUCHES = f"{AT_LEAST}: as far as is known it touches there first"


@dataclass(frozen=True, slots=True)
class Unsure:
    """A contact of which it can't be told whether it fits: what is `known` of it, `needs` the U that would prove it, or
    at which `limit` it lies if none would; what would tell more; the marks that can be left full instead.
    `conflict` where one is to be settled first: how."""

    known: str
    needs: str = ""
    limit: str = ""
    ways: tuple[Way, ...] = ()
    full: tuple[int, ...] = ()
    conflict: str = ""

    @property
    def to_be_tried(self) -> bool:
        """Whether it may well be past its limit, and wood should not be lost to a guess."""
        return bool(self.limit) and (self.limit == TOUCHES or not self.limit.startswith("just")) and not self.conflict


def unsure_of(found: Reconciliation, one: ContactFinding) -> Unsure:
    """Return what is known of such a contact, what U would prove it, and what would bring that U about."""
    assert one.clearance_mm is not None
    contact, measures = found.assembly.contacts[one.number], Measures.of(found.assembly)
    known = known_text(one, measures)
    needed = needed_u_mm(one.clearance_mm, one.least_mm, one.most_mm)
    terms = merged(clearance_terms(contact))
    rests = rests_on(found, terms)
    knifed = contact.kind != "butt"  # a shoulder is pared
    ways = [Way(f"settle {rests} first, see STOP")] if rests else to_know(found, terms, knifed=knifed)
    full = tuple(mark for mark in contact.marks if found.state.marks[mark] != MarkState.MADE)
    full = full if contact.kind == "butt" else ()
    if needed is not None:
        last = measures.bare(max(needed - 0.5 * 10**-measures.places * measures.unit_mm, 0.0))
        if last.strip("0."):
            return Unsure(known, last, "", tuple(ways), full)
    limit = _at_which_limit(one, measures)
    if still_to_cut(found, contact.marks) and (conflict := in_conflict(found, one.number)) is not None:
        return Unsure(known, "", limit, conflict=settling(found, conflict))
    if contact.kind == "butt" and not full and limit == AT_LEAST:
        return Unsure(known, "", TOUCHES, tuple(ways) if rests else ())  # no reading, however good, would prove more
    return Unsure(known, "", limit, tuple(ways), full)


def _unsure(found: Reconciliation, contact: Contact, one: ContactFinding) -> str:
    """All that is said of such a contact, in a sentence."""
    said = unsure_of(found, one)
    if said.conflict:
        return f"{said.known}, {said.limit} in the compromise: {said.conflict}"
    how = f": {', and '.join(way.text for way in said.ways)}" if said.ways else ""
    if said.full:
        how += f"{'; or' if said.ways else ':'} {left_full(found, [said.full])}"
    if said.needs:
        return f"{said.known}; needs U of ± {said.needs} or better{how}"
    return f"{said.known}, {said.limit}{'. Try it dry before you take anything off' if said.to_be_tried else ''}{how}"


def left_full(found: Reconciliation, choices: Iterable[tuple[int, ...]]) -> str:
    """Of shoulders with a side still to be cut, what does without any reading: to leave that full and pare it. Each
    choice holds the marks of one contact that are not cut yet."""
    marks = found.assembly.marks
    names = list(dict.fromkeys(inside(marks[one[0]]) if len(one) == 1 else "one side" for one in choices))
    return f"leave {words_of(names)} full and pare {'it' if len(names) == 1 else 'them'}"


def _at_which_limit(one: ContactFinding, measures: Measures) -> str:
    """On which side a value lies that no better reading would prove to fit."""
    assert one.clearance_mm is not None
    low = one.clearance_mm - one.least_mm < one.most_mm - one.clearance_mm
    past = one.least_mm - one.clearance_mm if low else one.clearance_mm - one.most_mm
    limit = "least" if low else "most"
    if past <= 0 or not measures.bare(past).strip("0."):
        return f"just at its {limit}"
    side = "under" if low else "over"
    return f"{measures.clearance(past)} {side} its {limit}"


def uncut_both_sides(found: Reconciliation, joints: Iterable[int]) -> bool:
    """Whether nothing that meets in these joints is cut yet."""
    return all(
        found.state.marks[mark] == MarkState.UNCUT
        for joint in joints
        for number in found.assembly.joints[joint].contacts
        for mark in found.assembly.contacts[number].marks
    )
