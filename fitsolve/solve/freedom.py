"""Freedom: what rows leave free, worked out exactly.

Rows  sum(c_k x_k) = value  are taken one stage after another. After some rows, the positions
that still can move form a linear space, the null space of all rows so far. It is kept as

    x_i = sum over free marks f of N[i, f] * x_f     (values left aside),

in exact arithmetic: which distances are settled is a matter of counting, with no tolerance. Slopes
bring in ratios such as 1/6, which are taken for what they stand for.
Rows of two marks with opposite coefficients only tie two marks into one cluster
(union-find); a row of more marks (a comparison, a centred housing) is first contracted onto
the clusters, which often leaves two of them or none; what is left is eliminated with
fractions. A distance is settled when e_j - e_i contracts to nothing. For plain differences
that is connectivity; with longer rows it is not.

Cost: linear in the entries for difference rows; longer rows cost as much as their contracted
elimination fills in, which for joints along a piece stays local. A mark that has come to be one
free mark and nothing else joins its cluster, so that little is left to carry along.

Source: Gaussian elimination and disjoint sets, any text; the null-space method for
equality-constrained least squares: A. Bjorck, Numerical Methods for Least Squares Problems
(1996), ch. 5 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import lru_cache
from typing import Any

import numpy as np

from fitsolve.rows import Floats, Ints, Rows

Number = Any
"""A float or a Fraction; see Freedom."""
Combination = dict[int, Number]

LIKELY_DENOMINATOR = 10**6

LAST_DIGITS = Fraction(4, 10**15)
"""A float so near to a ratio stands for it: it may be the sum of a few floats."""

STEADY = 0.3
"""A mark is not expressed through a coefficient smaller than this part of the row's largest: by a
slope's run, say, through its rise. That would be exact here, but cost digits in the numbers."""

FEW_BITS = 2.0**-20
"""Sums and products of halves, quarters, ... down to this are exact in floating point."""



def _few_bits(number: Number) -> bool:
    """Whether a number is a power of two, or minus one, of few bits."""
    size = abs(number)
    return isinstance(number, float) and FEW_BITS <= size <= 1 / FEW_BITS and math.frexp(size)[0] == 0.5


def _counts_in_floats(rows: Rows) -> bool:
    """Whether coefficients are whole numbers, halves, quarters, ... so that floats count exactly."""
    if rows.plain:
        return True
    whole = rows.coef / FEW_BITS
    return bool(np.all(whole == np.rint(whole)) and np.all(np.abs(whole) <= FEW_BITS**-2))


@lru_cache(maxsize=4096)
def as_ratio(number: float) -> Fraction:
    """Return the ratio of small whole numbers that a float stands for (1/6, not 53 bits of it),
    else exactly that float. So slopes of 1:6 and 1:8 make one of 1:24 to the last digit."""
    exact = Fraction(number)
    near = exact.limit_denominator(LIKELY_DENOMINATOR)
    return near if abs(near - exact) <= LAST_DIGITS * max(Fraction(1), abs(exact)) else exact


class Freedom:
    """The marks that are still free, and every other mark as a combination of them.

    Coefficients are floats while that is exact (whole numbers, halves, quarters), else fractions.
    """

    def __init__(self, size: int) -> None:
        self.size = size
        self._parent = list(range(size))
        self._pivots: dict[int, Combination] = {}
        self._used_by: dict[int, set[int]] = {}
        self._exact: Callable[[float], Number] = float
        self._gone: list[int] = []

    def copy(self) -> Freedom:
        """An independent copy, for trying what further rows would settle."""
        other = Freedom(0)
        other.size = self.size
        other._parent = self._parent.copy()
        other._pivots = {root: dict(expr) for root, expr in self._pivots.items()}
        other._used_by = {root: set(users) for root, users in self._used_by.items()}
        other._exact = self._exact
        return other

    def root(self, mark: int) -> int:
        """The mark that stands for the cluster of `mark`."""
        parent = self._parent
        while parent[mark] != mark:
            parent[mark] = parent[parent[mark]]
            mark = parent[mark]
        return mark

    def join(self, firsts: list[int], seconds: list[int]) -> None:
        """Tie pairs of marks into clusters, before any row was taken."""
        parent = self._parent
        for a, b in zip(firsts, seconds, strict=True):
            while parent[a] != a:
                parent[a] = a = parent[parent[a]]
            while parent[b] != b:
                parent[b] = b = parent[parent[b]]
            parent[a] = b

    def combination(self, mark: int) -> Combination:
        """`mark` as a combination of free marks."""
        root = self.root(mark)
        return self._pivots.get(root, {root: 1})

    def contract(self, terms: Iterable[tuple[int, Number]]) -> Combination:
        """The row over free marks, what cancels left out; empty when it is settled."""
        parent, pivots, exact = self._parent, self._pivots, self._exact
        total: Combination = {}
        for mark, coef in terms:
            root = mark
            while parent[root] != root:
                parent[root] = parent[parent[root]]
                root = parent[root]
            weight = coef if exact is float or isinstance(coef, Fraction) else exact(coef)
            expression = pivots.get(root)
            if expression is None:
                total[root] = total.get(root, 0) + weight
                continue
            for free, part in expression.items():
                total[free] = total.get(free, 0) + weight * part
        return {free: part for free, part in total.items() if part}

    def settled(self, terms: list[tuple[int, float]]) -> bool:
        """Whether the rows so far fix this sum."""
        return not self.contract(terms)

    def tied(self, first: int, second: int) -> bool:
        """Whether the rows so far fix how far two marks are apart."""
        a, b = self.root(first), self.root(second)
        return a == b or ((a in self._pivots or b in self._pivots) and self.settled([(a, 1.0), (b, -1.0)]))

    def tie(self, rows: Rows, chosen: Ints | None = None) -> list[int]:
        """Take all rows, or those chosen: what they settle is free no more. Returns the marks that stood for it."""
        if self._exact is float and not _counts_in_floats(rows):
            self._to_fractions()
        self._gone = []
        waiting = self._tie_plainly(rows, chosen)
        progress = True
        while progress:
            left = [row for row in map(self._renewed, waiting) if not self._tie_difference(row)]
            progress = len(left) < len(waiting)
            waiting = left
        for row in map(self._renewed, waiting):
            if not self._tie_difference(row):
                self._eliminate(row)
        return self._gone

    def _tie_plainly(self, rows: Rows, chosen: Ints | None) -> list[Combination]:
        """Take the rows that tie two free marks, nearly all there are; return the others, contracted."""
        parent, pivots, used_by, gone = self._parent, self._pivots, self._used_by, self._gone
        start, mark, coef = rows.start.tolist(), rows.mark.tolist(), rows.coef.tolist()
        waiting = []
        for row in range(len(start) - 1) if chosen is None else chosen.tolist():
            k, end = start[row], start[row + 1]
            if end == k + 2 and coef[k] == -coef[k + 1] and coef[k]:
                a, b = mark[k], mark[k + 1]
                while parent[a] != a:
                    parent[a] = a = parent[parent[a]]
                while parent[b] != b:
                    parent[b] = b = parent[parent[b]]
                if a == b:
                    continue
                if a not in pivots and b not in pivots:
                    if a not in used_by:
                        parent[a] = b
                        gone.append(a)
                    elif b not in used_by:
                        parent[b] = a
                        gone.append(b)
                    else:
                        self._tie_free(a, b)
                    continue
            waiting.append((k, end))
        return [self.contract(zip(mark[k:end], coef[k:end], strict=True)) for k, end in waiting]

    def _renewed(self, row: Combination) -> Combination:
        """A row contracted before, over what is free now."""
        parent, pivots = self._parent, self._pivots
        for mark in row:
            if parent[mark] != mark or mark in pivots:
                return self.contract(row.items())
        return row

    def _tie_difference(self, row: Combination) -> bool:
        """Take the row if it is empty or ties two free marks; false when it must wait."""
        if not row:
            return True
        if len(row) != 2:
            return False
        (a, first), (b, second) = row.items()
        if first != -second:
            return False
        self._tie_free(a, b)
        return True

    def _tie_free(self, a: int, b: int) -> None:
        """Tie two free marks: the one that is used less goes."""
        if len(self._used_by.get(a, ())) > len(self._used_by.get(b, ())):
            a, b = b, a
        self._rename(a, b)
        self._parent[a] = b
        self._gone.append(a)

    def _rename(self, one: int, other: int) -> None:
        """Of two free marks that are tied the first is the second wherever it is used."""
        exact = True
        for user in self._used_by.pop(one, ()):
            old = self._pivots[user]
            part = old.pop(one) + old.get(other, 0)
            exact = exact and (not part or FEW_BITS <= abs(part) <= 1 / FEW_BITS)
            self._put(user, other, part)
            self._join_if_alike(user)
        if self._exact is float and not exact:
            self._to_fractions()

    def _put(self, user: int, free: int, part: Number) -> None:
        """Let a mark use a free one with this part, which may be nothing."""
        if part:
            self._pivots[user][free] = part
            self._used_by.setdefault(free, set()).add(user)
        elif free in self._pivots[user]:
            del self._pivots[user][free]
            self._used_by[free].discard(user)

    def _join_if_alike(self, user: int) -> None:
        """A mark that is one free mark and nothing else hangs together with it."""
        expression = self._pivots[user]
        if len(expression) == 1:
            ((free, part),) = expression.items()
            if part == 1:
                del self._pivots[user]
                self._used_by[free].discard(user)
                self._parent[user] = free

    def _eliminate(self, row: Combination) -> None:
        """Express one free mark of the row by the others, there and wherever it is used."""
        used_by = self._used_by
        sizes = {abs(part) for part in row.values()}
        least = STEADY * max(sizes)
        pivot = min([(len(used_by.get(free, ())), free) for free, part in row.items() if abs(part) >= least])[1]
        if len(sizes) > 1 and self._exact is float and not all(_few_bits(size / row[pivot]) for size in sizes):
            self._to_fractions()
        self._gone.append(pivot)
        if self._exact is not float:
            row = {free: self._number(part) for free, part in row.items()}
        scale = row.pop(pivot)
        expression: Combination = {free: -part / scale for free, part in row.items()}
        for user in used_by.pop(pivot, ()):
            old = self._pivots[user]
            weight = old.pop(pivot)
            for free, part in expression.items():
                self._put(user, free, old.get(free, 0) + weight * part)
            if self._exact is float and not all(FEW_BITS <= abs(part) <= 1 / FEW_BITS for part in old.values()):
                self._to_fractions()
                expression = {free: self._number(part) for free, part in expression.items()}
            self._join_if_alike(user)
        self._pivots[pivot] = expression
        for free in expression:
            used_by.setdefault(free, set()).add(pivot)
        self._join_if_alike(pivot)

    def _number(self, part: Number) -> Number:
        return part if self._exact is float or not isinstance(part, float) else as_ratio(part)

    def _to_fractions(self) -> None:
        """Go on in fractions: floats would not stay exact."""
        self._exact = as_ratio
        for root, expression in self._pivots.items():  # the same table: who goes through rows has it at hand
            self._pivots[root] = {free: Fraction(part) for free, part in expression.items()}

    @property
    def plain(self) -> bool:
        """Whether each mark is one free mark and nothing else."""
        return not self._pivots

    def free_marks(self) -> list[int]:
        """The marks that stand for what is still free, one a degree of freedom."""
        return [mark for mark, parent in enumerate(self._parent) if parent == mark and mark not in self._pivots]

    def basis(self) -> tuple[Ints, Ints, Floats, list[int]]:
        """N as (mark, column, value) entries, with the free mark of each column."""
        free, root = self.free_marks(), self.roots()
        column = np.full(self.size, -1, dtype=np.intp)
        column[free] = np.arange(len(free))
        at = column[root]
        plain = np.flatnonzero(at >= 0)
        if len(plain) == self.size:
            return plain, at, np.ones(self.size), free
        marks, columns, values = [], [], []
        for mark in np.flatnonzero(at < 0).tolist():
            for used, part in self._pivots[int(root[mark])].items():
                marks.append(mark)
                columns.append(used)
                values.append(float(part))
        return (
            np.concatenate([plain, np.array(marks, dtype=np.intp)]),
            np.concatenate([at[plain], column[np.array(columns, dtype=np.intp)]]),
            np.concatenate([np.ones(len(plain)), np.array(values)]),
            free,
        )

    def roots(self) -> Ints:
        """For each mark the one that stands for its cluster; the ways there are made short."""
        parent = self._parent
        for mark, root in enumerate(parent):
            while parent[root] != root:
                root = parent[root]
            parent[mark] = root
        return np.array(parent, dtype=np.intp)

    def dense_basis(self) -> tuple[Floats, list[int]]:
        """N (size, free) as a dense matrix, with the free mark of each column: worked out for each cluster once."""
        root, free = self.roots(), self.free_marks()
        matrix = np.zeros((self.size, len(free)))
        matrix[free, np.arange(len(free))] = 1.0
        if self._pivots:
            column = {mark: k for k, mark in enumerate(free)}
            for pivot, expression in self._pivots.items():
                for used, part in expression.items():
                    matrix[pivot, column[used]] = part
        return matrix.take(root, axis=0), free

    def signature(self, mark: int) -> tuple[tuple[int, Number], ...]:
        """Equal for two marks exactly when the distance between them is settled."""
        root = self.root(mark)
        return tuple(sorted(self._pivots[root].items())) if root in self._pivots else ((root, 1),)
