"""Laid out: one piece with its marks cut where they are laid out, and everything else placed anew.

The lines are chosen group by group (rounding). Then the marks laid out are held at their lines, beside
what was measured and planned, and what is still free, placements and lines given up, is chosen once
more under the same wishes and bounds (allocate). A bound that the exact answer misses may be missed by
as much; no other is.

Not here: what the marks are called, which step each has (findings).
"""

from __future__ import annotations

import numpy as np

from fitsolve.light import cached_property, dataclass, replace
from fitsolve.rows import Flags, Floats, Ints, Rows
from fitsolve.solve.allocate import allocate
from fitsolve.solve.gridded import Group, Lines, groups
from fitsolve.solve.pieces import Piece, wanted_of
from fitsolve.solve.rounding import Rounded, round_group
from fitsolve.solve.wanted import AnyStaged, Wanted

OFF_MM = 1e-6
"""A bound missed by more than this at the layout is not kept."""


@dataclass(frozen=True)
class LaidOutPiece:
    """A piece at its layout: `line` (m,) in whole steps from what each is laid out from, 0 where it is
    `given_up` (m,); the groups and what came of each. Where everything then is, is computed when it is asked for."""

    piece: Piece
    lines: Lines
    line: Ints
    given_up: Flags
    groups: tuple[tuple[Group, Rounded], ...]

    @property
    def x(self) -> Floats:
        """Positions (n,), deviations from the plan."""
        return self._placed[0]

    @property
    def proven(self) -> bool:
        """Whether nothing is nearer, and every bound was held."""
        return self._placed[1] and all(one.proven for _, one in self.groups)

    @property
    def nearer_mm(self) -> float:
        """How much nearer all lines together could be at most; 0 where it is proven that none could."""
        return sum(one.nearer_mm for _, one in self.groups)

    @cached_property
    def _placed(self) -> tuple[Floats, bool]:
        return _placed(self, wanted_of(self.piece.network))


def lay_out(piece: Piece, lines: Lines, asked: Flags | None = None) -> LaidOutPiece:
    """Return the lines of a piece; see the module. Where only some are `asked` for, those that are not bound to them
    are not worked out, and only theirs mean anything."""
    wanted = wanted_of(piece.network)
    line, given_up = lines.whole.astype(np.intp), np.zeros(len(lines), dtype=bool)
    done = []
    for group in groups(lines, wanted, piece.x, piece.estimate.basis):
        if asked is not None and not asked[group.member].any():
            continue
        rounded = round_group(group)
        line[group.member] += rounded.steps
        given_up[group.member] = rounded.given_up
        done.append((group, rounded))
    line[given_up] = 0
    return LaidOutPiece(piece, lines, line, given_up, tuple(done))


def _placed(laid: LaidOutPiece, wanted: Wanted) -> tuple[Floats, bool]:
    """Where everything is once the lines are cut, and whether all bounds are kept there. Holds that lines can keep
    are kept, before what is left over is shared by those that whole steps can't."""
    piece = laid.piece
    asked = _no_worse(wanted, piece.x)
    held = _held(piece, laid.lines, laid.line, np.flatnonzero(~laid.given_up))
    if (off := _may_be_off(laid.groups, wanted)).any():
        held = held.add(asked.holds.pick(np.flatnonzero(~off)))
    x = allocate(held, asked).staged.x
    at = asked.bounds.of(x)
    return x, bool(np.all(at >= asked.low - OFF_MM) and np.all(at <= asked.high + OFF_MM))


def _may_be_off(done: tuple[tuple[Group, Rounded], ...], wanted: Wanted) -> Flags:
    """The holds (p,) that the lines chosen may be off."""
    bounds = len(wanted.bounds)
    off = np.zeros(len(wanted.holds), dtype=bool)
    for group, _ in done:
        own = group.row >= bounds
        off[group.row[own] - bounds] = group.high[own] > group.low[own]
    return off


def _held(piece: Piece, lines: Lines, line: Ints, chosen: Ints) -> AnyStaged:
    """What is there, and the chosen marks at their lines."""
    mark, reference = lines.mark[chosen], lines.reference[chosen]
    plan = piece.network.plan_mm
    value = lines.way[chosen] * (line * lines.step_mm)[chosen] - (plan[mark] - plan[reference])
    m = len(chosen)
    rows = Rows(
        np.arange(0, 2 * m + 1, 2),
        np.column_stack([mark, reference]).ravel(),
        np.tile([1.0, -1.0], m),
        value,
        np.ones(m),
    )
    return piece.estimate.copy().add(rows)


def _no_worse(wanted: Wanted, x: Floats) -> Wanted:
    """The same, where bounds and holds that are missed at x may be missed by as much."""
    at = wanted.bounds.of(x)
    holds = replace(wanted.holds, value=wanted.holds.of(x))
    return replace(wanted, holds=holds, low=np.minimum(wanted.low, at), high=np.maximum(wanted.high, at))
