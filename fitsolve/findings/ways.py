"""Ways round: the loops in which readings and closed joints check each other, and how far each misses.

Marks are nodes; an edge is a row that says how far one mark is from another: a reading of two marks, a
closed shoulder, a tongue centred in its closed housing. With v the rows' values and s = +1 or -1 the way
each is gone, a loop misses by

    w = sum of s v        u(w)^2 = sum of u^2 + sum over shared errors of (sum of s c)^2 u_t^2

with c what a shared error of a tool adds to a row: read both ways round with one tape, its zero cancels.
A spanning forest of the surest rows is taken first; each row left over closes one loop, its own way
round through the forest. So there are as many loops as rows beyond those that settle anything.

A centred tongue says (t1 - s1) = (s2 - t2): the distance t1 - s1 is then half the clearance, which is
taken from the sizes found; its u is half that of the row. Rows of more marks (comparisons, gangs, slopes)
are no edges and are left out.
"""

from __future__ import annotations

import math
from collections import defaultdict, deque
from collections.abc import Sequence

from fitsolve.findings.solved import Solved, Terms
from fitsolve.light import dataclass


@dataclass(frozen=True, slots=True)
class Step:
    """One row on a way round, from mark to mark as it is gone; lengths in mm along the axis. `kind` is
    "reading" (`number` is its row in the log) or "contact" (its number in the assembly). `shared` gives
    what errors that readings have together add to it: their number and coefficient."""

    start: int
    end: int
    value_mm: float
    u_mm: float
    kind: str
    number: int
    shared: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, slots=True)
class WayRound:
    """A loop: its steps, and by how much they miss their start, with U (k = 2)."""

    axis: str
    steps: tuple[Step, ...]
    misclosure_mm: float
    expanded_mm: float


def ways_round(solved: Solved) -> tuple[WayRound, ...]:
    """Return a loop for each row that checks others, the one that misses most for its U first."""
    rows = sorted(_edges(solved), key=lambda step: step.u_mm)
    forest: dict[int, list[Step]] = {}
    home: dict[int, int] = {}
    found = []
    for row in rows:
        if _root(home, row.start) != _root(home, row.end):
            home[_root(home, row.start)] = _root(home, row.end)
            forest.setdefault(row.start, []).append(row)
            forest.setdefault(row.end, []).append(_turned(row))
        else:
            steps = (row, *_path(forest, row.end, row.start))
            misses = sum(step.value_mm for step in steps)
            spread = 2 * _variance(solved, steps) ** 0.5
            found.append(WayRound(solved.assembly.marks[row.start].axis, steps, misses, spread))
    return tuple(sorted(found, key=lambda way: -abs(way.misclosure_mm) / max(way.expanded_mm, 1e-9)))


def _variance(solved: Solved, steps: Sequence[Step]) -> float:
    """The variance of what a loop misses by: that of each row, and that of what rows have together."""
    together: dict[int, float] = defaultdict(float)
    for step in steps:
        for column, coef in step.shared:
            together[column] += coef
    shared = solved.graph.network.shared
    u = shared.u.tolist() if shared is not None else []
    alone = math.fsum(step.u_mm**2 for step in steps)
    return alone + math.fsum((coef * u[column]) ** 2 for column, coef in together.items())


def _edges(solved: Solved) -> list[Step]:
    """The measured rows that tie two marks."""
    edges = []
    rows = solved.graph.network.measured
    plan = solved.graph.network.plan_mm
    values, scales = rows.value.tolist(), rows.scale.tolist()
    together: dict[int, list[tuple[int, float]]] = defaultdict(list)
    shared = solved.graph.network.shared
    if shared is not None:
        for row, column, coef in zip(shared.row.tolist(), shared.column.tolist(), shared.coef.tolist(), strict=True):
            together[row].append((column, coef))
    for number, (terms, source) in enumerate(zip(rows.terms(), solved.graph.measured, strict=True)):
        if source.kind == "contact" and _is_centred(solved, source.number, terms):
            edges.append(_centred(solved, source.number, scales[number]))
            continue
        if source.kind not in ("reading", "contact") or sorted(coef for _, coef in terms) != [-1.0, 1.0]:
            continue
        end = next(mark for mark, coef in terms if coef > 0)
        start = next(mark for mark, coef in terms if coef < 0)
        no = solved.state.readings[source.number].no if source.kind == "reading" else source.number
        length = values[number] + float(plan[end] - plan[start])
        edges.append(Step(start, end, length, scales[number], source.kind, no, tuple(together.get(number, ()))))
    return edges


def _is_centred(solved: Solved, number: int, terms: Terms) -> bool:
    """Whether a row says that a tongue lies in the middle of its housing, and that alone: both sides of it may
    slant, but alike."""
    contact = solved.assembly.contacts[number]
    return contact.kind == "housing" and len(terms) == 4 and {mark for mark, _ in terms} == set(contact.marks)


def _centred(solved: Solved, number: int, scale: float) -> Step:
    """A tongue in the middle of its housing: as far from the low wall as half of what both gaps are."""
    tongue_low, tongue_high, socket_low, socket_high = solved.assembly.contacts[number].marks
    gaps = [(tongue_low, 1.0), (socket_low, -1.0), (socket_high, 1.0), (tongue_high, -1.0)]
    return Step(socket_low, tongue_low, solved.value_mm(gaps) / 2, scale / 2, "contact", number)


def _turned(step: Step) -> Step:
    shared = tuple((column, -coef) for column, coef in step.shared)
    return Step(step.end, step.start, -step.value_mm, step.u_mm, step.kind, step.number, shared)


def _root(home: dict[int, int], mark: int) -> int:
    while home.setdefault(mark, mark) != mark:
        home[mark] = home[home[mark]]
        mark = home[mark]
    return mark


def _path(forest: dict[int, list[Step]], start: int, end: int) -> list[Step]:
    """The steps through the forest from one mark to another that it ties."""
    came: dict[int, Step | None] = {start: None}
    queue = deque([start])
    while queue and end not in came:
        for step in forest.get(queue.popleft(), ()):
            if step.end not in came:
                came[step.end] = step
                queue.append(step.end)
    path = []
    mark = end
    while (last := came[mark]) is not None:
        path.append(last)
        mark = last.start
    return path[::-1]
