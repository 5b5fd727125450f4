"""Sums: the runs of one part along one axis, added up to positions.

Each distance a L b of a run says  x_b - x_a = L,  exactly. Runs share marks, so a distance may
be given twice, overall and in pieces: a loop. The ties are taken in the order written; one
that closes a loop is compared with the way round:

    off by half of `finest` or more     a misprint: both sums are shown
    off by less                         rounding: said once, and spread

Rounding is spread by least squares, minimise sum ((d - L) / give)^2, over distances that do
not hold; those that hold are kept, unless they close a loop among themselves.

Runs that share no mark may be tied by a slanted face that has marks of both (bridges): such a tie is no
distance, and where the sentence of the slope does not say which way it goes, that is told.

`(equal)` distances of one run share one value e. Where two marks of the run are tied already,
the stretch between them gives  e = (overall - the rest) / count.  This is repeated until
nothing new comes out, since one value may lead to another.

When it fails: no positions are returned, and `problems` says why.

Not here: several copies of a part, mirrored ones (stock); parts against each other (place).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import combinations
from typing import TYPE_CHECKING

from fitsolve.build.language import FREE, Conditions, Misread, Run, Step
from fitsolve.build.locate import Spot
from fitsolve.errors import Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, replace
from fitsolve.written import write_length

if TYPE_CHECKING:
    from fitsolve.build.bridges import Bridge

_MISPRINTS_MOST = 10


@dataclass(frozen=True, slots=True)
class Rules:
    """What of a plan's head counts for sums: the unit, the finest line, the usual give (mm)."""

    unit: Unit
    finest: Fraction
    give: Fraction | None


@dataclass(frozen=True, slots=True)
class Reach:
    """A distance of the axis, once for each pair of marks; marks are numbers within the axis."""

    start: int
    end: int
    length: Fraction
    conditions: Conditions
    spot: Spot
    step: Step


@dataclass(frozen=True, slots=True)
class Axle:
    """An axis of a part worked out: its marks in the order met, where they lie (mm from the
    first), its distances, and its runs as numbers of marks."""

    marks: tuple[str, ...]
    at: tuple[Fraction, ...]
    reaches: tuple[Reach, ...]
    runs: tuple[tuple[int, ...], ...]


@dataclass(slots=True)
class Tie:
    """One distance as it stands in a run; `pair` is the number of its reach, once it has one."""

    run: int
    step: int
    start: int
    end: int
    length: Fraction
    pair: int = -1


def add_up(
    part: str,
    axis: str,
    runs: Sequence[tuple[Run, Spot]],
    rules: Rules,
    problems: list[Problem],
    bridges: Sequence[Bridge] = (),
) -> Axle | None:
    """Return the marks of one axis and where they lie, or None where the runs don't add up."""
    sums = Sums(part, axis, runs, rules, problems, bridges)
    before = _errors(problems)
    axle = sums.axle()
    return axle if _errors(problems) == before else None


def _errors(problems: list[Problem]) -> int:
    return sum(problem.level == "error" for problem in problems)


class Sums:
    """The runs of one axis on their way to positions."""

    def __init__(
        self,
        part: str,
        axis: str,
        runs: Sequence[tuple[Run, Spot]],
        rules: Rules,
        problems: list[Problem],
        bridges: Sequence[Bridge] = (),
    ) -> None:
        self.bridges = bridges
        self.part, self.axis, self.runs, self.rules, self.problems = part, axis, runs, rules, problems
        self.names: dict[str, int] = {}
        self.run_marks = tuple(
            tuple(self.names.setdefault(mark.text, len(self.names)) for mark in run.marks) for run, _ in runs
        )
        self.listed = list(self.names)
        self.root = list(range(len(self.names)))
        self.lean: list[list[Tie]] = [[] for _ in self.names]
        self.ties: list[Tie] = []
        self.closing: list[Tie] = []
        self.over: list[Tie] = []
        self.up: list[Tie | None] = []
        self.depth: list[int] = []
        self.at: list[Fraction] = []
        self.reaches: list[Reach] = []

    def axle(self) -> Axle | None:
        """Return the axis worked out, or None where its runs do not hang together."""
        waiting = []
        for number, (run, _) in enumerate(self.runs):
            for k, step in enumerate(run.steps):
                if step.length is not None:
                    self.tie(number, k, step.length)
            if any(step.length is None for step in run.steps):
                waiting.append(number)
        if self.bridges:
            self.bridge()
        if waiting and not self.equals(waiting):
            return None
        if not self.all_tied():
            return None
        self.positions()
        self.gather()
        self.close_loops()
        return Axle(tuple(self.names), tuple(self.at), tuple(self.reaches), self.run_marks)

    # -- ties ----------------------------------------------------------------------------

    def find(self, mark: int) -> int:
        """Return the mark that stands for all that are tied to this one."""
        root = self.root
        while root[mark] != mark:
            root[mark] = root[root[mark]]
            mark = root[mark]
        return mark

    def tie(self, run: int, step: int, length: Fraction) -> None:
        """Add a distance of a run; one that closes a loop is kept to be compared."""
        marks = self.run_marks[run]
        tie = Tie(run, step, marks[step], marks[step + 1], length)
        self.ties.append(tie)
        a, b = self.find(tie.start), self.find(tie.end)
        if a == b:
            self.closing.append(tie)
            return
        self.root[b] = a
        self.lean[tie.start].append(tie)
        self.lean[tie.end].append(tie)

    def bridge(self) -> None:
        """Tie runs that share no mark along the slanted faces that have marks of both."""
        self.positions()
        for number, bridge in enumerate(self.bridges):
            (first, run), *others = ((self.names[name], along) for name, along in bridge.points)
            ratio = self.ratio(bridge)
            for other, along in others:
                if self.find(first) != self.find(other):
                    self.tie_over(-1 - number, (first, other), ratio * (along - run))
                    if not bridge.signed:
                        self.problems.append(bridge.unsaid)

    def ratio(self, bridge: Bridge) -> Fraction:
        """Return rise over run: where no word says which way it goes, as two of its marks lie that runs tie."""
        if bridge.signed:
            return bridge.ratio
        for (a, run), (b, along) in combinations(bridge.points, 2):
            one, other = self.names[a], self.names[b]
            if along != run and self.find(one) == self.find(other) and self.at[one] != self.at[other]:
                return bridge.ratio if (self.at[other] > self.at[one]) == (along > run) else -bridge.ratio
        return bridge.ratio

    def tie_over(self, run: int, ends: tuple[int, int], length: Fraction) -> None:
        """Tie two marks of runs that did not hang together; it closes no loop, and is no distance."""
        tie = Tie(run, 0, *ends, length)
        self.root[self.find(ends[1])] = self.find(ends[0])
        for end in ends:
            self.lean[end].append(tie)
        self.over.append(tie)

    def positions(self) -> None:
        """Where every mark lies along the ties that close no loop; pieces not tied start at 0."""
        count = len(self.names)
        at: list[Fraction | None] = [None] * count
        self.up, self.depth = [None] * count, [0] * count
        for first in range(count):
            if at[first] is not None:
                continue
            at[first] = Fraction(0)
            queue = [first]
            for mark in queue:
                here = at[mark]
                assert here is not None
                for tie in self.lean[mark]:
                    other, step = (tie.end, tie.length) if tie.start == mark else (tie.start, -tie.length)
                    if at[other] is None:
                        at[other] = here + step
                        self.up[other], self.depth[other] = tie, self.depth[mark] + 1
                        queue.append(other)
        self.at = [place for place in at if place is not None]

    def all_tied(self) -> bool:
        """Whether all runs hang together; if not, it is said which does not."""
        whole = self.find(0)
        loose: set[int] = set()
        for number, marks in enumerate(self.run_marks):
            root = self.find(marks[0])
            if root == whole or root in loose:
                continue
            loose.add(root)
            run, spot = self.runs[number]
            first = self.runs[0][0].marks
            what = (
                f"nothing says where {run.marks[0].text} lies along {self.axis} of part.{self.part}: "
                f"this run shares no mark with the one that begins at {first[0].text}"
            )
            hint = f"Tie one of its marks to {first[0].text}, as in: {first[0].text} 4 {run.marks[0].text}"
            mark = run.marks[0]
            hint = self.slope_so_far(run) or hint
            self.problems.append(spot.problem(what, hint, mark.column, mark.width))
        return not loose

    def slope_so_far(self, run: Run) -> str:
        """Return what to do where a mark of a run stands beyond the slope of its face; else nothing."""
        for bridge in self.bridges:
            bases = {name.partition("@")[0] for name, _ in bridge.points}
            mark = next((one.text for one in run.marks if one.text.partition("@")[0] in bases), None)
            if mark is not None:
                return f"Its face has a slope ({bridge.spot.text}), which does not reach {mark}: say it so far."
        return ""

    # -- (equal) -----------------------------------------------------------------------------

    def equals(self, waiting: list[int]) -> bool:
        """Work out the equal distances; false where one cannot be, which has been said."""
        fine = True
        while waiting:
            self.positions()
            found = []
            for number in waiting:
                each = self.equal_of(number)
                if each is None:
                    continue
                found.append(number)
                fine = fine and each > 0
                for k, step in enumerate(self.runs[number][0].steps):
                    if step.length is None:
                        self.tie(number, k, each)
            if not found:
                break
            waiting = [number for number in waiting if number not in set(found)]
        for number in waiting:
            run, spot = self.runs[number]
            step = next(step for step in run.steps if step.length is None)
            first, last = self.equal_ends(run)
            what = "nothing says how long the equal distances are together"
            hint = f"Give it overall in a run of its own, as in: {first} 12 {last}"
            self.problems.append(spot.problem(what, hint, step.column, step.width))
        return fine and not waiting

    @staticmethod
    def equal_ends(run: Run) -> tuple[str, str]:
        """The marks just outside the equal distances of a run."""
        equal = [k for k, step in enumerate(run.steps) if step.length is None]
        return run.marks[equal[0]].text, run.marks[equal[-1] + 1].text

    def equal_of(self, number: int) -> Fraction | None:
        """The value of the equal distances of a run, from two of its marks that are tied already."""
        run, spot = self.runs[number]
        marks = self.run_marks[number]
        last_seen: dict[int, int] = {}
        count, rest = 0, Fraction(0)
        counts, rests = [0], [Fraction(0)]
        for k, mark in enumerate(marks):
            if k:
                length = run.steps[k - 1].length
                count += length is None
                rest += length or 0
                counts.append(count)
                rests.append(rest)
            root = self.find(mark)
            before = last_seen.get(root)
            if before is not None and counts[before] < count:
                overall = self.at[mark] - self.at[marks[before]]
                return self.shared(spot, run, (before, k), overall, rest - rests[before], count - counts[before])
            last_seen[root] = k
        return None

    def shared(
        self, spot: Spot, run: Run, ends: tuple[int, int], overall: Fraction, rest: Fraction, count: int
    ) -> Fraction:
        """What is left for each of the equal distances; said where nothing is."""
        each = (overall - rest) / count
        if each <= 0:
            first, last = (run.marks[k].text for k in ends)
            what = (
                f"nothing is left for the equal distances: from {first} to {last} it is "
                f"{self.length(overall)}, and the other distances take {self.length(rest)}"
            )
            step = next(step for step in run.steps[ends[0] :] if step.length is None)
            hint = "One of these lengths is a misprint: correct it, then run again."
            self.problems.append(spot.problem(what, hint, step.column, step.width))
        return each

    def length(self, mm: Fraction) -> str:
        """Return a length as a message writes it."""
        return write_length(mm, self.rules.unit, marked=True)

    # -- distances -----------------------------------------------------------------------------

    def gather(self) -> None:
        """The distances, each pair of marks once, with the conditions of all its runs."""
        pairs: dict[tuple[int, int], int] = {}
        for tie in sorted(self.ties, key=lambda tie: (tie.run, tie.step)):
            run, spot = self.runs[tie.run]
            step = run.steps[tie.step]
            key = (tie.start, tie.end) if tie.start < tie.end else (tie.end, tie.start)
            if key in pairs:
                tie.pair = pairs[key]
                old = self.reaches[tie.pair]
                self.reaches[tie.pair] = replace(old, conditions=self.merged(old, step, spot))
            else:
                tie.pair = pairs[key] = len(self.reaches)
                self.reaches.append(Reach(tie.start, tie.end, tie.length, step.conditions, spot, step))
        for reach in self.reaches:
            if reach.conditions.limits is not None:
                self.within_limits(reach)

    def merged(self, old: Reach, step: Step, spot: Spot) -> Conditions:
        """The conditions of a distance that stands in two runs; a condition on one only is fine."""
        new = step.conditions
        if new == FREE or new == old.conditions:
            return old.conditions
        mine = old.conditions
        clash = ""
        for what in ("give", "finest", "limits"):
            a, b = getattr(mine, what), getattr(new, what)
            if a is not None and b is not None and a != b:
                clash = what
        for a, b in ((mine, new), (new, mine)):
            if a.hold and (b.give is not None or b.limits is not None):
                clash = "hold"
        if clash:
            what = (
                f"the distance from {self.name(old.start)} to {self.name(old.end)} stands in two runs "
                f"with different conditions ({clash})"
            )
            hint = f"The other is in {old.spot.name()}. Write the condition once."
            self.problems.append(spot.problem(what, hint, step.column, step.width))
            return mine
        return Conditions(
            mine.give if new.give is None else new.give,
            mine.hold or new.hold,
            mine.finest if new.finest is None else new.finest,
            mine.limits if new.limits is None else new.limits,
        )

    def within_limits(self, reach: Reach) -> None:
        """Say it where a plan distance lies outside its own limits."""
        low, high = reach.conditions.limits or (Fraction(0), Fraction(0))
        if not low <= reach.length <= high:
            what = (
                f"the plan distance from {self.name(reach.start)} to {self.name(reach.end)} is "
                f"{self.length(reach.length)}, outside its own limits: "
                f"{self.length(low)} to {self.length(high)}"
            )
            hint = "Correct the length or the limits."
            step = reach.step
            self.problems.append(reach.spot.problem(what, hint, step.column, step.width, "warning"))

    def name(self, mark: int) -> str:
        """Return the name of a mark of the axis."""
        return self.listed[mark]

    def spot_of(self, run: int) -> Spot:
        """Return where a run stands in the plan."""
        return self.runs[run][1] if run >= 0 else self.bridges[-1 - run].spot

    # -- loops -----------------------------------------------------------------------------------

    def close_loops(self) -> None:
        """Compare every tie that closes a loop with the way round; spread what is mere rounding."""
        roundings: list[tuple[Fraction, Tie]] = []
        misprints = 0
        for tie in self.closing:
            off = tie.length - (self.at[tie.end] - self.at[tie.start])
            if off == 0:
                continue
            if abs(off) >= self.rules.finest / 2:
                misprints += 1
                if misprints <= _MISPRINTS_MOST:
                    from fitsolve.build.misprints import misprint

                    self.problems.append(misprint(self, tie))
            else:
                roundings.append((abs(off), tie))
        if misprints > _MISPRINTS_MOST:
            what = f"{misprints - _MISPRINTS_MOST} more sums along {self.axis} of part.{self.part} don't agree"
            self.problems.append(self.runs[0][1].problem(what, "They may all come from one misprint."))
        if roundings and not misprints:
            self.round_off(roundings)

    def round_off(self, roundings: list[tuple[Fraction, Tie]]) -> None:
        """Say that the runs differ by rounding, once, and spread it."""
        most, tie = max(roundings, key=lambda rounding: rounding[0])
        what = (
            f"the runs of part.{self.part} along {self.axis} differ by {self.length(most)}, below half of "
            f"finest ({self.length(self.rules.finest)}): taken as rounding, and spread"
        )
        spot = self.runs[tie.run][1]
        self.problems.append(spot.problem(what, level="notice"))
        edges: list[tuple[int, int, Fraction, float | None]] = []
        edges += [(one.start, one.end, one.length, None) for one in self.over]
        for one in self.ties:
            conditions = self.reaches[one.pair].conditions
            give = conditions.give or self.rules.give or Fraction(1)
            edges.append((one.start, one.end, one.length, None if conditions.hold else float(give)))
        from fitsolve.build.spread import spread

        self.at = spread(self.at, edges)
        for number, reach in enumerate(self.reaches):
            length = self.at[reach.end] - self.at[reach.start]
            if length < 0:
                reach = replace(reach, start=reach.end, end=reach.start)
                length = -length
            self.reaches[number] = replace(reach, length=length)

    def way(self, start: int, end: int) -> list[Tie]:
        """Return the ties from one mark to another, along those that close no loop, in order."""
        ahead: list[Tie] = []
        back: list[Tie] = []
        while start != end:
            if self.depth[start] >= self.depth[end]:
                tie = self.up[start]
                assert tie is not None, "both marks hang together"
                ahead.append(tie)
                start = tie.end if tie.start == start else tie.start
            else:
                tie = self.up[end]
                assert tie is not None, "both marks hang together"
                back.append(tie)
                end = tie.end if tie.start == end else tie.start
        return ahead + back[::-1]


def misread_problems(spot: Spot, wrong: list[Misread]) -> list[Problem]:
    """Return what could not be read in one text, as problems."""
    return [spot.problem(one.what, one.hint, one.column, one.width) for one in wrong if not one.silent]
