"""Rounding: for every mark to be cut the line it is laid out at, every joint still in its fit.

With whole b_i, figures move by lambda_i = f_i b_i - e_i, e_i how far they are above the line under
them (gridded). Over b and placements z

    minimise    sum |f_i b_i - e_i|
    subject to  low <= L lambda + Z z <= high

an integer programme for each group that hangs together, given to a general solver (HiGHS). What
makes it quick:

    nearest first    where every figure goes to its nearest line and all bounds hold with nothing
                     moved, nothing can be nearer
    rounded bounds   a row over whole steps alone, sum a_i b_i times the common part of the steps, is
                     bounded by whole numbers: its limits are rounded inward
    one place        lines that one placement alone binds together are chosen along it (oneplace), those that several
                     bind, if two of them bind all the others, so too (manyplaces)
    a narrow box     b in -B .. 1 + B, at first B = 0, where |f b - e| = e + (f - 2 e) b is linear.
                     A line outside the box is off by at least (B + 1) f more than its nearest one, so
                     an answer worse than all nearest ones by no more than that is the best of all;
                     else B grows. Few lines are tried through instead (fewlines). With B > 0,
                     t_i >= |f b - e| and the cut t_i >= e + (f - 2 e) b, which holds for every whole b
                     and is the hull between 0 and 1.

Where no multiples will do, as few lines as possible are given up, to be knifed off the part itself:
lambda_i = f_i b_i - e_i + s_i, |s_i| <= f_i / 2 y_i, y_i 0 or 1, minimise sum y_i. Of two that serve
as well, the one farther along is given up. The rest is then rounded as above, with the lines given up
free. A finer step for those alone is sought down a ladder, each tried in turn.

Fails: `proven` is false where the solver stopped early; the lines keep every bound all the same, and the least
that any lines could be off (its dual bound, or what a line outside the box costs) says how much nearer others
could be. Lines more than 63 steps beyond the nearest are not sought.
Source: G. Nemhauser, L. Wolsey, Integer and Combinatorial Optimization (1988), rounding of rows and
hulls (from memory); R. E. Gomory's rounding.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from fractions import Fraction
from functools import reduce as fold
from math import gcd, lcm
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fitsolve.solve.manyplaces import ManyPlaces
    from fitsolve.solve.oneplace import OnePlace

from fitsolve.light import dataclass, replace
from fitsolve.rows import Flags, Floats, Ints
from fitsolve.solve.fewlines import LINES_MOST, Few, TooMany
from fitsolve.solve.gridded import Group, Sparse, dense, touched

KEPT_MM = 1e-7
"""A bound missed by less is kept."""

BOXES = (0, 1, 7, 63)
"""How far from the nearest lines is looked, in steps: never further than the last."""

FEW = LINES_MOST
"""Up to so many lines that hang together are tried through (fewrows, fewlines); more go to the solver."""

AT_ONCE, ROWS_AT_ONCE = 6, 16
"""A group of up to so many lines and rows is tried through as a whole."""

SECONDS = 5.0
"""The solver gets so long for one programme; then its best answer is taken, and called unproven, with how much
nearer any other could be."""

_LIKELY_DENOMINATOR = 10**5


@dataclass(frozen=True)
class Rounded:
    """The lines of one group: `steps` (m,) from the line under each figure (0 or 1 mostly), `given_up`
    (m,) where no multiple will do, and whether it is proven that nothing is nearer. Where it is not, all lines
    together could be nearer by `nearer_mm` at the most: infinity where fewer might have to be given up."""

    steps: Ints
    given_up: Flags
    proven: bool = True
    nearer_mm: float = 0.0

    def off_mm(self, group: Group) -> float:
        """How far all lines laid out are off their exact figures together, mm."""
        off = np.abs(group.step_mm * self.steps - group.over_mm)
        return float(off[~self.given_up].sum())


@dataclass(frozen=True)
class _Rows:
    """Rows over b (integer), s (what lines given up may move) and z: low <= A v <= high."""

    steps: Sparse
    free: Sparse
    low: Floats
    high: Floats

    @property
    def possible(self) -> bool:
        """Whether no row by itself is out of the question."""
        return bool(np.all(self.low <= self.high))


def round_group(group: Group) -> Rounded:
    """Return the lines of a group that are nearest to the exact answer; see the module."""
    nothing = np.zeros(len(group.member), dtype=bool)
    nearest = _nearest(group)
    if _holds(group, nearest):
        return Rounded(nearest, nothing)
    if len(nearest) and FEW:
        with suppress(TooMany):
            return Rounded(*_by_trying(group, nearest))
    found = _rounded(group, nothing)
    return found if found is not None else _with_some_given_up(group)


def _by_trying(group: Group, nearest: Ints) -> tuple[Ints, Flags]:
    """The best steps of a group, and its lines given up: tried through at once where it is small, else by those of
    its rows that matter. Raises TooMany."""
    if len(nearest) <= AT_ONCE and len(group.low) <= ROWS_AT_ONCE:
        with suppress(TooMany):
            return _tried_through(Few(group, KEPT_MM))
    if group.placing.shape[1] == 1:
        from fitsolve.solve.oneplace import OnePlace

        with suppress(TooMany):
            return _over_places(group, OnePlace(group, KEPT_MM))
    from fitsolve.solve.fewrows import by_few_rows

    with suppress(TooMany):
        return by_few_rows(group, nearest, KEPT_MM, _tried_through)
    from fitsolve.solve.manyplaces import ManyPlaces

    return _over_places(group, ManyPlaces(group, KEPT_MM))


def _over_places(group: Group, places: OnePlace | ManyPlaces) -> tuple[Ints, Flags]:
    """The best steps of lines that only placements bind together, and those given up: the box grows until no line
    outside it could be nearer, or save one that is given up."""
    unavoidable = np.minimum(group.over_mm, group.step_mm - group.over_mm)
    best: Rounded | None = None
    for box in BOXES:
        found = Rounded(*places.best(box))
        lost = int(found.given_up.sum())
        kept = ~found.given_up
        worse = found.off_mm(group) - float(unavoidable[kept].sum())
        if not lost and worse <= (box + 1) * float(group.step_mm.min()) + KEPT_MM:
            return found.steps, found.given_up
        if best is not None and box > 1 and lost >= int(best.given_up.sum()):
            return found.steps, found.given_up
        best = found
    assert best is not None, "one box at least was looked at"
    return best.steps, best.given_up


def _tried_through(few: Few) -> tuple[Ints, Flags]:
    """The best steps of a few lines, and those given up."""
    nothing = np.zeros(len(few.group.member), dtype=bool)
    found = _rounded(few.group, nothing, few)
    if found is None:
        found = _few_given_up(few.group, few)
    return found.steps, found.given_up


def finer_steps(group: Group, given_up: Flags, figure_mm: Floats, ladders: Sequence[Floats]) -> int | None:
    """Return the first place in the ladders at which every line given up can be laid out, None where
    none will do. `ladders` are steps (m,) each, finer and finer; `figure_mm` (m,) are exact."""
    chosen = np.flatnonzero(given_up)
    few: Few | None = None
    if FEW and len(given_up) <= AT_ONCE and len(group.low) <= ROWS_AT_ONCE:
        with suppress(TooMany):
            few = Few(group, KEPT_MM)
    for place, ladder in enumerate(ladders):
        finer = group.with_steps(chosen, ladder[chosen], figure_mm)
        if _holds(finer, _nearest(finer)) or _any_lines(finer, few):
            return place
    return None


def _any_lines(group: Group, few: Few | None) -> bool:
    """Whether any lines at all keep every bound; `few` are the same group's, of other steps."""
    nothing = np.zeros(len(group.member), dtype=bool)
    if few is not None:
        with suppress(TooMany):
            return _rounded(group, nothing, few.with_steps(group), any_will_do=True) is not None
    if FEW:
        with suppress(TooMany):
            return not _by_trying(group, _nearest(group))[1].any()
    return _rounded(group, nothing, any_will_do=True) is not None


def blocking(group: Group, rounded: Rounded, line: int) -> Ints:
    """Return the rows (by their numbers in the whole) that keep a line given up off both lines beside its
    figure, whatever is placed anew; where together only they do, all rows it stands in."""
    own = np.flatnonzero(touched(group.lines[:, [line]]))
    alone = own[~touched(group.placing[own])]
    others = np.where(rounded.given_up, 0.0, group.step_mm * rounded.steps - group.over_mm)
    beside = group.step_mm[line] * np.array([0.0, 1.0]) - group.over_mm[line]
    found = []
    for row in alone.tolist():
        coefs = dense(group.lines[[row]])[0]
        if np.count_nonzero(coefs[rounded.given_up]) == 1:
            value = coefs @ others + coefs[line] * beside
            if np.any((value < group.low[row] - KEPT_MM) | (value > group.high[row] + KEPT_MM)):
                found.append(row)
    return group.row[np.array(found, dtype=np.intp) if found else own]


def _nearest(group: Group) -> Ints:
    return (group.over_mm * 2 > group.step_mm).astype(np.intp)


def _holds(group: Group, steps: Ints) -> bool:
    """Whether all rows hold with these lines and nothing placed anew."""
    value = group.lines @ (group.step_mm * steps - group.over_mm)
    return bool(np.all(value >= group.low - KEPT_MM) and np.all(value <= group.high + KEPT_MM))


# -- the programme -----------------------------------------------------------------------------


def _rounded(group: Group, given_up: Flags, few: Few | None = None, any_will_do: bool = False) -> Rounded | None:
    """The best lines with some given up, None where there are none in the widest box."""
    kept = ~given_up
    if not kept.any():  # where the exact answer is, everything holds
        return Rounded(np.zeros(len(kept), dtype=np.intp), given_up)
    rows = None if few is not None else _rows(group, given_up)
    if rows is not None and not rows.possible:
        return None
    unavoidable = float(np.minimum(group.over_mm, group.step_mm - group.over_mm)[kept].sum())
    least_step = float(group.step_mm[kept].min(initial=np.inf))
    best: Rounded | None = None
    for box in BOXES:
        if few is not None:
            tried = few.best(given_up, box, any_will_do)
            found = None if tried is None else (tried, True, 0.0)
        else:
            assert rows is not None, "made above"
            found = _in_box(group, rows, kept, box)
        if found is None:
            continue
        best = Rounded(found[0], given_up, found[1])
        off = best.off_mm(group)
        if not best.proven:
            least = min(found[2], unavoidable + (box + 1) * least_step)
            best = replace(best, nearer_mm=max(off - least, 0.0))
        worse = off - unavoidable
        if any_will_do or not best.proven or worse <= (box + 1) * least_step + KEPT_MM:
            return best
    return best


def _few_given_up(group: Group, few: Few) -> Rounded:
    """As few lines given up as possible, the others rounded, all tried."""
    chosen: Flags | None = None
    for box in BOXES[1:]:
        fewer = few.fewest(box, len(group.member) + 1 if chosen is None else int(chosen.sum()))
        if fewer is None and chosen is not None:
            break
        chosen = fewer
        if chosen is not None and chosen.sum() == 1:
            break
    assert chosen is not None, "with every line given up everything holds"
    rounded = _rounded(group, chosen, few)
    assert rounded is not None, "these serve"
    return rounded


def _rows(group: Group, given_up: Flags) -> _Rows:
    """The rows of a group over b, s of the lines given up, and z; those over whole steps alone rounded."""
    from scipy.sparse import csr_array, hstack

    kept, lines = ~given_up, csr_array(group.lines)
    steps = csr_array(lines * np.where(kept, group.step_mm, 0.0))
    steps.eliminate_zeros()
    free = csr_array(group.placing)
    if given_up.any():
        free = csr_array(hstack([lines[:, np.flatnonzero(given_up)], free], format="csr"))
    shift = lines @ np.where(kept, group.over_mm, 0.0)
    low, high = group.low + shift, group.high + shift
    alone = ~touched(free)
    for row in np.flatnonzero(alone & touched(steps)).tolist():
        own = slice(steps.indptr[row], steps.indptr[row + 1])
        unit = _common(steps.data[own])
        if unit is None:
            continue
        slack = min(KEPT_MM / unit, 0.1)
        steps.data[own] = np.rint(steps.data[own] / unit)
        low[row] = np.ceil(low[row] / unit - slack)
        high[row] = np.floor(high[row] / unit + slack)
    used = np.flatnonzero(touched(steps) | ~alone)
    return _Rows(steps[used], free[used], low[used], high[used])


def _common(coefs: Floats) -> float | None:
    """The largest length that all coefficients are whole multiples of, as fractions; None where there is none
    worth the name."""
    sizes = [Fraction(float(abs(c))).limit_denominator(_LIKELY_DENOMINATOR) for c in coefs if c]
    if not sizes or any(size == 0 for size in sizes):
        return None
    under = fold(lcm, [size.denominator for size in sizes])
    unit = float(Fraction(fold(gcd, [int(size * under) for size in sizes]), under))
    off = np.abs(coefs / unit - np.rint(coefs / unit))
    return unit if off.max() < 1e-9 and np.abs(coefs).max() / unit < 1e6 else None


def _in_box(group: Group, rows: _Rows, kept: Flags, box: int) -> tuple[Ints, bool, float] | None:
    """The best b within -box .. 1 + box, whether it is proven, and what all lines there are off together at the least
    (mm); None where there is none."""
    from scipy.sparse import csr_array, diags_array, eye_array, hstack, vstack

    m, width = len(kept), rows.free.shape[1]
    whole = np.flatnonzero(kept)
    f, e = group.step_mm[whole], group.over_mm[whole]
    share = e / f
    unit = f / f.min(initial=np.inf)
    k = len(whole)
    matrix, low, high = hstack([rows.steps[:, whole], rows.free]), rows.low, rows.high
    cost = np.concatenate([unit * (1 - 2 * share), np.zeros(width)])
    if box > 0:  # t >= share + (1 - 2 share) b,  t >= b - share,  t >= share - b
        cost = np.concatenate([np.zeros(k + width), unit])
        slopes = (diags_array(-(1 - 2 * share)), -eye_array(k), eye_array(k))
        none = csr_array((k, width))
        bent = [hstack([slope, none, eye_array(k)]) for slope in slopes]
        matrix = vstack([hstack([matrix, csr_array((len(low), k))]), *bent])
        low = np.concatenate([low, share, -share, share])
        high = np.concatenate([high, np.full(3 * k, np.inf)])
    extra = len(cost) - len(whole)
    found = _solve(
        cost,
        matrix,
        (low, high),
        np.concatenate([np.full(len(whole), -float(box)), np.full(width, -np.inf), np.zeros(extra - width)]),
        np.concatenate([np.full(len(whole), 1.0 + box), np.full(extra, np.inf)]),
        len(whole),
    )
    if found is None:
        return None
    steps = np.zeros(m, dtype=np.intp)
    steps[whole] = np.rint(found[0][: len(whole)]).astype(np.intp)
    always = float((unit * share).sum()) if box == 0 else 0.0
    return steps, found[1], (found[2] + always) * float(f.min(initial=np.inf))


def _solve(
    cost: Floats, matrix: Sparse, limits: tuple[Floats, Floats], least: Floats, most: Floats, whole: int
) -> tuple[Floats, bool, float] | None:
    """The first `whole` variables are whole numbers. Returns the best point, whether it is proven, and the least that
    any costs."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    integrality = np.zeros(len(cost))
    integrality[:whole] = 1
    constraints: list[Any] = [LinearConstraint(csr_array(matrix), *limits)] if matrix.shape[0] else []
    from fitsolve.solve.quiet import quiet

    with quiet():
        found = milp(
            cost,
            integrality=integrality,
            bounds=Bounds(least, most),
            constraints=constraints,
            options={"mip_rel_gap": 0.0, "time_limit": SECONDS},
        )
    if found.x is None:
        return None
    least = found.mip_dual_bound
    return found.x, found.status == 0, -np.inf if least is None else float(least)


# -- where no multiples will do -----------------------------------------------------------------


def _with_some_given_up(group: Group) -> Rounded:
    """As few lines given up as possible, the others rounded."""
    found, proven = _given_up(group)
    rounded = _rounded(group, found)
    if rounded is None:  # not within the solver's own tolerance: all of them
        everything = np.ones(len(found), dtype=bool)
        return Rounded(np.zeros(len(found), dtype=np.intp), everything, False, np.inf)
    return rounded if proven else replace(rounded, proven=False, nearer_mm=np.inf)


def _given_up(group: Group) -> tuple[Flags, bool]:
    """The least set of lines that have to be given up, and whether it is the least."""
    nothing = np.zeros(len(group.member), dtype=bool)
    least = _hopeless(group)
    best: tuple[Flags, bool] | None = None
    for box in BOXES[1:]:
        found = _give_up_in_box(group, box)
        if found is None:
            continue
        if best is not None and best[0].sum() <= found[0].sum():
            return best
        best = found
        if found[0].sum() <= least:
            return best
    return best if best is not None else (~nothing, False)


def _hopeless(group: Group) -> int:
    """At least so many lines have to go: rows that no whole steps can keep, no two of one line."""
    rows = _rows(group, np.zeros(len(group.member), dtype=bool))
    seen = np.zeros(len(group.member), dtype=bool)
    count = 0
    for row in np.flatnonzero(rows.low > rows.high):
        own = rows.steps.indices[rows.steps.indptr[row] : rows.steps.indptr[row + 1]]
        if not seen[own].any():
            seen[own] = True
            count += 1
    return count


def _give_up_in_box(group: Group, box: int) -> tuple[Flags, bool] | None:
    """Which lines to give up, by one integer programme over b, y, s and z."""
    from scipy.sparse import block_array, csr_array, eye_array

    m, width = len(group.member), group.placing.shape[1]
    f, e = group.step_mm, group.over_mm
    lines = csr_array(group.lines)
    shift = lines @ e
    on_steps, one = csr_array(lines * f), eye_array(m)
    matrix = block_array(
        [
            [on_steps, csr_array(lines.shape), on_steps, csr_array(group.placing)],
            [None, one / 2, one, csr_array((m, width))],
            [None, one / 2, -one, None],
        ]
    )
    low = np.concatenate([group.low + shift, np.zeros(2 * m)])
    high = np.concatenate([group.high + shift, np.full(2 * m, np.inf)])
    farther = np.arange(m)[::-1] / (2.0 * m * m)
    found = _solve(
        np.concatenate([np.zeros(m), 1.0 + farther, np.zeros(m + width)]),
        matrix,
        (low, high),
        np.concatenate([np.full(m, -float(box)), np.zeros(m), np.full(m, -0.5), np.full(width, -np.inf)]),
        np.concatenate([np.full(m, 1.0 + box), np.ones(m), np.full(m, 0.5), np.full(width, np.inf)]),
        2 * m,
    )
    return None if found is None else (found[0][m : 2 * m] > 0.5, found[1])
