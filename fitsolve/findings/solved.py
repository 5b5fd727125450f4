"""Solved: a build with all its pieces solved, and the way from a mark to its piece."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fitsolve.build.assembly import Assembly
from fitsolve.build.state import State
from fitsolve.graph import Graph
from fitsolve.light import dataclass
from fitsolve.rows import Floats, Ints, RowList, Rows
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
    def squeezes(self) -> dict[str, Squeeze | None]:
        """The tightest pair of gaps of each part, as far as it was asked for (causes)."""
        return {}

    def piece(self, terms: Terms) -> Piece | None:
        """The piece in which all marks of a row lie, or None where it spans several."""
        homes = {int(self.piece_of[mark]) for mark, _ in terms}
        return self.pieces[homes.pop()] if len(homes) == 1 else None

    def inside(self, terms: Terms) -> Terms:
        """The row with marks numbered inside their piece."""
        return [(int(self.number[mark]), coef) for mark, coef in terms]

    def fixed(self, terms: Terms) -> bool:
        """Whether anything fixes the row."""
        piece = self.piece(terms)
        return piece is not None and piece.fixed(self.inside(terms))

    def value_mm(self, terms: Terms) -> float:
        """What the row comes to, in millimetres."""
        x = self.positions_mm
        return float(sum(coef * x[mark] for mark, coef in terms))

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

    def local_rows(self, rows: Rows, places: Sequence[int]) -> Rows:
        """These rows, all of one piece, with marks numbered inside it."""
        return rows.pick(np.asarray(places, dtype=np.intp)).renumber(self.number)

    def by_piece(self, marks: Sequence[int]) -> dict[int, list[int]]:
        """Places in `marks`, grouped by the piece of the mark."""
        groups: dict[int, list[int]] = defaultdict(list)
        for place, mark in enumerate(marks):
            groups[int(self.piece_of[mark])].append(place)
        return groups


def rows_of(rows: Sequence[Terms]) -> Rows:
    """Rows of value 0 and scale 1, for asking what they come to."""
    collected = RowList()
    for terms in rows:
        collected.add(terms, 0.0, 1.0)
    return collected.rows()


def solved(assembly: Assembly, state: State, graph: Graph, whole: Whole) -> Solved:
    """Put the pieces back together."""
    n, pieces = len(graph.network), whole.pieces
    piece_of, number = np.zeros(n, dtype=np.intp), np.zeros(n, dtype=np.intp)
    for k, piece in enumerate(pieces):
        piece_of[piece.marks] = k
        number[piece.marks] = np.arange(len(piece.marks))
    return Solved(assembly, state, graph, pieces, piece_of, number, whole.turned)
