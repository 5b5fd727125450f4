"""Few rows: a group of many lines, of whose rows only those that matter are looked at.

Every line goes to its nearest. Rows that do not hold then, whatever is placed anew, are taken up, and the
programme (rounding) is solved under them alone: they fall into small groups, each tried through
(fewlines), and all other lines stay where they were. Rows that clash at that answer are taken up too, and so
on. Fewer rows can only do better: so an answer that all rows let stand is the best under all of them.

Which rows clash is told by the quadratic programme of the placements and of the lines given up, nearest to
the exact answer: where it has none it proves so by some of the rows.

Fails: with TooMany where what hangs together is too large to be tried through; the solver is asked then.
Source: adding rows as they are missed, G. Dantzig, R. Fulkerson, S. Johnson, Solution of a large-scale
traveling-salesman problem (1954) (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Flags, Ints
from fitsolve.solve.fewlines import Few, TooMany
from fitsolve.solve.gridded import Group, dense, together
from fitsolve.solve.quadratic import Programme, solve

ROUNDS_MOST = 40
ENTRIES_MOST = 200_000

Solve: TypeAlias = Callable[[Few], tuple[Ints, Flags]]
"""The best steps of a small group, and its lines given up."""


def by_few_rows(group: Group, nearest: Ints, kept_mm: float, solve_few: Solve) -> tuple[Ints, Flags]:
    """Return the best steps of a group and its lines given up; see the module. Raises TooMany."""
    if len(group.low) * (len(group.member) + group.placing.shape[1]) > ENTRIES_MOST:
        raise TooMany("entries")
    rows = _Rows(group, nearest, kept_mm, solve_few)
    steps, given_up = nearest, np.zeros(len(nearest), dtype=bool)
    for _ in range(ROUNDS_MOST):
        clash = rows.clash(steps, given_up)
        if not clash.any():
            return steps, given_up
        if not (clash & ~rows.taken).any():
            raise TooMany("digits")
        rows.taken |= clash
        steps, given_up = rows.best()
    raise TooMany("rounds")


@dataclass
class _Rows:
    """The rows of a group, and which of them are taken up."""

    group: Group
    nearest: Ints
    kept_mm: float
    solve_few: Solve

    def __post_init__(self) -> None:
        self.lines, self.placing = dense(self.group.lines), dense(self.group.placing)
        self.taken = np.zeros(len(self.group.low), dtype=bool)
        self.known: dict[bytes, tuple[Ints, Flags]] = {}

    def clash(self, steps: Ints, given_up: Flags) -> Flags:
        """Rows that cannot all hold with these lines; none where they can."""
        moved = np.where(given_up, 0.0, self.group.step_mm * steps - self.group.over_mm)
        at = self.lines @ moved
        low, high = self.group.low - self.kept_mm - at, self.group.high + self.kept_mm - at
        free = np.hstack([self.lines[:, given_up], self.placing])
        alone = ~free.any(axis=1)
        missed = alone & ((low > 0.0) | (high < 0.0))
        if missed.any() or alone.all() or np.all((low <= 0.0) & (high >= 0.0)):
            return np.asarray(missed)
        bound = np.flatnonzero(~alone)
        n, none = free.shape[1], np.zeros(0)
        optimum = solve(Programme(np.eye(n), np.zeros(n), np.zeros((0, n)), none, free[bound], low[bound], high[bound]))
        if optimum.status == "optimal":
            return np.zeros(len(low), dtype=bool)
        if optimum.status != "infeasible":
            raise TooMany("unproven")
        clash = np.zeros(len(low), dtype=bool)
        clash[bound[optimum.clash_bounds]] = True
        return clash

    def best(self) -> tuple[Ints, Flags]:
        """The best answer under the rows taken up alone."""
        m = len(self.nearest)
        steps, given_up = self.nearest.copy(), np.zeros(m, dtype=bool)
        rows = np.flatnonzero(self.taken)
        count, label = together(np.hstack([self.lines[rows], self.placing[rows]]))
        for one in range(count):
            own = rows[label[: len(rows)] == one]
            columns = np.flatnonzero(label[len(rows) :] == one)
            member = columns[columns < m]
            if len(own) and len(member):
                steps[member], given_up[member] = self._small(own, member, columns[columns >= m] - m)
        return steps, given_up

    def _small(self, own: Ints, member: Ints, places: Ints) -> tuple[Ints, Flags]:
        key = own.tobytes()
        if key not in self.known:
            group = self.group
            part = Group(
                group.member[member], group.row[own], group.step_mm[member], group.over_mm[member],
                self.lines[np.ix_(own, member)], self.placing[np.ix_(own, places)], group.low[own], group.high[own],
            )  # fmt: skip
            self.known[key] = self.solve_few(Few(part, self.kept_mm))
        return self.known[key]
