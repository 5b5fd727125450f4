"""Holes: one thing with a place on two axes, such as a screw's clearance hole or a peg's bore.

    holes = { screw-l = ["14 from l.end", "4 1/2 from top"] }
    place = length [ "(" condition { "," condition } ")" ] "from" mark [ way ]
    way   = "right" | "left" | "back" | "front" | "up" | "down"

A hole makes a mark on each of the two axes, called by the hole and the axis: `screw-l.x` and
`screw-l.z`. Each place is a run of two marks: the length lies between the hole's centre and the
mark it is counted from, toward the inside of the part where that mark is one of its ends. Counted
from any other mark it has to say the way, as the part is drawn. A station of a slanted face is an end
of the part where no other face, at the same place along the run, lies farther out.

Not here: what runs add up to (sums), what is bored where it was not planned (the log).
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import TYPE_CHECKING

from fitsolve.build.assembly import AXES
from fitsolve.build.language import (
    FREE,
    NAME,
    Conditions,
    Cursor,
    Misread,
    Name,
    Run,
    Step,
    did_you_mean,
    read_conditions,
)
from fitsolve.build.locate import Path, Source, Spot, shown
from fitsolve.build.slopetext import WAYS
from fitsolve.build.sums import Axle
from fitsolve.errors import Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass

if TYPE_CHECKING:
    from fitsolve.build.bridges import Slanted

_FORM = "As in 14 from l.end, and counted from a mark inside the part: 2 from l.dado-i right."

HoleRuns = dict[int, list[tuple[Run, Spot]]]
"""By axis, the runs that the holes of a part add to it."""


@dataclass(frozen=True, slots=True)
class PlaceText:
    """A place along one axis as written: `way` is the axis and the sign it says."""

    length: Fraction
    column: int
    width: int
    conditions: Conditions
    origin: Name
    way: tuple[int, int] | None
    way_at: int


def read_place(text: str, unit: Unit, wrong: list[Misread]) -> PlaceText:
    """Return where a hole lies along one axis. Raises Misread; slips are added to `wrong`."""
    cursor = Cursor(text, unit)
    cursor.peek()
    at = cursor.at
    length = cursor.length()
    width = cursor.at - at
    conditions = read_conditions(cursor, wrong) if cursor.peek() == "(" else FREE
    if not cursor.word("from"):
        raise cursor.here('"from" was expected here: how far from which mark?', _FORM)
    origin = cursor.name("a mark")
    cursor.peek()
    way_at = cursor.at
    way = next((WAYS[word] for word in WAYS if cursor.word(word)), None)
    if cursor.peek():
        hint = f"Behind the mark may stand which way: {', '.join(WAYS)}."
        raise cursor.here("the end of the place was expected here", hint)
    return PlaceText(length, at, width, conditions, origin, way, way_at)


@dataclass(frozen=True, slots=True)
class Bench:
    """What the holes of a part are read against: its axes worked out, where it stands in the plan."""

    block: str
    axles: Mapping[int, Axle]
    source: Source
    unit: Unit
    path: Path
    slanted: Slanted | None = None


def hole_runs(holes: Mapping[str, list[str]], bench: Bench, problems: list[Problem]) -> HoleRuns | None:
    """Return the runs that holes add to their part; None, with `problems`, where one can't be read."""
    found: HoleRuns = {}
    sound = True
    axis_of = {mark: axis for axis, axle in bench.axles.items() for mark in axle.marks}
    for hole, places in holes.items():
        path = (*bench.path, "holes", hole)
        fault = _fault(hole, places, bench, axis_of)
        if fault is not None:
            problems.append(Problem(bench.source.key_place(path), *fault))
            sound = False
            continue
        first: int | None = None
        for k, text in enumerate(places):
            spot = bench.source.spot((*path, k), text)
            wrong: list[Misread] = []
            try:
                place = read_place(text, bench.unit, wrong)
                axis = _axis(place, bench, axis_of, first)
                found.setdefault(axis, []).append((_run(hole, place, axis, bench), spot))
                first = axis
            except Misread as misread:
                wrong.append(misread)
            problems += [spot.problem(one.what, one.hint, one.column, one.width) for one in wrong]
            sound = sound and not wrong
    return found if sound else None


def _fault(hole: str, places: list[str], bench: Bench, axis_of: Mapping[str, int]) -> tuple[str, str] | None:
    """What is wrong with a hole before its places are read."""
    if not NAME.fullmatch(hole) or "@" in hole:
        return f'"{shown(hole)}" can\'t be the name of a hole', "Names are letters, digits, hyphens and dots."
    if len(places) != 2:
        what = f"a hole has a place on two axes, and {shown(hole)} has {len(places)}"
        return what, 'As in ["14 from l.end", "4 1/2 from top"].'
    taken = next((mark for mark in (hole, *(f"{hole}.{axis}" for axis in AXES)) if mark in axis_of), None)
    if taken is not None:
        return f"{shown(hole)} is a hole, and {shown(taken)} stands in a run too", "Give one of the two another name."
    return None


def _axis(place: PlaceText, bench: Bench, axis_of: Mapping[str, int], first: int | None) -> int:
    """The axis a place lies along: that of the mark it is counted from, and not that of the other place."""
    origin = place.origin
    base = origin.text.partition("@")[0]
    axis = axis_of.get(origin.text, axis_of.get(base))
    if axis is None and bench.slanted is not None:  # its mark may stand in runs at other stations alone
        axis = next((k for k in bench.axles if bench.slanted.faces_at(origin.text, k)), None)
    if axis is None:
        raise Misread(
            f'{bench.block} has no mark "{shown(origin.text)}"',
            origin.column,
            origin.width,
            did_you_mean(origin.text, axis_of, "Count from a mark of the part's own runs."),
        )
    if axis == first:
        what = f"both places of this hole lie along {AXES[axis]}"
        raise Misread(what, origin.column, origin.width, "A hole has its two places on two axes.")
    if place.way is not None and place.way[0] != axis:
        words = " or ".join(word for word, (along, _) in WAYS.items() if along == axis)
        what = f"{shown(origin.text)} lies along {AXES[axis]}: from it goes {words}"
        raise Misread(what, place.way_at, len(place_word(place)), "Say the way along that axis.")
    return axis


def place_word(place: PlaceText) -> str:
    """The word a place says its way with."""
    return next(word for word, way in WAYS.items() if way == place.way)


def _run(hole: str, place: PlaceText, axis: int, bench: Bench) -> Run:
    """The place as a run of two marks, the lower first."""
    mark = f"{hole}.{AXES[axis]}"
    name = place.origin.text
    at, section = _section(name, axis, bench)
    if at is None:  # a station without a run lies where its mark lies, but makes no run of its own
        what = f"{shown(name)} has no run of its own: count from {shown(name.partition('@')[0])}"
        raise Misread(what, place.origin.column, place.origin.width, "Or give the station a run, or its face a slope.")
    low, high = min(section.values()), max(section.values())
    if place.way is not None:
        sign = place.way[1]
    elif low < high and at == low:
        sign = 1
    elif low < high and at == high:
        sign = -1
    else:
        words = " or ".join(word for word, (along, _) in WAYS.items() if along == axis)
        what = f"which way from {shown(name)}? It is no end of the part along {AXES[axis]}"
        raise Misread(what, place.origin.column, place.origin.width, f"Say it behind the mark: {words}.")
    if low < high and not low <= at + sign * place.length <= high:
        ends = [next(mark for mark, there in section.items() if there == end) for end in (low, high)]
        what = f"this lies outside the part, which reaches from {shown(ends[0])} to {shown(ends[1])}"
        raise Misread(what, place.column, place.width, "Correct the length, or the mark it is counted from.")
    step = Step(place.length, place.column, place.width, place.conditions)
    names = (Name(mark, place.origin.column), place.origin)
    return Run(names if sign < 0 else names[::-1], (step,))


def _section(name: str, axis: int, bench: Bench) -> tuple[Fraction | None, dict[str, Fraction]]:
    """Where a mark is, None where it has no place, and how far the part reaches there, as marks with their places:
    at a station of a slanted face, where the faces are at that place along the run; else all marks."""
    axle = bench.axles[axis]
    marks = dict(zip(axle.marks, axle.at, strict=True))
    faces = {} if bench.slanted is None else bench.slanted.faces_at(name, axis)
    at = faces.get(name, marks.get(name))
    section = faces if name in faces and len(set(faces.values())) > 1 else marks
    return at, section
