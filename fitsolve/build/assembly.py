"""The plan worked out: every mark of every copy, with its place in the assembled piece.

`plan` reads what the maker wrote, `place` puts the parts together by their joints, and the
result is an `Assembly`. Nothing here is text any more: marks are numbers (indices into
`Assembly.marks`), lengths are float64 millimetres, sides and signs are settled.

Positions run along the axes of the assembled piece: x left to right, y front to back, z up.
Each (part, axis) lies in one `placed` group; positions of two groups have nothing to do
with each other, so a distance between them has no plan value and no sign.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from fitsolve.build.terms import Terms, merged
from fitsolve.errors import Place, Problem
from fitsolve.light import cached_property, dataclass

Axis = Literal["x", "y", "z"]
AXES: tuple[Axis, ...] = ("x", "y", "z")


@dataclass(frozen=True, slots=True)
class Mark:
    """One place along one axis of one part. `name` is whole: `leg.fl.low.cheek-o`.

    `station_of` is the mark this one is a station of (`outer@foot` of `outer`) when it has
    no run of its own; else None. `outward` is +1 or -1: the way it faces, away from the
    middle of its part along the axis; 0 where that does not tell (a single mark).
    """

    name: str
    part: str
    axis: Axis
    plan_mm: float
    station_of: int | None = None
    outward: int = 0


@dataclass(frozen=True, slots=True)
class Distance:
    """A plan distance of a run, once for each pair of marks.

    `start` to `end` is the way the run was written; `plan_mm` is its length, never negative,
    and equals sign * (plan of end - plan of start). `give_mm` is None where neither the
    distance nor the plan sets one. `low_mm`, `high_mm` are hard limits or None.
    `derived` where no run has it: its size follows from a slope, and nothing is wished of it.
    `size_mm` is what a held distance is held at, where that is tried in place of its plan.
    """

    part: str
    axis: Axis
    start: int
    end: int
    sign: int
    plan_mm: float
    give_mm: float | None
    hold: bool = False
    low_mm: float | None = None
    high_mm: float | None = None
    finest_mm: float | None = None
    place: Place = field(default_factory=Place)
    derived: bool = False
    size_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Slope:
    """A slanted line between two marks of a part, over two axes:

    x[end] - x[start] = ratio * (x[run_end] - x[run_start]).

    `ratio` has its sign on this copy; `angle` is the slope as written (`1:8`, `7°`). `placed` is
    the end that lies where the slope leads; None where both ends have runs of their own.

    `whole`, (start, end, run start, run end) of a slope, where this is the place of a station between
    the ends of that one: the face is straight, so that what the whole is off its slope, this is off by
    its share of it, `share` in `of`. The row is `of` times as long: so all its coefficients are whole
    multiples of the ratio, and count as what they stand for.

    `crossing` where this is where a slanted line of another axis ends on a face: it goes where the two cross,
    and that is not there before both are.

    `give_mm` is how far the rise may be off what the angle makes where it is still to be cut; None where it is
    cut to the angle.
    """

    part: str
    start: int
    end: int
    run_start: int
    run_end: int
    ratio: float
    angle: str
    placed: int | None = None
    place: Place = field(default_factory=Place)
    whole: tuple[int, int, int, int] | None = None
    share: int = 0
    of: int = 1
    crossing: bool = False
    give_mm: float | None = None

    @property
    def terms(self) -> Terms:
        """The slope as a row over two axes: its rise, less what its run makes of it; of a station between the
        ends of another, less its share of that one's."""
        own = _sloping(self.own_marks, self.ratio, self.of)
        return own if self.whole is None else merged(own, _sloping(self.whole, self.ratio, -self.share))

    def as_made(self, made: Sequence[bool]) -> Terms | None:
        """The same of wood whose two ends are there, which goes by marks that are there alone: a run that is not cut
        yet counts as drawn, and a station by the angle while the ends of its face are not there. None where it is not
        there yet."""
        if not (made[self.start] and made[self.end]):
            return None
        if self.crossing and not (made[self.run_start] and made[self.run_end]):
            return None
        own = self._over_made(self.own_marks, self.of, made)
        if self.whole is None or not self._whole_made(made):
            return own
        return merged(own, self._over_made(self.whole, -self.share, made))

    def missed_by(self, made: Sequence[bool]) -> float:
        """By how many times what a cut misses by the row of `as_made` may be off. A face is straight to within a cut
        in its middle, and the truer the nearer to an end of it."""
        if self.whole is None or not self._whole_made(made):
            return float(self.of)
        part = self.share / self.of
        return self.of * 2.0 * math.sqrt(max(abs(part * (1.0 - part)), 1.0 / SHARES))

    def _whole_made(self, made: Sequence[bool]) -> bool:
        return self.whole is not None and made[self.whole[0]] and made[self.whole[1]]

    def _over_made(self, marks: tuple[int, int, int, int], times: int, made: Sequence[bool]) -> Terms:
        there = made[marks[2]] and made[marks[3]]
        return _sloping(marks, self.ratio, times) if there else [(marks[1], float(times)), (marks[0], -float(times))]

    @property
    def own_marks(self) -> tuple[int, int, int, int]:
        """Its two ends, and the marks of its run."""
        return self.start, self.end, self.run_start, self.run_end

    @property
    def every_mark(self) -> tuple[int, ...]:
        """All marks it ties."""
        return (*self.own_marks, *(self.whole or ()))


SHARES = 100
"""A share is a ratio of whole numbers up to this: a face that is off its slope is so by little."""


def _sloping(marks: tuple[int, int, int, int], ratio: float, times: int) -> Terms:
    start, end, run_start, run_end = marks
    return [(end, float(times)), (start, -float(times)), (run_end, -times * ratio), (run_start, times * ratio)]


ContactKind = Literal["housing", "butt", "room"]


@dataclass(frozen=True, slots=True)
class Lean:
    """How far the two slanted marks of a gap are from facing each other when the shoulder is home:

    ratio * ((x[upper_run] - x[upper_home]) - (x[lower_run] - x[lower_home])) counts off the gap.

    The runs are the marks that the stations are named after, the homes the shoulder and its face.
    """

    upper_run: int
    upper_home: int
    lower_run: int
    lower_home: int
    ratio: float


@dataclass(frozen=True, slots=True)
class Contact:
    """Where marks of two parts meet on one axis.

    `marks` is (tongue low, tongue high, socket low, socket high) for a housing, with gaps
    `tongue low - socket low` and `socket high - tongue high`, clearance their sum; and
    (lower, upper) for a butt or a room, whose one gap, the clearance, is `upper - lower`.
    `rests` is "low" or "high" where the tongue stands on that wall of its housing. `leans`, one
    for each gap, says where slanted marks do not face each other; empty where all do.
    """

    joint: int
    kind: ContactKind
    axis: Axis
    marks: tuple[int, ...]
    fit: str
    least_mm: float
    aim_mm: float
    most_mm: float
    rests: Literal["low", "high"] | None = None
    place: Place = field(default_factory=Place)
    leans: tuple[Lean | None, ...] = ()

    @property
    def gap_marks(self) -> tuple[tuple[int, int], ...]:
        """The marks that each gap lies between, the lower first: two gaps of a housing (low side, high side), else
        one."""
        if self.kind == "housing":
            tongue_low, tongue_high, socket_low, socket_high = self.marks
            return (socket_low, tongue_low), (tongue_high, socket_high)
        lower, upper = self.marks
        return ((lower, upper),)

    @cached_property
    def gaps(self) -> tuple[Terms, ...]:
        """The gaps as rows: two of a housing (low side, high side), else one. The upper and the lower mark
        come first; on a slope, what their not facing each other takes off follows."""
        gaps = [[(upper, 1.0), (lower, -1.0)] for lower, upper in self.gap_marks]
        for gap, lean in zip(gaps, self.leans, strict=False):
            if lean is not None:
                off = [(lean.upper_run, -lean.ratio), (lean.upper_home, lean.ratio)]
                gap += merged(off, [(lean.lower_run, lean.ratio), (lean.lower_home, -lean.ratio)])
        return tuple(gaps)

    @cached_property
    def clearance(self) -> Terms:
        """The clearance as a row: the sum of the gaps, marks that cancel left out."""
        return merged(*self.gaps)

    @property
    def every_mark(self) -> tuple[int, ...]:
        """All marks its gaps are counted from: its own, and on slopes those along the run."""
        runs = [
            mark
            for lean in self.leans
            if lean is not None
            for mark in (lean.upper_run, lean.upper_home, lean.lower_run, lean.lower_home)
        ]
        return (*self.marks, *runs)


@dataclass(frozen=True, slots=True)
class Peg:
    """A drawbored hole: x[tenon_hole] - x[shoulder] = x[hole] - x[face] - way * draw_mm."""

    joint: int
    hole: int
    tenon_hole: int
    shoulder: int
    face: int
    way: int
    diameter_mm: float
    draw_mm: float
    place: Place = field(default_factory=Place)


@dataclass(frozen=True, slots=True)
class Joint:
    """Contacts that close together. `name` is the block and the parts: `tenon rail.low leg.fl`."""

    name: str
    block: str
    parts: tuple[str, ...]
    contacts: tuple[int, ...]
    place: Place = field(default_factory=Place)


@dataclass(frozen=True, slots=True)
class Span:
    """The distance from mark `start` to mark `end`, counted positive as it lies in the plan:
    its value is sign * (x_end - x_start)."""

    start: int
    end: int
    sign: int


RuleKind = Literal[
    "parallel", "equal", "flush", "length", "in line", "plumb", "wind", "level", "rock", "rack", "taper", "twist"
]


@dataclass(frozen=True, slots=True)
class Frame:
    """The marks that a check of the whole frame is about, and where they stand.

    `places` are where `marks` stand along the two other axes, `base` and `base_places` the same for
    what they are measured from (level). Of "rack", "taper" and "twist" the marks are those of four
    corners: front left, front right, rear left, rear right along one axis, then along the other; of a
    twist those at one station, then those at another. `read` where readings alone may tell it.
    """

    marks: tuple[int, ...]
    places: tuple[tuple[float, float], ...] = ()
    base: tuple[int, ...] = ()
    base_places: tuple[tuple[float, float], ...] = ()
    read: bool = False


@dataclass(frozen=True, slots=True)
class Rule:
    """A keep or a check: one or more spans that shall be equal, or a span and its length.

    With one span its value is the span less `length_mm`. With several, every pair counts as
    one value, the earlier less the later. `flush` is one span of length 0. `give_mm` makes a
    keep soft; `low_mm`, `high_mm` bound every span, hard; `within_mm` is a check's tolerance.
    `kind` is "parallel" (spans across parts that shall be equal), "equal" (spans within
    parts), "flush", "length", or "plumb" (how far one edge leans); checks of the whole frame have a
    `frame` and no spans. `held_mm` holds every value of a keep at this, where that is tried.
    """

    name: str
    kind: RuleKind
    spans: tuple[Span, ...]
    length_mm: float | None = None
    give_mm: float | None = None
    low_mm: float | None = None
    high_mm: float | None = None
    within_mm: float | None = None
    place: Place = field(default_factory=Place)
    held_mm: float | None = None
    frame: Frame | None = None

    @property
    def every_mark(self) -> tuple[int, ...]:
        """All marks it is about."""
        spans = tuple(mark for span in self.spans for mark in (span.start, span.end))
        return spans if self.frame is None else (*spans, *self.frame.marks, *self.frame.base)


@lru_cache(maxsize=256)
def exact_step(step_mm: float) -> Fraction:
    """Return a step as the fraction that was written: 25.4 / 32 is 127/160."""
    for most in _LIKELY_DENOMINATORS:
        step = Fraction(step_mm).limit_denominator(most)
        if abs(float(step) - step_mm) <= 1e-15 * step_mm:
            return step
    return Fraction(step_mm)


_LIKELY_DENOMINATORS = (10**5, 10**9)


@dataclass(frozen=True)
class Assembly:
    """The whole plan as marks, distances, joints, keeps and checks; see the module.

    `index` finds a mark by its whole name. `runs` lists, for every run of every copy, its
    marks in the order written. `placed` gives the placed group of each mark: two marks have
    a plan distance only within one group. `alone` names the parts that no joint or keep
    reaches. `notices` are problems that do not stop the answer (warnings and notices).
    """

    title: str
    unit: Literal["in", "mm"]
    finest_mm: float
    workmanship_mm: float
    """Where a mark lands, plus or minus, k = 2."""
    workmanship_width_mm: float
    """How true the width of a dado, mortise or tenon comes, plus or minus, k = 2."""
    parts: tuple[str, ...]
    marks: tuple[Mark, ...]
    index: dict[str, int]
    runs: tuple[tuple[int, ...], ...]
    distances: tuple[Distance, ...]
    contacts: tuple[Contact, ...]
    joints: tuple[Joint, ...]
    keeps: tuple[Rule, ...]
    checks: tuple[Rule, ...]
    placed: tuple[int, ...]
    alone: tuple[str, ...] = ()
    notices: tuple[Problem, ...] = ()
    slopes: tuple[Slope, ...] = ()
    pegs: tuple[Peg, ...] = ()
    strong_mm: float = 0.0
    """What strong and bare behind a reading add and take off."""
    overcut: float = 0.05
    """The chance that wood left on is too little for a joint."""

    @cached_property
    def contacts_of(self) -> Mapping[str, tuple[int, ...]]:
        """The contacts of each part, by number, in the order of the plan."""
        found: dict[str, list[int]] = {part: [] for part in self.parts}
        for number, contact in enumerate(self.contacts):
            for part in {self.marks[mark].part for mark in contact.marks}:
                found[part].append(number)
        return {part: tuple(numbers) for part, numbers in found.items()}

    @cached_property
    def joints_of(self) -> Mapping[str, tuple[int, ...]]:
        """The joints of each part, by number, in the order of the plan."""
        found: dict[str, list[int]] = {part: [] for part in self.parts}
        for number, joint in enumerate(self.joints):
            for part in dict.fromkeys(joint.parts):
                found[part].append(number)
        return {part: tuple(numbers) for part, numbers in found.items()}

    @cached_property
    def faces(self) -> Mapping[str, tuple[Slope, ...]]:
        """The slopes that are faces, from station to station of one mark, by its whole name without the station."""
        found: dict[str, tuple[Slope, ...]] = {}
        for slope in self.slopes:
            base, end = (self.marks[mark].name.partition("@")[0] for mark in (slope.start, slope.end))
            if slope.whole is None and base == end:
                found[base] = (*found.get(base, ()), slope)
        return found

    @cached_property
    def on_slope(self) -> Mapping[tuple[int, int, int, int], tuple[Slope, ...]]:
        """By the marks of a slope, those of the stations that lie on it."""
        found: dict[tuple[int, int, int, int], list[Slope]] = {}
        for slope in self.slopes:
            if slope.whole is not None:
                found.setdefault(slope.whole, []).append(slope)
        return {whole: tuple(slopes) for whole, slopes in found.items()}

    @cached_property
    def families(self) -> Mapping[tuple[str, str], tuple[int, ...]]:
        """The marks of each part along each axis, by (part, axis)."""
        found: dict[tuple[str, str], list[int]] = {}
        for number, mark in enumerate(self.marks):
            found.setdefault((mark.part, mark.axis), []).append(number)
        return {family: tuple(marks) for family, marks in found.items()}

    @cached_property
    def reference_ends(self) -> Mapping[tuple[str, str], int]:
        """The reference end of each (part, axis): see `build.reference`."""
        longest: dict[tuple[str, str], tuple[float, int]] = {}
        for run in self.runs:
            if not run:
                continue
            first, last = self.marks[run[0]], self.marks[run[-1]]
            length = abs(last.plan_mm - first.plan_mm)
            key = (first.part, first.axis)
            if key not in longest or length > longest[key][0] + 1e-9:
                longest[key] = (length, run[0])
        return {family: longest[family][1] if family in longest else own[0] for family, own in self.families.items()}

    @cached_property
    def stations(self) -> tuple[tuple[int, int], ...]:
        """Each station that has no run of its own, with the mark that it is a station of."""
        return tuple((k, mark.station_of) for k, mark in enumerate(self.marks) if mark.station_of is not None)

    @cached_property
    def sloped_ends(self) -> frozenset[int]:
        """The marks that a slope places."""
        return frozenset(slope.placed for slope in self.slopes if slope.placed is not None)

    @cached_property
    def holes(self) -> frozenset[int]:
        """The middles of holes: marks on two axes, called by them, and the holes of pegs."""
        holes = [mark for peg in self.pegs for mark in (peg.hole, peg.tenon_hole)]
        for number, mark in enumerate(self.marks):
            stem, _, last = mark.name.rpartition(".")
            if last == mark.axis and any(f"{stem}.{axis}" in self.index for axis in AXES if axis != last):
                holes.append(number)
        return frozenset(holes)

    @cached_property
    def outer_ends(self) -> Mapping[tuple[str, str], tuple[int, int]]:
        """The lowest and the highest mark of each part along each axis, stations left out."""
        found: dict[tuple[str, str], tuple[int, int]] = {}
        for number, mark in enumerate(self.marks):
            if mark.station_of is not None:
                continue
            low, high = found.get((mark.part, mark.axis), (number, number))
            found[mark.part, mark.axis] = (
                number if mark.plan_mm < self.marks[low].plan_mm else low,
                number if mark.plan_mm > self.marks[high].plan_mm else high,
            )
        return found

    @cached_property
    def reach_mm(self) -> Mapping[str, Mapping[Axis, float]]:
        """How far each part reaches along each axis on which it has marks, stations left out, mm."""
        found: dict[str, dict[Axis, float]] = {part: {} for part in self.parts}
        for (part, _), (low, high) in self.outer_ends.items():
            found[part][self.marks[low].axis] = self.marks[high].plan_mm - self.marks[low].plan_mm
        return found

    @cached_property
    def finely_laid(self) -> tuple[Distance, ...]:
        """The distances with a finest line of their own."""
        return tuple(one for one in self.distances if one.finest_mm is not None)
