"""Wanted: the readings that would settle what is made and not yet read, in walking order.

No numbers are solved for: which distances readings settle is a matter of counting (freedom). A
distance is wanted when both its marks are made and no reading settles it; each one wanted counts as
read for those after it, so that four distances of a run that three would settle ask for three.

    on a part       plan distances of made wood that no reading settles, between marks that still count
                    for something (an open joint, a keep, a check) and from its reference end; not
                    what a closed joint hides. Then the holes of its pegs, and the spans of checks
                    that lie on it
    between parts   the spans of a check, the sides of a square, and how far apart the pieces stand
                    that a part still to be made goes over or between, once those pieces are set up:
                    joined to something, or meant for one part only; of a check, for parts of one kind
    across          the diagonals of a square, once its corners are set up

Order: part by part as in the plan, on a part the small tools first; what lies between parts last.
What a check needs beyond that, leans and heights, has a side that it leans to and so no tag: it is
listed by itself (of_checks).

Not here: which reading is doubtful (doubts), how it is asked for (cli).
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from fitsolve.build.assembly import AXES, Assembly, Frame, Rule
from fitsolve.build.history import MarkState, State
from fitsolve.build.points import planned_apart, point_name
from fitsolve.build.reference import reference_ends
from fitsolve.build.rulevalues import rule_values
from fitsolve.findings.solved import Solved, Terms
from fitsolve.findings.values import MissingReading
from fitsolve.graph import make_graph, measured_rows
from fitsolve.light import cached_property, dataclass
from fitsolve.rows import Network, RowList
from fitsolve.solve.freedom import Freedom
from fitsolve.solve.turning import counted, counted_rows

IN_A_ROW_MM = 1.0
"""Pieces that begin within this of each other along an axis stand side by side, not one behind the other."""

SMALL_MM = 160.0
"""What a caliper of the usual length spans, 6 in or 150 mm, and a little more. Common practice, no source."""


@dataclass(frozen=True)
class WantedReading:
    """A reading that is wanted: how far mark `end` is from mark `start` (numbers); `part` is empty
    between parts; `plan_mm` is None where the plan does not tie the two. A diagonal goes from one point to
    another: `names` are what they are called, `start` and `end` the first mark of each."""

    part: str
    start: int
    end: int
    plan_mm: float | None
    event: str = "reading"
    names: tuple[str, str] = ("", "")


def wanted_readings(assembly: Assembly, state: State) -> tuple[WantedReading, ...]:
    """Return the readings wanted now."""
    return tuple(_Wanting(assembly, state).all())


def of_checks(assembly: Assembly, state: State) -> tuple[tuple[Rule, tuple[MissingReading, ...]], ...]:
    """Return by check what it needs that is no span and no diagonal: leans, and heights by sticks or by readings."""
    return tuple(_Wanting(assembly, state).of_checks())


def readings_of_parts(assembly: Assembly, state: State, parts: Iterable[str]) -> tuple[WantedReading, ...]:
    """Return what there is to read on these parts, as if they were made, whatever was read before."""
    wanting = _Wanting(assembly, state, blank=True)
    return tuple(one for part in parts for one in wanting.of_part(part, unmade=True))


def left_on_part(assembly: Assembly, state: State, part: str) -> tuple[WantedReading, ...]:
    """Return what of a part no reading settles yet, made or not."""
    return tuple(_Wanting(assembly, state).of_part(part, unmade=True))


def awaited(solved: Solved, parts: Iterable[str]) -> dict[str, tuple[WantedReading, ...]]:
    """Return the readings that what each part has still to be cut to waits for: the widths of the made pieces
    that its uncut housings go over, and how far apart these stand. Each could be taken now, and was not."""
    wanting = _Wanting(solved.assembly, solved.state, network=solved.graph.network)
    return {part: wanting.awaited(part) for part in parts}


class _Wanting:
    def __init__(
        self, assembly: Assembly, state: State, blank: bool = False, network: Network | None = None
    ) -> None:
        self.assembly, self.state = assembly, state
        self.freedom = Freedom(len(assembly.marks))
        self.network = network
        if network is not None:
            self.freedom.tie(counted_rows(network))
        elif not blank:
            self.freedom.tie(counted(*measured_rows(assembly, state)))
        self.live = self._live() if not blank else set(range(len(assembly.marks)))
        self.distances: dict[str, list[int]] = defaultdict(list)
        for number, distance in enumerate(assembly.distances):
            self.distances[distance.part].append(number)

    def all(self) -> Iterator[WantedReading]:
        spans: dict[tuple[str, ...], list[tuple[int, int]]] = defaultdict(list)
        for start, end in (*self._spans_of_pegs(), *self._spans_of_checks()):
            spans[tuple(dict.fromkeys((self._part(start), self._part(end))))].append((start, end))
        for part in self.assembly.parts:
            yield from self.of_part(part)
            for start, end in spans.pop((part,), ()):
                yield from self._along(start, end, part)
        for parts, pairs in spans.items():
            for start, end in pairs if all(map(self._meant_for_one_kind, parts)) else ():
                yield from self._along(start, end)
        yield from self._of_mates()
        yield from dict.fromkeys(self._diagonals())

    def of_part(self, part: str, unmade: bool = False) -> list[WantedReading]:
        found = []
        for number in self.distances[part]:
            distance = self.assembly.distances[number]
            ends = {distance.start, distance.end}
            if unmade or (all(map(self._made, ends)) and ends <= self.live):
                found += self._ask(part, distance.start, distance.end, distance.plan_mm)
        return sorted(found, key=lambda one: (one.plan_mm or 0.0) > SMALL_MM)

    def _live(self) -> set[int]:
        """The marks that a joint, a keep or a check still asks for, and the reference ends; none that are hidden."""
        hidden: set[int] = set()
        live: set[int] = set()
        for contact in self.assembly.contacts:
            closed = contact.joint in self.state.closed
            (hidden if closed else live).update(contact.marks)
        for rule in (*self.assembly.keeps, *self.assembly.checks):
            live.update(rule.every_mark)
        ends = set(reference_ends(self.assembly).values())
        return live | (ends - hidden)

    def _made(self, mark: int) -> bool:
        return self.state.marks[mark] == MarkState.MADE

    def _ask(self, part: str, start: int, end: int, plan_mm: float | None) -> list[WantedReading]:
        """Want it unless it is settled; from then on it counts as read."""
        row = [(end, 1.0), (start, -1.0)]
        if self.freedom.settled(row):
            return []
        rows = RowList()
        rows.add(row, 0.0, 1.0)
        self.freedom.tie(rows.rows())
        return [WantedReading(part, start, end, plan_mm)]

    def _along(self, a: int, b: int, part: str = "") -> list[WantedReading]:
        """Want how far apart two marks are, of one part or of two, from the lower to the higher."""
        marks, placed = self.assembly.marks, self.assembly.placed
        if placed[a] != placed[b]:
            return self._ask(part, a, b, None)
        start, end = (a, b) if marks[a].plan_mm <= marks[b].plan_mm else (b, a)
        plan = marks[end].plan_mm - marks[start].plan_mm
        return self._ask(part, start, end, plan) if plan > 0 else []

    def _spans_of_pegs(self) -> Iterator[tuple[int, int]]:
        """The holes of pegs that are not driven yet, each from what it is laid out from: by the mortise's the tenon's
        is bored, and by both it is told whether the peg draws."""
        for peg in self.assembly.pegs:
            if self.state.closed.get(peg.joint) != "glued":
                for pair in ((peg.face, peg.hole), (peg.shoulder, peg.tenon_hole)):
                    if all(map(self._made, pair)):
                        yield pair

    def _spans_of_checks(self) -> Iterator[tuple[int, int]]:
        """The spans of checks, and the sides of squares, of which a value of made wood is not settled."""
        plan = [mark.plan_mm for mark in self.assembly.marks]
        for check in self.assembly.checks:
            for terms, _ in rule_values(check, plan):
                if self.freedom.settled(terms) or not all(self._made(mark) for mark, _ in terms):
                    continue
                yield from ((span.start, span.end) for span in check.spans)
                from fitsolve.findings.missing import diagonals_unread, sides

                if check.frame is not None and (
                    check.kind == "taper"
                    or (check.kind == "rack" and not diagonals_unread(self.state, check.frame.marks))
                ):
                    yield from sides(check.frame.marks)

    @cached_property
    def _with_plan(self) -> Freedom:
        """What readings and the plan distances of made wood settle together."""
        freedom = Freedom(len(self.assembly.marks))
        network = self.network or make_graph(self.assembly, self.state).network
        freedom.tie(counted_rows(network))
        freedom.tie(network.planned)
        return freedom

    def _settled(self, terms: Terms, by_reading: bool) -> bool:
        """Whether something fixes a sum; where `by_reading`, whether readings do."""
        return (self.freedom if by_reading else self._with_plan).settled(terms)

    def _open_frames(self) -> Iterator[tuple[Rule, Frame]]:
        """The checks of the frame that come to no number yet, of made wood that is set up."""
        plan = [mark.plan_mm for mark in self.assembly.marks]
        for check in self.assembly.checks:
            if check.frame is None or not all(map(self._made, check.every_mark)):
                continue
            parts = {self._part(mark) for mark in check.every_mark}
            if len(parts) > 1 and not all(map(self._meant_for_one_kind, parts)):
                continue
            if not all(self._settled(terms, check.frame.read) for terms, _ in rule_values(check, plan)):
                yield check, check.frame

    def _diagonals(self) -> Iterator[WantedReading]:
        from fitsolve.findings.missing import diagonals_unread

        for check, frame in self._open_frames():
            for points in diagonals_unread(self.state, frame.marks) if check.kind == "rack" else ():
                names = (point_name(self.assembly, points[0]), point_name(self.assembly, points[1]))
                parts = {self._part(mark) for point in points for mark in point}
                part = parts.pop() if len(parts) == 1 else ""
                plan = planned_apart(self.assembly, zip(*points, strict=True))
                yield WantedReading(part, points[0][0], points[1][0], plan, "diagonal", names)

    def of_checks(self) -> Iterator[tuple[Rule, tuple[MissingReading, ...]]]:
        from fitsolve.findings.missing import Known, missing_of

        known = Known(self.assembly, self.state, self._settled)
        for check, _ in self._open_frames():
            if check.kind not in ("rack", "taper") and (missing := missing_of(known, check)):
                yield check, missing

    def _part(self, mark: int) -> str:
        return self.assembly.marks[mark].part

    def _of_mates(self) -> Iterator[WantedReading]:
        """How far apart the pieces stand that a part still to be made goes over or between."""
        for part in self.assembly.parts:
            for mates in self._mates(part).values():
                yield from self._between(mates)

    def awaited(self, part: str) -> tuple[WantedReading, ...]:
        found: dict[WantedReading, None] = {}
        for mates in self._mates(part).values():
            for other, marks in mates.items():
                for start, end in zip(marks[::2], marks[1::2], strict=True):
                    if not self.freedom.settled([(end, 1.0), (start, -1.0)]):
                        plan = self.assembly.marks[end].plan_mm - self.assembly.marks[start].plan_mm
                        found[WantedReading(other, start, end, plan)] = None
            found.update(dict.fromkeys(self._between(mates)))
        return tuple(found)

    def _between(self, mates: Mapping[str, list[int]]) -> Iterator[WantedReading]:
        """From each piece to the one that faces it in the next row of pieces: a rod goes straight across."""
        marks = self.assembly.marks
        at = {other: min(marks[mark].plan_mm for mark in mates[other]) for other in mates}
        rows: list[list[str]] = []
        for other in sorted(mates, key=lambda one: at[one]):
            if rows and at[other] - at[rows[-1][0]] <= IN_A_ROW_MM:
                rows[-1].append(other)
            else:
                rows.append([other])
        for nearer, farther in itertools.pairwise(rows):
            for second in farther:
                axis = marks[mates[second][0]].axis
                first = min(nearer, key=lambda one: self._aside((one, nearer), (second, farther), axis))
                if self._set_up(first) and self._set_up(second):
                    yield from self._facing(mates[first], mates[second])

    def _aside(self, one: tuple[str, list[str]], other: tuple[str, list[str]], axis: str) -> float:
        """How far two parts, each with the row it stands in, are from straight across each other, by the plan;
        where that does not tie the two, by where each of them stands in its row."""
        ends, placed = self.assembly.outer_ends, self.assembly.placed
        aside = 0.0
        for across in AXES:
            first, second = ends.get((one[0], across)), ends.get((other[0], across))
            if across == axis or first is None or second is None:
                continue
            middles = [self._middle(part, across) for part in (one[0], other[0])]
            if placed[first[0]] != placed[second[0]]:
                for k, (_, row) in enumerate((one, other)):
                    middles[k] -= sum(self._middle(part, across) for part in row) / len(row)
            aside += abs(middles[0] - middles[1])
        return aside

    def _middle(self, part: str, axis: str) -> float:
        """The middle of a part along an axis, by the plan; 0 where it has no marks along it."""
        low, high = self.assembly.outer_ends.get((part, axis), (None, None))
        if low is None or high is None:
            return 0.0
        return (self.assembly.marks[low].plan_mm + self.assembly.marks[high].plan_mm) / 2

    def _mates(self, part: str) -> Mapping[str, dict[str, list[int]]]:
        """By axis and part, the made marks that this part's uncut marks are to meet in open housings."""
        found: dict[str, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
        for contact in (self.assembly.contacts[number] for number in self.assembly.contacts_of[part]):
            if contact.kind != "housing" or contact.joint in self.state.closed:
                continue
            own = [mark for mark in contact.marks if self._part(mark) == part]
            others = [mark for mark in contact.marks if self._part(mark) != part]
            if own and not all(map(self._made, own)) and all(map(self._made, others)):
                found[contact.axis][self._part(others[0])] += others
        return found

    def _facing(self, first: list[int], second: list[int]) -> list[WantedReading]:
        """From the far side of the lower piece to the near side of the higher: what stands between them."""
        marks = self.assembly.marks
        if any(not self.freedom.contract([(a, 1.0), (b, -1.0)]) for a in first for b in second):
            return []
        a = max(first, key=lambda mark: marks[mark].plan_mm)
        b = min(second, key=lambda mark: marks[mark].plan_mm)
        return self._along(a, b) if marks[a].plan_mm < marks[b].plan_mm else []

    def _set_up(self, part: str) -> bool:
        """Whether a part stands where it will: joined to something, or meant for one part alone, so that nothing else
        can put it there. A rail between two legs gets its place from their mortises: loose, it has none."""
        others = set()
        for number in self.assembly.joints_of[part]:
            if number in self.state.closed:
                return True
            others |= {other for other in self.assembly.joints[number].parts if other != part}
        return len(others) <= 1

    def _meant_for_one_kind(self, part: str) -> bool:
        """Whether what a check is about stands where it will: set up, or meant for parts of one kind only, as legs for
        two aprons. That it is checked says that it can be read."""
        kinds = {
            other.partition(".")[0]
            for number in self.assembly.joints_of[part]
            for other in self.assembly.joints[number].parts
            if other != part
        }
        return self._set_up(part) or len(kinds) <= 1
