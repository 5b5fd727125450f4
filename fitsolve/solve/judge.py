"""Judge: will it go together, and how sure is that?

A value v with standard uncertainty u is held against limits. With p the chance that the true
value lies within them (normal, JCGM 106:2012 clause 7), the answer is three-way, as in
ISO 14253-1: proven in, proven out on one side, or can't tell from these readings.

Errors of the finished piece. What is settled errs as its estimate does. An uncut mark is laid
out from a made mark of its part and misses by a location error that both walls of a housing
share, and by half a width error either way. Placements that are still free then follow: they
move so that the open gaps are again as near to what they were as they can be.

Seats. A part goes on when one placement keeps all its gaps, on each axis: the greatest lower
bound on the placement is at most the least upper bound. Things that can still move apart are
judged each by itself. So each two gaps that limit a placement from opposite sides must leave it room,
all at once; they err together, by their joint covariance (orthant). Axes err apart, and their chances
multiply, but for what the readings of a tool share: then the gaps of all axes are taken together.

Source: JCGM 106:2012; ISO 14253-1 (the three answers, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from itertools import accumulate, pairwise
from typing import Literal

import numpy as np

from fitsolve.light import cached_property, dataclass
from fitsolve.rows import Floats, Ints
from fitsolve.solve.covariance import Errors
from fitsolve.solve.freedom import Freedom
from fitsolve.solve.orthant import VALUES_MOST, all_above, simulated

PROVEN = 0.95
"""The chance at which something counts as proven (ISO 14253-1:2017 default, from memory)."""

EXACT_MM = 1e-6
"""A value this near to a limit stands on it, and a smaller uncertainty is none: the answer is exact to this."""

SURE = 6.5
"""Room for so many standard uncertainties is missed less than once in ten thousand million."""

ROOT_TWO = math.sqrt(2.0)
NONE = np.zeros(0, dtype=np.intp)

Side = Literal["in", "low", "high", "unsure"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The chance of lying within the limits, and the three-way answer with its side."""

    chance: float
    side: Side


def normal_below(z: float) -> float:
    """The chance that a standard normal value lies below z."""
    return 0.5 * math.erfc(-z / ROOT_TWO)


def chance_within(value: float, u: float, low: float, high: float) -> tuple[float, float, float]:
    """The chances of lying below, within and above low..high; a value on a limit counts as within."""
    if u < EXACT_MM:
        short, over = value < low - EXACT_MM, value > high + EXACT_MM
        return float(short), float(not (short or over)), float(over)
    below = normal_below((low - value) / u)
    above = normal_below((value - high) / u)
    within = normal_below((high - value) / u) - below if math.isfinite(high) else 1.0 - below
    return below, min(max(within, 0.0), 1.0), above


def judge(value: float, u: float, low: float, high: float) -> Verdict:
    """Return the three-way answer for a normal value against low <= value <= high."""
    below, within, above = chance_within(value, u, low, high)
    if within >= PROVEN:
        return Verdict(within, "in")
    if below >= PROVEN:
        return Verdict(within, "low")
    if above >= PROVEN:
        return Verdict(within, "high")
    return Verdict(within, "unsure")


@dataclass(frozen=True)
class Outlook:
    """How the finished piece errs, placements having followed, and what can still move in it."""

    freedom: Freedom
    errors: Errors

    @cached_property
    def _keys(self) -> dict[int, Hashable]:
        return {}

    def key(self, mark: int) -> Hashable:
        """Equal for two marks exactly when nothing can move them apart any more."""
        found = self._keys.get(mark)
        if found is None:
            found = self._keys[mark] = self.freedom.signature(mark)
        return found


@dataclass(frozen=True, slots=True)
class Seat:
    """What one part must get over at once: the upper and the lower mark of each of its gaps (m), and whether
    the part holds the upper one."""

    marks: Sequence[tuple[int, int]]
    upper_is_own: Sequence[bool]


@dataclass(frozen=True, slots=True)
class Room:
    """Which two gaps (k,) together leave a placement its room: one of the part's own with each from the other side;
    where nothing can move any more, each gap with itself. `sides` are the gaps on either side of each placement
    that is free, `fixed` those that no placement moves."""

    one: Ints
    other: Ints
    sides: Sequence[tuple[list[int], list[int]]]
    fixed: list[int]


def room(seat: Seat, view: Outlook) -> Room:
    """Return which gaps of a part leave which of its placements room."""
    sides: dict[Hashable, tuple[list[int], list[int]]] = {}
    fixed: list[int] = []
    for k, ((upper, lower), own) in enumerate(zip(seat.marks, seat.upper_is_own, strict=True)):
        mine, its = (view.key(upper), view.key(lower)) if own else (view.key(lower), view.key(upper))
        if mine == its:
            fixed.append(k)
        else:
            sides.setdefault((mine, its), ([], []))[0 if own else 1].append(k)
    one = [k for above, below in sides.values() for k in above for _ in below]
    other = [k for above, below in sides.values() for _ in above for k in below]
    return Room(
        np.array(one + fixed, dtype=np.intp),
        np.array(other + fixed, dtype=np.intp),
        [*sides.values()],
        fixed,
    )


def together(rooms: Sequence[Room], counts: Sequence[int]) -> Room:
    """Return the rooms of several pieces as one, the gaps of each (so many) numbered one piece after another."""
    if len(rooms) == 1:
        return rooms[0]
    first = [*accumulate(counts, initial=0)]
    return Room(
        *_pairs(rooms, counts),
        [
            ([gap + at for gap in above], [gap + at for gap in below])
            for one, at in zip(rooms, first, strict=False)
            for above, below in one.sides
        ],
        [gap + at for one, at in zip(rooms, first, strict=False) for gap in one.fixed],
    )


def _pairs(rooms: Sequence[Room], counts: Sequence[int]) -> tuple[Ints, Ints]:
    """The two gaps of each pair of several rooms, numbered one room after another."""
    first = [*accumulate(counts, initial=0)]
    one = [room.one + at for room, at in zip(rooms, first, strict=False)]
    other = [room.other + at for room, at in zip(rooms, first, strict=False)]
    return np.concatenate([NONE, *one]), np.concatenate([NONE, *other])


def seats(rooms: Sequence[Room], slacks: Sequence[Floats], covariances: Sequence[Floats]) -> list[float]:
    """Return for each of several parts, each with its room, the chance that one placement keeps all its gaps.

    Of each, `slacks` (m,) are what its gaps as chosen are more than they must be, `covariances` (m, m) how they err
    together, mm^2.
    """
    if not rooms:
        return []
    (one, other), slack = _pairs(rooms, [len(slack) for slack in slacks]), np.concatenate(slacks)
    two, alone = one != other, np.concatenate([covariance.diagonal() for covariance in covariances])
    both = [covariance[room.one, room.other] for room, covariance in zip(rooms, covariances, strict=True)]
    left = slack[one] + two * slack[other]
    u = np.sqrt(np.maximum(alone[one] + two * (alone[other] + 2 * np.concatenate(both)), 0.0))
    exact = u < EXACT_MM
    jams, close = exact & (left < -EXACT_MM), ~exact & (left < SURE * u)
    found = []
    ends = [*accumulate((len(room.one) for room in rooms), initial=0)]
    for k, (start, end) in enumerate(pairwise(ends)):
        if jams[start:end].any():
            found.append(0.0)
            continue
        own = close[start:end].nonzero()[0]
        found.append(_chance(rooms[k], own, (left[start:end], u[start:end]), slacks[k], covariances[k]))
    return found


def _chance(room: Room, close: Ints, pairs: tuple[Floats, Floats], slack: Floats, covariance: Floats) -> float:
    """The chance that a part goes on, of whose pairs of gaps so many are close to leaving no room; `pairs` is the
    room that each leaves, and its standard uncertainty."""
    left, u = pairs
    if len(close) == 0:
        return 1.0
    if len(close) == 1:
        return 1.0 - normal_below(-float(left[close[0]] / u[close[0]]))
    if len(close) > VALUES_MOST:
        return simulated(covariance, lambda drawn: _margins(room, slack[:, None] + drawn))
    own, k = np.zeros((len(close), len(slack))), np.arange(len(close))
    own[k, room.one[close]] = 1.0
    own[k, room.other[close]] = 1.0
    return all_above(left[close], own @ covariance @ own.T)


def margins(rooms: Sequence[Room], slacks: Sequence[Floats]) -> list[float]:
    """Return how much placement is left over in each of several rooms when their gaps are exactly so much more than
    they must be; negative: a part jams by so much."""
    if not rooms:
        return []
    (one, other), slack = _pairs(rooms, [len(slack) for slack in slacks]), np.concatenate(slacks)
    left = (slack[one] + (one != other) * slack[other]).tolist()
    ends = accumulate((len(room.one) for room in rooms), initial=0)
    return [min(left[start:end], default=math.inf) for start, end in pairwise(ends)]


def _margins(room: Room, slack: Floats) -> Floats:
    """For each draw (columns of slack), the least room that is left for any placement."""
    least = slack[room.fixed].min(axis=0, initial=np.inf)
    for above, below in room.sides:
        if above and below:
            least = np.minimum(least, slack[above].min(axis=0) + slack[below].min(axis=0))
    return np.asarray(least)
