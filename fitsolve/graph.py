"""Graph: the plan and what the history leaves true, as rows over marks.

Marks are nodes; runs, readings and contacts are edges; the loops are where errors meet. What
comes out is arrays only (`fitsolve.rows`), each row knowing which reading, distance, contact
or rule it came from. All values are deviations from the plan, in millimetres.

    measured   stage 1: readings, and closed contacts            scale u (k = 1)
    planned    stage 2: distances whose two ends exist, at plan
               or at what they were cut to, slopes               scale workmanship / 2
    wishes     tier 1: distances with an uncut end and a give, gaps of open contacts, soft keeps
    late       tier 2: distances with an uncut end and no give
    holds      uncut distances that may not drift, slopes still to be cut
    bounds     limits of distances and keeps, fits of open contacts, what a rough mark still is

What the readings of a tool share is unknown too: its zero (mm) and its scale (mm in a metre), each
0 give or take the u it is given. A reading of length r then says
x_end - x_start + s (zero + r / 1000 scale) = s r.  What it adds stands beside the rows
(`rows.Shared`), not in them.

Not here: any arithmetic on the rows (solve), any text (report).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from itertools import accumulate, pairwise
from typing import Literal

import numpy as np
import numpy.typing as npt

from fitsolve.build.assembly import Assembly, Contact, Distance
from fitsolve.build.laying import Laying
from fitsolve.build.readings import Reading, RoughBound
from fitsolve.build.reference import reference_ends, start_of
from fitsolve.build.rulevalues import held_values, rule_values, span_terms
from fitsolve.build.state import MarkState, State
from fitsolve.build.terms import merged as merged
from fitsolve.light import dataclass
from fitsolve.rows import Bounds, Cuts, Flags, Ints, Network, RowList, Rows, Shared

CLOSED_BUTT_U_MM = 0.05
"""A closed shoulder stands within 0.1 mm (k = 2) of its face unless a gap was read. A joint
line of 0.1 mm hides: common practice, no source."""

LEAST_HOUSING_PLAY_MM = 0.1
"""A closed housing is centred within at least this much play, whatever its fit says."""


@dataclass(frozen=True)
class Source:
    """Where a row comes from: `kind` names the list, `number` the place in it."""

    kind: str
    number: int
    part: int = 0


@dataclass(frozen=True)
class SharedError:
    """What all readings of a tool share: its "zero", mm, or its "scale", mm in a metre, with the
    standard uncertainty it is given."""

    tool: str
    term: Literal["zero", "scale"]
    u: float


@dataclass(frozen=True)
class Graph:
    """The network of rows, and for each list of rows where each of them comes from. `shared`
    are the errors in the order of the network's."""

    network: Network
    measured: tuple[Source, ...]
    planned: tuple[Source, ...]
    wishes: tuple[Source, ...]
    late: tuple[Source, ...]
    holds: tuple[Source, ...]
    bounds: tuple[Source, ...]
    shared: tuple[SharedError, ...] = ()


def distance_terms(distance: Distance) -> list[tuple[int, float]]:
    """A distance as a row, positive the way its run was written."""
    return [(distance.end, float(distance.sign)), (distance.start, -float(distance.sign))]


def gap_terms(contact: Contact) -> tuple[list[tuple[int, float]], ...]:
    """The gaps of a contact as rows; see `Contact.gaps`."""
    return contact.gaps


def clearance_terms(contact: Contact) -> list[tuple[int, float]]:
    """The clearance of a contact as a row: the sum of its gaps."""
    return [term for gap in contact.gaps for term in gap]


class _Maker:
    """Builds the lists of rows, one method a list."""

    def __init__(self, assembly: Assembly, state: State) -> None:
        self.assembly = assembly
        self.state = state
        self.plan = [mark.plan_mm for mark in assembly.marks]
        there = MarkState.MADE
        self.made = [mark == there for mark in state.marks]
        self.lists: dict[str, RowList] = defaultdict(RowList)
        self.sources: dict[str, list[Source]] = defaultdict(list)
        self.low: list[float] = []
        self.high: list[float] = []
        self.relaxable: list[bool] = []
        self.turning: list[int] = []
        self.shared: dict[tuple[str, str], SharedError] = {}
        self.shared_by: list[tuple[int, int, float]] = []
        self.bound_shared_by: list[tuple[int, int, float]] = []

    def planned_value(self, terms: list[tuple[int, float]]) -> float:
        plan = self.plan
        if len(terms) == 2:  # one rounding, as in a sum of more
            (one, first), (other, second) = terms
            return first * plan[one] + second * plan[other]
        return math.fsum([coef * plan[mark] for mark, coef in terms])

    def add(self, name: str, terms: list[tuple[int, float]], value: float, scale: float, source: Source) -> None:
        """A row of list `name` whose sum shall be `value` (not a deviation)."""
        self.lists[name].add(terms, value - self.planned_value(terms), scale)
        self.sources[name].append(source)

    def bound(self, terms: list[tuple[int, float]], limits: tuple[float, float], scale: float, source: Source) -> None:
        """A bound low <= sum <= high (not deviations)."""
        at_plan = self.planned_value(terms)
        self.lists["bounds"].add(terms, 0.0, scale)
        self.sources["bounds"].append(source)
        self.low.append(limits[0] - at_plan)
        self.high.append(limits[1] - at_plan)
        self.relaxable.append(source.kind != "rough")

    # -- stage 1 ------------------------------------------------------------------------

    def shared_terms(self, by: Reading | RoughBound, row: int, length_mm: float) -> list[tuple[int, int, float]]:
        """What the tool of a row adds to its length (signed as the row is): (row, column, coefficient)."""
        terms = []
        if by.zero_u_mm > 0:
            terms.append((row, self.shared_column(by.tool, "zero", by.zero_u_mm), math.copysign(1.0, length_mm)))
        if by.scale_u > 0:
            terms.append((row, self.shared_column(by.tool, "scale", 1000 * by.scale_u), length_mm / 1000))
        return terms

    def shared_column(self, tool: str, term: Literal["zero", "scale"], u: float) -> int:
        """The number of what a tool's readings share."""
        if (tool, term) not in self.shared:
            self.shared[tool, term] = SharedError(tool, term, u)
        return list(self.shared).index((tool, term))

    def shared_rows(self) -> Shared | None:
        """All that readings share, as arrays; None where nothing is."""
        if not self.shared:
            return None
        u = np.array([one.u for one in self.shared.values()])
        return Shared(u, *_columns(self.shared_by), *_columns(self.bound_shared_by))

    def measured(self) -> None:
        for number, reading in enumerate(self.state.readings):
            turns = reading.event == "diagonal"  # its marks stand in pairs, with 0 where it has no slant
            terms = list(reading.terms) if turns else merged(list(reading.terms))
            if turns:
                self.turning.append(len(self.sources["measured"]))
            self.shared_by += self.shared_terms(reading, len(self.sources["measured"]), reading.value_mm)
            self.add("measured", terms, reading.value_mm, reading.u_mm, Source("reading", number))
        for joint in sorted(self.state.closed):
            for number in self.assembly.joints[joint].contacts:
                self.closed_contact(number, self.assembly.contacts[number])

    def closed_contact(self, number: int, contact: Contact) -> None:
        """A closed contact is a row like a reading, unless its gap was read. A room closes nothing."""
        if number in self.state.gap_read or contact.kind == "room":
            return
        source = Source("contact", number)
        gaps = gap_terms(contact)
        if contact.kind == "butt":
            self.add("measured", gaps[0], 0.0, CLOSED_BUTT_U_MM, source)
        elif contact.rests:
            self.add("measured", gaps[contact.rests == "high"], 0.0, CLOSED_BUTT_U_MM, source)
        else:
            play = max(contact.most_mm, LEAST_HOUSING_PLAY_MM)
            centred = merged(gaps[0], [(mark, -coef) for mark, coef in gaps[1]])
            self.add("measured", centred, 0.0, play / math.sqrt(3.0), source)

    # -- stage 2 ------------------------------------------------------------------------

    def planned(self) -> None:
        u = self.assembly.workmanship_mm / 2
        counted: set[int] = set()
        found: list[tuple[int, int, Source]] = []
        laying, laid, made = Laying(self.assembly, self.state.laid_from), bool(self.state.laid_from), self.made
        for number, distance in enumerate(self.assembly.distances):
            start, end = distance.start, distance.end
            if not (made[start] and made[end]) or distance.derived:
                continue
            if laid:
                whose = laying.whose(start, end)
                if whose is None:
                    continue
                counted.update(whose)
            found.append((start, end, Source("distance", number)))
        for cut, reference in laying.sizes():
            if cut not in counted and made[cut] and made[reference]:
                found.append((reference, cut, Source("layout", cut)))
        there = [(base, index) for index, base in self.assembly.stations if made[index] and made[base]]
        sloped = self.assembly.sloped_ends
        found += [(base, index, Source("station", index)) for base, index in there if index not in sloped]
        self.planned_rows(found, u)
        tied = _Ties(len(self.plan))
        tied.join([*((start, end) for start, end, _ in found), *there])
        self.bridge_unmade(tied, u)
        self.slopes(u)

    def slopes(self, u: float) -> None:
        """A slope of made wood is plan knowledge, missed as any cut is; where it is still to be cut it is
        cut to that angle, exactly, or as near to it as its give asks for."""
        for number, slope in enumerate(self.assembly.slopes):
            there = slope.as_made(self.made)
            sized = slope.end if slope.placed is None and slope.give_mm is not None else slope.placed
            if there is not None and sized in self.state.laid_from:
                continue  # its end was cut at a size of its own
            if there is not None:
                self.lists["planned"].add(there, -self.planned_value(slope.terms), u * slope.missed_by(self.made))
                self.sources["planned"].append(Source("slope", number))
            elif slope.give_mm is None:
                self.add("holds", slope.terms, 0.0, self.assembly.finest_mm * slope.of, Source("slope", number))
            else:
                self.add("wishes", slope.terms, 0.0, slope.give_mm, Source("slope", number))
        for number, peg in enumerate(self.assembly.pegs):
            made = self.made[peg.tenon_hole]
            if made and peg.tenon_hole in self.state.laid_from:
                continue  # bored at a size of its own: it stays there, whatever is read of the mortise's hole later
            scale = u if made else self.assembly.finest_mm
            terms = [(peg.tenon_hole, 1.0), (peg.shoulder, -1.0), (peg.hole, -1.0), (peg.face, 1.0)]
            self.add("planned" if made else "holds", terms, -peg.way * peg.draw_mm, scale, Source("peg", number))

    def planned_rows(self, found: list[tuple[int, int, Source]], u: float) -> None:
        """Distances start to end at what they were cut to, which is the plan unless `made` said a size."""
        cut_to, rows = self.state.cut_to_mm, self.lists["planned"]
        rows.terms += [term for start, end, _ in found for term in ((end, 1.0), (start, -1.0))]
        rows.start += range(rows.start[-1] + 2, len(rows.terms) + 1, 2)
        rows.value += [cut_to[end] - cut_to[start] for start, end, _ in found]
        rows.scale += [u] * len(found)
        self.sources["planned"] += [source for _, _, source in found]

    def bridge_unmade(self, tied: _Ties, u: float) -> None:
        """Two made marks of a part stay at their distance though a mark between them is uncut: of one run as one
        cut, of two runs each as a cut of its own.

        A made mark cannot move; without this the piece would come apart at the uncut mark.
        Only where nothing else ties them.
        """
        own = [one.terms for one in self.state.readings if not one.across and len(one.terms) == 2]
        tied.join([(start, end) for (start, _), (end, _) in own])
        made, families, root = self.made, self.assembly.families.values(), tied.roots()
        loose = [family for family in families if len({root[one] for one in family if made[one]}) > 1]
        if not loose:
            return
        found: list[tuple[int, int, Source]] = []
        among = {mark for family in loose for mark in family}
        for number, run in enumerate(self.assembly.runs):
            there = [mark for mark in run if made[mark]] if run[0] in among else []
            found += [(*pair, Source("run", number)) for pair in pairwise(there) if tied.tie(*pair)]
        self.planned_rows(found, u)
        placed = {*self.assembly.sloped_ends, *(peg.tenon_hole for peg in self.assembly.pegs)}
        marks, found = self.assembly.marks, []
        for family in loose:
            alone = [one for one in family if made[one] and marks[one].station_of is None and one not in placed]
            there = sorted(alone, key=self.plan.__getitem__)
            found += [(*pair, Source("station", pair[1])) for pair in pairwise(there) if tied.tie(*pair)]
        self.planned_rows(found, u * math.sqrt(2.0))

    # -- what to cut ---------------------------------------------------------------------

    def distances(self) -> None:
        for number, distance in enumerate(self.assembly.distances):
            if distance.derived or (self.made[distance.start] and self.made[distance.end]):
                continue
            terms, source = distance_terms(distance), Source("distance", number)
            plan = distance.sign * (self.plan[distance.end] - self.plan[distance.start])
            if distance.hold:
                size = plan if distance.size_mm is None else distance.size_mm
                self.add("holds", terms, size, self.give_or_usual(distance.give_mm), source)
            elif distance.give_mm is None:
                self.add("late", terms, plan, self.assembly.finest_mm, source)
            else:
                self.add("wishes", terms, plan, distance.give_mm, source)
            if distance.low_mm is not None and distance.high_mm is not None:
                limits = (distance.low_mm, distance.high_mm)
                self.bound(terms, limits, self.give_or_usual(distance.give_mm), source)
        for index, base in self.assembly.stations:
            if index not in self.assembly.sloped_ends and not (self.made[index] and self.made[base]):
                self.add("holds", [(index, 1.0), (base, -1.0)], 0.0, 1.0, Source("station", index))

    def give_or_usual(self, give_mm: float | None) -> float:
        """What a distance without a give of its own is relaxed by, if it must be."""
        return self.assembly.finest_mm if give_mm is None else give_mm

    def open_contacts(self) -> None:
        for number, contact in enumerate(self.assembly.contacts):
            if contact.joint in self.state.closed and contact.kind != "room":
                continue  # closing a joint does not close its rooms
            gaps = gap_terms(contact)
            share = len(gaps)
            band = (contact.most_mm - contact.least_mm) / 2
            for side, gap in enumerate(gaps):
                self.add("wishes", gap, contact.aim_mm / share, band / share, Source("gap", number, side))
                if contact.kind == "housing":
                    limits = (min(0.0, contact.least_mm) / 2, math.inf)
                    self.bound(gap, limits, band / share, Source("gap", number, side))
            limits = (contact.least_mm, contact.most_mm)
            self.bound(contact.clearance, limits, band, Source("contact", number))

    def keeps(self) -> None:
        for number, keep in enumerate(self.assembly.keeps):
            if keep.give_mm is not None:
                for part, (terms, value) in enumerate(rule_values(keep, self.plan)):
                    self.add("wishes", terms, value, keep.give_mm, Source("keep", number, part))
            if keep.held_mm is not None:
                for part, (terms, value) in enumerate(held_values(keep, self.plan)):
                    scale = self.give_or_usual(keep.give_mm)
                    self.add("holds", terms, value + keep.held_mm, scale, Source("keep", number, part))
            if keep.low_mm is not None and keep.high_mm is not None:
                scale = keep.give_mm or max((keep.high_mm - keep.low_mm) / 2, self.assembly.finest_mm)
                for part, span in enumerate(keep.spans):
                    source = Source("keep", number, part)
                    self.bound(span_terms(span), (keep.low_mm, keep.high_mm), scale, source)

    def asked(self) -> Flags | None:
        """Which holds are asked of placements: those of keeps, which tie no wood to wood."""
        flags = np.array([source.kind == "keep" for source in self.sources["holds"]], dtype=bool)
        return flags if flags.any() else None

    def rough(self) -> None:
        for number, bound in enumerate(self.state.rough):
            terms = [(bound.end, float(bound.sign)), (bound.start, -float(bound.sign))]
            self.bound_shared_by += self.shared_terms(bound, len(self.low), bound.most_mm)
            limits = (-math.inf, bound.most_mm)
            self.bound(terms, limits, bound.u_mm, Source("rough", number))

    def bounds(self, uncut: npt.NDArray[np.bool_]) -> Bounds:
        rows = self.lists["bounds"].rows()
        hard = np.bincount(rows.owner(), uncut[rows.mark], len(rows)) > 0
        relaxable = np.array(self.relaxable, dtype=bool) & hard
        return Bounds(rows, np.array(self.low), np.array(self.high), hard, relaxable)

    def judged(self) -> Rows:
        """The clearances of all contacts, then the values of all checks: what verdicts are about."""
        rows = [contact.clearance for contact in self.assembly.contacts]
        rows += [terms for check in self.assembly.checks for terms, _ in rule_values(check, self.plan)]
        start, count = accumulate(map(len, rows), initial=0), len(rows)
        return RowList([*start], [term for terms in rows for term in terms], [0.0] * count, [1.0] * count).rows()

    # -- how cuts miss --------------------------------------------------------------------

    def cuts(self) -> Cuts:
        n = len(self.plan)
        line = self.lines_cut()
        group, side, groups = [-1] * n, [0.0] * n, 0
        for contact in self.assembly.contacts:
            if contact.kind != "housing":
                continue
            for pair in (contact.marks[:2], contact.marks[2:]):
                if not (self.made[pair[0]] or self.made[pair[1]]):
                    low, high = line[pair[0]], line[pair[1]]
                    if low != high and group[low] == group[high] == -1:
                        group[low] = group[high] = groups
                        side[low], side[high] = -1.0, 1.0
                        groups += 1
        uncut = [index for index in range(n) if not self.made[index]]
        for index in uncut:
            if group[line[index]] == -1:
                group[line[index]], groups = groups, groups + 1
        for index in uncut:
            group[index], side[index] = group[line[index]], side[line[index]]
        return Cuts(
            np.array(group, dtype=np.intp),
            np.array(side),
            self.references(),
            self.assembly.workmanship_mm / 2,
            self.assembly.workmanship_width_mm / 2,
        )

    def lines_cut(self) -> list[int]:
        """For each mark, one that stands for the line it is cut on: a mark, its stations and the two
        ends of a slope are one cut and miss alike, but where a give lets each be laid out by itself."""
        line = _Ties(len(self.plan))
        for index, base in self.assembly.stations:
            if not self.made[index]:
                line.tie(index, base)
        for slope in self.assembly.slopes:
            if slope.give_mm is None and not (self.made[slope.start] or self.made[slope.end]):
                line.tie(slope.start, slope.end)
        return line.roots()

    def references(self) -> Ints:
        """For each uncut mark, the mark it is laid out from, the same as at the layout: one for all of a part along
        an axis, but of the hole in a tenon its shoulder; for a made one, itself."""
        reference, marks, made = list(range(len(self.plan))), self.assembly.marks, self.made
        ends = reference_ends(self.assembly)
        for family, own in self.assembly.families.items():
            uncut = [index for index in own if not made[index]]
            if uncut:
                there = [index for index in own if made[index] and marks[index].station_of is None]
                start = start_of(self.assembly, there, ends[family])
                for index in uncut:
                    reference[index] = start
        for peg in self.assembly.pegs:
            if not self.made[peg.tenon_hole] and self.made[peg.shoulder]:
                reference[peg.tenon_hole] = peg.shoulder
        return np.array(reference, dtype=np.intp)


def _columns(entries: list[tuple[int, int, float]]) -> tuple[Ints, Ints, npt.NDArray[np.float64]]:
    """Entries as arrays: rows, columns, coefficients."""
    rows, columns, coefs = ([entry[k] for entry in entries] for k in range(3))
    return np.array(rows, dtype=np.intp), np.array(columns, dtype=np.intp), np.array(coefs, dtype=np.float64)


class _Ties:
    """Which marks hang together (union-find)."""

    def __init__(self, size: int) -> None:
        self.parent = list(range(size))

    def root(self, mark: int) -> int:
        while self.parent[mark] != mark:
            self.parent[mark] = self.parent[self.parent[mark]]
            mark = self.parent[mark]
        return mark

    def roots(self) -> list[int]:
        """For each mark the one that stands for all that it hangs together with."""
        return [mark if parent == mark else self.root(mark) for mark, parent in enumerate(self.parent)]

    def join(self, pairs: Iterable[tuple[int, int]]) -> None:
        """Tie many pairs of marks."""
        parent = self.parent
        for a, b in pairs:
            while parent[a] != a:
                parent[a] = a = parent[parent[a]]
            while parent[b] != b:
                parent[b] = b = parent[parent[b]]
            parent[a] = b

    def tie(self, a: int, b: int) -> bool:
        """Tie two marks; true when they were not tied before."""
        a, b = self.root(a), self.root(b)
        self.parent[a] = b
        return a != b


def make_graph(assembly: Assembly, state: State) -> Graph:
    """Return plan and state as rows; see the module."""
    maker = _Maker(assembly, state)
    for build in (maker.measured, maker.planned, maker.distances, maker.open_contacts, maker.keeps, maker.rough):
        build()
    names = ("measured", "planned", "wishes", "late", "holds")
    rows = {name: maker.lists[name].rows() for name in names}
    uncut = ~np.array(maker.made, dtype=bool)
    network = Network(
        plan_mm=np.array(maker.plan, dtype=np.float64),
        uncut=uncut,
        bounds=maker.bounds(uncut),
        cuts=maker.cuts(),
        judged=maker.judged(),
        shared=maker.shared_rows(),
        turning=np.array(maker.turning, dtype=np.intp) if maker.turning else None,
        as_drawn=False,
        asked=maker.asked(),
        **rows,
    )
    sources = {name: tuple(maker.sources[name]) for name in (*names, "bounds")}
    return Graph(network, shared=tuple(maker.shared.values()), **sources)


def measured_rows(assembly: Assembly, state: State) -> tuple[Rows, Ints | None]:
    """Return what readings and closed contacts say, alone, and the numbers of the rows that turn."""
    maker = _Maker(assembly, state)
    maker.measured()
    return maker.lists["measured"].rows(), np.array(maker.turning, dtype=np.intp) if maker.turning else None
