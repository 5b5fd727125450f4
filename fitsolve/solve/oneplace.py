"""One place: lines that only one placement binds together, chosen exactly however many they are.

An apron goes over posts that are set up: each of its dados bounds its own two walls and where the
apron comes to stand, z, and nothing else ties one dado to another. With z given the dados are apart. So for
every block of lines j, each choice c of whole steps and of lines given up is possible for z in an interval

    [l_jc, h_jc],   of what its rows leave:  low <= L lambda + Z z <= high,

lines given up taken out first (Fourier-Motzkin elimination, as in fewlines), and at a z the best choice of
each block is the cheapest whose interval holds z. The sum over the blocks changes only where an interval begins or
ends, and from any z one comes down to the beginning of an interval without leaving one, or, where those it is in
have none, as far down as one likes: the best of all is found at one of those beginnings, or at the first end of all.

Cheapest: as few lines given up as possible, of as many those farther along, then the least sum off. Choices
lie within a box of whole steps around the nearest (rounding), which grows as there.

Fails: with TooMany where more than one placement is shared, a block has many lines, or there are too many choices.
Source: G. Nemhauser, L. Wolsey, Integer and Combinatorial Optimization (1988), variables that couple (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Flags, Floats, Ints
from fitsolve.solve.fewlines import Bounds, TooMany, bounds_of, without_last
from fitsolve.solve.gridded import Group, dense, together

BLOCK_MOST = 4
CHOICES_MOST = 5000
COMPARED_MOST = 3e8


@dataclass(frozen=True, slots=True)
class Choices:
    """All choices (c,) of a block, the cheapest first: steps (c, k), which are given up, what that costs, how far off
    they are together, and for which placements they are possible."""

    steps: Ints
    given_up: Flags
    lost: Floats
    off_mm: Floats
    low: Floats
    high: Floats

    def of(self, some: Ints) -> Choices:
        """Some of them."""
        low, high = self.low[some], self.high[some]
        return Choices(self.steps[some], self.given_up[some], self.lost[some], self.off_mm[some], low, high)


class Blocks:
    """The lines of a group that only placements bind together, block by block; `placing` (q,) is how each row goes
    with the one placement that its block knows of. Raises TooMany."""

    def __init__(self, group: Group, kept_mm: float, lines: Floats, placing: Floats) -> None:
        self.group, self.kept_mm, self.lines, self.placing = group, kept_mm, lines, placing
        m = len(group.member)
        count, label = together(lines)
        rows, columns = label[: len(group.low)], label[len(group.low) :]
        self.blocks = [(np.flatnonzero(rows == one), np.flatnonzero(columns == one)) for one in range(count)]
        if max((len(own) for _, own in self.blocks), default=0) > BLOCK_MOST:
            raise TooMany("lines of one block")
        self.loss = 1.0 + np.arange(m)[::-1] / (2.0 * m * m)

    def choices(self, rows: Ints, own: Ints, box: int) -> Choices:
        """Every choice of a block that some placement allows."""
        k = len(own)
        if k and (2.0 * box + 3.0) ** k > CHOICES_MOST:
            raise TooMany("choices of one block")
        sets = [set(lost) for count in range(k + 1) for lost in combinations(range(k), count)]
        found = [self._with_given_up(rows, own, lost, box) for lost in sets]
        joined = [np.concatenate(column) for column in zip(*found, strict=True)]
        order = np.lexsort((joined[3], joined[2]))
        return Choices(*(column[order] for column in joined))

    def _with_given_up(
        self, rows: Ints, own: Ints, lost: set[int], box: int
    ) -> tuple[Ints, Flags, Floats, Floats, Floats, Floats]:
        """The choices of a block with some of its lines given up, as the columns of Choices."""
        k = len(own)
        kept = [place for place in range(k) if place not in lost]
        every = list(product(range(-box, 2 + box), repeat=len(kept)))
        numbers = np.array(every, dtype=np.intp).reshape(len(every), len(kept))
        step, over = self.group.step_mm[own[kept]], self.group.over_mm[own[kept]]
        moved = numbers * step - over
        low, high = self._placements(self._bounds(rows, own, kept, sorted(lost)), moved)
        possible = low <= high
        steps = np.zeros((len(numbers), k), dtype=np.intp)
        steps[:, kept] = numbers
        given_up = np.zeros((len(numbers), k), dtype=bool)
        given_up[:, sorted(lost)] = True
        cost = np.full(len(numbers), float(self.loss[own[sorted(lost)]].sum()))
        off = np.abs(moved).sum(axis=1)
        return steps[possible], given_up[possible], cost[possible], off[possible], low[possible], high[possible]

    def _bounds(self, rows: Ints, own: Ints, kept: list[int], lost: list[int]) -> Bounds:
        """What the kept lines and the placement are bound by, the lines given up taken out."""
        columns = self.lines[np.ix_(rows, own[kept])], self.placing[rows], self.lines[np.ix_(rows, own[lost])]
        low, high = self.group.low[rows] - self.kept_mm, self.group.high[rows] + self.kept_mm
        bounds = bounds_of(np.column_stack(columns), low, high)
        for _ in lost:
            bounds = without_last(bounds)
        return bounds

    @staticmethod
    def _placements(bounds: Bounds, moved: Floats) -> tuple[Floats, Floats]:
        """The placements (c,), from and to, that bounds over moved lines (c, k) and a placement leave; none where the
        first is the larger."""
        low, high = np.full(len(moved), -np.inf), np.full(len(moved), np.inf)
        for row, (least, most) in bounds.items():
            at = moved @ np.array(row[:-1]) if moved.shape[1] else np.zeros(len(moved))
            if row[-1] == 0.0:
                missed = (at < least) | (at > most)
                low[missed] = np.inf
                continue
            ends = (least - at) / row[-1], (most - at) / row[-1]
            low, high = np.maximum(low, np.minimum(*ends)), np.minimum(high, np.maximum(*ends))
        return low, high


class OnePlace(Blocks):
    """The lines of a group that only one placement binds together. Raises TooMany."""

    def __init__(self, group: Group, kept_mm: float) -> None:
        if group.placing.shape[1] != 1:
            raise TooMany("placements")
        super().__init__(group, kept_mm, dense(group.lines), dense(group.placing)[:, 0])

    def best(self, box: int) -> tuple[Ints, Flags]:
        """The best steps (m,) within -box .. 1 + box, and the lines given up."""
        every = [self.choices(rows, own, box) for rows, own in self.blocks]
        steps, given_up = np.zeros(len(self.loss), dtype=np.intp), np.zeros(len(self.loss), dtype=bool)
        for (_, own), one, place in zip(self.blocks, every, best_along(every), strict=True):
            steps[own], given_up[own] = one.steps[place], one.given_up[place]
        return steps, given_up


def best_along(every: Sequence[Choices]) -> list[int]:
    """Return one choice of each block, the cheapest together, that one placement allows; see the module. Raises
    TooMany."""
    ends = np.concatenate([end for one in every for end in (one.low, one.high)])
    ends = ends[np.isfinite(ends)]
    begin = np.concatenate([one.low for one in every])
    begin = np.unique(np.append(begin[np.isfinite(begin)], ends.min() if len(ends) else 0.0))
    if len(begin) * float(sum(len(one.low) for one in every)) > COMPARED_MOST:
        raise TooMany("choices")
    lost, off = np.zeros(len(begin)), np.zeros(len(begin))
    chosen = []
    for one in every:
        possible = (one.low <= begin[:, None]) & (begin[:, None] <= one.high)
        first = np.argmax(possible, axis=1)  # the cheapest comes first
        none = ~possible.any(axis=1)
        lost += np.where(none, np.inf, one.lost[first])
        off += one.off_mm[first]
        chosen.append(first)
    fewest = np.flatnonzero(lost <= lost.min() + 1e-9)
    at = fewest[np.argmin(off[fewest])]
    return [int(first[at]) for first in chosen]
