"""Odd cuts: sizes that marks are said to be cut to, far off plan, never read, and looking like a slip of the hand.

A size said of a cut counts like a distance that is there, and moves whatever meets it, as a reading does. It looks
like a slip where it is off plan by far more than cuts miss by, no reading of its part says so, and either

    a shape       it is ten times too much, in the other unit, has two digits swapped, ... (slips)
    from another  it is what the plan has from the mark beside it: a distance of the run typed for a running one
    past another  the mark would lie on the other side of a mark that stands beside it on a run

What was advised is off plan by what the wood came out, and looks like neither; so a tape held at its 10 is no shape
here: it is what was typed that is judged, and just 10 mm may well have been advised. Nothing is thrown out.

What it moves is asked by putting the mark where the plan has it, and solving all again.

Not here: readings (doubts), what is asked when a size is entered (cli).
"""

from __future__ import annotations

from fitsolve.build.assembly import Assembly
from fitsolve.build.history import MarkState
from fitsolve.findings.moved import cut_as_planned, parts_moved, shown
from fitsolve.findings.slips import SlipKind, far_off_plan, slips
from fitsolve.findings.solved import Solved
from fitsolve.light import dataclass
from fitsolve.written import write_length

_SHAPES: frozenset[SlipKind] = frozenset({"unit", "ten", "digits"})

_ASKED_MOST = 20
"""Of so many it is asked what each moves, for all is solved again each time; of any more, they may move everything."""


@dataclass(frozen=True, slots=True)
class OddCut:
    """A size that a mark is said to be cut to: the row of the log, the mark and what it was laid out from by their
    whole names, the size and the plan's, which parts it moves of those still to be cut, and which not."""

    row: int
    start: str
    end: str
    size_mm: float
    plan_mm: float
    moved: tuple[str, ...]
    others: tuple[str, ...]


def odd_cuts(solved: Solved) -> tuple[OddCut, ...]:
    """Return the sizes of cuts that look like slips, in the order of the log."""
    state, marks = solved.state, solved.assembly.marks
    far = [mark for mark, start in state.laid_from.items() if _far(solved, mark, start)]
    odd = [mark for mark in far if not _read(solved, mark) and _like_a_slip(solved, mark)]
    rows: dict[int, list[int]] = {}
    for mark in odd:
        rows.setdefault(state.laid_by[mark], []).append(mark)
    found: list[OddCut] = []
    for no, own in sorted(rows.items()):
        mark = min(own)  # its stations were cut with it
        start = state.laid_from[mark]
        plan_mm = marks[mark].plan_mm - marks[start].plan_mm
        size_mm = plan_mm + state.cut_to_mm[mark] - state.cut_to_mm[start]
        waiting = tuple(dict.fromkeys(one.part for one in shown(solved)))
        x = cut_as_planned(solved, no) if len(found) < _ASKED_MOST else None
        moved = waiting if x is None else parts_moved(solved, [x])
        others = tuple(part for part in waiting if part not in moved)
        found.append(OddCut(no, marks[start].name, marks[mark].name, abs(size_mm), abs(plan_mm), moved, others))
    return tuple(found)


def meant_from(assembly: Assembly, start: int, mark: int, size_mm: float) -> int | None:
    """The mark beside another on a run from which the plan has what is far off from `start`; None where none is."""
    near = max(assembly.finest_mm, 2 * assembly.workmanship_mm)
    plan_mm = abs(assembly.marks[mark].plan_mm - assembly.marks[start].plan_mm)
    for one in assembly.distances if abs(size_mm - plan_mm) > near else ():
        if mark in (one.start, one.end) and start not in (one.start, one.end) and abs(one.plan_mm - size_mm) <= near:
            return one.start if mark == one.end else one.end
    return None


def _far(solved: Solved, mark: int, start: int) -> bool:
    """Whether a mark is said to be cut far off plan."""
    cut_to = solved.state.cut_to_mm
    made = solved.state.marks[mark] == MarkState.MADE
    return made and far_off_plan(cut_to[mark] - cut_to[start], 0.0, solved.assembly.workmanship_mm)


def _read(solved: Solved, mark: int) -> bool:
    """Whether readings of its part lead from a mark to what it was laid out from."""
    ties = [{place for place, _ in one.terms} for one in solved.state.readings if not one.across]
    reached, grew = {mark}, True
    while grew:
        new = {place for tie in ties if tie & reached for place in tie}
        grew = not new <= reached
        reached |= new
    return solved.state.laid_from[mark] in reached


def _like_a_slip(solved: Solved, mark: int) -> bool:
    assembly, cut_to = solved.assembly, solved.state.cut_to_mm
    start = solved.state.laid_from[mark]
    plan_mm = assembly.marks[mark].plan_mm - assembly.marks[start].plan_mm
    size_mm = abs(plan_mm + cut_to[mark] - cut_to[start])
    near = max(assembly.finest_mm, 2 * assembly.workmanship_mm)
    looks = slips(size_mm, abs(plan_mm), assembly.unit, near, "rule", write_length(size_mm, assembly.unit))
    if any(one.kind in _SHAPES for one in looks) or meant_from(assembly, start, mark, size_mm) is not None:
        return True
    return any(
        one.plan_mm > 0.0 and one.sign * (_cut_at(solved, one.end) - _cut_at(solved, one.start)) <= 0.0
        for one in assembly.distances
        if mark in (one.start, one.end)
    )


def _cut_at(solved: Solved, mark: int) -> float:
    """Where a mark lies on its part as it is said to be cut; what is not cut as the plan has it."""
    return solved.assembly.marks[mark].plan_mm + solved.state.cut_to_mm[mark]
