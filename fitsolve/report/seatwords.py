"""Seats in words: whether a part goes on all its joints at once, what is in its way, the cheapest rescue.

    chance 0.00 that it goes on: 0.010 in too little, ± 0.003, at leg left/right in apron left/right. What to
    do: see JOINTS, dado leg apron.

Where one contact is in the way, JOINTS tells what to take off it; here it is told only where two joints stand too
near to each other or too far apart, each fitting by itself: what gives both fits their least, up to their aim. Two
parts with the same gaps in their way are told of together.
"""

from __future__ import annotations

from collections.abc import Sequence

from fitsolve.build.history import MarkState
from fitsolve.findings.causes import SURE_RATIO, Squeeze
from fitsolve.findings.values import ContactFinding, JointFinding, SeatFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.doubtwords import read_again_first, rests_on
from fitsolve.report.fitwords import contact_name
from fitsolve.report.measures import Measures
from fitsolve.report.naming import inside, words_of
from fitsolve.report.remedies import (
    KNIFE,
    NO_WOOD,
    amount_text,
    beyond_wood,
    capital,
    contact_found,
    extent_mm,
    met_by,
    never_read,
    reaching_end,
    read_first,
    sides,
    still_to_cut,
    then,
    to_know,
    to_take,
    told_by_joints,
    told_by_seat,
)
from fitsolve.report.told import Told
from fitsolve.report.waits import in_conflict, settling

NEGLIGIBLE_MM = 1e-6
_READ, _WHAT_TO_DO = "read ", "What to do: "
ALSO_WORTH = 0.05
"""Beside a knifed cut, a reading with so small a share of the variance is still a way to know more."""


def seat_text(
    found: Reconciliation, seat: SeatFinding, others: Sequence[SeatFinding] = (), told: Told | None = None
) -> str:
    """Return whether a part goes on all its joints at once; if not surely, what would help. `others` are parts with the
    same in their way: all are told of in one. `told` is what stands on the same screen already."""
    measures = Measures.of(found.assembly)
    plan = _against_plan(found, seat, measures) if told is None else ""  # there it stands with what is to be cut
    if seat.verdict == "goes on":
        return f"goes {_on(len(seat.joints))}{plan}."
    if seat.chance is None:
        return "not fixed by anything yet."
    every = [seat, *others]
    chances = words_of(list(dict.fromkeys(f"{one.chance or 0.0:.2f}" for one in every)))
    goes = f"it goes {_on(len(seat.joints))}" if not others else "they go on their joints at once"
    said = f"chance {chances}"
    if told is None or told.once("the chance of a seat"):
        said += f" that {goes}"
    if any(len(one.joints) > 1 for one in every) and all(
        own.verdict == "fits" for one in every for own in _housings(found, one)
    ):
        said += " though each fits by itself"
    tightest = found.squeeze_of(seat.part)
    if tightest is None:
        return f"{said}{plan}."
    rests = rests_on(found, list(tightest.terms))
    if told is not None and not rests and told_by_joints(found, tightest):  # JOINTS says it all
        elsewhere = _told_elsewhere(found, tightest).removeprefix(_WHAT_TO_DO)
        return f"{_room(tightest, measures)}: {elsewhere}."
    lead = ""
    if seat.verdict == "jams" and not _proven(tightest):  # the least room need not be too little
        lead = "no one place is too tight for sure, but hardly all of them go; the least is "
    said += f": {lead}{_room(tightest, measures)}, {_where(found, tightest, told is not None)}"
    if rests:
        rescue = f"It rests on {rests}: see STOP"
    elif told_by_joints(found, tightest):
        rescue = _told_elsewhere(found, tightest)
    elif seat.verdict == "jams":
        rescue = _saved(found, seat, tightest, measures, told)
        rescue = read_again_first(found, list(tightest.terms), f". {rescue}").removeprefix(". ")
    else:
        rescue = _seat_rescue(found, tightest, told)
    return f"{said}{plan}. {rescue}."


def _on(count: int) -> str:
    return "on" if count == 1 else f"on {'both' if count == 2 else f'all {count}'} joints at once"


def between_of(found: Reconciliation, seat: SeatFinding) -> tuple[int, int] | None:
    """The two contacts between which a part has the least room, by which it is told with others; None for none."""
    tightest = found.squeeze_of(seat.part) if seat.chance is not None else None
    return None if tightest is None else (min(tightest.first, tightest.second), max(tightest.first, tightest.second))


def _told_elsewhere(found: Reconciliation, tightest: Squeeze) -> str:
    """Where it stands what to take off: under the joints, or with another part that lacks more for the same wall."""
    pair = (tightest.first, tightest.second)
    others = list(dict.fromkeys(part for number in pair if (part := told_by_seat(found, number))))
    if others:
        return f"{_WHAT_TO_DO}see {words_of(others)}"
    names = dict.fromkeys(_joint(found, number).name for number in pair)
    return f"{_WHAT_TO_DO}see JOINTS, {words_of(list(names))}"


def seat_to_be_read(found: Reconciliation, seat: SeatFinding) -> bool:
    """Whether that a part jams rests on what was never read."""
    tightest = found.squeeze_of(seat.part) if seat.verdict == "jams" else None
    return tightest is not None and bool(never_read(found, tightest))


def _housings(found: Reconciliation, seat: SeatFinding) -> list[ContactFinding]:
    """The open housings of a part."""
    return [
        one
        for number in found.assembly.joints_of[seat.part]
        if (joint := found.joint_of[number]).name in seat.joints
        for one in joint.contacts
        if one.kind == "housing"
    ]


def _room(tightest: Squeeze, measures: Measures) -> str:
    """What is left of the room, or missing: `0.010 in too little, ± 0.003`."""
    room = measures.clearance(abs(tightest.room_mm))
    left = f"{room} too little" if tightest.room_mm < 0 and room.strip("0. inm") else f"{room} of room"
    return f"{left}, {measures.u(tightest.expanded_mm)}"


def _where(found: Reconciliation, tightest: Squeeze, in_short: bool) -> str:
    """The one contact or the two between which a part is squeezed; `in_short` a joint whose contact stands under JOINTS
    by its name."""
    contacts = found.assembly.contacts
    first, second = contacts[tightest.first], contacts[tightest.second]
    if tightest.alone:
        marks = [found.assembly.marks[mark] for mark, _ in tightest.terms[:2]]
        return f"between {words_of([mark.name for mark in marks])}, as they stand"
    if tightest.first == tightest.second:
        if in_short and contact_found(found, tightest.first).verdict != "fits":
            return f"in {found.assembly.joints[first.joint].name}"
        return f"at {contact_name(found, first)}"
    return f"between {contact_name(found, first)} and {contact_name(found, second)}"


def _saved(
    found: Reconciliation, seat: SeatFinding, tightest: Squeeze, measures: Measures, told: Told | None
) -> str:
    """What would let a part on that jams, at the least cost."""
    if not _proven(tightest):
        return _seat_rescue(found, tightest, told)
    if still_to_cut(found, tuple(mark for mark, _ in tightest.terms)):
        if conflict := in_conflict(found, tightest.first) or in_conflict(found, tightest.second):
            do = settling(found, conflict)
            return f"Something of it is still to be cut, but no size of it keeps all the rest: {do}"
        return "Something of it is still to be cut: cut it to fit what is there, or give the fit more room"
    return then(read_first(found, never_read(found, tightest)), _taken(found, seat, tightest, measures))


def _proven(tightest: Squeeze) -> bool:
    """Whether this squeeze alone is proven to be too tight."""
    return tightest.room_mm < -SURE_RATIO * max(tightest.expanded_mm, NEGLIGIBLE_MM)


def _joint(found: Reconciliation, contact: int) -> JointFinding:
    return found.joint_of[found.assembly.contacts[contact].joint]


def _taken(found: Reconciliation, seat: SeatFinding, tightest: Squeeze, measures: Measures) -> str:
    """What to take off where: `take 0.026 to 0.032 in off leg.left, or remake leg`. Of the walls it is that of the
    shortest part which stays within the most of its fits; where none does, half off one wall of each joint if that
    spoils less."""
    least, aim = to_take(found, tightest)
    choice = _choice(found, tightest)
    share = 1 / len(choice)
    if any(beyond_wood(found, mark, share * least) for mark in choice):
        return f"{NO_WOOD}{seat.part}"
    past, joint = max(_past_most(found, mark, share * least) for mark in choice)
    names = words_of([found.assembly.marks[mark].name for mark in choice])
    each = "each of " if len(choice) > 1 else ""
    left = f", which leaves {joint} {measures.clearance(past)} over its most" if past > NEGLIGIBLE_MM else ""
    amount = amount_text(measures, share * least, share * aim)
    anew = found.assembly.marks[choice[0]].part if tightest.first == tightest.second else seat.part
    return f"take {amount} off {each}{names}{left}, or remake {anew}"


def _choice(found: Reconciliation, tightest: Squeeze) -> list[int]:
    """The walls that lose wood, as much each."""
    least, _ = to_take(found, tightest)
    walls = _walls(found, tightest)
    single = min(walls, key=lambda mark: _spoilt_by(found, mark, least))
    both = _one_of_each(found, tightest, walls)
    past = _past_most(found, single, least)[0]
    if past > NEGLIGIBLE_MM and past > max(_past_most(found, mark, least / len(both))[0] for mark in both):
        return both
    return [single]


def walls_told(found: Reconciliation, seat: SeatFinding) -> list[int]:
    """The walls of made wood of which it is told here that something has to come off."""
    tightest = found.squeeze_of(seat.part) if seat.verdict == "jams" else None
    if tightest is None or not _proven(tightest) or told_by_joints(found, tightest):
        return []
    if still_to_cut(found, tuple(mark for mark, _ in tightest.terms)):
        return []
    return [] if rests_on(found, list(tightest.terms)) else _choice(found, tightest)


def _spoilt_by(found: Reconciliation, mark: int, off_mm: float) -> tuple[bool, tuple[int, float, str]]:
    """Whether taking so much off a mark makes a fit too wide, and what the mark costs: what is to be least."""
    return _past_most(found, mark, off_mm)[0] > NEGLIGIBLE_MM, _cost(found, mark)


def _one_of_each(found: Reconciliation, tightest: Squeeze, walls: list[int]) -> list[int]:
    """The cheapest wall of each of the two contacts; one where they are the same."""
    contacts = found.assembly.contacts
    own = [[mark for mark in walls if mark in contacts[k].marks] for k in (tightest.first, tightest.second)]
    return sorted({min(some, key=lambda mark: _cost(found, mark)) for some in own if some})


def _past_most(found: Reconciliation, mark: int, off_mm: float) -> tuple[float, str]:
    """By how much an open fit is past its most, mm, once so much is off a mark, with its joint; the worst of them."""
    worst = (0.0, "")
    for number in found.assembly.contacts_of[found.assembly.marks[mark].part]:
        contact = found.assembly.contacts[number]
        if mark in contact.marks and contact.joint not in found.state.closed:
            clearance = contact_found(found, number).clearance_mm
            if clearance is not None:
                worst = max(worst, (clearance + off_mm - contact.most_mm, found.assembly.joints[contact.joint].name))
    return worst


def _cost(found: Reconciliation, mark: int) -> tuple[int, float, str]:
    """What it costs to touch a mark: what else meets there, then the longest side of its part."""
    one = found.assembly.marks[mark]
    return met_by(found, mark), extent_mm(found.assembly, one.part), one.name


def _walls(found: Reconciliation, tightest: Squeeze) -> list[int]:
    """The marks that bear on each other: not those of another axis, along which a slope only runs, nor an
    end that reaches through a room, which is not made wider there."""
    axis = found.assembly.contacts[tightest.first].axis
    contacts = (found.assembly.contacts[number] for number in (tightest.first, tightest.second))
    reach = {reaching_end(found, contact) for contact in contacts}
    walls = [mark for mark, _ in tightest.terms if found.assembly.marks[mark].axis == axis]
    return [mark for mark in walls if mark not in reach] or walls


def _seat_rescue(found: Reconciliation, tightest: Squeeze, told: Told | None) -> str:
    """What would make a part go on, or tell whether it does."""
    told = told or Told(found)
    known = [way for way in to_know(found, list(tightest.terms), ALSO_WORTH) if way.do != KNIFE]
    terms = tuple(mark for mark, _ in tightest.terms)
    conflict = in_conflict(found, tightest.first) or in_conflict(found, tightest.second)
    if conflict is not None and still_to_cut(found, terms):
        return capital(settling(found, conflict))
    ways = [told.way(way) for way in known]
    for number in (tightest.second, tightest.first):
        contact = found.assembly.contacts[number]
        uncut, made = sides(found, contact)
        if still_to_cut(found, uncut) and not still_to_cut(found, made):
            marks = [found.assembly.marks[mark] for mark in uncut]
            pair = "/".join(dict.fromkeys(inside(mark) for mark in marks))
            ways.insert(0, f"knife {marks[0].part} {pair} off {found.assembly.marks[made[0]].part}")
            break
    else:
        if still_to_cut(found, terms):
            ways.insert(0, "cut one side, then knife the other off it")
            return _or(ways, told)
        cheap = min(_walls(found, tightest), key=lambda mark: _cost(found, mark))
        ways.append(f"try it dry, and ease {found.assembly.marks[cheap].name}")
    return _or(ways, told)


def _or(ways: list[str], told: Told) -> str:
    reads = [way for way in ways if way.startswith(_READ) and ", " not in way]
    if len(reads) == 2:  # the one right behind the other
        ways = [way for way in ways if way not in reads[1:]]
        ways[ways.index(reads[0])] += f" or {reads[1].removeprefix(_READ)}"
    return capital("; or ".join([*ways, *told.once("a wider fit")]))


def _against_plan(found: Reconciliation, seat: SeatFinding, measures: Measures) -> str:
    """What would have become of the part if it were cut to plan: of one that is still to be cut, and then goes on."""
    if seat.as_planned_mm is None or seat.as_planned_mm > -NEGLIGIBLE_MM or seat.verdict == "jams":
        return ""
    if all(found.state.marks[mark] == MarkState.MADE for mark in _own_marks(found, seat.part)):
        return ""
    short = measures.clearance(-seat.as_planned_mm)
    if not short.strip("0. inm"):
        return ""
    return f"; cut to plan it would jam by {short}"


def _own_marks(found: Reconciliation, part: str) -> list[int]:
    """The marks of a part that meet others."""
    assembly = found.assembly
    return [
        mark
        for number in assembly.contacts_of[part]
        for mark in assembly.contacts[number].marks
        if assembly.marks[mark].part == part
    ]
