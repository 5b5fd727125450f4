"""Contradictions in words: which demands cannot all be had, by how much, and what gives way.

Each demand is said with the line of the plan it comes from. For wood that is made the fact is
plain: these parts cannot go together as they are.
"""

from __future__ import annotations

from fitsolve.build.assembly import Assembly, Contact, Rule
from fitsolve.errors import Place
from fitsolve.findings.values import ContradictionFinding, Demand
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.askewwords import askew_of, askew_text
from fitsolve.report.measures import Measures
from fitsolve.report.naming import housed, rows_listed, span_of, words_of
from fitsolve.report.remedies import hair, reaching_end, sides
from fitsolve.report.waits import opposite

NEGLIGIBLE_MM = 1e-6
WHOLE = 1.0 - 1e-9
_OF_CONTACTS = ("contact", "gap")


def contradiction_text(found: Reconciliation, one: ContradictionFinding) -> str:
    """Return a contradiction as sentences: demands, amount, readings, what the compromise gives up."""
    measures = Measures.of(found.assembly)
    demands = "; ".join(dict.fromkeys(demand_text(found, demand) for demand in one.demands))
    amount = one.amount_mm
    by = f", by {measures.clearance(amount)}" if amount > NEGLIGIBLE_MM else ""
    if one.facts:
        parts = words_of(sorted(conflict_parts(found, one)))
        unread = _never_read(found, one)
        first = "As far as is known, " if unread else ""
        how = _how(found, one)
        lead = f"{first}{parts} {how}{by}: {demands}."
    else:
        lead = f"These can't all be had{by}: {demands}."
    rests = f" It rests on {rows_listed(one.rows)}." if one.rows else ""
    return lead + rests + _given_up(found, one, measures)


def _given_up(found: Reconciliation, one: ContradictionFinding, measures: Measures) -> str:
    """What the compromise misses, each demand once."""
    missed = [one for one in one.demands if measures.bare(abs(one.missed_mm)).strip("0.")]
    if one.facts:
        unread = _never_read(found, one)
        was = "was" if len(unread) == 1 else "were"
        first = f" Read {words_of(unread)} first, which never {was}." if unread else ""
        askew = askew_of(found, one)
        off = _off_where(found, one)
        keeps = _keeps(found, one)
        change = f" Or change {words_of(keeps)}." if keeps else ""
        return first + (f" {askew_text(found, askew)}. Else {off[1].lower()}{off[2:]}" if askew else off) + change
    if not missed:
        return " Change one of them."
    said: dict[str, float] = {}
    for demand in missed:
        text = f"{_what(found, demand)} {'misses' if demand.side else 'is off'} by"
        said[text] = max(said.get(text, 0.0), abs(demand.missed_mm))
    told = (f"{text} {measures.clearance(amount)}" for text, amount in said.items())
    return f" The sizes shown give way: {'; '.join(told)}. Or change one of them."


def _how(found: Reconciliation, one: ContradictionFinding) -> str:
    if _only_rooms(found, one):
        return "leave more room than their fits ask for"
    if _apart(one):
        return "stand further apart than their fits allow"
    if _keeps(found, one):
        return "can't have all of this as they are made"
    square = "square " if askew_of(found, one) else ""
    return f"can't go together {square}as they are made"


def _only_rooms(found: Reconciliation, one: ContradictionFinding) -> list[Contact]:
    """The rooms that are more than is asked, where nothing else is too much."""
    over = [demand for demand in one.demands if demand.side > 0]
    contacts = [_contact_of(found, demand) for demand in over if demand.kind in _OF_CONTACTS]
    return contacts if len(contacts) == len(over) and all(contact.kind == "room" for contact in contacts) else []


def _keeps(found: Reconciliation, one: ContradictionFinding) -> list[str]:
    """The keeps of the plan that a conflict is about: these can be changed, whatever is made."""
    numbers = dict.fromkeys(demand.number for demand in one.demands if demand.kind == "keep")
    return [found.assembly.keeps[number].name for number in numbers]


def _apart(one: ContradictionFinding) -> bool:
    """Whether nothing is in the way of anything: made wood only leaves more open than its fits allow."""
    return all(demand.kind == "contact" and demand.side > 0 for demand in one.demands)


def _off_where(found: Reconciliation, one: ContradictionFinding) -> str:
    """Where it is told what to take off: how much a fit needs is more than what is in the way, and told once."""
    rooms = _only_rooms(found, one)
    if rooms and all(reaching_end(found, room) is None for room in rooms):
        return " Room to spare is no harm unless a close fit is wanted: then remake what goes in."
    if opposite(one):
        return _off_all(found, one)
    if _apart(one):
        return " What to do stands under JOINTS in fitsolve sizes."
    contacts = {demand.number for demand in one.demands if demand.kind in _OF_CONTACTS}
    joints = [found.joint_of[found.assembly.contacts[number].joint] for number in sorted(contacts)]
    spaced = len(contacts) > 1 and all(demand.kind == "gap" for demand in one.demands)
    if not spaced and any(
        own.number in contacts and own.verdict in ("tight", "proud") for joint in joints for own in joint.contacts
    ):
        return " What to do stands under JOINTS in fitsolve sizes."
    if any(found.seat_of[part].verdict == "jams" for joint in joints for part in joint.parts if part in found.seat_of):
        return " What to do stands under SEATS in fitsolve sizes."
    return " Take wood off, or remake the part that is cheapest to remake."


def _off_all(found: Reconciliation, one: ContradictionFinding) -> str:
    """What to take off where some fits lack what others have too much: all of it off those that lack it."""
    measures = Measures.of(found.assembly)
    amount = hair(measures, one.excess_mm or 0.0)
    over = (demand for demand in one.demands if demand.side > 0 and demand.kind in _OF_CONTACTS)
    bears = {mark for demand in over for mark in _contact_of(found, demand).marks}
    marks = []
    lacking = _cheapest(found, one)
    if not lacking:
        return " Wood is not put back: remake the part that is cheapest to remake."
    for demand in lacking:
        contact = _contact_of(found, demand)
        own = set(contact.gap_marks[demand.part] if demand.kind == "gap" else contact.marks) - bears
        choices = [[mark for mark in side if mark in own] for side in sides(found, contact)]
        marks += next((choice for choice in choices if choice), [])
    names = [found.assembly.marks[mark].name for mark in dict.fromkeys(marks)]
    if not names:
        return " Take wood off, or remake the part that is cheapest to remake."
    alike = " in all, as much at each" if len(names) > 1 else ""
    parts = words_of(list(dict.fromkeys(found.assembly.marks[mark].part for mark in marks)))
    return f" Take {amount} or a little more off {words_of(names)}{alike}, or remake {parts}."


def _cheapest(found: Reconciliation, one: ContradictionFinding) -> list[Demand]:
    """The fits that lack something; of shoulders and walls of housings the shoulders alone, where all that is too
    much can come off them: a shoulder is pared in minutes (common practice, no source)."""
    lack = [demand for demand in one.demands if demand.side < 0 and demand.kind in _OF_CONTACTS]
    butts = [demand for demand in lack if _contact_of(found, demand).kind == "butt" and demand.share >= WHOLE]
    return butts or lack


def _contact_of(found: Reconciliation, demand: Demand) -> Contact:
    return found.assembly.contacts[demand.number]


def _never_read(found: Reconciliation, one: ContradictionFinding) -> list[str]:
    """The widths and lengths between the marks of a contradiction that are only taken as cut."""
    index = found.assembly.index
    marks: set[int] = set()
    for demand in one.demands:
        if demand.kind in _OF_CONTACTS:
            marks.update(found.assembly.contacts[demand.number].marks)
    ends = [(index[one.start], index[one.end]) for one in found.assumed]
    return [span_of(found.assembly, *pair) for pair in ends if marks.issuperset(pair)]


def conflict_parts(found: Reconciliation, one: ContradictionFinding) -> set[str]:
    """The parts that the demands of a contradiction are about."""
    assembly = found.assembly
    parts: set[str] = set()
    for demand in one.demands:
        if demand.kind in _OF_CONTACTS:
            parts |= {assembly.marks[mark].part for mark in assembly.contacts[demand.number].marks}
        elif demand.kind == "distance":
            parts.add(assembly.distances[demand.number].part)
        elif demand.kind == "keep":
            spans = assembly.keeps[demand.number].spans
            parts |= {assembly.marks[mark].part for span in spans for mark in (span.start, span.end)}
    return parts


def demand_text(found: Reconciliation, demand: Demand) -> str:
    """One demand with its line: `apron.front l.end..r.end held at 60 (plan.toml:12)`."""
    return demand_said(found, demand) + _where_written(found.assembly, demand)


def _where_written(assembly: Assembly, demand: Demand) -> str:
    """The line of the plan that a demand stands in; empty for one that no line says."""
    if demand.kind == "distance":
        return _line(assembly.distances[demand.number].place)
    if demand.kind in _OF_CONTACTS:
        return _line(assembly.contacts[demand.number].place)
    if demand.kind == "keep":
        return _line(assembly.keeps[demand.number].place)
    if demand.kind == "peg":
        return _line(assembly.pegs[demand.number].place)
    return _line(assembly.slopes[demand.number].place) if demand.kind == "slope" else ""


def demand_said(found: Reconciliation, demand: Demand) -> str:
    """The same without its line: wherever it is written, it asks for that."""
    assembly, measures = found.assembly, Measures.of(found.assembly)
    what = _what(found, demand)
    if demand.kind == "distance":
        distance = assembly.distances[demand.number]
        held = distance.plan_mm if distance.size_mm is None else distance.size_mm
        limit = {0: held, -1: distance.low_mm, 1: distance.high_mm}[demand.side]
        how = {0: "held at", -1: "at least", 1: "at most"}[demand.side]
        shown = "" if limit is None else f" {how} {measures.exact(limit)}"
        return f"{what}{shown}"
    if demand.kind == "contact":
        contact = assembly.contacts[demand.number]
        limit = contact.least_mm if demand.side < 0 else contact.most_mm
        how = "at least" if demand.side < 0 else "at most"
        return f"{what} {how} {measures.clearance(limit)}"
    if demand.kind == "gap":
        return f"{what} kept open"
    if demand.kind == "keep":
        keep = assembly.keeps[demand.number]
        if demand.side == 0:
            held = (keep.held_mm or 0.0) + (keep.length_mm or 0.0)
            return f"{what} held at {measures.exact(held)}"
        limit = keep.low_mm if demand.side < 0 else keep.high_mm
        how = "at least" if demand.side < 0 else "at most"
        return f"{what} {how} {measures.exact(limit or 0.0)}"
    if demand.kind == "rough":
        bound = found.state.rough[demand.number]
        return f"{what} at most {measures.exact(bound.most_mm)}, for the wood is gone (#{bound.no})"
    return what


def _what(found: Reconciliation, demand: Demand) -> str:
    """The thing a demand is made of, without its amount."""
    assembly = found.assembly
    if demand.kind == "distance":
        distance = assembly.distances[demand.number]
        return span_of(assembly, distance.start, distance.end)
    if demand.kind == "contact":
        return contact_words(found, assembly.contacts[demand.number])
    if demand.kind == "gap":
        contact = assembly.contacts[demand.number]
        return f"the gap between {gap_words(found, contact, demand.part)}"
    if demand.kind == "keep":
        return keep_words(found, assembly.keeps[demand.number], demand.part)
    if demand.kind == "rough":
        bound = found.state.rough[demand.number]
        return span_of(assembly, bound.start, bound.end)
    if demand.kind == "station":
        mark = assembly.marks[demand.number]
        base = assembly.marks[mark.station_of if mark.station_of is not None else demand.number]
        return f"{mark.name} straight with {base.name}"
    if demand.kind == "peg":
        peg = assembly.pegs[demand.number]
        return f"the peg of {assembly.joints[peg.joint].name}"
    if demand.kind == "slope":
        return slope_words(found, demand.number)
    return demand.kind


def slope_words(found: Reconciliation, number: int) -> str:
    """A slope by its ends: `the slope 1:8 of leg.fl notch.bottom@inner..notch.bottom@outer`; that of a station is
    the one of its face."""
    slope = found.assembly.slopes[number]
    if slope.whole is not None:
        slope = next((one for one in found.assembly.slopes if one.own_marks == slope.whole), slope)
    return f"the slope {slope.angle} of {span_of(found.assembly, slope.start, slope.end)}"


def contact_words(found: Reconciliation, contact: Contact) -> str:
    """A contact by its joint: `the slip fit of leg.fl outer/inner in apron.front l.dado-o/l.dado-i`."""
    assembly = found.assembly
    names = [assembly.marks[mark] for mark in contact.marks]
    if contact.kind == "housing":
        return f"the {contact.fit} fit of {housed(assembly, contact)}"
    if contact.kind == "room":
        return f"the room between {names[0].name} and {names[1].name}"
    return f"the {contact.fit} fit of {names[0].name} against {names[1].name}"


def gap_words(found: Reconciliation, contact: Contact, side: int) -> str:
    """The two marks that a gap lies between."""
    return " and ".join(found.assembly.marks[mark].name for mark in contact.gap_marks[side])


def keep_words(found: Reconciliation, keep: Rule, part: int) -> str:
    """A keep with the span that is meant."""
    if 0 <= part < len(keep.spans) and keep.held_mm is None:
        span = keep.spans[part]
        return f"{keep.name} ({span_of(found.assembly, span.start, span.end)})"
    return keep.name


def _line(place: Place) -> str:
    where = f"{place.file}:{place.line}" if place.line is not None else str(place)
    return f" ({where})" if where else ""
