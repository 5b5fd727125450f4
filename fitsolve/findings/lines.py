"""Lines: where each mark still to be cut is laid out, in whole steps from the reference end.

    step      the finest line for a mark: that of the plan, or `(finest ...)` of a distance of its
              run, which means the mark of the two that is farther from what the part is laid out
              from (where that one is made, the other). Of several the finest counts
    line      the multiple of the step, from the mark that figures run from (running); None where no
              multiple lets every joint keep its fit: then it is knifed off the part itself
    layout    sizes and clearances once everything is cut at its line, placements chosen anew

Where no multiple will do, what stands in the way is named (a contact, a limit, a hold, a rough
mark), and the next finer step that would do: halves in inches, 1, 2, 5 in millimetres.

Not here: how lines are found (solve/rounding), words (report).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import field, replace
from fractions import Fraction

import numpy as np

from fitsolve.build.assembly import Assembly, exact_step
from fitsolve.build.history import MarkState
from fitsolve.findings.running import Layout, layouts
from fitsolve.findings.solved import Solved
from fitsolve.graph import Source, clearance_terms, merged
from fitsolve.light import cached_property, dataclass
from fitsolve.rows import Floats, Ints
from fitsolve.solve.gridded import Group, Lines
from fitsolve.solve.laidout import LaidOutPiece, lay_out
from fitsolve.solve.rounding import Rounded, blocking, finer_steps
from fitsolve.written import round_to_step

FINEST_TRIED_MM = 0.001
"""No step finer than this is sought: nothing is laid out so."""

ROOM_SHARE, ROOM_LEAST_MM = 0.1, 0.005
"""Lines that leave a joint less than this share of the room that the sizes wanted leave it leave none; less room than
that is none to begin with."""


@dataclass(frozen=True, slots=True)
class Line:
    """One mark still to be cut: its exact figure, mm from `reference`, and the line it is laid out at.

    `line_mm` is None where no multiple of `step_mm` will do; `because` are the rows that no multiple keeps.
    """

    mark: int
    reference: int
    way: int
    step_mm: float
    figure_mm: float
    line_mm: float | None
    because: tuple[Source, ...] = ()


@dataclass(frozen=True)
class LaidOut:
    """A build with everything cut at its lines: the line of each mark, by its number; the marks without
    a line; the pieces, by their numbers in `solved`.

    `coarse` are the groups in which no multiples will do; `finer_mm` asks for a step that does."""

    solved: Solved
    lines: dict[int, Line]
    without: frozenset[int]
    pieces: dict[int, LaidOutPiece]
    coarse: tuple[_Coarse, ...] = field(default=())

    def missing(self, marks: Iterable[int]) -> list[Line]:
        """The lines that no multiple will do for, and for want of which these marks have no place."""
        assembly = self.solved.assembly
        wanted = [mark for mark in marks if mark in self.without]
        for mark in wanted:  # grows while it is gone through
            base = assembly.marks[mark].station_of
            others = [] if base is None else [base]
            for slope in assembly.slopes if mark not in self.lines else ():
                if slope.placed == mark:
                    others += [slope.start, slope.end, slope.run_start, slope.run_end]
            wanted += [other for other in others if other in self.without and other not in wanted]
        found = [self.lines[mark] for mark in wanted if mark in self.lines]
        return [line for line in found if line.line_mm is None]

    @cached_property
    def positions_mm(self) -> Floats:
        """Positions (n,) in the assembled piece, mm, with everything cut at its line."""
        positions = self.solved.positions_mm.copy()
        for number, found in self.pieces.items():
            marks = self.solved.pieces[number].marks
            positions[marks] = self.solved.graph.network.plan_mm[marks] + found.x
        return positions

    @cached_property
    def without_room(self) -> frozenset[int]:
        """The marks whose lines leave a joint no room to miss."""
        return without_room(self.solved, self)

    @property
    def proven(self) -> bool:
        """Whether nothing could be nearer, and every bound is held."""
        return all(found.proven for found in self.pieces.values())

    @property
    def nearer_mm(self) -> float:
        """How much nearer all lines together could be at most, where the search was stopped; else 0."""
        return sum(found.nearer_mm for found in self.pieces.values())

    def finer_mm(self, mark: int) -> float | None:
        """The next finer step at which a mark given up can be laid out, with the others of its group that
        were given up; None where none down to FINEST_TRIED_MM will do."""
        for one in self.coarse:
            if mark in one.marks:
                return one.finer_mm[one.marks.index(mark)]
        return None


@dataclass(frozen=True)
class _Coarse:
    """A group with lines given up: their marks, and what is needed to try finer steps."""

    marks: tuple[int, ...]
    group: Group
    rounded: Rounded
    figure_mm: Floats
    unit: str

    @cached_property
    def finer_mm(self) -> list[float | None]:
        """A finer step for each of the marks, or None for all."""
        ladders = [finer(step, self.unit) for step in self.group.step_mm.tolist()]
        depth = min(len(ladder) for ladder, up in zip(ladders, self.rounded.given_up, strict=True) if up)
        rungs = [
            np.array([ladder[min(k, len(ladder) - 1)] if ladder else 0.0 for ladder in ladders])
            for k in range(depth)
        ]
        place = finer_steps(self.group, self.rounded.given_up, self.figure_mm, rungs)
        if place is None:
            return [None] * len(self.marks)
        return [float(step) for step in rungs[place][self.rounded.given_up]]


def finer(step_mm: float, unit: str) -> list[float]:
    """Return the steps below one, coarsest first: halves of it in inches, 1, 2, 5 in millimetres."""
    if unit == "in":
        count = max(0, math.floor(math.log2(step_mm / FINEST_TRIED_MM) + 1e-9))
        return [step_mm / 2**k for k in range(1, count + 1)]
    decade = math.floor(math.log10(step_mm) + 1e-9)
    low = math.floor(math.log10(FINEST_TRIED_MM) + 1e-9)
    ladder = [float(Fraction(k) * Fraction(10) ** p) for p in range(decade, low - 1, -1) for k in (5, 2, 1)]
    return [rung for rung in ladder if FINEST_TRIED_MM * (1 - 1e-9) <= rung < step_mm * (1 - 1e-9)]


def steps_of(assembly: Assembly, solved_layouts: Iterable[Layout]) -> dict[int, float]:
    """Return the finest step of every mark still to be cut, mm."""
    return steps_from(assembly, {one.mark: layout.reference for layout in solved_layouts for one in layout.marks})


def steps_from(assembly: Assembly, reference: dict[int, int]) -> dict[int, float]:
    """Return the finest step, mm, of marks still to be cut, each given with what it is laid out from."""
    steps = dict.fromkeys(reference, assembly.finest_mm)
    own: dict[int, float] = {}
    marks = assembly.marks
    for distance in assembly.finely_laid:
        assert distance.finest_mm is not None, "that is what finely laid means"
        ends = [mark for mark in (distance.start, distance.end) if mark in reference]
        if ends:
            far = max(ends, key=lambda mark: abs(marks[mark].plan_mm - marks[reference[mark]].plan_mm))
            own[far] = min(distance.finest_mm, own.get(far, math.inf))
    return steps | own


def lines_of_part(solved: Solved, wanted: Sequence[Layout], part: str) -> LaidOut:
    """Return where the marks of one part are laid out: the same lines without those of other parts that they do not
    hang on, and without places of the whole."""
    whole = laid_out(solved, wanted, part)
    marks = solved.assembly.marks
    lines = {mark: line for mark, line in whole.lines.items() if marks[mark].part == part}
    return LaidOut(solved, lines, frozenset(mark for mark in whole.without if marks[mark].part == part), {})


def laid_out(solved: Solved, wanted: Sequence[Layout] | None = None, part: str = "") -> LaidOut:
    """Return where every mark still to be cut is laid out; see the module. `wanted` are all its layouts,
    where they are known already; with a `part` only what its lines hang on is worked out (lines_of_part)."""
    wanted = layouts(solved) if wanted is None else wanted
    steps = steps_of(solved.assembly, wanted)
    per_piece: dict[int, list[tuple[Layout, int, float]]] = defaultdict(list)
    without = set()
    for layout in wanted:
        for one in layout.marks:
            if one.figure_mm is None:
                without.add(one.mark)
            else:
                per_piece[int(solved.piece_of[one.mark])].append((layout, one.mark, one.figure_mm))
    lines: dict[int, Line] = {}
    coarse: list[_Coarse] = []
    pieces: dict[int, LaidOutPiece] = {}
    same = _cut_with(solved)
    for number, own in per_piece.items():
        piece = solved.pieces[number]
        asked = np.array([layout.part == part for layout, _, _ in own]) if part else None
        pieces[number] = lay_out(piece, _local(solved, piece.marks, own, steps, same), asked)
        whole = _Written(solved, number, own, steps, pieces[number])
        lines.update((line.mark, line) for line in whole.lines())
        coarse += whole.coarse()
    lines |= _from_their_shoulders(solved, lines)
    without |= {mark for mark, line in lines.items() if line.line_mm is None}
    without |= _following(solved, without)
    return LaidOut(solved, lines, frozenset(without), pieces, tuple(coarse))


def _from_their_shoulders(solved: Solved, lines: dict[int, Line]) -> dict[int, Line]:
    """The lines of pegs' holes in tenons that nothing else binds: a draw is small beside a step, and it is counted from
    where the shoulder is cut, not from where it is wanted."""
    assembly = solved.assembly
    bound = {mark for keep in assembly.keeps for mark in keep.every_mark}
    bound |= {mark for contact in assembly.contacts for mark in contact.every_mark}
    found = {}
    for peg in assembly.pegs:
        hole, shoulder = lines.get(peg.tenon_hole), lines.get(peg.shoulder)
        if hole is None or hole.line_mm is None or peg.tenon_hole in bound:
            continue
        if shoulder is None or shoulder.line_mm is None or shoulder.reference != hole.reference:
            continue  # it is there, and the hole's own line is the nearest to it, or it is knifed
        wanted = shoulder.line_mm + hole.figure_mm - shoulder.figure_mm
        found[peg.tenon_hole] = replace(hole, line_mm=float(round_to_step(wanted, exact_step(hole.step_mm))))
    return found


def _cut_with(solved: Solved) -> Ints:
    """For each mark the one it is cut with: a station not made yet is cut with its mark."""
    same = np.arange(len(solved.assembly.marks))
    sloped = solved.assembly.sloped_ends
    for number, mark in enumerate(solved.assembly.marks):
        if (
            mark.station_of is not None
            and number not in sloped
            and solved.state.marks[number] != MarkState.MADE
        ):
            same[number] = mark.station_of
    return same


def _following(solved: Solved, without: set[int]) -> set[int]:
    """Stations, and ends that a slope places, of marks without a line."""
    found = {k for k, mark in enumerate(solved.assembly.marks) if mark.station_of in without}
    for slope in solved.assembly.slopes:
        if slope.placed is not None and solved.state.marks[slope.placed] != MarkState.MADE:
            others = {slope.start, slope.end, slope.run_start, slope.run_end} - {slope.placed}
            if others & (without | found):
                found.add(slope.placed)
            else:
                found.discard(slope.placed)
    return found


def _local(
    solved: Solved, marks: Ints, own: Sequence[tuple[Layout, int, float]], steps: dict[int, float], same: Ints
) -> Lines:
    """The lines of a piece, marks numbered inside it."""
    number = solved.number
    step = [exact_step(steps[mark]) for _, mark, _ in own]
    return Lines(
        mark=number[np.array([mark for _, mark, _ in own], dtype=np.intp)],
        reference=number[np.array([layout.reference for layout, _, _ in own], dtype=np.intp)],
        way=np.array([float(layout.way) for layout, _, _ in own]),
        step_mm=np.array([float(one) for one in step]),
        figure_mm=np.array([figure for _, _, figure in own]),
        same=number[same[marks]],
    )


@dataclass(frozen=True)
class _Written:
    """What was found for one piece, written as findings."""

    solved: Solved
    number: int
    own: list[tuple[Layout, int, float]]
    steps: dict[int, float]
    found: LaidOutPiece

    def lines(self) -> list[Line]:
        because = self.because()
        found = []
        for place, (layout, mark, figure) in enumerate(self.own):
            step = exact_step(self.steps[mark])
            given_up = bool(self.found.given_up[place])
            line = None if given_up else float(int(self.found.line[place]) * step)
            why = because.get(place, ())
            found.append(Line(mark, layout.reference, layout.way, float(step), figure, line, why))
        return found

    def because(self) -> dict[int, tuple[Source, ...]]:
        """What no multiple keeps, for every line given up, by its place."""
        chosen = self.solved.pieces[self.number].chosen
        graph = self.solved.graph
        sources = [graph.bounds[k] for k in chosen["bounds"]] + [graph.holds[k] for k in chosen["holds"]]
        found = {}
        for group, rounded in self.found.groups:
            for inside in np.flatnonzero(rounded.given_up).tolist():
                rows = blocking(group, rounded, inside)
                found[int(group.member[inside])] = tuple(dict.fromkeys(sources[row] for row in rows.tolist()))
        return found

    def coarse(self) -> list[_Coarse]:
        found = []
        figures = np.array([figure for _, _, figure in self.own])
        for group, rounded in self.found.groups:
            if rounded.given_up.any():
                marks = tuple(self.own[k][1] for k in group.member[rounded.given_up].tolist())
                found.append(_Coarse(marks, group, rounded, figures[group.member], self.solved.assembly.unit))
        return found


# -- what other findings have at the layout -------------------------------------------------------


def layout_distance_mm(solved: Solved, laid: LaidOut, number: int, size_mm: float | None) -> float | None:
    """Return a plan distance at the layout; None where nothing fixes it or one of its marks has no line."""
    distance = solved.assembly.distances[number]
    if size_mm is None or {distance.start, distance.end} & laid.without:
        return None
    start, end = (laid.lines.get(mark) for mark in (distance.start, distance.end))
    origin = {line.reference for line in (start, end) if line is not None}
    if len(origin) == 1 and all(
        line is not None or mark in origin for line, mark in ((start, distance.start), (end, distance.end))
    ):  # whole steps from one mark: no rounding
        way = next(line.way for line in (start, end) if line is not None)
        runs = [
            line.line_mm if line is not None and line.line_mm is not None else 0.0 for line in (start, end)
        ]
        return float(distance.sign * way * (runs[1] - runs[0]))
    if all(solved.state.marks[mark] == MarkState.MADE for mark in (distance.start, distance.end)):
        return size_mm
    x = laid.positions_mm
    return float(distance.sign * (x[distance.end] - x[distance.start]))


def layout_clearance_mm(
    solved: Solved, laid: LaidOut, number: int, clearance_mm: float | None
) -> float | None:
    """Return the clearance of a contact at the layout; None where nothing fixes it or a mark has no line."""
    contact = solved.assembly.contacts[number]
    if clearance_mm is None or laid.without & set(contact.every_mark):
        return None
    x = laid.positions_mm
    return float(sum(coef * x[mark] for mark, coef in merged(clearance_terms(contact))))


def without_room(solved: Solved, laid: LaidOut) -> frozenset[int]:
    """Return the marks off their exact places whose lines leave a joint no room to miss: some open contact there is at
    the least or the most of its fit at the layout, though the sizes wanted leave it room."""
    found = set[int]()
    off = {
        mark
        for mark, line in laid.lines.items()
        if line.line_mm is not None and abs(line.line_mm - line.figure_mm) > ROOM_LEAST_MM
    }
    for contact in solved.assembly.contacts:
        terms = merged(clearance_terms(contact))
        own = off.intersection(contact.every_mark)
        if contact.joint in solved.state.closed or not own or laid.without & set(contact.every_mark):
            continue
        piece = solved.piece(terms)
        if piece is None or not piece.fixed(solved.inside(terms)):
            continue
        at_lines = sum(coef * float(laid.positions_mm[mark]) for mark, coef in terms)
        room, wanted = (
            min(value - contact.least_mm, contact.most_mm - value) for value in (at_lines, solved.value_mm(terms))
        )
        if wanted > ROOM_LEAST_MM and room < ROOM_SHARE * wanted:
            found.update(own)
    return frozenset(found)
