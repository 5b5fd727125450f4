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
all at once; they err together, by their joint covariance (orthant).

Source: JCGM 106:2012; ISO 14253-1 (the three answers, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Hashable
from functools import cached_property
from typing import Literal

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Flags, Floats, Ints, Rows
from fitsolve.solve.covariance import Errors
from fitsolve.solve.freedom import Freedom
from fitsolve.solve.orthant import VALUES_MOST, all_above, simulated

PROVEN = 0.95
"""The chance at which something counts as proven (ISO 14253-1:2017 default, from memory)."""

EXACT_MM = 1e-6
"""A value this near to a limit stands on it, and a smaller uncertainty is none: the answer is exact to this."""

SURE = 6.5
"""Room for so many standard uncertainties is missed less than once in ten thousand million."""

Side = Literal["in", "low", "high", "unsure"]


@dataclass(frozen=True, slots=True)
class Verdict:
    """The chance of lying within the limits, and the three-way answer with its side."""

    chance: float
    side: Side


def normal_below(z: float) -> float:
    """The chance that a standard normal value lies below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


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
        known = self._keys
        if mark not in known:
            known[mark] = self.freedom.signature(mark)
        return known[mark]


@dataclass(frozen=True)
class Seat:
    """What one part must get over at once. Rows `gaps` (m; upper less lower comes first), each
    wanted at least `least` (m,); `upper_is_own` (m,) where the part holds the upper mark."""

    gaps: Rows
    least: Floats
    upper_is_own: Flags


def seats(seat: Seat, gap_mm: Floats, covariance: Floats, view: Outlook) -> float:
    """Return the chance that one placement keeps all gaps of a part.

    `gap_mm` (m,) are its gaps as chosen, `covariance` (m, m) how they err together, mm^2.
    """
    groups = _groups(seat, view)
    slack = gap_mm - seat.least
    one, other = _rooms(groups, seat)
    both = one != other
    room = slack[one] + both * slack[other]
    variance = covariance[one, one] + both * (covariance[other, other] + 2 * covariance[one, other])
    u = np.sqrt(np.maximum(variance, 0.0))
    if np.any(room[u < EXACT_MM] < -EXACT_MM):
        return 0.0
    close = np.flatnonzero((u >= EXACT_MM) & (room < SURE * u))
    if len(close) > VALUES_MOST:
        return simulated(covariance, lambda drawn: _margins(groups, seat, slack[:, None] + drawn))
    own = np.zeros((len(close), len(slack)))
    own[np.arange(len(close)), one[close]] = 1.0
    own[np.arange(len(close)), other[close]] = 1.0
    return all_above(room[close], own @ covariance @ own.T)


def _rooms(groups: list[tuple[Ints, bool]], seat: Seat) -> tuple[Ints, Ints]:
    """Which two gaps (k,) together leave a placement its room: one of the part's own with each from the other side;
    where nothing can move any more, each gap with itself, once."""
    found = []
    for rows, free in groups:
        own = seat.upper_is_own[rows]
        one, other = (rows[own], rows[~own]) if free else (rows, rows[:1])
        pairs = np.meshgrid(one, other, indexing="ij")
        found.append((pairs[0].ravel(), pairs[0 if not free else 1].ravel()))
    return np.concatenate([one for one, _ in found]), np.concatenate([other for _, other in found])


def _groups(seat: Seat, view: Outlook) -> list[tuple[Ints, bool]]:
    """The gaps that one placement must serve together, and whether it is still free to move."""
    mates: dict[Hashable, list[int]] = {}
    fixed: list[int] = []
    for k in range(len(seat.gaps)):
        upper, lower = _pair(seat.gaps, k)
        own, other = (upper, lower) if seat.upper_is_own[k] else (lower, upper)
        if view.key(own) == view.key(other):
            fixed.append(k)
        else:
            mates.setdefault((view.key(own), view.key(other)), []).append(k)
    groups = [(np.array(rows, dtype=np.intp), True) for rows in mates.values()]
    if fixed:
        groups.append((np.array(fixed, dtype=np.intp), False))
    return groups


def _pair(rows: Rows, k: int) -> tuple[int, int]:
    """The (upper, lower) marks of a gap row: coefficients +1 and -1, which come first."""
    a, b = rows.mark[rows.start[k]], rows.mark[rows.start[k] + 1]
    return (int(a), int(b)) if rows.coef[rows.start[k]] > 0 else (int(b), int(a))


def margin(seat: Seat, gap_mm: Floats, view: Outlook) -> float:
    """Return how much placement is left over when the gaps are exactly these; negative: it jams by so much."""
    return float(_margins(_groups(seat, view), seat, (gap_mm - seat.least)[:, None])[0])


def _margins(groups: list[tuple[Ints, bool]], seat: Seat, slack: Floats) -> Floats:
    """For each draw (columns of slack), the least room that any group leaves for its placement."""
    least = np.full(slack.shape[1], np.inf)
    for rows, free in groups:
        own = seat.upper_is_own[rows]
        if not free:
            least = np.minimum(least, slack[rows].min(axis=0))
        elif own.any() and not own.all():
            least = np.minimum(least, slack[rows[own]].min(axis=0) + slack[rows[~own]].min(axis=0))
    return least
