"""Solved: a build with all its pieces solved, and the way from a mark to its piece."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Sequence
from itertools import accumulate
from typing import TYPE_CHECKING, Any

import numpy as np

from fitsolve.build.assembly import Assembly
from fitsolve.build.state import State
from fitsolve.graph import Graph
from fitsolve.light import cached_property, dataclass
from fitsolve.rows import Floats, Ints, Rows
from fitsolve.solve.pieces import Piece, Whole
from fitsolve.solve.turning import Turned

if TYPE_CHECKING:
    from fitsolve.findings.causes import Squeeze

Terms = list[tuple[int, float]]


@dataclass(frozen=True)
class Solved:
    """Plan, history, rows and solved pieces. `piece_of` (n,) is the piece of each mark and
    `number` (n,) the mark's number inside it; `turned` says how diagonals came out, if any were read."""

    assembly: Assembly
    state: State
    graph: Graph
    pieces: tuple[Piece, ...]
    piece_of: Ints
    number: Ints
    turned: Turned | None = None

    @cached_property
    def positions_mm(self) -> Floats:
        """Positions (n,) in the assembled piece, as estimated and as chosen."""
        x = self.graph.network.plan_mm.copy()
        for piece in self.pieces:
            x[piece.marks] += piece.x
        return x

    @cached_property
    def places_mm(self) -> list[float]:
        """The same positions as plain numbers, for asking one at a time."""
        places: list[float] = self.positions_mm.tolist()
        return places

    @cached_property
    def homes(self) -> list[int]:
        """The piece of each mark, likewise."""
        homes: list[int] = self.piece_of.tolist()
        return homes

    @cached_property
    def numbers(self) -> list[int]:
        """The number of each mark inside its piece, likewise."""
        numbers: list[int] = self.number.tolist()
        return numbers

    @cached_property
    def rough_most_mm(self) -> tuple[float, ...]:
        """What each rough span still is (in the order of the state), what its tool reads too long taken off."""
        found = [bound.most_mm for bound in self.state.rough]
        if self.graph.network.shared is None:
            return tuple(found)
        plan = self.graph.network.plan_mm
        for piece in self.pieces:
            for number, high in zip(piece.chosen["bounds"].tolist(), piece.network.bounds.high.tolist(), strict=True):
                source = self.graph.bounds[number]
                if source.kind == "rough":
                    bound = self.state.rough[source.number]
                    found[source.number] = high + bound.sign * float(plan[bound.end] - plan[bound.start])
        return tuple(found)

    @cached_property
    def kept(self) -> dict[Hashable, Any]:
        """What moves with what is doubted, as far as it was asked for (moved)."""
        return {}

    @cached_property
    def squeezes(self) -> dict[str, Squeeze | None]:
        """The tightest pair of gaps of each part, as far as it was asked for (causes)."""
        return {}

    def piece(self, terms: Terms) -> Piece | None:
        """The piece in which all marks of a row lie, or None where it spans several."""
        homes = {self.homes[mark] for mark, _ in terms}
        return self.pieces[homes.pop()] if len(homes) == 1 else None

    def inside(self, terms: Terms) -> Terms:
        """The row with marks numbered inside their piece."""
        number = self.numbers
        return [(number[mark], coef) for mark, coef in terms]

    def fixed(self, terms: Terms) -> bool:
        """Whether anything fixes the row."""
        piece = self.piece(terms)
        return piece is not None and piece.fixed(self.inside(terms))

    def value_mm(self, terms: Terms) -> float:
        """What the row comes to, in millimetres."""
        x = self.places_mm
        return float(sum([coef * x[mark] for mark, coef in terms]))

    def u_finished(self, piece: Piece, terms: Terms) -> float:
        """Standard uncertainty of a row of one piece, once it is cut and assembled."""
        return float(np.sqrt(piece.outlook.errors.variance(rows_of([self.inside(terms)])))[0])

    def u_as_cut(self, piece: Piece, terms: Terms) -> float:
        """Standard uncertainty of a row within one part: that of the advice, and of the cut."""
        rows = rows_of([self.inside(terms)])
        return float(np.sqrt(piece.advice.variance(rows) + piece.u_cut(rows) ** 2)[0])

    def of_one_part(self, terms: Terms) -> bool:
        """Whether all marks of a row are on one part."""
        return len({self.assembly.marks[mark].part for mark, _ in terms}) == 1

    def by_piece(self, marks: Sequence[int]) -> dict[int, list[int]]:
        """Places in `marks`, grouped by the piece of the mark."""
        groups: dict[int, list[int]] = defaultdict(list)
        homes = self.homes
        for place, mark in enumerate(marks):
            groups[homes[mark]].append(place)
        return groups


def rows_of(rows: Sequence[Terms]) -> Rows:
    """Rows of value 0 and scale 1, for asking what they come to."""
    return Rows(
        np.array([0, *accumulate(map(len, rows))], dtype=np.intp),
        np.array([mark for terms in rows for mark, _ in terms], dtype=np.intp),
        np.array([coef for terms in rows for _, coef in terms], dtype=np.float64),
        np.zeros(len(rows)),
        np.ones(len(rows)),
    )


def solved(assembly: Assembly, state: State, graph: Graph, whole: Whole) -> Solved:
    """Put the pieces back together."""
    n, pieces = len(graph.network), whole.pieces
    piece_of, number = np.zeros(n, dtype=np.intp), np.zeros(n, dtype=np.intp)
    for k, piece in enumerate(pieces):
        piece_of[piece.marks] = k
        number[piece.marks] = np.arange(len(piece.marks))
    return Solved(assembly, state, graph, pieces, piece_of, number, whole.turned)
