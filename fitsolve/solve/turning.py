"""Turning: rows whose direction follows their marks, as a diagonal's between two points does.

A diagonal of length r says |d| = r, with d_a = p_end - p_start along each axis a and p = plan + x the
positions. Since |d| = c'd with c = d / |d|, the row

    sum over axes of c_a (p_end - p_start) = r

is linear once c is known, and its gradient is c: the part of |d| that c itself moves is nothing to
first order. So Gauss-Newton is: turn each row to where its marks lie, solve, and again,

    x_0 = 0 (the plan, or what was guessed);   x_(k+1) = answer to the rows turned to x_k,

every step with both stages of the estimate (and what readings share), until no mark moves by more
than 1e-9 mm. What has not come to rest in 8 steps goes on at a slower pace.

Counting. What the rows settle is counted exactly (freedom), by the directions of the plan, taken as
ratios: c turned by an error of reading must not settle what the geometry leaves free. (Where the
directions they lie in settle no more than that, they are counted as they lie.) Two diagonals of
a rectangle whose sides are read say the same thing twice in the plan, how far it leans; as built, with
sides a hair unequal, they would differ just enough to settle how the whole lies turned, to a hundred
times its size. What is free by the plan's directions stays free. It moves such a row only in second
order, which the next step takes up: each step starts where the last one ended. What is chosen afterwards
(what to cut, where to set it) moves points along it too: then all is solved again from there (`swung`). A row
that lies a hair aslant beside how it is drawn can be made to say what is wished by points moved far along what is
free, which in truth gains nothing: where that leads to and fro, rows are counted as drawn however they lie.

Fails: rows that come to no end in 50 steps. In a piece of a few rows each measured row, turning or not, is
left out by itself: where all the others then come to rest it may be the one that is wrong. Those of them that
turn are left out, all that turn where none is, and all that may be wrong are named. So are left out and named
those that say nothing of use, since what lies across them is known so vaguely that their length is (u_t^2 / 2 r
more than its u). Nothing else is.

Source: Gauss-Newton, any text on non-linear least squares, e.g. J. Nocedal, S. Wright, Numerical
Optimization, 2nd ed. (2006), ch. 10 (from memory). Check values: specs/references/networks.toml.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache

import numpy as np

from fitsolve.light import dataclass, replace
from fitsolve.rows import Floats, Ints, Network, Rows
from fitsolve.solve.freedom import Freedom

STEPS_MOST = 50
"""More steps than any good geometry needs (it takes four or five)."""
SWINGS_MOST = 12
PLAIN_STEPS = 8
SLOWEST = 0.02
TRIAL_STEPS = 20
FAR_TIMES = 100.0
STEP_MM = 1e-9
SWUNG_MM = 1e-7
"""What is chosen is exact to about this."""
RATIO_DENOMINATOR = 10**6
TRIED_MOST = 30
"""In a piece of more measured rows than this no single one is sought that is wrong."""

NO_LENGTH_MM = 1e-6
"""Points nearer than this have no direction between them; the last one is kept."""

Estimator = Callable[[Network, Floats, Ints], tuple[list[Floats], list[Ints]]]
"""(network with its rows turned, where to start from, rows left out) -> for each piece with turning
rows its new positions and its marks."""


def entries_of(rows: Rows, chosen: Ints) -> tuple[Ints, Ints]:
    """The entries of some rows, and for each the place of its row in `chosen`."""
    lengths = rows.lengths[chosen]
    owner = np.repeat(np.arange(len(chosen)), lengths)
    first = np.repeat(rows.start[:-1][chosen] - np.concatenate([[0], np.cumsum(lengths)[:-1]]), lengths)
    return (first + np.arange(len(owner))).astype(np.intp), owner


def spans_of(rows: Rows, chosen: Ints, position: Floats) -> tuple[Ints, Floats, Ints]:
    """For each axis of each row: its first entry, d along it, and the place of its row in `chosen`."""
    entry, owner = entries_of(rows, chosen)
    end, start = entry[0::2], entry[1::2]
    return end, position[rows.mark[end]] - position[rows.mark[start]], owner[0::2]


def turned(network: Network, x: Floats) -> Network:
    """The network with its turning rows in the direction that positions plan + x give them."""
    assert network.turning is not None, "asked for only where rows turn"
    rows, position = network.measured, network.plan_mm + x
    end, d, owner = spans_of(rows, network.turning, position)
    length = np.sqrt(np.bincount(owner, d * d))
    apart = length > NO_LENGTH_MM
    c = np.where(apart[owner], d / np.where(apart, length, 1.0)[owner], rows.coef[end])
    coef, value = rows.coef.copy(), rows.value.copy()
    plan = network.plan_mm
    span = plan[rows.mark[end]] - plan[rows.mark[end + 1]]
    read = value[network.turning] + np.bincount(owner, coef[end] * span)
    coef[end], coef[end + 1] = c, -c
    value[network.turning] = read - np.bincount(owner, c * span)
    return replace(network, measured=replace(rows, coef=coef, value=value))


def counted_rows(network: Network) -> Rows:
    """The measured rows as they are counted: those that turn by the ratios of their first direction."""
    return counted(network.measured, network.turning)


def counted(rows: Rows, turning: Ints | None) -> Rows:
    """The same of rows, of which those numbered in `turning` turn."""
    if turning is None:
        return rows
    coef = rows.coef.copy()
    for row in turning.tolist():
        own = slice(rows.start[row], rows.start[row + 1])
        most = max(coef[own].tolist(), key=abs)
        coef[own] = [float(Fraction(c / most).limit_denominator(RATIO_DENOMINATOR)) for c in coef[own].tolist()]
    return replace(rows, coef=coef)


def as_counted(
    rows: Rows, counted: Rows | None, then: Rows, size: int, as_drawn: bool = False
) -> Rows | None:
    """How rows over so many marks are counted: as they lie now where that settles no more than they do
    in their first directions, for then what is free is exactly what leaves them alone; else by those.

    Both by themselves and with the rows that come `then`: diagonals between stations settle in part where the
    stations are, and only with straight edges how the frame lies.
    """
    if counted is None or as_drawn:
        return counted
    now = Freedom(size)
    for own, left in zip((rows, then), _left_free(_Counted(counted, then, size)), strict=True):
        now.tie(own)
        if len(now.free_marks()) != left:
            return counted
    return None


@dataclass(frozen=True)
class _Counted:
    """Rows as they are counted, and those that come then, over so many marks; alike where they say the same."""

    counted: Rows
    then: Rows
    size: int

    def _key(self) -> tuple[int, tuple[bytes, ...]]:
        arrays = [array for rows in (self.counted, self.then) for array in (rows.start, rows.mark, rows.coef)]
        return self.size, tuple(array.tobytes() for array in arrays)

    def __hash__(self) -> int:
        return hash(self._key())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Counted) and self._key() == other._key()


@lru_cache(maxsize=64)
def _left_free(asked: _Counted) -> tuple[int, int]:
    """How much the rows as counted leave free, and then those that come then: the same in every step."""
    first, left = Freedom(asked.size), []
    for rows in (asked.counted, asked.then):
        first.tie(rows)
        left.append(len(first.free_marks()))
    return left[0], left[1]


@dataclass(frozen=True)
class Unfit:
    """Turning rows of a piece that come to no end, `rows`, and all its measured rows any of which may be the one
    that is wrong: without it the others come to rest."""

    rows: Ints
    guilty: Ints


NONE = np.zeros(0, dtype=np.intp)


@dataclass(frozen=True)
class Turned:
    """`network` with its rows turned to the solution, `x` (n,) to start the last step from, and the
    measured rows that were left out, by why: they came to no end, or say nothing of use."""

    network: Network
    x: Floats
    unfit: tuple[Unfit, ...]
    vague: Ints

    @property
    def endless(self) -> Ints:
        """The rows that came to no end."""
        return np.concatenate([NONE, *(one.rows for one in self.unfit)])

    @property
    def left_out(self) -> Ints:
        """All rows left out."""
        return np.concatenate([self.endless, self.vague])


def turn(
    network: Network,
    estimate: Estimator,
    unfit: tuple[Unfit, ...] = (),
    vague: Ints = NONE,
    start: Floats | None = None,
    seek: bool = True,
) -> Turned:
    """Return the network at the solution of its turning rows, some left out already; see the module. `start`
    (n,) is where the steps begin, and what is free stays; `seek` whether it is sought which rows may be wrong."""
    assert network.turning is not None, "asked for only where rows turn"
    network = replace(network, counted=counted_rows(network))
    start = np.zeros(len(network)) if start is None else start
    while True:
        out = np.concatenate([*(one.rows for one in unfit), vague])
        x, now, still = _steps(network, estimate, out, start)
        lost = [own for own in still if len(_turning_in(network, own, out))]
        if not lost:
            return Turned(now, x, unfit, vague)
        unfit = (*unfit, *(_unfit(network, estimate, out, own, start, seek) for own in lost))


def _turning_in(network: Network, marks: Ints, out: Ints) -> Ints:
    """The turning rows of a piece of these marks, but for those left out."""
    assert network.turning is not None, "asked for only where rows turn"
    first = network.measured.mark[network.measured.start[network.turning]]
    return np.setdiff1d(network.turning[np.isin(first, marks)], out)


def _unfit(network: Network, estimate: Estimator, out: Ints, marks: Ints, start: Floats, seek: bool) -> Unfit:
    """What to leave out of a piece of these marks that comes to no end, and what may be wrong with it."""
    turning, rows = _turning_in(network, marks, out), network.measured
    own = np.flatnonzero(rows.lengths > 0)
    own = np.setdiff1d(own[np.isin(rows.mark[rows.start[own]], marks)], out)
    guilty = NONE
    if seek and len(own) <= TRIED_MOST:
        guilty = np.array([row for row in own.tolist() if _rests(network, estimate, out, marks, start, row)], np.intp)
    wrong = np.intersect1d(guilty, turning)
    return Unfit(wrong if len(wrong) else turning, guilty)


def _rests(network: Network, estimate: Estimator, out: Ints, marks: Ints, start: Floats, row: int) -> bool:
    """Whether these marks come to rest without one more row."""
    _, _, still = _steps(network, estimate, np.append(out, row), start, TRIAL_STEPS)
    return not any(np.any(np.isin(own, marks)) for own in still)


def at_rest_mm(network: Network) -> float:
    """A move no larger than this is none: what the digits of the largest position leave."""
    return max(STEP_MM, np.finfo(float).eps * 8 * float(np.abs(network.plan_mm).max(initial=0.0)))


def swung(network: Network, x: Floats) -> Ints:
    """The turning rows that lie in another direction at positions plan + x than they have: by so much that an
    end of theirs would lie more than SWUNG_MM beside its place."""
    assert network.turning is not None, "asked for only where rows turn"
    rows, position = network.measured, network.plan_mm + x
    end, d, owner = spans_of(rows, network.turning, position)
    count = len(network.turning)
    along = np.bincount(owner, rows.coef[end] * d, count)
    beside = np.sqrt(np.bincount(owner, (d - along[owner] * rows.coef[end]) ** 2, count))
    far = np.sqrt(np.bincount(owner, d * d, count)) > NO_LENGTH_MM
    return network.turning[far & (beside > max(SWUNG_MM, 100 * at_rest_mm(network)))]


def _steps(
    network: Network, estimate: Estimator, out: Ints, start: Floats, most: int = STEPS_MOST
) -> tuple[Floats, Network, list[Ints]]:
    """Steps until nothing moves; else also the marks of each piece that came to no end, or went off."""
    assert network.turning is not None, "asked for only where rows turn"
    x, now = start.copy(), turned(network, start) if np.any(start) else network
    rest, far = at_rest_mm(network), _far_mm(network)
    still: list[int] = []
    gone: dict[int, Ints] = {}
    marks: list[Ints] = []
    paces: dict[int, _Pace] = {}
    for step in range(most):
        found, marks = estimate(now, x, out)
        still = []
        for k, (new, own) in enumerate(zip(found, marks, strict=True)):
            if k in gone:
                continue
            if not np.abs(new).max(initial=0.0) < far:  # nor a number
                gone[k], x[own] = own, 0.0
                continue
            move = new - x[own]
            if np.abs(move).max(initial=0.0) < rest:
                x[own] = new
                continue
            still.append(k)
            paces[k] = _Pace(1.0, move) if step < PLAIN_STEPS else paces[k].after(move)
            x[own] += paces[k].part * move
        now = turned(now, x)
        if not still:
            break
    return x, now, [*(marks[k] for k in still), *gone.values()]


@dataclass(frozen=True)
class _Pace:
    """Which part of a move is made, and the move: where a diagonal is far too short a whole one swings its ends past
    each other, to and fro. Each part follows from how the last one changed the move (A. Aitken, from memory)."""

    part: float
    move: Floats

    def after(self, move: Floats) -> _Pace:
        """The pace of the next move."""
        change = move - self.move
        part = -self.part * float(self.move @ change) / max(float(change @ change), 1e-300)
        return _Pace(min(max(part, SLOWEST), 1.0), move)


def _far_mm(network: Network) -> float:
    """Farther off than this no mark is: many times as far as anything that was drawn or read."""
    read = float(np.abs(network.measured.value).max(initial=0.0))
    return FAR_TIMES * (float(np.ptp(network.plan_mm)) + read + 1.0)


def across(rows: Rows, chosen: Ints) -> Rows:
    """For each of these rows of two axes, the row across it: which way its points can swing."""
    entry, owner = entries_of(rows, chosen)
    coef = rows.coef[entry].copy()
    coef[0::4], coef[1::4], coef[2::4], coef[3::4] = -coef[2::4], -coef[3::4], coef[0::4].copy(), coef[1::4].copy()
    start = np.concatenate([[0], np.cumsum(np.bincount(owner, minlength=len(chosen)))]).astype(np.intp)
    return Rows(start, rows.mark[entry], coef, np.zeros(len(chosen)), np.ones(len(chosen)))
