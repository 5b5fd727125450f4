"""Pegs: a drawbored joint's two holes, of which the tenon's is laid out from the mortise's.

    peg A DIAMETER, draw L

A is the hole bored through the mortise. The shoulder is that of the one butt which the same row of
the joint has along an axis of A, between A's part and the tenon's. The tenon's hole lies L nearer
to the shoulder than A lies to the face that the shoulder goes against, whichever way that is:

    x[tenon hole] - x[shoulder] = x[A] - x[face] - w L,      w = +1 or -1, the way from face to A.

So the plan holds no direction. The tenon's hole is a mark of its own, beside the shoulder and
called as A is.

A slanted shoulder meets its face at several stations, a butt at each; it is one shoulder all the same.
The hole goes by the station that A is counted from, else by the one nearest to A along the other axis.

Not here: what it is bored to (graph), whether it draws (findings).
"""

from __future__ import annotations

from fractions import Fraction

from fitsolve.build.assembly import AXES, Distance, Peg
from fitsolve.build.language import Misread, Name
from fitsolve.build.locate import Spot
from fitsolve.build.stock import Stock
from fitsolve.lengths import Unit
from fitsolve.light import dataclass
from fitsolve.written import write_length


@dataclass(slots=True)
class PegDraft:
    """A peg on its way: marks by number."""

    joint: int
    hole: int
    tenon_hole: int
    shoulder: int
    face: int
    way: int
    diameter: Fraction
    draw: Fraction
    spot: Spot

    def worked_out(self) -> Peg:
        """Return the peg as the assembly has it."""
        marks = (self.hole, self.tenon_hole, self.shoulder, self.face)
        return Peg(self.joint, *marks, self.way, float(self.diameter), float(self.draw), self.spot.place())


def hole_marks(stock: Stock, name: Name) -> dict[int, int]:
    """Return the marks that a name stands for, by axis: a mark, or a hole on two axes. Raises Misread."""
    mark = stock.known(name.text)
    if mark is not None:
        return {stock.axis[mark]: mark}
    found = {}
    for number, axis in enumerate(AXES):
        mark = stock.known(f"{name.text}.{axis}")
        if mark is not None:
            found[number] = mark
    if not found:
        raise stock.unknown(name, name.text)
    return found


def peg_draft(
    stock: Stock,
    name: Name,
    sizes: tuple[Fraction, Fraction],
    butts: list[tuple[int, int, int]],
    spot: Spot,
    unit: Unit,
) -> PegDraft:
    """Return a peg with the tenon's hole as a new mark. `butts` are those of its row: the joint and the
    two marks. Raises Misread where there is not the one shoulder it needs."""
    holes = hole_marks(stock, name)
    part = stock.part[next(iter(holes.values()))]
    found = [
        (joint, own, other)
        for joint, first, second in butts
        for own, other in ((first, second), (second, first))
        if stock.part[own] == part and stock.axis[own] in holes
    ]
    if len(found) > 1 and _one_shoulder(stock, found):
        found = [min(found, key=lambda butt: _away(stock, holes, butt[1]))]
    if len(found) != 1:
        what = "no shoulder" if not found else "more than one shoulder"
        hint = "The same joint says it: RAIL.shoulder against LEG.back, along an axis on which the hole has a place."
        raise Misread(f"{what} goes against the part of {name.text} here", name.column, name.width, hint)
    joint, face, shoulder = found[0]
    hole = holes[stock.axis[face]]
    depth = stock.at[hole] - stock.at[face]
    if depth == 0:
        what = f"{stock.name[hole]} lies on {stock.name[face]}: which way is the shoulder?"
        raise Misread(what, name.column, name.width, "Bore it some way inside the face that the shoulder meets.")
    way = 1 if depth > 0 else -1
    diameter, draw = sizes
    if abs(depth) <= draw:
        what = f"the draw is more than {stock.name[hole]} lies from {stock.name[face]}"
        drawn, deep = (write_length(mm, unit, marked=True) for mm in (draw, abs(depth)))
        hint = f"It draws by {drawn}, and the hole lies {deep} from the face: bore it deeper, or draw by less."
        raise Misread(what, name.column, name.width, hint)
    mark = _tenon_hole(stock, name, shoulder, stock.at[shoulder] + depth - way * draw)
    return PegDraft(joint, hole, mark, shoulder, face, way, diameter, draw, spot)


def _one_shoulder(stock: Stock, butts: list[tuple[int, int, int]]) -> bool:
    """Whether butts are of one shoulder against one face, each at a station of its own."""
    sides = [[stock.name[mark].partition("@") for mark in (own, other)] for _, own, other in butts]
    return len({(own[0], other[0]) for own, other in sides}) == 1 and all(own[1] or other[1] for own, other in sides)


def _away(stock: Stock, holes: dict[int, int], face: int) -> tuple[bool, Fraction]:
    """How near a station of a face is to a hole: whether the hole is not counted from it, and how far away it lies."""
    own = set(holes.values())
    counted = any({one.start, one.end} & own and face in (one.start, one.end) for one in stock.distances)
    name, part = stock.name[face], stock.parts[stock.part[face]]
    base, _, station = name.partition("@")
    runs = (stock.index.get(f"{before}.{station}") for before in (part, base.rpartition(".")[0]))
    run = next((mark for mark in runs if mark is not None and stock.axis[mark] in holes), None)
    away = Fraction(0) if run is None else abs(stock.at[holes[stock.axis[run]]] - stock.at[run])
    return not counted, away


def _tenon_hole(stock: Stock, name: Name, shoulder: int, at: Fraction) -> int:
    """The tenon's hole: a mark beside the shoulder, called as the mortise's hole is."""
    parent = stock.name[shoulder].partition("@")[0].rpartition(".")[0]
    whole = f"{parent}.{name.text.rpartition('.')[2]}"
    if whole in stock.index:
        what = f"{whole} is a mark already; the tenon's hole would be called that"
        raise Misread(what, name.column, name.width, "Give one of the two another name.")
    return stock.add(whole, stock.part[shoulder], stock.axis[shoulder], at)


def bored(stock: Stock, pegs: list[PegDraft]) -> list[Distance]:
    """Return how far each tenon's hole lies from its shoulder, as distances that no run has."""
    return [
        Distance(
            stock.parts[stock.part[peg.shoulder]],
            AXES[stock.axis[peg.shoulder]],
            peg.shoulder,
            peg.tenon_hole,
            peg.way,
            float(abs(stock.at[peg.tenon_hole] - stock.at[peg.shoulder])),
            None,
            place=peg.spot.place(),
            derived=True,
        )
        for peg in pegs
    ]
