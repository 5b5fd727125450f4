"""Edges: all marks of a part along one axis, made or still to be cut, as they are laid on the wood.

    figure    the running distance from the reference end, as built or as to be cut
    wood      the side of a mark on which the wood stays: +1 the way the figures run, -1 the other
              way, 0 where nothing tells. What is cut away lies on the other side

The side follows from the joints: between its two faces a tongue is wood, between its two walls a
housing is air, and a shoulder faces the part it stands against. A mark that no joint meets is a face
of the part where it is the outermost along the axis; else nothing tells. Where joints meet at stations of
a mark alone, they tell.

Not here: what is laid out (the nearest line that can be cut), words (report).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from fitsolve.build.assembly import AXES, Contact
from fitsolve.build.history import MarkState
from fitsolve.build.reference import reference_ends, start_of
from fitsolve.findings.running import neighbour_toward, neighbours
from fitsolve.findings.solved import Solved
from fitsolve.light import dataclass

_HOUSING_WOOD = (1, -1, -1, 1)
"""On which side of (tongue low, tongue high, socket low, socket high) the wood is, along the axis."""


@dataclass(frozen=True, slots=True)
class EdgeMark:
    """One mark of an edge. `before` is its neighbour toward the reference end, itself for that end;
    `contacts` are the joints' contacts it belongs to; `now_mm` is where a rough mark is now."""

    mark: int
    before: int
    plan_mm: float
    figure_mm: float | None
    state: MarkState
    wood: int
    contacts: tuple[int, ...] = ()
    now_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Edge:
    """The marks of a part along one axis, in the order of their running figures. `way` is +1 or -1:
    the way the figures run along the axis."""

    part: str
    axis: str
    reference: int
    way: int
    marks: tuple[EdgeMark, ...]

    @property
    def to_cut(self) -> bool:
        """Whether something of it can still be cut."""
        return any(one.state != MarkState.MADE for one in self.marks)


def edges(solved: Solved, parts: Sequence[str] | None = None) -> tuple[Edge, ...]:
    """Return the edges of some parts, or of all, in the order of the plan."""
    assembly = solved.assembly
    wanted = set(assembly.parts if parts is None else parts)
    members: dict[tuple[str, str], list[int]] = defaultdict(list)
    for number, mark in enumerate(assembly.marks):
        if mark.station_of is None and mark.part in wanted:
            members[mark.part, mark.axis].append(number)
    ends, beside = reference_ends(assembly), neighbours(assembly)
    meets: dict[int, list[int]] = defaultdict(list)
    stations: dict[int, list[int]] = defaultdict(list)
    for number, mark in enumerate(assembly.marks):
        if mark.station_of is not None and mark.part in wanted:
            stations[mark.station_of].append(number)
    for number, contact in enumerate(assembly.contacts):
        for met in contact.marks:
            meets[met].append(number)
    found = []
    for part in assembly.parts:
        for axis in AXES:
            if members.get((part, axis)):
                own = members[part, axis]
                found.append(_edge(solved, own, ends[part, axis], beside, _Met(meets, stations)))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Met:
    """The contacts of each mark, and its stations."""

    contacts: dict[int, list[int]]
    stations: dict[int, list[int]]

    def met(self, mark: int) -> tuple[int, ...]:
        """The contacts of a mark and of its stations, in the order of the plan."""
        own = (mark, *self.stations.get(mark, ()))
        return tuple(sorted({contact for one in own for contact in self.contacts.get(one, ())}))

    def wood(self, every: Sequence[Contact], mark: int) -> int:
        """On which side of a mark the wood is: its own joints tell, else those at its stations; 0 where none do."""
        own = (mark, *self.stations.get(mark, ()))
        sides = (wood_side([every[k] for k in self.contacts.get(one, ())], one) for one in own)
        return next((side for side in sides if side), 0)


def _edge(solved: Solved, own: list[int], end: int, beside: dict[int, list[int]], met: _Met) -> Edge:
    assembly, states = solved.assembly, solved.state.marks
    marks = assembly.marks
    reference = start_of(assembly, [mark for mark in own if states[mark] == MarkState.MADE], end)
    at = {mark: marks[mark].plan_mm - marks[reference].plan_mm for mark in own}
    way = -1 if at[max(own, key=lambda mark: abs(at[mark]))] < 0 else 1
    low, high = min(own, key=lambda mark: at[mark]), max(own, key=lambda mark: at[mark])
    now = _rough_now(solved, reference, way)
    found = []
    for mark in sorted(own, key=lambda mark: (way * at[mark], mark != reference, mark)):
        outermost = 1 if mark == low else -1 if mark == high else 0
        wood = met.wood(assembly.contacts, mark) or (outermost if low != high else 0)
        before = mark if mark == reference else neighbour_toward(assembly, mark, reference, beside)
        found.append(
            EdgeMark(
                mark,
                before,
                way * at[mark],
                _figure(solved, mark, reference, way),
                states[mark],
                way * wood,
                met.met(mark),
                now.get(mark),
            )
        )
    return Edge(marks[end].part, marks[end].axis, reference, way, tuple(found))


def wood_side(contacts: Sequence[Contact], mark: int) -> int:
    """Return on which side of a mark the wood is, +1 or -1 along its axis; 0 where no contact tells."""
    for contact in sorted(contacts, key=lambda one: one.kind != "housing"):
        place = contact.marks.index(mark)
        if contact.kind == "housing":
            return _HOUSING_WOOD[place]
        return -1 if place == 0 else 1
    return 0


def _figure(solved: Solved, mark: int, reference: int, way: int) -> float | None:
    if mark == reference:
        return 0.0
    terms = [(mark, float(way)), (reference, -float(way))]
    piece = solved.piece(terms)
    if piece is None or not piece.fixed(solved.inside(terms)):
        return None
    return solved.value_mm(terms)


def _rough_now(solved: Solved, reference: int, way: int) -> dict[int, float]:
    """Where each rough mark is now, from the reference end: the nearest that any row says. Of two marks that
    can both come down it is the one further from that end."""
    x, states, marks = solved.positions_mm, solved.state.marks, solved.assembly.marks
    here = float(x[reference])
    found: dict[int, float] = {}
    for bound, most_mm in zip(solved.state.rough, solved.rough_most_mm, strict=True):
        long = bound.sign * most_mm
        ends = [(bound.end, bound.start, long), (bound.start, bound.end, -long)]
        ends = [end for end in ends if states[end[0]] == MarkState.ROUGH]
        if not ends:
            continue
        mark, other, off = max(ends, key=lambda end: abs(marks[end[0]].plan_mm - marks[reference].plan_mm))
        at = way * (float(x[other]) + off - here)
        if mark not in found or abs(at) < abs(found[mark]):
            found[mark] = at
    return found
