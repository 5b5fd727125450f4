"""Sizes to cut, in words: each part from its reference end, with the reason where it is off plan.

The figure is the line that the mark is laid out at (linewords): whole steps that keep the joints. How
far the size wanted is off it stands behind, once. The length in [ ] is the difference of two lines;
from a made mark it is the real distance. A minus says that a mark lies on the other side of the
one it is counted from than in plan. Where no line keeps the joints, a sentence stands in its place.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from fractions import Fraction

from fitsolve.build.assembly import Contact
from fitsolve.build.history import MarkState
from fitsolve.build.readings import RoughBound
from fitsolve.findings.causes import contributions
from fitsolve.findings.running import Layout, Running
from fitsolve.findings.values import SeatFinding
from fitsolve.light import dataclass, replace
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.linewords import (
    AS_PLANNED,
    Laid,
    ahead_text,
    beside_text,
    in_place_of_line,
    laid_of,
    line_mm,
    no_room_text,
    sided,
)
from fitsolve.report.measures import Measures, off_plan
from fitsolve.report.naming import inside, span_named, words_of

WHY_MOST = 3
HALF = 0.5
COLUMN_OFF = 2
"""Where in a row its difference from plan stands."""


@dataclass(frozen=True, slots=True)
class AxisSizes:
    """What to cut along one axis of a part: where from, a table of marks off plan, those as planned
    in a line, what is rough, why, where both ends of its slanted lines lie, which lines leave no room, and which of the
    slanted ones are as planned."""

    axis: str
    start: str
    rows: tuple[tuple[str, ...], ...]
    as_planned: str
    rough: tuple[str, ...]
    why: tuple[str, ...]
    slopes: tuple[str, ...] = ()
    room: tuple[str, ...] = ()
    slopes_as_planned: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PartSizes:
    """What to cut on one part. `off_plan` says that something of it is not as planned."""

    part: str
    axes: tuple[AxisSizes, ...]
    note: str
    off_plan: bool


def part_sizes(
    found: Reconciliation, only: str = "", named: set[int] | None = None, hidden: Collection[str] = ()
) -> tuple[PartSizes, ...]:
    """Return every part with marks still to be cut: those off plan first, else in the order of the plan.

    Where `only` names a part, that one alone. `named` are readings told in full on the same screen already: of
    these their numbers are enough; those told here are added. Of parts that are `hidden` only the name comes back:
    their sizes are not shown.
    """
    by_part: dict[str, list[AxisSizes]] = {}
    seats = {seat.part: seat for seat in found.seats}
    housings = open_housings(found)
    laid = {(one.part, one.axis): one for one in _still_to_cut(found) if only in ("", one.part)}
    for (part, _), layout in laid.items():
        axes = by_part.setdefault(part, [])
        if part not in hidden:
            axes.append(axis_sizes(found, layout))
    parts = [
        PartSizes(part, tuple(axes), _note(found, seats.get(part)), _moved(axes))
        for part, axes in by_part.items()
    ]
    parts.sort(key=lambda one: not one.off_plan)  # what is told first is told in full

    def reasoned(part: str, axis: AxisSizes) -> AxisSizes:
        if not axis.rows:
            return axis
        said = set[int]() if named is None else named
        return replace(axis, why=(*_why(found, laid[part, axis.axis], housings.get(part, []), said), *axis.why))

    return tuple(replace(one, axes=tuple(reasoned(one.part, axis) for axis in one.axes)) for one in parts)


def _still_to_cut(found: Reconciliation) -> Iterator[Layout]:
    """The layouts without what it is too late to cut; those of which nothing is left then are left out."""
    if not found.assembly.pegs:
        yield from found.layouts
        return
    from fitsolve.report.pegwords import shut_in

    late = shut_in(found)
    for layout in found.layouts:
        marks = tuple(one for one in layout.marks if one.mark not in late)
        if marks or not layout.marks:
            yield replace(layout, marks=marks)


def _moved(axes: list[AxisSizes]) -> bool:
    return any(len(row) <= COLUMN_OFF or row[COLUMN_OFF] != AS_PLANNED for axis in axes for row in axis.rows)


def _note(found: Reconciliation, seat: SeatFinding | None) -> str:
    """What would become of a part that is cut to plan."""
    if seat is None or seat.as_planned_mm is None or seat.as_planned_mm >= 0:
        return ""  # there may be no end of play: infinity is no length
    measures = Measures.of(found.assembly)
    if not measures.bare(-seat.as_planned_mm).strip("0."):
        return ""
    return f"cut to plan it would jam by {measures.clearance(-seat.as_planned_mm)}"


def open_housings(found: Reconciliation) -> dict[str, list[Contact]]:
    """The open housings of each part."""
    housings: dict[str, list[Contact]] = {}
    for contact in found.assembly.contacts:
        if contact.kind == "housing" and contact.joint not in found.state.closed:
            for part in {found.assembly.marks[mark].part for mark in contact.marks}:
                housings.setdefault(part, []).append(contact)
    return housings


def axis_sizes(found: Reconciliation, layout: Layout) -> AxisSizes:
    """The sizes of a part along one axis, without what moved them."""
    assembly = found.assembly
    ruled = _Ruled(found, layout)
    ahead = ahead_text(found, [one.mark for one in layout.marks])
    rows: list[tuple[str, ...]] = []
    planned: list[str] = []
    not_yet: dict[int, str] = {}
    if assembly.pegs:
        from fitsolve.report.pegwords import not_yet_bored

        not_yet = not_yet_bored(found)
    slanted, slopes = _told_by_slopes(found, layout), _slopes(found, layout)
    for one in layout.marks:
        name = inside(assembly.marks[one.mark])
        laid = ruled.laid(one)
        if laid is None:
            rows.append((name, "not fixed by anything"))
        elif one.mark in not_yet:
            rows.append((name, not_yet[one.mark]))
        elif laid.line_mm is None:
            rows.append((name, in_place_of_line(found, one.mark)))
        elif laid.as_planned(ruled.own(one.mark)):
            if one.mark in slanted:
                continue
            planned.append(f"{name} {laid.figure(ruled.own(one.mark))}")
        else:
            first = not any(len(row) > COLUMN_OFF and row[COLUMN_OFF] != AS_PLANNED for row in rows)
            rows.append((name, *ruled.cells(one, laid, first)))
    return AxisSizes(
        layout.axis,
        inside(assembly.marks[layout.reference]),
        tuple(rows),
        ", ".join(planned),
        tuple(_rough(found, layout)),
        tuple(filter(None, [ahead])),
        tuple(slopes),
        tuple(filter(None, [no_room_text(found, [one.mark for one in layout.marks])])),
        tuple(text for text, as_planned in slopes.items() if as_planned),
    )


def _slopes(found: Reconciliation, layout: Layout) -> dict[str, bool]:
    if not found.assembly.slopes:
        return {}
    from fitsolve.report.slopewords import slope_notes

    return slope_notes(found, layout.part, layout.axis, layout.reference, float(layout.way))


def _told_by_slopes(found: Reconciliation, layout: Layout) -> frozenset[int]:
    """The marks as planned whose figures stand with those of their slopes."""
    if not found.assembly.slopes:
        return frozenset()
    from fitsolve.report.slopewords import told_by_slopes

    return told_by_slopes(found, layout.part, layout.axis, layout.reference)


class _Ruled:
    """One axis of a part with the lines of its marks."""

    def __init__(self, found: Reconciliation, layout: Layout) -> None:
        self.found, self.layout = found, layout
        self.measures = Measures.of(found.assembly)
        x = found.solved.positions_mm
        self.at: dict[int, float | None] = {layout.reference: 0.0}
        for one in layout.marks:
            self.at[one.mark] = line_mm(found, one.mark)
        for one in layout.marks:
            self.at.setdefault(one.before, layout.way * float(x[one.before] - x[layout.reference]))

    def own(self, mark: int) -> Measures:
        """The measures of a mark, by its own finest line."""
        line = self.found.laid_out.lines.get(mark)
        return self.measures if line is None else self.measures.stepped(line.step_mm)

    def laid(self, one: Running) -> Laid | None:
        """How a mark is laid out, None where nothing fixes it."""
        if one.figure_mm is None:
            return None
        told = one.fitted or one.mark in self.found.laid_out.without_room  # then exact is what to aim at
        return laid_of(self.found, one.mark, one.figure_mm, one.plan_mm, told)

    def beside(self, one: Running, laid: Laid) -> str:
        """What the line leaves out, and ± U of the advice."""
        return beside_text(laid, self.own(one.mark), one.advice_expanded_mm)

    def cells(self, one: Running, laid: Laid, first: bool) -> tuple[str, ...]:
        """The line, its difference from plan, the check in [ ], what is left out and ± U of the advice."""
        own = self.own(one.mark)
        off = laid.off(own)
        if first and off != AS_PLANNED:
            off += " than plan"
        return laid.figure(own), off, self.chain(one, own), self.beside(one, laid)

    def chain(self, one: Running, own: Measures) -> str:
        """From the mark before, as a check; nothing where one of the two has no line."""
        at, before = self.at[one.mark], self.at[one.before]
        if at is None or before is None:
            return ""
        marks, way = self.found.assembly.marks, self.layout.way
        planned = way * (marks[one.mark].plan_mm - marks[one.before].plan_mm)
        return f"[{sided(Fraction(at) - Fraction(before), planned, own.full)}]"


def _rough(found: Reconciliation, layout: Layout) -> list[str]:
    """What is rough on this axis, and how much is to come off it: of a piece that was read twice, as it came down,
    what it is at most."""
    assembly, measures = found.assembly, Measures.of(found.assembly)
    least: dict[frozenset[int], tuple[RoughBound, float]] = {}
    for bound, most_mm in zip(found.state.rough, found.solved.rough_most_mm, strict=True):
        mark, ends = assembly.marks[bound.start], frozenset((bound.start, bound.end))
        if (mark.part, mark.axis) == (layout.part, layout.axis) and (ends not in least or most_mm < least[ends][1]):
            least[ends] = bound, most_mm
    lines = []
    for bound, most_mm in least.values():
        mark = assembly.marks[bound.start]
        size = _laid_apart(found, layout, bound.start, bound.end)
        name = f"{inside(mark)}..{inside(assembly.marks[bound.end])}"
        off = max(most_mm - size, 0.0)
        take = f"take {measures.clearance(off)} off" if measures.bare(off).strip("0.") else "leave it"
        told = f"{measures.exact(bound.most_mm)} (#{bound.no})"
        if measures.bare(most_mm) != measures.bare(bound.most_mm):
            told += f", {measures.full(most_mm)} with the error of {bound.tool} taken off"
        lines.append(f"{name} is rough, {told}: {take}")
    return lines


def _laid_apart(found: Reconciliation, layout: Layout, start: int, end: int) -> float:
    """How far apart two marks of an axis are at the lines they are cut to, where both have one; else as advised."""
    x = found.solved.positions_mm
    at = [0.0 if mark == layout.reference else line_mm(found, mark) for mark in (start, end)]
    if at[0] is None or at[1] is None:
        return abs(float(x[end] - x[start]))
    return abs(at[1] - at[0])


def _why(found: Reconciliation, layout: Layout, housings: list[Contact], named: set[int]) -> list[str]:
    """What moved the sizes: the parts that this one is fitted to, and the readings that weigh most; of those `named`
    already only the number. Those named here are added."""
    measures = Measures.of(found.assembly)
    fitted = _fits(found, layout, housings, measures)
    readings: dict[int, None] = {}
    for one in layout.marks:
        off = 0.0 if one.figure_mm is None else one.figure_mm - one.plan_mm
        if not measures.bare(off).strip("-0.") or (not one.fitted and abs(off) < HALF * measures.step_mm):
            continue
        terms = [(one.mark, float(layout.way)), (layout.reference, -float(layout.way))]
        least = abs(off) / 4
        for row, amount in contributions(found.solved, terms)[:2]:
            if abs(amount) >= max(least, float(measures.step_mm) / 8):
                readings[row] = None
    rows = list(readings)[:WHY_MOST]
    said = [f"#{row}" if row in named else _reading_text(found, row, measures) for row in rows]
    named.update(rows)
    rest = len(readings) - WHY_MOST
    if rest > 0:
        said.append(f"{rest} more")
    return fitted + ([f"because of {words_of(said)}"] if said else [])


def _fits(found: Reconciliation, layout: Layout, housings: list[Contact], measures: Measures) -> list[str]:
    """`l.dado-o/l.dado-i to fit leg.fl as it is (3 17/32)` for each open housing whose other part is made."""
    assembly, states, x = found.assembly, found.state.marks, found.solved.positions_mm
    own = {one.mark for one in layout.marks}
    lines = []
    for contact in housings:
        for mine, other in ((contact.marks[:2], contact.marks[2:]), (contact.marks[2:], contact.marks[:2])):
            if not own.issuperset(mine) or any(states[mark] != MarkState.MADE for mark in other):
                continue
            width = float(x[other[1]] - x[other[0]])
            plan = assembly.marks[other[1]].plan_mm - assembly.marks[other[0]].plan_mm
            if not measures.bare(width - plan).strip("-0."):
                continue
            pair = "/".join(inside(assembly.marks[mark]) for mark in mine)
            part = assembly.marks[other[0]].part
            lines.append(f"{pair} to fit {part} as it is ({measures.full(width)})")
    return lines


def _reading_text(found: Reconciliation, row: int, measures: Measures) -> str:
    """`#51 leg.fl.inner..leg.fr.inner, 45 5/8: 1/8 more than plan`."""
    reading = next(one for one in found.state.readings if one.no == row)
    name = span_named(found.assembly, reading.start, reading.end)
    text = f"#{row} {name}, {measures.exact(reading.shown_mm)}"
    if len(reading.terms) != 2:
        return text
    (end, _), (start, _) = reading.terms
    assembly = found.assembly
    if assembly.placed[start] != assembly.placed[end]:
        return text
    plan = abs(assembly.marks[end].plan_mm - assembly.marks[start].plan_mm)
    off = off_plan(reading.shown_mm - plan, measures.unit)
    return text if off == "as planned" else f"{text} ({off} than plan)"
