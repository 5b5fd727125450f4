"""Portions: what each size, joint and setting adds to a sum of marks, when marks move.

A sum  v = sum of c_i x_i  changes by  sum of c_i m_i  when mark i moves by m_i. Take marks as nodes, and as
edges what ties two of them: a size of a part, a gap of a joint, a wish. A forest of such edges carries the
c_i as a flow to its roots, and

    change of v = sum over edges of flow * (m_end - m_start) + sum over roots of (sum of c below) * m_root

exactly, whatever the forest. Within a part it is grown by what tells most: first what does not change, then
sizes, the largest change first (of as large ones the shorter size), so that an overall length and its pieces are
not both counted. Where parts and the gaps of joints tie the same marks in several ways, each way carries its
least-squares share: of all flows F that have the c_i as their sources that of the least sum of r F^2, r = 1 where
something changes and next to nothing where not, which is how v would move with each of these sizes if all were
read, each as well as the others. Wishes tie only what nothing else does. What wishes and roots carry is where
pieces are set.

A size that changes and is none of them moves for the sake of others.

Not here: how marks move (takeup), words (report).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np

from fitsolve.findings.solved import Solved, Terms
from fitsolve.graph import distance_terms, gap_terms
from fitsolve.light import dataclass
from fitsolve.rows import Floats

STILL_MM = 1e-5
"""What changes by less does not change."""

SLIGHT_MM = 0.01

SHARED_MOST = 1000
"""More marks than this that hang together are gone through one way only."""

FREELY = 1e6
"""So much more readily a tie carries that does not change."""


@dataclass(frozen=True, slots=True)
class Tie:
    """Two marks that something ties: a size (its distance), a gap (its contact), or a wish; the change in mm."""

    kind: str
    number: int
    start: int
    end: int
    change_mm: float


@dataclass(frozen=True, slots=True)
class SizePortion:
    """A size of the plan, by how much more it would be, and what that adds to the sum; mm."""

    distance: int
    more_mm: float
    adds_mm: float


@dataclass(frozen=True, slots=True)
class Portions:
    """What sizes, gaps of joints and the setting of pieces add, mm, the largest first."""

    sizes: tuple[SizePortion, ...]
    joints: tuple[tuple[int, float], ...]
    set_mm: float


class _Forest:
    """A forest over marks: union-find for growing it, its edges for the flow."""

    def __init__(self) -> None:
        self._up: dict[int, int] = {}
        self.near: dict[int, list[tuple[int, Tie, int]]] = defaultdict(list)

    def root(self, mark: int) -> int:
        while (up := self._up.get(mark, mark)) != mark:
            self._up[mark] = self._up.get(up, up)
            mark = up
        return mark

    def add(self, tie: Tie) -> bool:
        one, other = self.root(tie.start), self.root(tie.end)
        if one == other:
            return False
        self._up[one] = other
        self.near[tie.start].append((tie.end, tie, 1))
        self.near[tie.end].append((tie.start, tie, -1))
        return True


def portions(solved: Solved, terms: Terms, moved: Floats) -> Portions:
    """Return what everything adds to a sum when the marks (n,) move by so much."""
    ties = sorted(_ties(solved, moved), key=lambda tie: _order(solved, tie))
    carried, left = _shared_flow(ties, terms, moved) or _one_way(ties, terms, moved)
    sizes, joints = [], dict[int, float]()
    for tie, flow in carried.items():
        adds = flow * tie.change_mm
        if tie.kind == "size" and abs(adds) > SLIGHT_MM:
            sizes.append(SizePortion(tie.number, tie.change_mm, adds))
        elif tie.kind == "gap":
            joint = solved.assembly.contacts[tie.number].joint
            joints[joint] = joints.get(joint, 0.0) + adds
        elif tie.kind == "wish":
            left += adds
    sizes.sort(key=lambda one: (-round(abs(one.adds_mm), 2), one.distance))
    told = sorted(
        ((joint, adds) for joint, adds in joints.items() if abs(adds) > SLIGHT_MM), key=lambda one: -abs(one[1])
    )
    return Portions(tuple(sizes), tuple(told), left)


def _one_way(ties: list[Tie], terms: Terms, moved: Floats) -> tuple[dict[Tie, float], float]:
    """What one forest of all ties carries."""
    forest = _Forest()
    for tie in ties:
        forest.add(tie)
    return _flow(forest, terms, moved)


def _shared_flow(ties: list[Tie], terms: Terms, moved: Floats) -> tuple[dict[Tie, float], float] | None:
    """What each tie carries toward its end, by least squares, and what the roots leave over, mm; None where too
    many marks hang together to ask."""
    inside, whole = _Forest(), _Forest()
    kept = [tie for tie in ties if tie.kind == "size" and inside.add(tie)] + [tie for tie in ties if tie.kind == "gap"]
    for tie in kept:
        whole.add(tie)
    kept += [tie for tie in ties if tie.kind == "wish" and whole.add(tie)]
    roots = {whole.root(mark) for mark, _ in terms}
    kept = [tie for tie in kept if whole.root(tie.start) in roots]
    number = {mark: k for k, mark in enumerate(dict.fromkeys(m for tie in kept for m in (tie.start, tie.end)))}
    if len(number) > SHARED_MOST:
        return None
    load, left, held = np.zeros(len(number)), 0.0, {number[root] for root in roots if root in number}
    for mark, coef in terms:
        root = whole.root(mark)
        left += coef * float(moved[root])
        if mark in number:
            load[number[mark]] += coef
            load[number[root]] -= coef
    ways = np.zeros((len(kept), len(number)))
    rows = np.arange(len(kept))
    ways[rows, [number[tie.end] for tie in kept]] = 1.0
    ways[rows, [number[tie.start] for tie in kept]] -= 1.0
    ease = np.array([1.0 if abs(tie.change_mm) > STILL_MM else FREELY for tie in kept])
    free = np.array(sorted(set(range(len(number))) - held), dtype=np.intp)
    matrix = ways[:, free].T @ (ways[:, free] * ease[:, None])
    flow = ease * (ways[:, free] @ np.linalg.solve(matrix, load[free]))
    return dict(zip(kept, flow.tolist(), strict=True)), left


def carried_by_gaps(solved: Solved, terms: Terms) -> dict[int, float]:
    """Return by how much a sum grows for a mm more of the gap of each contact that it goes across, sizes kept."""
    still = np.zeros(len(solved.piece_of))
    forest = _Forest()
    ties = [tie for tie in _ties(solved, still) if tie.kind != "wish"]
    ties.sort(key=lambda tie: tie.kind != "size")
    grown = [tie for tie in ties if forest.add(tie)]
    carried, _ = _flow(forest, terms, still)
    return {tie.number: carried[tie] for tie in grown if tie.kind == "gap" and abs(carried.get(tie, 0.0)) > STILL_MM}


def _ties(solved: Solved, moved: Floats) -> Iterator[Tie]:
    """All that ties two marks."""
    for number, distance in enumerate(solved.assembly.distances):
        yield from _tie("size", number, distance_terms(distance), moved)
    for number, contact in enumerate(solved.assembly.contacts):
        for gap in gap_terms(contact):
            yield from _tie("gap", number, gap, moved)
    for reading in solved.state.readings:
        yield from _tie("wish", -1, list(reading.terms), moved)
    for piece in solved.pieces:
        marks = piece.marks.tolist()
        for row in piece.network.wishes.terms():
            yield from _tie("wish", -1, [(marks[mark], coef) for mark, coef in row], moved)


def _tie(kind: str, number: int, terms: Terms, moved: Floats) -> Iterator[Tie]:
    if len(terms) == 2 and terms[0][1] == -terms[1][1]:
        (one, coef), (other, _) = terms
        start, end = (one, other) if coef < 0 else (other, one)
        yield Tie(kind, number, start, end, float(moved[end] - moved[start]))


def _order(solved: Solved, tie: Tie) -> tuple[int, float, float, int]:
    """What tells most comes first."""
    if abs(tie.change_mm) <= STILL_MM:
        return 0, 0.0, 0.0, tie.number
    rank = {"size": 1, "gap": 2, "wish": 3}[tie.kind]
    marks = solved.assembly.marks
    long = abs(marks[tie.end].plan_mm - marks[tie.start].plan_mm) if tie.kind == "size" else 0.0
    return rank, -round(abs(tie.change_mm), 2), long, tie.number


def _flow(forest: _Forest, terms: Terms, moved: Floats) -> tuple[dict[Tie, float], float]:
    """What each edge carries toward its end, and what the roots leave over, mm."""
    load: dict[int, float] = defaultdict(float)
    for mark, coef in terms:
        load[mark] += coef
    carried: dict[Tie, float] = {}
    seen: set[int] = set()
    left = 0.0
    for root, _ in terms:
        if root in seen:
            continue
        order: list[tuple[int, int, Tie | None, int]] = [(root, root, None, 1)]
        seen.add(root)
        for mark, _, _, _ in order:  # grows while it is walked: every mark after the one it hangs on
            for other, tie, way in forest.near[mark]:
                if other not in seen:
                    seen.add(other)
                    order.append((other, mark, tie, way))
        for mark, above, hung, way in reversed(order):
            if hung is not None:
                carried[hung] = way * load[mark]
                load[above] += load[mark]
        left += load[root] * float(moved[root])
    return carried, left
