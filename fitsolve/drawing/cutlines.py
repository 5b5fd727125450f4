"""Cut lines: what is said of each mark of an edge on paper, before it is known where it will stand.

Figures and checks are those of the layout (report.layout). One word leads:

    CUT     to this line, or BORE a hole on it
    LEAVE   the wood on: a doubtful reading moves it, it stands in a conflict, or nothing fixes it yet. No
            figure is given then
    START   everything is measured from here
    made    it is there already
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fitsolve.build.history import MarkState
from fitsolve.findings.edges import Edge, EdgeMark
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.knifing import instead
from fitsolve.report.layout import LayoutMark, axis_layouts
from fitsolve.report.linewords import AS_PLANNED, no_line_text
from fitsolve.report.measures import Measures, off_plan
from fitsolve.report.naming import rows_listed, words_of
from fitsolve.report.pared import pared_first
from fitsolve.report.pegwords import not_yet_bored
from fitsolve.report.waits import conflict_waits, held_up, joint_waits, reading_waits, shape_waits
from fitsolve.report.words import waiting

CUT, BORE, LEAVE, START, MADE = "CUT", "BORE", "LEAVE", "START", "made"
TO_CUT = (CUT, BORE, LEAVE)


@dataclass(frozen=True, slots=True)
class CutLine:
    """One mark, in words and figures.

    `chained` where the mark before is not the one all are measured from, so that the chain is another
    length than the figure. `shift` is +1 where it moved from plan the way the figures run, -1 the other
    way; `waste` the side of what is cut away, likewise; `at_mm` is the exact figure. `hole` where it is
    the middle of a hole, `toward` the way of the shoulder it is drawn to, `height` where it lies across, from 0 to 1.
    `faces` are those that the cut opens to: there the line is knifed. `beside` is how far the size wanted is
    off the line, `exact - 0.016, ± 0.002`. `no_line` says, where no line keeps a joint, which joint and what to
    do, `knife` the last alone: there is no figure then. `short_why` is `why` in fewer words, where there are any.
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
    faces: tuple[str, ...] = ()
    beside: str = ""
    no_line: str = ""
    knife: str = ""
    short_why: str = ""


def cut_lines(
    found: Reconciliation, edges: Sequence[Edge], tags: Mapping[int, str] | None = None, *, exact: bool = False
) -> list[tuple[CutLine, ...]]:
    """Return the marks of each edge as they are said; `tags` gives some of them, by mark, a tag. With `exact`
    figures are not lines but where each mark is wanted, as it is printed at true size."""
    waits = waits_of(found)
    writer = _Writer(found, tags or {})
    return [
        tuple(
            writer.line(one, said, edge, waits.get(edge.part, ""))
            for one, said in zip(edge.marks, layout.marks, strict=True)
        )
        for edge, layout in zip(edges, axis_layouts(found, edges, waits, exact=exact), strict=True)
    ]


class _Writer:
    def __init__(self, found: Reconciliation, tags: Mapping[int, str]) -> None:
        self.found, self.tags, self.holes = found, tags, found.assembly.holes
        self.not_yet = not_yet_bored(found)
        places = found.solved.positions_mm
        self.toward = {  # along the axis: the way from the tenon's hole to the shoulder that it draws home
            peg.tenon_hole: 1 if places[peg.shoulder] > places[peg.tenon_hole] else -1 for peg in found.assembly.pegs
        }
        self.measures = Measures.of(found.assembly)

    def line(self, one: EdgeMark, said: LayoutMark, edge: Edge, waits: str) -> CutLine:
        start = one.mark == edge.reference
        made = one.state == MarkState.MADE
        leave = "not fixed by anything" if one.figure_mm is None else waits or self.not_yet.get(one.mark, "")
        hidden = start or (bool(leave) and not made)  # a size that may be wrong does not go to the bench
        off = "" if hidden else self._off(one, said)
        lost = bool(said.no_line) and not hidden
        return CutLine(
            mark=one.mark,
            name=said.name,
            word=START if start else MADE if made else LEAVE if leave else BORE if one.mark in self.holes else CUT,
            figure="0" if start else "?" if hidden else "" if lost else said.figure,
            chain="" if hidden else said.chain,
            chained=one.before != edge.reference,
            off=off,
            shift=_shift(off, one),
            waste=-one.wood,
            why="" if start or made else leave,
            meets=tuple(dict.fromkeys(met.part for met in said.meets)),
            tag=self.tags.get(one.mark, ""),
            at_mm=one.figure_mm,
            plan_mm=one.plan_mm,
            now_mm=one.now_mm,
            hole=one.mark in self.holes,
            toward=edge.way * self.toward.get(one.mark, 0),
            faces=said.faces,
            beside="" if hidden or made or lost else said.beside,
            no_line=no_line_text(self.found, one.mark, edge.part) if lost else "",
            knife=instead(self.found, one.mark) if lost else "",
        )

    def _off(self, one: EdgeMark, said: LayoutMark) -> str:
        """What it is off plan: of a made mark exactly, of others by the line that is laid out."""
        if one.state != MarkState.MADE or one.figure_mm is None:
            return said.off
        by = one.figure_mm - one.plan_mm
        return off_plan(-by if one.plan_mm < 0 else by, self.measures.unit)


def _shift(off: str, one: EdgeMark) -> int:
    """Which way a mark moved from plan, where it says that it did: more is away from where figures start."""
    if off in ("", AS_PLANNED) or one.figure_mm is None:
        return 0
    return (1 if off.endswith("more") else -1) * (-1 if one.plan_mm < 0 else 1)


def from_words(axis: str, start: str, lines: Sequence[CutLine]) -> str:
    """Where the figures of an edge run from, and on which faces its lines go: `x from l.end, on back and low`."""
    faces = dict.fromkeys(face for line in lines if line.word in TO_CUT for face in line.faces)
    return f"{axis} from {start}" + (f", on {words_of(list(faces))}" if faces else "")


def waits_of(found: Reconciliation, parts: Sequence[str] | None = None) -> dict[str, str]:
    """The parts that should not be cut yet, and why: of some, or all."""
    some = found.distances if parts is None else [one for one in found.distances if one.part in parts]
    uncut = dict.fromkeys(one.part for one in some if one.state != "made")
    waits = reading_waits(found, uncut) | dict.fromkeys(held_up(found), "wait, see CONFLICT")
    conflicts = conflict_waits(found)
    waits |= {part: f"wait, {first}" for part, first in pared_first(found).items() if part not in conflicts}
    waits |= {part: f"wait, {what}" for part, what in shape_waits(found).items() if part not in conflicts}
    followed = (part for part, count in conflicts.items() if not count)
    waits |= dict.fromkeys((*joint_waits(found), *followed), "wait, see STOP")
    return waits | {part: f"wait for {rows_listed(rows)}" for part, rows in waiting(found).items()}


def main_axis(edges: tuple[Edge, ...]) -> Edge:
    """Return the edge along which a part is longest; of those, one on which something is still to be cut."""
    return max(edges, key=lambda edge: (round(length_mm(edge), 3), edge.to_cut))


def length_mm(edge: Edge) -> float:
    """Return how long a part is along an edge, as planned, mm."""
    places = [one.plan_mm for one in edge.marks]
    return max(places) - min(places)
