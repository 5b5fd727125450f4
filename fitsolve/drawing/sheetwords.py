"""Sheet words: what a shop sheet says, gathered from the findings; where it stands is not known here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fitsolve.build.history import MarkState
from fitsolve.drawing.cutlines import cut_lines
from fitsolve.drawing.sheet import SheetAxis, SheetPart, ShopSheet, ToRead
from fitsolve.errors import Problem
from fitsolve.findings.edges import Edge, edges
from fitsolve.findings.tags import Tagged
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.cutting import AxisSizes, part_sizes
from fitsolve.report.measures import Measures
from fitsolve.report.naming import counted, inside, span_of
from fitsolve.report.screen import Block, Line
from fitsolve.report.terminal import sizes_blocks
from fitsolve.report.words import footing

CAUTIONS = (
    "About fit only, never strength. Heavy assemblies crush fingers and feet: dry-fit with help, lift with help, keep "
    "hands out of closing joints. Where people stand or sit on the work, follow your local codes and ask a licensed "
    "professional. Keep guards on, and measure the wood in front of you before you cut it: a sheet can be wrong.",
)
_CUTS = "CUT NOW"
_FIRST = ("STOP", "TOOLS", "CONFLICT", "UNPROVEN", "WAIT")


def shop_sheet(found: Reconciliation, tags: Sequence[Tagged], number: str, made: str) -> ShopSheet:
    """Return what a sheet says. `tags` are those of its list: readings wanted (w) and sizes to cut (c)."""
    first, last = _around(found)
    cut_tags = {one.end: one.tag for one in tags if one.tag.startswith("c")}
    state = found.state
    made_marks = [mark == MarkState.MADE for mark in state.marks]
    wanted = [one for one in tags if one.tag.startswith("w") and made_marks[one.start] and made_marks[one.end]]
    rows = f"from rows 1 to {state.last_row} of the log" if state.last_row else "from the plan alone"
    rows += f", {counted(len(state.readings), 'reading')}" if state.readings else ", nothing read yet"
    return ShopSheet(
        found.assembly.title or "This build", number, made, rows, first, _parts(found, cut_tags),
        tuple(_to_read(found, one) for one in wanted), last, (*CAUTIONS, footing(found)),
    )  # fmt: skip


def _around(found: Reconciliation) -> tuple[tuple[Block, ...], tuple[Block, ...]]:
    """The blocks of `sizes` before the parts, and those after; what is to be cut stands in between."""
    blocks = [block for block in sizes_blocks(found) if block.tag and block.tag != _CUTS]
    first = [_short(block) for block in blocks if block.tag in _FIRST]
    last = [block for block in blocks if block.tag not in _FIRST]
    warned = [problem for problem in found.problems if problem.level == "warning"]
    first += [Block("WARNING", (Line(_problem_text(problem)),)) for problem in warned]
    if not first:
        first = [Block("SETTLED", (Line("Nothing stands in the way: no reading is in doubt, no part waits."),))]
    return tuple(first), tuple(last)


def _short(block: Block) -> Block:
    """A part that waits, without its sizes: those stand beside its strip."""
    return Block(block.tag, tuple(block.lines)[:1], block.style) if block.tag == "WAIT" else block


def _problem_text(problem: Problem) -> str:
    return " ".join(str(problem).split())


def _parts(found: Reconciliation, tags: Mapping[int, str]) -> tuple[SheetPart, ...]:
    said = {one.part: one for one in part_sizes(found)}
    own: dict[str, list[Edge]] = {}
    for edge in edges(found.solved, list(said)):
        if edge.to_cut:
            own.setdefault(edge.part, []).append(edge)
    parts = []
    for part, sizes in said.items():
        longest = max(map(_length_mm, own.get(part, [])), default=0.0)
        order = sorted(own.get(part, []), key=lambda edge: _length_mm(edge) < longest)
        notes = {axis.axis: axis for axis in sizes.axes}
        axes = tuple(_axis(found, edge, notes.get(edge.axis), tags) for edge in order)
        if axes:
            parts.append(SheetPart(part, sizes.note, axes))
    return tuple(parts)


def _length_mm(edge: Edge) -> float:
    places = [one.plan_mm for one in edge.marks]
    return max(places) - min(places)


def _axis(found: Reconciliation, edge: Edge, sizes: AxisSizes | None, tags: Mapping[int, str]) -> SheetAxis:
    marks = found.assembly.marks
    notes = (*sizes.rough, *sizes.why) if sizes is not None else ()
    return SheetAxis(edge.axis, inside(marks[edge.reference]), cut_lines(found, edge, tags), notes)


def _to_read(found: Reconciliation, one: Tagged) -> ToRead:
    measures = Measures.of(found.assembly)
    plan = "" if one.plan_mm is None else f"plan {measures.exact(one.plan_mm)}"
    return ToRead(one.tag, span_of(found.assembly, one.start, one.end), plan)
