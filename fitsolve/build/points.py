"""Points: places on several axes at once, such as the corner of a leg or the centre of a hole.

    point = name { ( "/" | "+" | blank ) name }          leg.fl.outer/face    jaw.screw-l

Of two or three names each is a mark, on axes that differ; the later ones stand beside the first,
else anywhere in its part, else are whole. One name alone is a hole, which has a mark on each of its
two axes. A station behind the last name counts for all that have none: leg.fl.outer/face@foot.

A diagonal of length r between two points on the same axes says

    |d| = r,    d_a = x_(to, a) - x_(from, a) on each axis a,

and |d| = c'd with c = d / |d|, the direction of the diagonal. So it is a row like any other, with
coefficients that turn as the points move: what `Reading.terms` holds is c of the plan. Where the
plan does not tie the points along an axis, `from` counts as before `to`, and as long as nothing is
known of it, what is left of r along that axis is a first guess, to a 64th of r; but where the points,
each group of parts put down from 0, lie about r apart as they are, that is the first guess.

Not here: how the row is solved (solve/turning).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from fitsolve.build.assembly import AXES, Assembly
from fitsolve.build.lookup import Lookup
from fitsolve.light import pattern

_BETWEEN = pattern(r"\s*[/+]\s*|\s+")
GUESS = 64
"""A direction that the plan does not give is guessed to this part of the diagonal."""
AS_PUT = 4
"""Where groups of parts, put down each from 0, leave two points as far apart as was read, to this part of
it, they are taken to stand so to begin with: two diagonals of a frame then say how far it leans, and no more."""

TermPairs = tuple[tuple[int, float], ...]


class NoPoint(Exception):
    """A cell that names no point: what is wrong, what to do, and the name it lies in; `unknown` where
    that name is simply not in the plan."""

    def __init__(self, what: str, hint: str, name: str = "", *, unknown: bool = False) -> None:
        self.what, self.hint, self.name, self.unknown = what, hint, name, unknown
        super().__init__(what)


FORM = "A corner is its marks on two axes, as in leg.fl.outer/face; a hole is called by its name."


def names_in(cell: str) -> list[str]:
    """Return the names of a point, a station at the end given to each that has none."""
    names = [name for name in _BETWEEN.split(cell.strip()) if name]
    station = names[-1].partition("@")[2] if names else ""
    return [f"{name}@{station}" if station and "@" not in name else name for name in names]


def spans_of(cell: str) -> list[str]:
    """Return the names of a point as spans, the first mark with each of the others."""
    first, *others = names_in(cell) or [""]
    return [f"{first}..{other}" for other in others] or [first]


def read_point(lookup: Lookup, cell: str, epoch: int) -> dict[str, int]:
    """Return the marks of a point by axis, in the order of the axes. Raises NoPoint."""
    names = names_in(cell)
    if not names:
        raise NoPoint("a point is missing", FORM)
    marks = lookup.assembly.marks
    first = lookup.mark(names[0], epoch)
    if len(names) == 1:
        found = lookup.hole(names[0], epoch)
        if found:
            return found
        if first is None:
            raise NoPoint("", "", names[0], unknown=True)
        what = f"{names[0]} is one mark, along {marks[first].axis}: where is it along the other?"
        raise NoPoint(what, FORM, names[0])
    by_axis: dict[str, int] = {}
    for name in names:
        mark = first if name is names[0] or first is None else lookup.beside(first, names[0], name, epoch)
        if mark is None:
            raise NoPoint("", "", name, unknown=True)
        axis = marks[mark].axis
        if axis in by_axis:
            what = f"{marks[by_axis[axis]].name} and {marks[mark].name} both lie along {axis}"
            raise NoPoint(what, FORM, name)
        by_axis[axis] = mark
    return {axis: by_axis[axis] for axis in AXES if axis in by_axis}


def point_name(assembly: Assembly, marks: Sequence[int]) -> str:
    """Return how a point is called: `leg.fl.outer/face@foot`, a hole by its own name."""
    own = [assembly.marks[mark] for mark in marks]
    hole = own[0].name.removesuffix(f".{own[0].axis}")
    if hole != own[0].name and all(mark.name == f"{hole}.{mark.axis}" for mark in own):
        return hole
    names = [own[0].name] + [
        mark.name[len(mark.part) + 1 :] if mark.part == own[0].part else mark.name for mark in own[1:]
    ]
    stations = {name.partition("@")[2] for name in names}
    if len(stations) == 1 and "" not in stations:
        names = [name.partition("@")[0] for name in names[:-1]] + names[-1:]
    return "/".join(names)


def planned_apart(assembly: Assembly, ends: Iterable[tuple[int, int]]) -> float | None:
    """Return how far apart two points are in the plan, by their (from, to) marks axis by axis; None where the
    plan does not tie them."""
    along = []
    for start, end in ends:
        if assembly.placed[start] != assembly.placed[end]:
            return None
        along.append(assembly.marks[end].plan_mm - assembly.marks[start].plan_mm)
    return math.hypot(*along)


def _about(as_put: Sequence[float], reading_mm: float) -> bool:
    """Whether two points as they were put down lie about so far apart, and apart along every axis."""
    near = abs(math.hypot(*as_put) - reading_mm) <= reading_mm / AS_PUT
    return near and min(abs(part) for part in as_put) >= reading_mm / GUESS


def direction(assembly: Assembly, ends: Sequence[tuple[int, int]], reading_mm: float) -> TermPairs:
    """Return the terms of a diagonal, for each axis its `to` and its `from` mark with c and -c.

    `ends` are (from, to) marks axis by axis. Raises NoPoint where the points coincide in the plan.
    """
    marks, placed = assembly.marks, assembly.placed
    along = [
        marks[end].plan_mm - marks[start].plan_mm if placed[end] == placed[start] else None for start, end in ends
    ]
    known = math.fsum(part**2 for part in along if part is not None)
    open_axes = along.count(None)
    guess = 0.0
    as_put = [marks[end].plan_mm - marks[start].plan_mm for start, end in ends]
    if open_axes and _about(as_put, reading_mm):
        along, open_axes = list(as_put), 0
    if open_axes:
        step = reading_mm / GUESS
        rest = math.sqrt(max(reading_mm**2 - known, 0.0) / open_axes)
        guess = max(round(rest / step), 1) * step if step > 0 else 1.0
    d = [guess if part is None else part for part in along]
    length = math.hypot(*d)
    if length < 1e-9:
        raise NoPoint("the two points lie in one place in the plan", "Name two points some way apart.")
    terms: list[tuple[int, float]] = []
    for (start, end), part in zip(ends, d, strict=True):
        terms += [(end, part / length), (start, -part / length)]
    return tuple(terms)
