"""Sizes to cut, in words: each part from its reference end, with the reason where it is off plan.

The figure is the nearest line that can be laid out; what it leaves out of the size wanted
stands behind it where a joint meets at the mark. The length in [ ] is the difference of two
figures as they are laid out, with what belongs behind them, so that the check holds at the bench;
from a made mark it is the real distance. A minus says that a mark lies on the other side of the
one it is counted from than in plan.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from fitsolve.build.assembly import Contact
from fitsolve.build.history import MarkState
from fitsolve.findings.causes import contributions
from fitsolve.findings.lines import steps_of
from fitsolve.findings.running import Layout, Running
from fitsolve.findings.values import SeatFinding
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures, off_plan
from fitsolve.report.naming import inside, span_named, words_of

WHY_MOST = 3
AS_PLANNED = "as planned"
OTHER_WAY = " the other way"
HALF = 0.5
NO_SPREAD_MM = 1e-6


@dataclass(frozen=True, slots=True)
class AxisSizes:
    """What to cut along one axis of a part: where from, a table of marks off plan, those as planned
    in a line, what is rough, and why."""

    axis: str
    start: str
    rows: tuple[tuple[str, ...], ...]
    as_planned: str
    rough: tuple[str, ...]
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartSizes:
    """What to cut on one part. `off_plan` says that something of it is not as planned."""

    part: str
    axes: tuple[AxisSizes, ...]
    note: str
    off_plan: bool


def part_sizes(found: Reconciliation, only: str = "") -> tuple[PartSizes, ...]:
    """Return every part with marks still to be cut: those off plan first, else in the order of the plan.

    Where `only` names a part, that one alone.
    """
    by_part: dict[str, list[AxisSizes]] = {}
    seats = {seat.part: seat for seat in found.seats}
    housings = open_housings(found)
    for layout in found.layouts:
        if only and layout.part != only:
            continue
        by_part.setdefault(layout.part, []).append(axis_sizes(found, layout, housings.get(layout.part, [])))
    parts = [
        PartSizes(part, tuple(axes), _note(found, seats.get(part)), _moved(axes))
        for part, axes in by_part.items()
    ]
    return tuple(sorted(parts, key=lambda one: not one.off_plan))


def _moved(axes: list[AxisSizes]) -> bool:
    return any(row[2] != AS_PLANNED for axis in axes for row in axis.rows)


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


def axis_sizes(found: Reconciliation, layout: Layout, housings: list[Contact]) -> AxisSizes:
    """The sizes of a part along one axis; `housings` are the open ones of the part."""
    measures, assembly = Measures.of(found.assembly), found.assembly
    own = {mark: measures.stepped(step) for mark, step in steps_of(assembly, [layout]).items()}
    laid_out = {layout.reference: Fraction(0)}
    x = found.solved.positions_mm
    for one in layout.marks:
        if one.figure_mm is not None:
            laid_out[one.mark] = Fraction(one.figure_mm) if one.fitted else own[one.mark].laid_out(one.figure_mm)
    for one in layout.marks:
        laid_out.setdefault(one.before, Fraction(layout.way * float(x[one.before] - x[layout.reference])))
    rows: list[tuple[str, ...]] = []
    planned: list[str] = []
    for one in layout.marks:
        name = inside(assembly.marks[one.mark])
        if one.figure_mm is None:
            rows.append((name, "not fixed by anything", "", "", ""))
        elif as_planned(one, measures):
            other_way = OTHER_WAY if one.plan_mm < 0 else ""
            planned.append(f"{name} {measures.size(abs(one.figure_mm))}{other_way}")
        else:
            rows.append(
                _row(
                    name,
                    one,
                    laid_out,
                    _planned_step(found, layout, one),
                    own[one.mark],
                    first=not any(row[2] not in ("", AS_PLANNED) for row in rows),
                )
            )
    return AxisSizes(
        layout.axis,
        inside(assembly.marks[layout.reference]),
        tuple(rows),
        ", ".join(planned),
        tuple(_rough(found, layout)),
        tuple(_why(found, layout, housings, measures)) if rows else (),
    )


def as_planned(one: Running, measures: Measures) -> bool:
    """Whether a mark needs no line of its own: as planned, and nothing of note left out."""
    assert one.figure_mm is not None
    off = one.figure_mm - one.plan_mm
    if one.fitted:
        return not measures.bare(off).strip("-0.")
    return abs(off) < HALF * measures.step_mm and measures.laid_out(one.figure_mm) == measures.laid_out(
        one.plan_mm
    )


def _planned_step(found: Reconciliation, layout: Layout, one: Running) -> float:
    """The plan distance of a mark from its neighbour toward the reference end, along the layout's way."""
    marks = found.assembly.marks
    return layout.way * (marks[one.mark].plan_mm - marks[one.before].plan_mm)


def _row(
    name: str, one: Running, laid_out: dict[int, Fraction], step_mm: float, measures: Measures, *, first: bool
) -> tuple[str, ...]:
    """One mark: name, figure, difference from plan, the check in [ ], ± U of the advice."""
    assert one.figure_mm is not None
    assert one.advice_expanded_mm is not None
    at = laid_out[one.mark]
    chain = f"[{sided(at - laid_out[one.before], step_mm, measures.full)}]"
    figure = sided(at, one.plan_mm, measures.full if one.fitted else measures.size)
    if one.plan_mm < 0:
        figure += OTHER_WAY
    way = -1 if one.plan_mm < 0 else 1
    off = measures.off_plan(way * one.figure_mm - abs(one.plan_mm))  # a plan between two lines is no change
    if first and off != AS_PLANNED:
        off += " than plan"
    spread = measures.u(one.advice_expanded_mm) if one.advice_expanded_mm > NO_SPREAD_MM else ""
    return name, figure, off, chain, spread


def sided(mm: Fraction, plan_mm: float, write: Callable[[Fraction], str]) -> str:
    """Return a length counted the way of its plan: with a minus where it lies on the other side."""
    length = -mm if plan_mm < 0 else mm
    text = write(abs(length))
    if length >= 0 or not text.strip("0./ "):
        return text
    return f"-({text})" if " + " in text or " - " in text else f"-{text}"


def _rough(found: Reconciliation, layout: Layout) -> list[str]:
    """What is rough on this axis, and how much is to come off it."""
    assembly, measures = found.assembly, Measures.of(found.assembly)
    lines = []
    for bound in found.state.rough:
        mark = assembly.marks[bound.start]
        if (mark.part, mark.axis) != (layout.part, layout.axis):
            continue
        x = found.solved.positions_mm
        size = bound.sign * float(x[bound.end] - x[bound.start])
        name = f"{inside(mark)}..{inside(assembly.marks[bound.end])}"
        off = measures.bare(bound.most_mm - size)
        take = f"take {measures.clearance(bound.most_mm - size)} off" if off.strip("-0.") else "leave it"
        lines.append(f"{name} is rough, {measures.exact(bound.most_mm)} (#{bound.no}): {take}")
    return lines


def _why(found: Reconciliation, layout: Layout, housings: list[Contact], measures: Measures) -> list[str]:
    """What moved the sizes: the parts that this one is fitted to, and the readings that weigh most."""
    fitted = _fits(found, layout, housings, measures)
    readings: dict[int, None] = {}
    for one in layout.marks:
        if one.figure_mm is None or as_planned(one, measures):
            continue
        terms = [(one.mark, float(layout.way)), (layout.reference, -float(layout.way))]
        least = abs(one.figure_mm - one.plan_mm) / 4
        for row, amount in contributions(found.solved, terms)[:2]:
            if abs(amount) >= max(least, float(measures.step_mm) / 8):
                readings[row] = None
    said = [_reading_text(found, row, measures) for row in list(readings)[:WHY_MOST]]
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
