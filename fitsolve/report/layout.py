"""Layout: how to lay out one part, mark by mark from its reference end, as plain values.

    word      START where all is measured from, CUT, BORE a hole, WAIT, made, or OPEN where nothing fixes it
    figure    the running length from the start: the line it is laid out at (linewords); a made mark
              stands where it is
    chain     the length from the mark before, as a check on the figure
    beside    how far the size wanted is off the line, and ± of the advice
    no line   what to do where no line keeps the joints
    faces     the faces of the part that the cut opens to: where the line is knifed
    meets     what comes together at the mark, and whether it fits

The face follows from the joint: beside the contacts along the figures' own axis a joint has
others, across it, and a shoulder or the floor of a dado has its wood on one side (edges); the cut
opens to the outermost mark on the other. Where nothing lies across, nothing is said.

A part that a reading not to be believed moves, or a conflict, is not to be cut: `waits` says why,
and no mark of it says CUT.

Not here: how it stands on a screen (layout_screen) or on paper (drawing), files, options.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from fitsolve.build.assembly import Contact
from fitsolve.build.history import MarkState
from fitsolve.findings.edges import Edge, EdgeMark, edges
from fitsolve.findings.lines import steps_of
from fitsolve.findings.values import ContactFinding
from fitsolve.light import dataclass, replace
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.cutting import part_sizes
from fitsolve.report.knifing import once_knifed
from fitsolve.report.linewords import (
    NO_SPREAD_MM,
    OTHER_WAY,
    Laid,
    beside_text,
    in_place_of_line,
    laid_of,
    sided,
)
from fitsolve.report.measures import Measures
from fitsolve.report.naming import inside
from fitsolve.report.pegwords import not_yet_bored
from fitsolve.report.waits import reading_waits, wait_texts

if TYPE_CHECKING:
    from fitsolve.findings.leaving import LeaveOn

START, CUT, BORE, WAIT, MADE, OPEN = "START", "CUT", "BORE", "WAIT", "made", "OPEN"
TO_CUT = (CUT, BORE)


@dataclass(frozen=True, slots=True)
class Met:
    """Something that comes together at a mark: `verdict` is that of the contact, `closed` for a joint
    that is; `ahead` where what it meets is not made yet. `seats` are the parts of an open joint that do not surely
    go on all their joints at once, each with what is known of that: a contact is no better."""

    part: str
    marks: tuple[str, ...]
    joint: str
    kind: str
    fit: str
    closed: bool
    ahead: bool
    verdict: str
    seats: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class LayoutMark:
    """One mark of a layout: numbers in mm, and the same as it is said. U (k = 2) is that of the advice,
    None where the mark is made; `before` names the mark that the chain runs from. `waste` is the side of what is
    cut away: +1 the way the figures run, -1 toward the start, 0 where nothing tells. `no_line` says what to do
    where no line keeps the joints: then there is no figure."""

    mark: int
    name: str
    word: str
    state: str
    plan_mm: float
    figure_mm: float | None
    chain_mm: float | None
    expanded_mm: float | None
    before: str
    figure: str
    off: str
    chain: str
    beside: str
    faces: tuple[str, ...]
    meets: tuple[Met, ...]
    waste: int = 0
    no_line: str = ""


@dataclass(frozen=True, slots=True)
class AxisLayout:
    """The marks along one axis, from the start on. `faces` are those that all its inner marks share;
    `notes` say what is rough, and which readings moved it."""

    axis: str
    start: str
    faces: tuple[str, ...]
    marks: tuple[LayoutMark, ...]
    notes: tuple[str, ...] = ()

    @property
    def to_cut(self) -> bool:
        """Whether something of it is still to be cut."""
        return any(one.word in (*TO_CUT, WAIT, OPEN) for one in self.marks)


@dataclass(frozen=True, slots=True)
class PartLayout:
    """How to lay out one part; `waits` says why it should not be cut yet, a sentence each. `leave` is the
    same with wood left on, None while it waits."""

    part: str
    waits: tuple[str, ...]
    axes: tuple[AxisLayout, ...]
    leave: LeaveOn | None = None
    first: str = ""
    """What should be read before it is cut: its figures are those with that as drawn."""

    @property
    def to_cut(self) -> bool:
        """Whether something of it is still to be cut."""
        return any(axis.to_cut for axis in self.axes)


def part_layout(found: Reconciliation, part: str) -> PartLayout:
    """Return how to lay out a part, by its whole name: the axes with something to cut first."""
    waits = wait_texts(found, part)
    from fitsolve.findings.leaving import leave_on_part

    notes = {axis.axis: (*axis.rough, *axis.why, *axis.room) for one in part_sizes(found, part) for axis in one.axes}
    own = edges(found.solved, [part])
    leave = None if waits else leave_on_part(found.solved, part, found.layouts, own)
    first = "" if waits else reading_waits(found, [part]).get(part, "")
    axes = [
        replace(axis, notes=(*_slopes(found, part, axis), *_knifed(found, axis), *notes.get(axis.axis, ())))
        for axis in axis_layouts(found, own, {part} if waits else ())
    ]
    return PartLayout(part, waits, tuple(sorted(axes, key=lambda axis: not axis.to_cut)), leave, first)


def _slopes(found: Reconciliation, part: str, axis: AxisLayout) -> tuple[str, ...]:
    if not found.assembly.slopes:
        return ()
    from fitsolve.report.slopewords import slope_notes

    index, marks = found.assembly.index, found.assembly.marks
    start = index[f"{part}.{axis.start}"]
    ways = [(marks[one.mark].plan_mm - marks[start].plan_mm) * one.plan_mm for one in axis.marks]
    return tuple(slope_notes(found, part, axis.axis, start, -1.0 if min(ways, default=0.0) < 0 else 1.0))


def _knifed(found: Reconciliation, axis: AxisLayout) -> tuple[str, ...]:
    """What to type once a wall without a line has been knifed, each housing once."""
    said = [text for one in axis.marks if one.no_line and one.word == CUT and (text := once_knifed(found, one.mark))]
    return tuple(f"once knifed: {text}" for text in said)


def axis_layouts(
    found: Reconciliation, some: Sequence[Edge], waits: Collection[str], *, exact: bool = False
) -> list[AxisLayout]:
    """Return how to lay out some edges, of one part or many; `waits` are the parts not to be cut yet. Where
    it is printed at true size and knifed through, `exact` says where each mark is wanted, not its line."""
    shared = _Shared(found, exact)
    writers: dict[str, _Writer] = {}
    for edge in some:
        if edge.part not in writers:
            writers[edge.part] = _Writer(found, edge.part, edge.part in waits, shared)
    return [writers[edge.part].axis(edge) for edge in some]


class _Shared:
    """What the layouts of all parts share, worked out once."""

    def __init__(self, found: Reconciliation, exact: bool) -> None:
        wanted = found.layouts
        self.exact = exact
        self.not_yet = not_yet_bored(found)
        self.fitted = {one.mark for layout in wanted for one in layout.marks if one.fitted}
        self.spreads = {one.mark: one.advice_expanded_mm for layout in wanted for one in layout.marks}
        self.steps = steps_of(found.assembly, wanted)
        self.contacts = {one.number: one for joint in found.joints for one in joint.contacts}
        self.ends = {one: ends for one, ends in found.assembly.outer_ends.items() if ends[0] != ends[1]}


class _Writer:
    """Writes the axes of one part."""

    def __init__(self, found: Reconciliation, part: str, waits: bool, shared: _Shared) -> None:
        self.found, self.part, self.waits = found, part, waits
        self.measures = Measures.of(found.assembly)
        self.spreads, self.contacts, self.steps = shared.spreads, shared.contacts, shared.steps
        self.exact, self.shared = shared.exact, shared
        self.ends = shared.ends

    # -- an axis -----------------------------------------------------------------------------

    def axis(self, edge: Edge) -> AxisLayout:
        at = {one.mark: self._at(one) for one in edge.marks if one.figure_mm is not None}
        marks = tuple(self._mark(edge, one, at) for one in edge.marks)
        told = {one.faces for one in marks if one.faces}
        name = inside(self.found.assembly.marks[edge.reference])
        return AxisLayout(edge.axis, name, told.pop() if len(told) == 1 else (), marks)

    def _at(self, one: EdgeMark) -> Fraction | None:
        """Where a mark is laid out; None where no line will do."""
        assert one.figure_mm is not None
        laid = self._laid(one)
        if laid is None:
            return Fraction(one.figure_mm)
        return None if laid.line_mm is None else Fraction(laid.line_mm)

    def _laid(self, one: EdgeMark) -> Laid | None:
        """How a mark is laid out; None where it is there already, or starts, or its place is printed."""
        if one.figure_mm is None or self.exact or one.mark not in self.found.laid_out.lines:
            return None
        told = self._fitted(one) or one.mark in self.found.laid_out.without_room  # then exact is what to aim at
        return laid_of(self.found, one.mark, one.figure_mm, one.plan_mm, told)

    def _own(self, one: EdgeMark) -> Measures:
        """The measures of a mark, by its own finest line."""
        return self.measures.stepped(self.steps[one.mark]) if one.mark in self.steps else self.measures

    def _fitted(self, one: EdgeMark) -> bool:
        """Whether it is still to be cut, and an open joint meets at it whose other side is made."""
        return one.mark in self.shared.fitted

    def _mark(self, edge: Edge, one: EdgeMark, at: dict[int, Fraction | None]) -> LayoutMark:
        assembly, own = self.found.assembly, self._own(one)
        start = one.mark == edge.reference
        laid = None if start else self._laid(one)
        figure = off = no_line = ""
        if one.figure_mm is not None and not start:
            figure, off = self._figure(one, own) if laid is None else (laid.figure(own), laid.off(own))
        u = self.spreads.get(one.mark)
        beside = "" if laid is None else beside_text(laid, own, u)
        if laid is None and u is not None and u >= NO_SPREAD_MM:
            beside = own.u(u)
        if one.mark in self.shared.not_yet:
            no_line = self.shared.not_yet[one.mark]
        elif laid is not None and laid.line_mm is None:
            no_line = in_place_of_line(self.found, one.mark)
        here, before = at.get(one.mark), at.get(one.before)
        step = None if here is None or before is None or start else here - before
        planned = edge.way * (assembly.marks[one.mark].plan_mm - assembly.marks[one.before].plan_mm)
        return LayoutMark(
            one.mark, inside(assembly.marks[one.mark]), self._word(one, start), one.state.name.lower(),
            one.plan_mm, one.figure_mm, None if step is None else float(step), u,
            "" if start else inside(assembly.marks[one.before]), "0" if start else figure or "?", off,
            "" if step is None else f"[{sided(step, planned, own.full)}]", beside,
            self._faces(one), self._meets(one), -one.wood, no_line,
        )  # fmt: skip

    def _figure(self, one: EdgeMark, own: Measures) -> tuple[str, str]:
        """Where a mark is, as it is, and what that is off plan."""
        assert one.figure_mm is not None
        full = one.state == MarkState.MADE or self._fitted(one)
        figure = sided(Fraction(one.figure_mm), one.plan_mm, own.full if full else own.size)
        figure += OTHER_WAY if one.plan_mm < 0 else ""
        return figure, own.off_plan((-one.figure_mm if one.plan_mm < 0 else one.figure_mm) - abs(one.plan_mm))

    def _word(self, one: EdgeMark, start: bool) -> str:
        if one.state == MarkState.MADE:
            return START if start else MADE
        if one.figure_mm is None:
            return OPEN
        if self.waits or one.mark in self.shared.not_yet:
            return WAIT
        return START if start else BORE if one.mark in self.found.assembly.holes else CUT

    # -- what it meets, and on which face ------------------------------------------------------

    def _meets(self, one: EdgeMark) -> tuple[Met, ...]:
        return tuple(self._met(number) for number in one.contacts)

    def _met(self, number: int) -> Met:
        assembly, states = self.found.assembly, self.found.state.marks
        contact = assembly.contacts[number]
        others = [mark for mark in contact.marks if assembly.marks[mark].part != self.part]
        finding: ContactFinding | None = self.contacts.get(number)
        return Met(
            assembly.marks[others[0]].part,
            tuple(inside(assembly.marks[mark]) for mark in others),
            assembly.joints[contact.joint].name,
            contact.kind,
            contact.fit,
            contact.joint in self.found.state.closed,
            any(states[mark] == MarkState.UNCUT for mark in others),
            finding.verdict if finding is not None else "can't tell",
            self._seats(contact.joint),
        )

    def _seats(self, joint: int) -> tuple[tuple[str, str], ...]:
        """The parts of an open joint that do not surely go on, and what is known of it."""
        name = self.found.assembly.joints[joint].name
        own = [self.found.seat_of.get(part) for part in self.found.assembly.joints[joint].parts]
        unsure = [seat for seat in own if seat is not None and name in seat.joints and seat.verdict != "goes on"]
        return tuple((seat.part, seat.verdict) for seat in unsure)

    def _faces(self, one: EdgeMark) -> tuple[str, ...]:
        """The faces that what is cut at this mark opens to; none for an end or a face of the part itself."""
        assembly = self.found.assembly
        mark = assembly.marks[one.mark]
        if one.mark in self.ends.get((self.part, mark.axis), ()):
            return ()
        faces: dict[str, None] = {}
        for joint in dict.fromkeys(assembly.contacts[number].joint for number in one.contacts):
            for number in assembly.joints[joint].contacts:
                contact = assembly.contacts[number]
                if contact.axis != mark.axis and contact.kind != "housing":
                    faces.update((name, None) for name in self._open_to(contact))
        return tuple(faces)

    def _open_to(self, contact: Contact) -> list[str]:
        """The outermost mark on the side where a shoulder or a floor has no wood."""
        marks = self.found.assembly.marks
        own = [place for place, mark in enumerate(contact.marks) if marks[mark].part == self.part]
        ends = self.ends.get((self.part, contact.axis))
        if not own or ends is None:
            return []
        face = ends[1 if own[0] == 0 else 0]
        return [] if face == contact.marks[own[0]] else [inside(marks[face])]
