"""Few lines: the same choice as rounding's, for groups so small that trying is quicker than a solver.

What is not whole, placements and lines given up, goes by Fourier-Motzkin elimination. Two rows over a
variable v, each divided by its coefficient so that v has coefficient 1,

    l1 <= v + a u <= h1,   l2 <= v + b u <= h2      give      l1 - h2 <= (a - b) u <= h1 - l2,

and some v keeps both exactly where u keeps the third. All pairs together, and the rows without v, are
what u is bound by. Of rows over the same u the tightest bounds are kept.

Then the whole numbers go the same way, the last first; so for each there are bounds over those before
it. A row that adds and subtracts whole numbers alone is bound by whole numbers. From the first to
the last every choice within its bounds is followed up, the nearest first, as long as it is nearer than the
best so far: nothing that is left out could have been kept, and what is found at the end keeps all rows.
Lines to be given up are sought among the sets that have one of every row which no whole numbers keep.

Rows are plain tuples here: there are so few that arrays would take longer.

Fails: with TooMany where rows or choices grow beyond all reason; the solver is asked then.
Source: A. Schrijver, Theory of Linear and Integer Programming (1986), 12.2 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from copy import copy
from itertools import combinations
from typing import TypeAlias

import numpy as np

from fitsolve.rows import Flags, Floats, Ints
from fitsolve.solve.gridded import Group, dense

LINES_MOST = 12
ROWS_MOST = 120
CHOICES_MOST = 4000
NOTHING = 1e-11
"""A coefficient smaller than this is what rounding left of none; rows have a largest one of 1."""
SLACK = 1e-9
"""A whole number further beyond its bounds than this is beyond them."""

Row: TypeAlias = tuple[float, ...]
Bounds: TypeAlias = dict[Row, tuple[float, float]]
"""low <= a u <= high for each row a: its largest coefficient is 1, its first one above 0."""


class TooMany(Exception):
    """There is too much to try."""


def _add(bounds: Bounds, row: Iterable[float], low: float, high: float) -> None:
    """Bring a row into its one form and keep the tightest bounds of it."""
    coefs = list(row)
    size = max(map(abs, coefs), default=0.0)
    if size < NOTHING:
        scale, key = 1.0, (0.0,) * len(coefs)
    else:
        least = NOTHING * size
        for first in coefs:
            if first >= least or -first >= least:
                break
        scale = math.copysign(size, first)
        key = tuple([round(coef / scale, 12) + 0.0 if coef else 0.0 for coef in coefs])
    low, high = (low / scale, high / scale) if scale > 0 else (high / scale, low / scale)
    known = bounds.get(key)
    if known is not None:
        low, high = max(low, known[0]), min(high, known[1])
    elif len(bounds) >= ROWS_MOST:
        raise TooMany("rows")
    bounds[key] = low, high


def without_last(bounds: Bounds) -> Bounds:
    """The bounds of all but the last variable; see the module."""
    rest: Bounds = {}
    over: list[tuple[Row, float, float]] = []
    for row, (low, high) in bounds.items():
        last = row[-1]
        if last == 0.0:
            _add(rest, row[:-1], low, high)
            continue
        ends = low / last, high / last
        over.append((tuple(coef / last for coef in row[:-1]), min(ends), max(ends)))
    for (a, low_a, high_a), (b, low_b, high_b) in combinations(over, 2):
        _add(rest, [p - q for p, q in zip(a, b, strict=True)], low_a - high_b, high_a - low_b)
    return rest


def bounds_of(rows: Floats, low: Floats, high: Floats) -> Bounds:
    """The rows low <= A v <= high as bounds."""
    bounds: Bounds = {}
    for row, least, most in zip(rows.tolist(), low.tolist(), high.tolist(), strict=True):
        _add(bounds, row, least, most)
    return bounds


def _rounded(bounds: Bounds) -> Bounds:
    """The same for whole numbers: where all coefficients are 1, -1 or 0 the bounds are rounded inward."""
    return {
        row: (_up(low), _down(high)) if all(coef in (0.0, 1.0, -1.0) for coef in row) else (low, high)
        for row, (low, high) in bounds.items()
    }


def _up(value: float) -> float:
    return float(math.ceil(value - SLACK)) if math.isfinite(value) else value


def _down(value: float) -> float:
    return float(math.floor(value + SLACK)) if math.isfinite(value) else value


def _impossible(bounds: Bounds) -> list[Row]:
    """The rows that are out of the question by themselves."""
    return [
        row
        for row, (low, high) in bounds.items()
        if low > high + SLACK or ((low > SLACK or high < -SLACK) and not any(row))
    ]


class Few:
    """A group with few lines; `kept_mm` is by how much a bound may be missed. Raises TooMany."""

    def __init__(self, group: Group, kept_mm: float) -> None:
        self.group, self.m = group, len(group.member)
        if self.m > LINES_MOST or len(group.low) > ROWS_MOST:
            raise TooMany("lines or rows")
        self.step, self.over = group.step_mm.tolist(), group.over_mm.tolist()
        placing = dense(group.placing)
        self.bounds: Bounds = {}
        for row, low, high in zip(
            np.hstack([dense(group.lines), placing]).tolist(), group.low.tolist(), group.high.tolist(), strict=True
        ):
            _add(self.bounds, row, low - kept_mm, high + kept_mm)
        for _ in range(placing.shape[1]):
            self.bounds = without_last(self.bounds)
        self._chains: dict[tuple[int, ...], list[Bounds]] = {}

    def with_steps(self, group: Group) -> Few:
        """The same for a group that differs in its steps alone: what is not whole is out of it already."""
        other = copy(self)
        other.group, other._chains = group, {}
        other.step, other.over = group.step_mm.tolist(), group.over_mm.tolist()
        return other

    def fewest(self, box: int, fewer_than: int) -> Flags | None:
        """The least set of lines, with less than so many in it, that have to be given up with whole steps
        within -box .. 1 + box; of those that serve as well the farthest along. None where there is none."""
        everything = range(self.m)
        kept_by_none = [
            {k for k, coef in enumerate(row) if coef}
            for row in _impossible(self._over_steps(tuple(everything), self.bounds))
        ]
        for count in range(1, min(fewer_than, self.m + 1)):
            for chosen in sorted(combinations(everything, count), key=lambda some: -sum(some)):
                if all(row.intersection(chosen) for row in kept_by_none):
                    given_up = np.zeros(self.m, dtype=bool)
                    given_up[list(chosen)] = True
                    if self.best(given_up, box, any_will_do=True) is not None:
                        return given_up
        return None

    def best(self, given_up: Flags, box: int, any_will_do: bool = False) -> Ints | None:
        """The nearest whole steps (m,), or any, within -box .. 1 + box; 0 for lines given up. None where none do."""
        kept = tuple(np.flatnonzero(~given_up).tolist())
        if kept not in self._chains:
            self._chains[kept] = self._chain(kept)
        chain = self._chains[kept]
        if not chain:
            return None
        found = _Search([self.step[k] for k in kept], [self.over[k] for k in kept], chain[1:], box, any_will_do).best
        if found is None:
            return None
        steps = np.zeros(self.m, dtype=np.intp)
        steps[list(kept)] = found
        return steps

    def _chain(self, kept: tuple[int, ...]) -> list[Bounds]:
        """What the first 0, 1, 2, ... of the whole numbers kept are bound by; nothing where no numbers will do."""
        free = [k for k in range(self.m) if k not in kept]
        order = (*kept, *free)
        bounds = {tuple(row[k] for k in order): ends for row, ends in self.bounds.items()}
        for _ in free:
            bounds = without_last(bounds)
        chain = [self._over_steps(kept, bounds)]
        for _ in kept:
            if _impossible(chain[0]):
                return []
            chain.insert(0, _rounded(without_last(chain[0])))
        return [] if _impossible(chain[0]) else chain

    def _over_steps(self, kept: Sequence[int], bounds: Bounds) -> Bounds:
        """Bounds of how far these lines move as bounds of their whole steps."""
        step, over = [self.step[k] for k in kept], [self.over[k] for k in kept]
        found: Bounds = {}
        for row, (low, high) in bounds.items():
            shift = sum(coef * e for coef, e in zip(row, over, strict=True))
            _add(found, [coef * f for coef, f in zip(row, step, strict=True)], low + shift, high + shift)
        return _rounded(found)


class _Search:
    """The nearest choice of whole numbers within a box that keeps all bounds, one number after another."""

    def __init__(
        self, step: list[float], over: list[float], chain: list[Bounds], box: int, any_will_do: bool
    ) -> None:
        self.step, self.over, self.box, self.any_will_do = step, over, box, any_will_do
        self.rows = [[(row, *ends) for row, ends in bounds.items() if row[-1] != 0.0] for bounds in chain]
        unavoidable = [min(e, f - e) for f, e in zip(step, over, strict=True)]
        self.rest = [sum(unavoidable[k:]) for k in range(len(step) + 1)]
        self.best: list[int] | None = None
        self.off_mm = math.inf
        self.tried = 0
        self._follow([], 0.0)

    def _follow(self, before: list[int], off_mm: float) -> None:
        k = len(before)
        if k == len(self.step):
            self.best, self.off_mm = list(before), off_mm
            return
        self.tried += 1
        if self.tried > CHOICES_MOST:
            raise TooMany("choices")
        for off, number in self._choices(before):
            if off_mm + off + self.rest[k + 1] >= self.off_mm - SLACK:
                return  # so are those behind it
            self._follow([*before, number], off_mm + off)
            if self.any_will_do and self.best is not None:
                return

    def _choices(self, before: list[int]) -> list[tuple[float, int]]:
        """The whole numbers that may stand behind these, the nearest first, each with how far off it is."""
        k = len(before)
        low, high = -float(self.box), 1.0 + self.box
        for row, least, most in self.rows[k]:
            at = sum(coef * number for coef, number in zip(row, before, strict=False))
            ends = (least - at) / row[-1], (most - at) / row[-1]
            low, high = max(low, min(ends)), min(high, max(ends))
        step, over = self.step[k], self.over[k]
        return sorted((abs(step * number - over), number) for number in range(int(_up(low)), int(_down(high)) + 1))
