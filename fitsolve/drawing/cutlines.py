"""Cut lines: what is said of each mark of an edge on paper, before it is known where it will stand.

The figure is the nearest line that can be laid out, with what it leaves out behind it where a
joint meets at the mark; [ ] holds the length from the mark before, as a check. One word leads:

    CUT     to this line
    LEAVE   the wood on: a doubtful reading moves it, it stands in a conflict, or nothing fixes it yet
    START   everything is measured from here
    made    it is there already
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from fitsolve.build.assembly import AXES
from fitsolve.build.history import MarkState
from fitsolve.findings.edges import Edge, EdgeMark
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.cutting import OTHER_WAY, sided
from fitsolve.report.measures import Measures, off_plan
from fitsolve.report.naming import inside, rows_listed
from fitsolve.report.waits import held_up
from fitsolve.report.words import waiting

CUT, LEAVE, START, MADE = "CUT", "LEAVE", "START", "made"
AS_PLANNED = "as planned"


@dataclass(frozen=True, slots=True)
class CutLine:
    """One mark, in words and figures.

    `chained` where the mark before is not the one all are measured from, so that the chain is another
    length than the figure. `shift` is +1 where it moved from plan the way the figures run, -1 the other
    way; `waste` the side of what is cut away, likewise; `at_mm` is the exact figure. `hole` where it is
    the middle of a hole, `toward` the way of the shoulder it is drawn to, `height` where it lies across, from 0 to 1.
    """

    mark: int
    name: str
    word: str
    figure: str
    chain: str
    chained: bool
    off: str
    shift: int
    waste: int
    why: str
    meets: tuple[str, ...]
    tag: str
    at_mm: float | None
    plan_mm: float
    now_mm: float | None
    hole: bool = False
    toward: int = 0
    height: float = 0.5


def cut_lines(
    found: Reconciliation, edges: Sequence[Edge], tags: Mapping[int, str] | None = None
) -> list[tuple[CutLine, ...]]:
    """Return the marks of each edge as they are said; `tags` gives some of them, by mark, a tag."""
    waits, holes = _waits(found), _holes(found)
    writers = [_Writer(found, edge, tags or {}, waits.get(edge.part, ""), holes) for edge in edges]
    return [tuple(writer.line(one) for one in writer.edge.marks) for writer in writers]


class _Writer:
    def __init__(
        self, found: Reconciliation, edge: Edge, tags: Mapping[int, str], waits: str, holes: frozenset[int]
    ) -> None:
        self.found, self.edge, self.tags, self.waits, self.holes = found, edge, tags, waits, holes
        self.measures = Measures.of(found.assembly)
        self.plan = {one.mark: one.plan_mm for one in edge.marks}
        self.laid = {one.mark: self._laid(one) for one in edge.marks if one.figure_mm is not None}

    def _laid(self, one: EdgeMark) -> Fraction:
        """Where the line is laid out; a made mark is where it is, and one that a joint meets at where it is to be."""
        assert one.figure_mm is not None
        if one.state == MarkState.MADE or self._fitted(one):
            return Fraction(one.figure_mm)
        return self.measures.laid_out(one.figure_mm)

    def line(self, one: EdgeMark) -> CutLine:
        mark = self.found.assembly.marks[one.mark]
        off, shift = self._off(one)
        return CutLine(
            one.mark, inside(mark), self._word(one), self._figure(one), self._chain(one),
            one.before != self.edge.reference, off, shift, -one.wood, self._why(one), self._meets(one),
            self.tags.get(one.mark, ""), one.figure_mm, one.plan_mm, one.now_mm, one.mark in self.holes,
        )  # fmt: skip

    def _word(self, one: EdgeMark) -> str:
        if one.mark == self.edge.reference:
            return START
        if one.state == MarkState.MADE:
            return MADE
        return LEAVE if one.figure_mm is None or self.waits else CUT

    def _why(self, one: EdgeMark) -> str:
        if one.state == MarkState.MADE or one.mark == self.edge.reference:
            return ""
        return "not fixed by anything" if one.figure_mm is None else self.waits

    def _fitted(self, one: EdgeMark) -> bool:
        """Whether an open joint meets at the mark."""
        meet = [self.found.assembly.contacts[k] for k in one.contacts]
        return any(contact.joint not in self.found.state.closed and contact.kind != "room" for contact in meet)

    def _figure(self, one: EdgeMark) -> str:
        if one.figure_mm is None:
            return "?"
        if one.mark == self.edge.reference:
            return "0"
        exact = one.state == MarkState.MADE or self._fitted(one)
        text = sided(self.laid[one.mark], one.plan_mm, self.measures.full if exact else self.measures.size)
        return text + OTHER_WAY if one.plan_mm < 0 else text

    def _chain(self, one: EdgeMark) -> str:
        if one.mark not in self.laid or one.before not in self.laid or one.mark == one.before:
            return ""
        step = self.laid[one.mark] - self.laid[one.before]
        return f"[{sided(step, one.plan_mm - self.plan[one.before], self.measures.full)}]"

    def _off(self, one: EdgeMark) -> tuple[str, int]:
        """What it is off plan, as it is said, and which way."""
        if one.figure_mm is None or one.mark == self.edge.reference:
            return "", 0
        way = -1 if one.plan_mm < 0 else 1
        if one.state == MarkState.MADE:
            by = one.figure_mm - one.plan_mm
            said = off_plan(way * by, self.measures.unit)
        else:
            by = float(self.measures.laid_out(one.figure_mm)) - one.plan_mm
            said = self.measures.off_plan(way * by)
        return said, 0 if said == AS_PLANNED else 1 if by > 0 else -1

    def _meets(self, one: EdgeMark) -> tuple[str, ...]:
        assembly = self.found.assembly
        parts: dict[str, None] = {}
        for number in one.contacts:
            others = (assembly.marks[mark].part for mark in assembly.contacts[number].marks)
            parts.update((part, None) for part in others if part != self.edge.part)
        return tuple(parts)


def _waits(found: Reconciliation) -> dict[str, str]:
    """The parts that should not be cut yet, and why."""
    waits = dict.fromkeys(held_up(found), "wait, see CONFLICT")
    return waits | {part: f"wait for {rows_listed(rows)}" for part, rows in waiting(found).items()}


def _holes(found: Reconciliation) -> frozenset[int]:
    """The marks that are the middles of holes: a mark on each of two axes, called by the axis."""
    index = found.assembly.index
    holes = []
    for number, mark in enumerate(found.assembly.marks):
        stem, _, last = mark.name.rpartition(".")
        if last == mark.axis and any(f"{stem}.{axis}" in index for axis in AXES if axis != last):
            holes.append(number)
    return frozenset(holes)


def main_axis(edges: tuple[Edge, ...]) -> Edge:
    """Return the edge along which a part is longest; of those, one on which something is still to be cut."""
    return max(edges, key=lambda edge: (round(_length_mm(edge), 3), edge.to_cut))


def _length_mm(edge: Edge) -> float:
    places = [one.plan_mm for one in edge.marks]
    return max(places) - min(places)
