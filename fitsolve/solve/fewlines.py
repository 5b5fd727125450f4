"""Few lines: the same choice as rounding's, for groups so small that trying is quicker than a solver.

What is not whole, placements and lines given up, goes by Fourier-Motzkin elimination. Two rows over a
variable v, each divided by its coefficient so that v has coefficient 1,

    l1 <= v + a u <= h1,   l2 <= v + b u <= h2      give      l1 - h2 <= (a - b) u <= h1 - l2,

and some v keeps both exactly where u keeps the third. All pairs together, and the rows without v, are
what u is bound by. Of rows over the same u the tightest bounds are kept.

Then the whole numbers go the same way, the last first; so for each there are bounds over those before
it. From the first to the last every choice within its bounds is followed up: nothing that is left out
could have been kept, and at the end every choice that is left keeps all rows. The nearest is taken.

Fails: with TooMany where the rows or the choices grow beyond all reason; the solver is asked then.
Source: A. Schrijver, Theory of Linear and Integer Programming (1986), 12.2 (from memory).
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Flags, Floats, Ints
from fitsolve.solve.gridded import Group, dense

ROWS_MOST = 120
CHOICES_MOST = 4096
LINES_MOST = 8
NOTHING = 1e-11
"""A coefficient smaller than this is what rounding left of none; rows have a largest one of 1."""
SLACK = 1e-9
"""A whole number further beyond its bounds than this is beyond them."""


class TooMany(Exception):
    """There is too much to try."""


@dataclass(frozen=True)
class Bound:
    """low <= A u <= high."""

    a: Floats
    low: Floats
    high: Floats

    def impossible(self) -> Flags:
        """The rows that are out of the question by themselves."""
        nothing = ~self.a.any(axis=1)
        beyond = (self.low > self.high + SLACK) | (nothing & ((self.low > SLACK) | (self.high < -SLACK)))
        return np.asarray(beyond)

    def rounded(self) -> Bound:
        """The same for whole numbers: where all coefficients are 1, -1 or 0 the bounds are rounded inward."""
        size = np.abs(self.a)
        whole = np.all((size == 1.0) | (size == 0.0), axis=1)
        low = np.where(whole, np.ceil(self.low - SLACK), self.low)
        high = np.where(whole, np.floor(self.high + SLACK), self.high)
        return Bound(self.a, low, high)

    def without_last(self) -> Bound:
        """The bounds of all but the last variable; see the module."""
        a, last = self.a[:, :-1], self.a[:, -1]
        has = last != 0.0
        if not has.any():
            return Bound(a, self.low, self.high)
        by = last[has]
        rows, ends = a[has] / by[:, None], np.sort(np.stack([self.low[has] / by, self.high[has] / by]), axis=0)
        first, second = _pairs(len(by))
        return _tightest(
            np.concatenate([a[~has], rows[first] - rows[second]]),
            np.concatenate([self.low[~has], ends[0, first] - ends[1, second]]),
            np.concatenate([self.high[~has], ends[1, first] - ends[0, second]]),
        )


@lru_cache(maxsize=64)
def _pairs(count: int) -> tuple[Ints, Ints]:
    """All pairs of so many."""
    first, second = np.triu_indices(count, 1)
    return first, second


def _tightest(a: Floats, low: Floats, high: Floats) -> Bound:
    """Rows with a largest coefficient of 1 and their first one above 0, each once with its tightest bounds."""
    a = np.where(np.abs(a) < NOTHING, 0.0, a)
    count, width = a.shape
    if count == 0 or width == 0:
        return Bound(a, low, high)
    size = np.abs(a).max(axis=1)
    sign = np.sign(a[np.arange(count), (a != 0.0).argmax(axis=1)])
    scale = np.where(size > 0.0, size * np.where(sign < 0.0, -1.0, 1.0), 1.0)
    a = np.round(a / scale[:, None], 12)
    low, high = low / scale, high / scale
    low, high = np.minimum(low, high), np.maximum(low, high)
    place: dict[bytes, int] = {}
    owner = np.array([place.setdefault(row.tobytes(), len(place)) for row in a + 0.0])
    if len(place) > ROWS_MOST:
        raise TooMany("rows")
    if len(place) == count:
        return Bound(a, low, high)
    least, most = np.full(len(place), -np.inf), np.full(len(place), np.inf)
    np.maximum.at(least, owner, low)
    np.minimum.at(most, owner, high)
    kept = np.zeros((len(place), width))
    kept[owner] = a
    return Bound(kept, least, most)


class Few:
    """A group with few lines; `kept_mm` is by how much a bound may be missed. Raises TooMany."""

    def __init__(self, group: Group, kept_mm: float) -> None:
        self.group, self.m = group, len(group.member)
        lines, placing = dense(group.lines), dense(group.placing)
        if self.m > LINES_MOST or len(lines) > ROWS_MOST:
            raise TooMany("lines or rows")
        bound = _tightest(np.hstack([lines, placing]), group.low - kept_mm, group.high + kept_mm)
        for _ in range(placing.shape[1]):
            bound = bound.without_last()
        self.bound = bound
        self._chains: dict[bytes, list[Bound]] = {}

    def fewest(self, box: int, fewer_than: int) -> Flags | None:
        """The least set of lines, with less than so many in it, that have to be given up with whole steps
        within -box .. 1 + box; of those that serve as well the farthest along. None where there is none."""
        hopeless = self._over_steps(np.arange(self.m), self.bound)
        kept_by_none = hopeless.a[hopeless.impossible()] != 0.0
        farther = np.arange(self.m)[::-1]
        for count in range(1, min(fewer_than, self.m + 1)):
            for chosen in sorted(combinations(range(self.m), count), key=lambda some: sum(farther[list(some)])):
                given_up = np.zeros(self.m, dtype=bool)
                given_up[list(chosen)] = True
                if kept_by_none[:, given_up].any(axis=1).all() and self.best(given_up, box) is not None:
                    return given_up
        return None

    def best(self, given_up: Flags, box: int) -> Ints | None:
        """The nearest whole steps (m,) within -box .. 1 + box, 0 for lines given up; None where none will do."""
        kept = np.flatnonzero(~given_up)
        key = given_up.tobytes()
        if key not in self._chains:
            self._chains[key] = self._chain(kept)
        chain = self._chains[key]
        if not chain:
            return None
        choices = np.zeros((1, 0))
        for bound in chain[1:]:
            choices = _followed(bound, choices, box)
            if not len(choices):
                return None
        steps = np.zeros(self.m, dtype=np.intp)
        off = np.abs(choices * self.group.step_mm[kept] - self.group.over_mm[kept]).sum(axis=1)
        steps[kept] = choices[np.argmin(off)]
        return steps

    def _chain(self, kept: Ints) -> list[Bound]:
        """What the first 0, 1, 2, ... of the whole numbers kept are bound by; nothing where no numbers will do."""
        free = np.setdiff1d(np.arange(self.m), kept)
        bound = Bound(self.bound.a[:, np.concatenate([kept, free])], self.bound.low, self.bound.high)
        for _ in free:
            bound = bound.without_last()
        chain = [self._over_steps(kept, bound)]
        while not chain[0].impossible().any():
            if not chain[0].a.shape[1]:
                return chain
            chain.insert(0, chain[0].without_last().rounded())
        return []

    def _over_steps(self, kept: Ints, bound: Bound) -> Bound:
        """Bounds of how far these lines move as bounds of their whole steps."""
        shift = bound.a @ self.group.over_mm[kept]
        return _tightest(bound.a * self.group.step_mm[kept], bound.low + shift, bound.high + shift).rounded()


def _followed(bound: Bound, choices: Floats, box: int) -> Floats:
    """Each choice (p, k) of the numbers before with every whole number that may stand behind it: (r, k + 1)."""
    has = bound.a[:, -1] != 0.0
    by = bound.a[has, -1]
    at = choices @ bound.a[has, :-1].T
    ends = np.stack([bound.low[has] - at, bound.high[has] - at]) / by
    low, high = np.full(len(choices), -float(box)), np.full(len(choices), 1.0 + box)
    if len(by):
        low = np.maximum(low, np.ceil(ends.min(axis=0).max(axis=1) - SLACK))
        high = np.minimum(high, np.floor(ends.max(axis=0).min(axis=1) + SLACK))
    count = np.maximum(high - low + 1.0, 0.0).astype(np.intp)
    total = int(count.sum())
    if total > CHOICES_MOST:
        raise TooMany("choices")
    number = np.arange(total) - np.repeat(np.cumsum(count) - count, count)
    return np.column_stack([np.repeat(choices, count, axis=0), np.repeat(low, count) + number])
