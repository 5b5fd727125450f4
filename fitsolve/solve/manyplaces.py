"""Many places: lines that two placements bind together through parts with placements of their own.

Rails go over two frames that stand free of each other: each dado bounds its own walls and where its rail stands on
its frame, and how far the frames are apart binds the rails to each other. So every block of lines j, with the rows
that hold it together, knows of the placements only one difference, and each choice c of whole steps and of lines
given up (oneplace) is possible for

    l_jc <= z_a - z_b <= h_jc,      a, b the two placements of the block; b may be the ground, at 0.

Let there be one placement s such that every other one, p, meets only s and the ground: then p goes. Its choices over
the ground and over s, taken two by two,

    l1 <= z_p <= h1,   l2 <= z_p - z_s <= h2        give      l1 - h2 <= z_s <= h1 - l2,

and some z_p keeps both exactly where z_s keeps this. What is left knows of z_s alone, and is chosen along it as
lines over one placement are. A choice that costs no less than another of its block and allows no more is left out.

Fails: with TooMany where there is no such placement, as between three frames, or there are too many choices.
Source: R. Dechter, I. Meiri, J. Pearl, Temporal constraint networks (1991), differences and what they leave; G.
Nemhauser, L. Wolsey, Integer and Combinatorial Optimization (1988), variables that couple (from memory).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import numpy as np

from fitsolve.light import replace
from fitsolve.rows import Flags, Floats, Ints
from fitsolve.solve.fewlines import TooMany
from fitsolve.solve.gridded import Group, dense
from fitsolve.solve.oneplace import Blocks, Choices, best_along

ALIKE = 1e-9
PAIRS_MOST = 40_000

Pair = tuple[int, int]


class ManyPlaces(Blocks):
    """The lines of a group whose blocks each know of one difference of placements. Raises TooMany."""

    def __init__(self, group: Group, kept_mm: float) -> None:
        placing = dense(group.placing)
        self.ground = placing.shape[1]
        pairs, along = zip(*(self._pair(row) for row in placing), strict=True)
        super().__init__(group, kept_mm, dense(group.lines), np.array(along))
        self.pairs = [self._one_pair([pairs[row] for row in rows.tolist()]) for rows, _ in self.blocks]
        self.shared = self._shared()

    def _pair(self, row: Floats) -> tuple[Pair | None, float]:
        """The two placements that a row knows the difference of, and how it goes with that."""
        entries = np.flatnonzero(row)
        if not len(entries):
            return None, 0.0
        first, last = int(entries[0]), int(entries[-1])
        if first == last:
            return (first, self.ground), float(row[first])
        if len(entries) > 2 or abs(row[first] + row[last]) > ALIKE:
            raise TooMany("placements of one row")
        return (first, last), float(row[first])

    def _one_pair(self, pairs: Sequence[Pair | None]) -> Pair:
        known = {pair for pair in pairs if pair is not None}
        if len(known) > 1:
            raise TooMany("differences of one block")
        return known.pop() if known else (self.ground, self.ground)

    def _shared(self) -> int:
        """The placement that all others meet, and nothing but it and the ground."""
        for one in range(self.ground):
            stays = {one, self.ground}
            if all(a in stays or b in stays for a, b in self.pairs):
                return one
        raise TooMany("placements that others share")

    def best(self, box: int) -> tuple[Ints, Flags]:
        """The best steps (m,) within -box .. 1 + box, and the lines given up."""
        every = [self.choices(rows, own, box) for rows, own in self.blocks]
        along = [_undominated(self._along(pair, one)) for pair, one in zip(self.pairs, every, strict=True)]
        steps, given_up = np.zeros(len(self.loss), dtype=np.intp), np.zeros(len(self.loss), dtype=bool)
        columns, merged = self._merged(along)
        for own, one, place in zip(columns, merged, best_along(merged), strict=True):
            steps[own], given_up[own] = one.steps[place], one.given_up[place]
        return steps, given_up

    def _along(self, pair: Pair, one: Choices) -> Choices:
        """The choices of a block with its difference counted from the ground, or from what is shared, to the other."""
        counted_down = pair[0] == self.ground or (pair[0] == self.shared and pair[1] != self.ground)
        return replace(one, low=-one.high, high=-one.low) if counted_down else one

    def _merged(self, along: Sequence[Choices]) -> tuple[list[Ints], list[Choices]]:
        """Blocks over what is shared alone, with their columns: the others are put together, each placement that goes
        with the blocks that know of it."""
        columns, merged = [], []
        over: dict[int, dict[int, list[int]]] = {}
        for place, pair in enumerate(self.pairs):
            goes = next((one for one in pair if one not in (self.shared, self.ground)), None)
            if goes is None:
                columns.append(self.blocks[place][1])
                merged.append(along[place])
            else:
                base = pair[1] if pair[0] == goes else pair[0]
                over.setdefault(goes, {}).setdefault(base, []).append(place)
        for own in over.values():
            sides = [self._together(own.get(base, []), along) for base in (self.ground, self.shared)]
            first, second = (one for _, one in sides)
            columns.append(np.concatenate([some for some, _ in sides]))
            merged.append(_paired(first, second, apart=True))
        return columns, merged

    def _together(self, places: Sequence[int], along: Sequence[Choices]) -> tuple[Ints, Choices]:
        """Blocks that know of the same difference as one; with none of them, one that allows everything."""
        own: Ints = np.zeros(0, dtype=np.intp)
        nothing, free = np.zeros((1, 0)), np.array([np.inf])
        found = Choices(nothing.astype(np.intp), nothing.astype(bool), np.zeros(1), np.zeros(1), -free, free)
        for place in places:
            own = np.concatenate([own, self.blocks[place][1]])
            found = _paired(found, along[place], apart=False)
        return own, found


def _paired(first: Choices, second: Choices, apart: bool) -> Choices:
    """Every two choices of two blocks: where they are possible together, or, `apart`, what they leave their
    difference."""
    m, n = len(first.low), len(second.low)
    if m * n > PAIRS_MOST:
        raise TooMany("pairs of choices")
    i, j = np.repeat(np.arange(m), n), np.tile(np.arange(n), m)
    if apart:
        low, high = first.low[i] - second.high[j], first.high[i] - second.low[j]
    else:
        low, high = np.maximum(first.low[i], second.low[j]), np.minimum(first.high[i], second.high[j])
    lost, off = first.lost[i] + second.lost[j], first.off_mm[i] + second.off_mm[j]
    order = np.lexsort((off, np.round(lost, 12)))
    order = order[low[order] <= high[order]]
    i, j = i[order], j[order]
    steps, given_up = np.hstack([first.steps[i], second.steps[j]]), np.hstack([first.given_up[i], second.given_up[j]])
    return _undominated(Choices(steps, given_up, lost[order], off[order], low[order], high[order]))


def _undominated(one: Choices) -> Choices:
    """The choices of a block, which come cheapest first, without those that allow no more than a cheaper one."""
    kept: list[int] = []
    lows: list[float] = []  # of the widest so far, each beginning and ending behind the one before
    highs: list[float] = []
    for k, (low, high) in enumerate(zip(one.low.tolist(), one.high.tolist(), strict=True)):
        place = bisect_right(lows, low)
        if place and highs[place - 1] >= high:
            continue
        kept.append(k)
        within = bisect_right(highs, high)
        first = place - 1 if place and lows[place - 1] == low else place
        lows[first:within], highs[first:within] = [low], [high]
    return one.of(np.array(kept, dtype=np.intp))
