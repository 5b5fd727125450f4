"""Slants: what an error of width does along the run of a slope.

A tongue with slanted sides, moved by dx along the run, has its clearance changed by D dx, where
D is the slope of its high side less that of its low side (1/6 for a half dovetail of 1:6, twice
that for both sides). So a clearance c, with the shoulder home, is worth

    travel = c / |D|

along the run: a tail 0.2 mm too wide stands 1.2 mm off its shoulder at 1:6, a wedge goes in so much
further before it is tight. Where a room of the joint limits how far it can go (a wedge short of
the face it is driven to), what is left of that room when it is tight is

    left = room + k (x_q - x_p) - k c / D,

k = +1 or -1 the way the room grows with x of the tongue, x_q - x_p the way that brings the marks
named by the stations together. Uncertainties are those of these sums as a whole.
"""

from __future__ import annotations

from collections.abc import Mapping

from fitsolve.build.assembly import Assembly, Contact, Slope
from fitsolve.findings.solved import Solved, Terms
from fitsolve.findings.values import Slant
from fitsolve.graph import clearance_terms, gap_terms, merged
from fitsolve.light import dataclass, replace

PARALLEL = 1e-9
"""Sides that close by less than this over their run are parallel: no travel makes up for a width."""


@dataclass(frozen=True, slots=True)
class _Slanted:
    """A housing that slants: a slope of it, D of the module, and for marks on slopes the mark along the run
    where each of them is."""

    contact: Contact
    slope: Slope
    closing: float
    run_of: Mapping[int, int]


def slants(solved: Solved) -> dict[int, Slant]:
    """Return what each housing with a slanted tongue or socket comes to along its run."""
    assembly = solved.assembly
    if not assembly.slopes:
        return {}
    slope_of: dict[int, Slope] = {}
    run_of: dict[int, int] = {}
    for one in assembly.slopes:
        for mark, along in ((one.start, one.run_start), (one.end, one.run_end)):
            slope_of.setdefault(mark, one)
            run_of.setdefault(mark, along)
    found = {}
    for number, contact in enumerate(assembly.contacts):
        slopes = _sides(contact, slope_of)
        if slopes is None:
            continue
        low, high = slopes
        closing = (high.ratio if high else 0.0) - (low.ratio if low else 0.0)
        if abs(closing) > PARALLEL:
            slope = low or high
            assert slope is not None, "one of the two slants"
            slant = _slant(solved, _Slanted(contact, slope, closing, run_of))
            found[number] = replace(slant, angle=_said(low, high))
    return found


def _sides(contact: Contact, slope_of: dict[int, Slope]) -> tuple[Slope | None, Slope | None] | None:
    """The slopes of the low and the high side of a housing: the tongue's, else the socket's."""
    if contact.kind != "housing":
        return None
    tongue_low, tongue_high, socket_low, socket_high = contact.marks
    low = slope_of.get(tongue_low, slope_of.get(socket_low))
    high = slope_of.get(tongue_high, slope_of.get(socket_high))
    return None if low is None and high is None else (low, high)


def _said(low: Slope | None, high: Slope | None) -> str:
    """The slope as written, of both sides where both slant."""
    if low is None or high is None:
        one = low or high
        return one.angle if one else ""
    return f"{low.angle} on both sides" if low.angle == high.angle else f"{low.angle} and {high.angle}"


def _slant(solved: Solved, slanted: _Slanted) -> Slant:
    assembly = solved.assembly
    contact, slope, closing = slanted.contact, slanted.slope, slanted.closing
    clearance = merged(clearance_terms(contact))
    axis = assembly.marks[slope.run_start].axis
    nothing: tuple[float | None, float | None] = (None, None)
    travel = _sum(solved, [(mark, coef / abs(closing)) for mark, coef in clearance])
    shoulder = _of_kind(assembly, contact, "butt", axis)
    room = _of_kind(assembly, contact, "room", axis)
    left = None
    if room is not None and shoulder is None:
        left = _sum(solved, _left(assembly, slanted, assembly.contacts[room]))
    travel_mm, expanded_mm = travel or nothing
    left_mm, left_expanded_mm = left or nothing
    return Slant(
        slope.angle,
        axis,
        1 / abs(closing),
        travel_mm,
        expanded_mm,
        shoulder,
        left_mm,
        left_expanded_mm,
    )


def _of_kind(assembly: Assembly, contact: Contact, kind: str, axis: str) -> int | None:
    """The contact of that kind along an axis that the same joint has, by its number."""
    own = ((number, assembly.contacts[number]) for number in assembly.joints[contact.joint].contacts)
    return next((number for number, one in own if one.kind == kind and one.axis == axis), None)


def _left(assembly: Assembly, slanted: _Slanted, room: Contact) -> Terms:
    """What is left of a room when the tongue is tight: the row of the module's second formula."""
    marks, contact = assembly.marks, slanted.contact
    tongue = marks[contact.marks[0]].part
    (upper, _), *_ = gap_terms(room)[0]
    way = 1.0 if marks[upper].part == tongue else -1.0
    tight = [(mark, -way * coef / slanted.closing) for mark, coef in clearance_terms(contact)]
    return merged(gap_terms(room)[0], _together(assembly, slanted, way), tight)


def _together(assembly: Assembly, slanted: _Slanted, way: float) -> Terms:
    """way (x_q - x_p): p where the tongue's mark is, q where the socket's is; nothing where unknown."""
    own, other = (_where(assembly, slanted, side) for side in ((0, 1), (2, 3)))
    if own is None or other is None or own == other:
        return []
    return [(other, way), (own, -way)]


def _where(assembly: Assembly, slanted: _Slanted, side: tuple[int, int]) -> int | None:
    """The mark along the run at which one side of a housing has its marks."""
    axis = assembly.marks[slanted.slope.run_start].axis
    for mark in (slanted.contact.marks[k] for k in side):
        if mark in slanted.run_of:
            return slanted.run_of[mark]
        base, _, station = assembly.marks[mark].name.partition("@")
        for name in (f"{base.rpartition('.')[0]}.{station}", f"{assembly.marks[mark].part}.{station}"):
            found = assembly.index.get(name) if station else None
            if found is not None and assembly.marks[found].axis == axis:
                return found
    return None


def _sum(solved: Solved, terms: Terms) -> tuple[float, float] | None:
    """A sum and its U (k = 2) in the finished piece; None where nothing fixes it. What lies in pieces that nothing
    ties errs by itself."""
    parts: dict[int, Terms] = {}
    for mark, coef in terms:
        parts.setdefault(int(solved.piece_of[mark]), []).append((mark, coef))
    variance = 0.0
    for own in parts.values():
        piece = solved.piece(own)
        if piece is None or not piece.fixed(solved.inside(own)):
            return None
        variance += solved.u_finished(piece, own) ** 2
    return solved.value_mm(terms), 2 * variance**0.5
