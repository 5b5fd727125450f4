"""Bridges: runs of a part that only a slanted face ties, and where that face is at each station.

    x = ["outer@foot 90 inner@foot", "outer@rail 90 inner@rail"]
    z = "foot 300 rail 400 head"
    slopes = "outer@foot..outer@head 1:8 right"

The two runs along x share no mark. But `outer@rail` lies on the face that goes from `outer@foot` to
`outer@head`, so it lies  at(outer@foot) + 1/8 (at(rail) - at(foot)).  Only where runs do not hang together
by themselves are they tied so; where they do, the slope is held against them (slopes).

All this is of the part as drawn. Which of its axes can be added up first is tried: a slope needs its run.

Not here: slopes of copies and what they are held against (slopes), stations that sentences name (faces).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction

from fitsolve.build.language import Misread, Run
from fitsolve.build.locate import Spot
from fitsolve.build.slopetext import SlopeText, read_slope, unsaid_way
from fitsolve.build.sums import Axle
from fitsolve.errors import Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass

Runs = Sequence[tuple[Run, Spot]]


@dataclass(frozen=True, slots=True)
class Bridge:
    """Marks of an axis on one slanted line, each with where it is along the run: at(b) - at(a) is `ratio` times
    what lies between them there. The sign of the ratio is open (`signed` is false) where no word says it."""

    points: tuple[tuple[str, Fraction], ...]
    ratio: Fraction
    signed: bool
    spot: Spot
    unsaid: Problem


@dataclass(frozen=True, slots=True)
class Line:
    """A slanted face as drawn: where it is, mm, for each place along the run from `low` to `high`."""

    base: str
    axis: int
    run_axis: int
    low: Fraction
    high: Fraction
    ratio: Fraction
    through: tuple[Fraction, Fraction]

    def at(self, run: Fraction) -> Fraction:
        """Return where the face is at a place along the run."""
        return self.through[1] + self.ratio * (run - self.through[0])


def read_quietly(texts: Iterable[tuple[str, Spot]], unit: Unit) -> list[tuple[SlopeText, Spot]]:
    """Return the slopes that can be read; what can't is said elsewhere (slopes)."""
    found = []
    for text, spot in texts:
        try:
            found.append((read_slope(text, unit), spot))
        except Misread:
            continue
    return found


def hang_together(runs: Runs) -> bool:
    """Whether all runs of an axis share marks, one with another."""
    groups: list[set[str]] = []
    for run, _ in runs:
        own = {mark.text for mark in run.marks}
        apart = [group for group in groups if not group & own]
        groups = [*apart, own.union(*(group for group in groups if group & own))]
    return len(groups) < 2


class Slanted:
    """The slopes of a part as drawn, held against those of its axes that are added up."""

    def __init__(self, slopes: Sequence[tuple[SlopeText, Spot]], axles: Mapping[int, Axle]) -> None:
        self.slopes = slopes
        self.places: dict[str, tuple[int, Fraction]] = {
            name: (axis, at)
            for axis, axle in axles.items()
            for name, at in zip(axle.marks, axle.at, strict=True)
        }

    def where(self, base: str, station: str) -> tuple[int, Fraction] | None:
        """Return the axis and the place of the mark that a station is named after: beside its own mark, or of
        the part."""
        beside = base.rpartition(".")[0]
        return self.places.get(station) or (self.places.get(f"{beside}.{station}") if beside else None)

    def bridges(self, axis: int, names: Iterable[str]) -> list[Bridge]:
        """Return what ties marks of an axis, of which these stand in runs."""
        found = []
        for slope, spot in self.slopes:
            points = self.points(slope, axis, set(names))
            if points:
                ends = self.ends(slope)
                assert ends is not None, "a slope with points has a run"
                way = 1 if ends[1] > ends[0] else -1
                rises = 1 if slope.way is None else slope.way[1] * way
                run_axis = self.run_axis(slope)
                assert run_axis is not None, "a slope with points has a run"
                unsaid = unsaid_way(slope, axis, run_axis, spot)
                found.append(Bridge(tuple(points), slope.rise * rises, slope.way is not None, spot, unsaid))
        return found

    def ends(self, slope: SlopeText) -> tuple[Fraction, Fraction] | None:
        """Where a slope begins and ends along its run; None where that is not known, or is one place."""
        found = [self.where(*_parted(name.text)) for name in (slope.start, slope.end)]
        if found[0] is None or found[1] is None or found[0][0] != found[1][0] or found[0][1] == found[1][1]:
            return None
        return found[0][1], found[1][1]

    def run_axis(self, slope: SlopeText) -> int | None:
        """The axis that a slope runs along."""
        found = self.where(*_parted(slope.start.text))
        return None if found is None else found[0]

    def points(self, slope: SlopeText, axis: int, names: set[str]) -> list[tuple[str, Fraction]]:
        """The marks of these that lie on a slope, with their places along its run. Where neither end stands in a
        run, its first end lies where its mark lies."""
        ends, run_axis = self.ends(slope), self.run_axis(slope)
        if ends is None or run_axis == axis or (slope.way is not None and slope.way[0] != axis):
            return []
        whole = (slope.start.text, slope.end.text)
        bases = tuple(_parted(text)[0] for text in whole)
        points = [(name, at) for name, at in zip(whole, ends, strict=True) if name in names]
        if not points and bases[0] in names:
            points = [(bases[0], ends[0])]
        if bases[0] == bases[1]:
            for name in sorted(names - set(whole)):
                base, station = _parted(name)
                there = self.where(base, station) if base == bases[0] and station else None
                if there is not None and there[0] == run_axis and min(ends) <= there[1] <= max(ends):
                    points.append((name, there[1]))
        return points

    def faces_at(self, name: str, axis: int) -> dict[str, Fraction]:
        """Return where the slanted faces along an axis are at the station of a name, as stations with their places;
        empty where its face does not slant there."""
        base, station = _parted(name)
        there = self.where(base, station) if station else None
        if there is None:
            return {}
        own = [
            line
            for line in self.lines()
            if (line.axis, line.run_axis) == (axis, there[0]) and line.low <= there[1] <= line.high
        ]
        faces = {f"{line.base}@{station}": line.at(there[1]) for line in own}
        return faces if name in faces else {}

    def lines(self) -> list[Line]:
        """Return all slanted faces of the part that have a place."""
        found = []
        for slope, _ in self.slopes:
            base = _parted(slope.start.text)[0]
            ends, run_axis = self.ends(slope), self.run_axis(slope)
            if ends is None or run_axis is None or base != _parted(slope.end.text)[0]:
                continue
            for axis in {axis for name, (axis, _) in self.places.items() if _parted(name)[0] == base}:
                names = {name for name, (own, _) in self.places.items() if own == axis}
                points = [(run, self.places[name][1]) for name, run in self.points(slope, axis, names)]
                if points:
                    low, high = sorted(ends)
                    found.append(Line(base, axis, run_axis, low, high, _ratio(slope, ends, points), points[0]))
        return found


def _parted(name: str) -> tuple[str, str]:
    base, _, station = name.partition("@")
    return base, station


def _ratio(slope: SlopeText, ends: tuple[Fraction, Fraction], points: list[tuple[Fraction, Fraction]]) -> Fraction:
    """Rise over run with its sign: as the sentence says, else as two of its points lie, else up with its run."""
    if slope.way is not None:
        return slope.rise * slope.way[1] * (1 if ends[1] > ends[0] else -1)
    (run, at), *others = points
    other = next((point for point in others if point[0] != run and point[1] != at), None)
    return slope.rise if other is None or (other[1] > at) == (other[0] > run) else -slope.rise


Add = Callable[[int, Sequence[Bridge]], Axle | None]


def added_up(
    lines: Sequence[Runs | None], slopes: Sequence[tuple[SlopeText, Spot]], add: Add
) -> dict[int, Axle]:
    """Return the axes of a part added up, those first whose runs hang together; `add` does one of them. The
    others are tied by slopes along what is there."""
    axles: dict[int, Axle] = {}
    waiting = []
    for axis, runs in enumerate(lines):
        if not runs or hang_together(runs):
            axle = add(axis, ())
            if axle is not None:
                axles[axis] = axle
        else:
            waiting.append(axis)
    for axis in waiting:
        runs = lines[axis]
        assert runs is not None, "only an axis with runs waits"
        names = {mark.text for run, _ in runs for mark in run.marks}
        axle = add(axis, Slanted(slopes, axles).bridges(axis, names))
        if axle is not None:
            axles[axis] = axle
    return {axis: axles[axis] for axis in sorted(axles)}
