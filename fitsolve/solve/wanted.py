"""Wanted: what is asked of one piece, and the same as a programme over what is still free.

With x = x_hat + N z, x_hat what is held so far and N a basis of what it leaves free, a row c
becomes c N over z, its value less what c comes to at x_hat. Rows that no z moves and columns
that no row touches are left out.

Not here: how it is solved (quadratic), in which order (allocate).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from fitsolve.light import dataclass, replace
from fitsolve.rows import Flags, Floats, Ints, Rows
from fitsolve.solve.quadratic import Programme
from fitsolve.solve.staged import Staged

if TYPE_CHECKING:
    from fitsolve.solve.sparse import SparseStaged

AnyStaged: TypeAlias = "Staged | SparseStaged"


@dataclass(frozen=True)
class Wanted:
    """The rows of one piece that hangs together; see `fitsolve.graph.Graph` for the lists."""

    wishes: Rows
    late: Rows
    holds: Rows
    bounds: Rows
    low: Floats
    high: Floats
    hard: Flags
    relaxable: Flags


@dataclass(frozen=True)
class Reduced:
    """The programme over z: the columns kept, and the bounds and holds (by number) that z can move."""

    programme: Programme
    basis: Any
    moved: Ints
    held: Ints


def reduce(held: AnyStaged, wanted: Wanted) -> Reduced:
    """Contract all rows onto what is free, leaving out columns and rows that nothing moves."""
    basis, reach = held.basis, held.freedom.copy()
    holds, bounds = held.contract(wanted.holds, basis), held.contract(wanted.bounds, basis)
    wishes, late = held.contract(wanted.wishes, basis), held.contract(wanted.late, basis)
    moved, kept = held.touched(bounds), held.touched(holds)
    reach.tie(wanted.holds, kept)
    reach.tie(wanted.wishes, held.touched(wishes))
    reach.tie(wanted.late, held.touched(late))
    reach.tie(wanted.bounds, moved)
    nowhere = set(reach.free_marks())
    if nowhere:
        columns = [k for k, mark in enumerate(held.free) if mark not in nowhere]
        basis, holds, bounds, wishes = (matrix[:, columns] for matrix in (basis, holds, bounds, wishes))
    at = wanted.bounds.of(held.x)
    scale = wanted.wishes.scale
    programme = Programme(
        objective=held.divided(wishes, scale),
        target=(wanted.wishes.value - wanted.wishes.of(held.x)) / scale,
        equal=holds[kept],
        equal_to=(wanted.holds.value - wanted.holds.of(held.x))[kept],
        bounds=bounds[moved],
        low=(wanted.low - at)[moved],
        high=(wanted.high - at)[moved],
    )
    return Reduced(programme, basis, moved, kept)


def at_limits(wanted: Wanted, side: Ints, weighed: bool = False) -> Rows:
    """Bounds (by side (q,), -1 low, +1 high, 0 not) as rows at their limits; weighed, the scale says
    how they count against each other where they can't all be met."""
    chosen = np.flatnonzero(side)
    rows = wanted.bounds.pick(chosen)
    value = np.where(side[chosen] < 0, wanted.low[chosen], wanted.high[chosen])
    return replace(rows, value=value, scale=rows.scale if weighed else np.ones(len(chosen)))
