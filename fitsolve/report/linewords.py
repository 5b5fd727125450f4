"""Lines in words: which whole steps keep the joints, what to do where none does, and wood left on.

    a fraction alone     what stands in front of a remainder is the nearest line; where all of these
                         keep their joints that is said, else the lines that do
    no line              which joint it is, the next finer step that would do, and what a maker does
                         instead: knife it off the part itself, or leave wood on and trim
    wood left on         the line on the waste side, and what is then to be trimmed
"""

from __future__ import annotations

from fractions import Fraction

from fitsolve.build.history import MarkState
from fitsolve.findings.leaving import LeaveOn, LeftMark
from fitsolve.findings.lines import Line
from fitsolve.graph import Source
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.naming import inside, words_of
from fitsolve.report.screen import Block, Table
from fitsolve.report.screen import Line as ScreenLine

NEAR_MM = 1e-6
_NAMED_MOST = 2


def line_notes(found: Reconciliation, part: str) -> dict[str, tuple[str, ...]]:
    """What is to be said of the lines of a part, by axis, as sentences."""
    marks = found.assembly.marks
    by_axis: dict[str, list[Line]] = {}
    for line in found.laid_out.lines.values():
        if marks[line.mark].part == part:
            by_axis.setdefault(marks[line.mark].axis, []).append(line)
    return {axis: (*_whole_steps(found, lines), *_no_line(found, lines)) for axis, lines in by_axis.items()}


def stepped(measures: Measures, line: Line) -> Measures:
    """The measures of one line, by its own step."""
    return measures.stepped(line.step_mm)


def _whole_steps(found: Reconciliation, lines: list[Line]) -> list[str]:
    """The lines where not all are the nearest; that the fractions alone will do where something stands behind them."""
    measures = Measures.of(found.assembly)
    laid = [(line, line.line_mm) for line in lines if line.line_mm is not None]
    moved = [
        (line, at) for line, at in laid
        if abs(at - float(stepped(measures, line).laid_out(line.figure_mm))) > NEAR_MM
    ]  # fmt: skip
    if moved:
        marks = found.assembly.marks
        named = [
            f"{inside(marks[line.mark])} at {stepped(measures, line).size(abs(at))}" for line, at in moved
        ]
        rest = ", the others at their fractions" if len(moved) < len(laid) else ""
        return [f"laid out in whole steps: {', '.join(named)}{rest}"]
    if len(laid) == len(lines) and any(_something_behind(measures, line) for line in lines):
        return ["the fractions by themselves keep the joints"]
    return []


def _something_behind(measures: Measures, line: Line) -> bool:
    own = stepped(measures, line)
    return bool(own.rest(line.figure_mm, own.laid_out(line.figure_mm)))


def _no_line(found: Reconciliation, lines: list[Line]) -> list[str]:
    said = []
    measures = Measures.of(found.assembly)
    for line in lines:
        if line.line_mm is not None:
            continue
        finer = found.laid_out.finer_mm(line.mark)
        would = f"; one of {step_text(measures, finer)} would" if finer else ""
        step = step_text(measures, line.step_mm)
        why = _because(found, line)
        parts = knifed_off(found, line.mark)
        knife = f"Knife it off {words_of(parts)}" if parts else "Fit it by trial"
        name = inside(found.assembly.marks[line.mark])
        said.append(f"{name}: no line of {step} keeps {why}{would}. {knife}, or leave wood on and trim")
    return said


def step_text(measures: Measures, mm: float) -> str:
    """A finest step as it is said: `1/128`, `0.2`."""
    whole = 25.4 / mm
    if measures.unit == "in" and whole > 1.0 and abs(whole - round(whole)) < 1e-6 * whole:
        return f"1/{round(whole)}"
    return measures.exact(mm)


def _because(found: Reconciliation, line: Line) -> str:
    names = list(dict.fromkeys(_named(found, source) for source in line.because))
    more = f" and {len(names) - _NAMED_MOST} more" if len(names) > _NAMED_MOST else ""
    return (words_of(names) if not more else ", ".join(names[:_NAMED_MOST]) + more) or "what is asked of it"


def _named(found: Reconciliation, source: Source) -> str:
    """What a row that no line keeps is called."""
    assembly = found.assembly
    if source.kind in ("contact", "gap"):
        return assembly.joints[assembly.contacts[source.number].joint].name
    if source.kind == "distance":
        one = assembly.distances[source.number]
        span = f"{inside(assembly.marks[one.start])}..{inside(assembly.marks[one.end])}"
        return f"{span}, which holds" if one.hold else f"the limits of {span}"
    if source.kind == "keep":
        return assembly.keeps[source.number].name
    if source.kind == "rough":
        return "what is there of rough wood"
    return "its slope" if source.kind == "slope" else "what is asked of it"


def knifed_off(found: Reconciliation, mark: int) -> list[str]:
    """The parts that a mark can be knifed off: those it meets in open joints there that are made."""
    assembly, states = found.assembly, found.state.marks
    parts: dict[str, None] = {}
    for contact in assembly.contacts:
        if mark not in contact.marks or contact.joint in found.state.closed or contact.kind == "room":
            continue
        own = assembly.marks[mark].part
        others = [other for other in contact.marks if assembly.marks[other].part != own]
        if all(states[other] == MarkState.MADE for other in others):
            parts[assembly.marks[others[0]].part] = None
    return list(parts)


# -- wood left on ------------------------------------------------------------------------------


def leave_block(found: Reconciliation, leave: LeaveOn) -> list[Block]:
    """Wood left on, as a block; none where nothing needs it."""
    if not leave.marks:
        return []
    measures = Measures.of(found.assembly)
    lead = f"cut to its figures a joint of it ends looser than its fit {chance_text(leave.chance_exact)} of the time, "
    lead += f"and wood does not grow. At these lines {chance_text(leave.chance)} ({chance_text(leave.allowed)} "
    lead += "allowed: overcut)."
    rows = tuple(_left_row(found, measures, one) for one in leave.marks)
    trims = [
        one for one in leave.contacts
        if one.chance != one.chance_exact and measures.bare(one.trimming_mm).strip("0.")
    ]  # fmt: skip
    contacts, joints = found.assembly.contacts, found.assembly.joints
    said = tuple(
        (f"{joints[contacts[one.number].joint].name}, {contacts[one.number].axis}",
         f"expect to trim {measures.clearance(one.trimming_mm)}")
        for one in trims
    )  # fmt: skip
    return [Block("LEAVE ON", (ScreenLine(lead, hang=0), Table(rows, 3), Table(said, 6)))]


def _left_row(found: Reconciliation, measures: Measures, one: LeftMark) -> tuple[str, ...]:
    own = measures
    line = found.laid_out.lines.get(one.mark)
    if line is not None:
        own = stepped(measures, line)
    on = abs(Fraction(one.line_mm) - Fraction(one.figure_mm))
    return (
        inside(found.assembly.marks[one.mark]),
        own.size(abs(one.line_mm)),
        f"for {own.full(abs(one.figure_mm))}",
        f"{measures.clearance(float(on))} left on",
    )


def chance_text(chance: float) -> str:
    """A chance in whole percent: `5 %`, `under 1 %`."""
    if 0.0 < chance < 0.01:
        return "under 1 %"
    return f"{100 * chance:.0f} %" if chance < 0.995 or chance == 1.0 else "over 99 %"
