"""Cut lines: what is said of each mark of an edge on paper, before it is known where it will stand.

The figure is the nearest line that can be laid out, with what it leaves out behind it where a
joint meets at the mark; [ ] holds the length from the mark before, as a check. One word leads:

    CUT     to this line
    LEAVE   the wood on: a doubtful reading moves it, or nothing fixes it yet
    START   everything is measured from here
    made    it is there already
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from fitsolve.build.history import MarkState
from fitsolve.findings.edges import Edge, EdgeMark
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures, off_plan
from fitsolve.report.naming import inside, rows_listed
from fitsolve.report.words import waiting

CUT, LEAVE, START, MADE = "CUT", "LEAVE", "START", "made"
AS_PLANNED = "as planned"


@dataclass(frozen=True, slots=True)
class CutLine:
    """One mark, in words and figures.

    `chained` where the mark before is not the one all are measured from, so that the chain is another
    length than the figure. `shift` is +1 where it moved from plan the way the figures run, -1 the other
    way; `waste` the side of what is cut away, likewise; `at_mm` is the exact figure. `hole` where it is
    the middle of a hole, `toward` the way of the shoulder it is drawn to.
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


def cut_lines(found: Reconciliation, edge: Edge, tags: Mapping[int, str] | None = None) -> tuple[CutLine, ...]:
    """Return the marks of an edge as they are said; `tags` gives some of them, by mark, a tag."""
    writer = _Writer(found, edge, tags or {})
    return tuple(writer.line(one) for one in edge.marks)


class _Writer:
    def __init__(self, found: Reconciliation, edge: Edge, tags: Mapping[int, str]) -> None:
        self.found, self.edge, self.tags = found, edge, tags
        self.measures = Measures.of(found.assembly)
        self.exact = {one.mark: one.figure_mm for one in edge.marks}
        self.laid = {one.mark: self._laid(one) for one in edge.marks if one.figure_mm is not None}
        self.waits = rows_listed(waiting(found).get(edge.part, []))

    def _laid(self, one: EdgeMark) -> Fraction:
        """Where the line is laid out; a made mark is where it is."""
        assert one.figure_mm is not None
        if one.state == MarkState.MADE:
            return Fraction(one.figure_mm)
        return self.measures.laid_out(one.figure_mm)

    def line(self, one: EdgeMark) -> CutLine:
        mark = self.found.assembly.marks[one.mark]
        off, shift = self._off(one)
        return CutLine(
            one.mark, inside(mark), self._word(one), self._figure(one), self._chain(one),
            one.before != self.edge.reference, off, shift, -one.wood, self._why(one), self._meets(one),
            self.tags.get(one.mark, ""), one.figure_mm, one.plan_mm, one.now_mm,
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
        if one.figure_mm is None:
            return "not fixed by anything"
        return f"wait for {self.waits}" if self.waits else ""

    def _fitted(self, one: EdgeMark) -> bool:
        """Whether an open joint meets at the mark."""
        meet = [self.found.assembly.contacts[k] for k in one.contacts]
        return any(contact.joint not in self.found.state.closed and contact.kind != "room" for contact in meet)

    def _figure(self, one: EdgeMark) -> str:
        if one.figure_mm is None:
            return "?"
        if one.mark == self.edge.reference:
            return "0"
        if one.state == MarkState.MADE:
            return self.measures.full(abs(one.figure_mm))
        text = self.measures.size(abs(one.figure_mm))
        return text + (self.measures.rest(abs(one.figure_mm), abs(self.laid[one.mark])) if self._fitted(one) else "")

    def _chain(self, one: EdgeMark) -> str:
        if one.mark not in self.laid or one.before not in self.laid or one.mark == one.before:
            return ""
        step = abs(self.laid[one.mark] - self.laid[one.before])
        before = next(other for other in self.edge.marks if other.mark == one.before)
        if MarkState.MADE in (one.state, before.state) and one.before != self.edge.reference:
            return f"[{self.measures.full(float(step))}]"
        text = self.measures.size(step)
        exact, start = self.exact[one.mark], self.exact[one.before]
        assert exact is not None
        assert start is not None
        return f"[{text}{self.measures.rest(abs(exact - start), step) if self._fitted(one) else ''}]"

    def _off(self, one: EdgeMark) -> tuple[str, int]:
        """What it is off plan, as it is said, and which way."""
        if one.figure_mm is None or one.mark == self.edge.reference:
            return "", 0
        by = float(self.laid[one.mark]) - one.plan_mm
        if one.state == MarkState.MADE:
            said = off_plan(abs(one.figure_mm) - abs(one.plan_mm), self.measures.unit)
            return said, 0 if said == AS_PLANNED else 1 if by > 0 else -1
        said = self.measures.off_plan(abs(float(self.laid[one.mark])) - abs(one.plan_mm))
        return said, 0 if said == AS_PLANNED else 1 if by > 0 else -1

    def _meets(self, one: EdgeMark) -> tuple[str, ...]:
        assembly = self.found.assembly
        parts: dict[str, None] = {}
        for number in one.contacts:
            others = (assembly.marks[mark].part for mark in assembly.contacts[number].marks)
            parts.update((part, None) for part in others if part != self.edge.part)
        return tuple(parts)


def main_axis(edges: tuple[Edge, ...]) -> Edge:
    """Return the edge along which a part is longest; of those, one on which something is still to be cut."""
    return max(edges, key=lambda edge: (round(_length_mm(edge), 3), edge.to_cut))


def _length_mm(edge: Edge) -> float:
    places = [one.plan_mm for one in edge.marks]
    return max(places) - min(places)
