"""Moved: what a thing not to be believed moves, mark by mark.

A reading, a closed contact, or what the readings of a tool share says so much more than is there.
How all marks move with that is asked in two ways, and a size moves when it moves in either:

    derivative   unit error of the row times what it is off, over its u; what the rows of a tool
                 share carries it into other pieces too
    anew         solved again with the row changed, all of it where rows turn or share something,
                 else the row's own piece: a bound that presses only because of that row has no
                 derivative. Not where that would take long

What it really is nobody knows: changed is the row to what the others say it is, or the plan where
nothing else checks it, and to what it may be on either side of that: 3.2905 u / sqrt r, or three
times workmanship. Facts that the slip made impossible may hide that a size rests on the row.

Sizes are all that is told of what is still to be cut: distances of runs, figures from the reference
end, and how far the hole of a peg lies from its shoulder, which is no distance of the plan. What it is
too late to cut has none.

Not here: what is doubted (doubts), words (report).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator

import numpy as np

from fitsolve.build.history import MarkState, State
from fitsolve.findings.causes import named
from fitsolve.findings.lines import steps_from
from fitsolve.findings.pegs import shut_in
from fitsolve.findings.running import layout_marks
from fitsolve.findings.solved import Solved, Terms
from fitsolve.findings.values import Doubt, Suspect
from fitsolve.graph import distance_terms, make_graph
from fitsolve.light import dataclass, replace
from fitsolve.rows import Floats
from fitsolve.solve.doubts import CRITICAL
from fitsolve.solve.pieces import RESOLVED_MARKS_MAX, Piece, moved_by_change, solve_network
from fitsolve.solve.shared import SharedErrors

PLAUSIBLE = 3.0
"""What nothing else checks may really be off plan by so many times workmanship. Our own choice."""

MOVED_SHARE = 0.1
"""A suspect moves a size when it would change it by more than this share of the finest line of its marks."""


@dataclass(frozen=True, slots=True)
class Moved:
    """What a reading would move if it were wrong: parts still to be cut, those it moves and those not."""

    parts: tuple[str, ...]
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A size of something still to be cut: its part, its row, and by how much less than it has moved."""

    part: str
    terms: tuple[tuple[int, float], ...]
    least_mm: float


def moved_by(solved: Solved, doubt: Doubt) -> Moved:
    """Return which parts with something still to be cut a suspect reading moves."""
    if doubt.would_be_mm is not None:
        who = Suspect("reading", doubt.row, doubt.standardised or 0.0, doubt.reading_mm - doubt.would_be_mm)
    else:
        piece, row = _row_of(solved, doubt.row, "reading")
        off = 0.0 if piece is None else float(piece.network.measured.value[row])
        who = Suspect("reading", doubt.row, 0.0, _way(solved, doubt.row) * off)
    moved = moved_parts(solved, who)
    waiting = dict.fromkeys(one.part for one in shown(solved))
    return Moved(moved, tuple(part for part in waiting if part not in moved))


def _way(solved: Solved, no: int) -> float:
    """Which way the row of a reading counts it."""
    return next((math.copysign(1.0, one.value_mm) for one in solved.state.readings if one.no == no), 1.0)


def moved_parts(solved: Solved, who: Suspect) -> tuple[str, ...]:
    """Return the parts of which something still to be cut moves with what stands out."""
    return parts_moved(solved, _moves(solved, who))


def moves_mm(solved: Solved, who: Suspect, terms: Terms) -> float:
    """Return how far a chosen sum moves when what stands out is right but for its error, mm."""
    return max((abs(_sum(x, terms)) for x in _moves(solved, who)), default=0.0)


def _moves(solved: Solved, who: Suspect) -> Iterator[Floats]:
    """How all marks (n,) may move with the error of what stands out, each way it is asked; none where that is no row.
    Each is worked out when it is first asked for, and kept."""
    way = _way(solved, who.number) if who.kind == "reading" else 1.0
    spread = PLAUSIBLE * solved.assembly.workmanship_mm
    if who.standardised:
        spread = CRITICAL * abs(who.error_mm / who.standardised)
    back = -way * who.error_mm
    key = who.kind, who.number, back, spread
    if key not in solved.kept:
        solved.kept[key] = [], _ways(solved, who.kind, who.number, (back, back + spread, back - spread))
    known, rest = solved.kept[key]
    yield from known
    for x in rest:
        known.append(x)
        yield x


def shown(solved: Solved) -> tuple[Shown, ...]:
    """Return every size of what is still to be cut, in the order of the plan; worked out once."""
    if "shown" not in solved.kept:
        solved.kept["shown"] = tuple(_shown(solved))
    return tuple(solved.kept["shown"])


def _shown(solved: Solved) -> Iterable[Shown]:
    assembly, states = solved.assembly, solved.state.marks
    late = shut_in(solved)
    laid = [one for one in layout_marks(assembly, solved.state) if one[0] not in late]
    steps = steps_from(assembly, dict(laid))
    finest = {mark: min(step, assembly.finest_mm) for mark, step in steps.items()}

    def size(terms: Terms) -> Shown:
        least = min((finest[mark] for mark, _ in terms if mark in finest), default=assembly.finest_mm)
        return Shown(assembly.marks[terms[0][0]].part, tuple(terms), MOVED_SHARE * least)

    for one in assembly.distances:
        if not {one.start, one.end} & late and min(states[one.start], states[one.end]) != MarkState.MADE:
            yield size(distance_terms(one))
    for mark, start in laid:
        yield size([(mark, 1.0), (start, -1.0)])
    for peg in assembly.pegs:
        if states[peg.tenon_hole] != MarkState.MADE and peg.tenon_hole not in late:
            yield size([(peg.tenon_hole, 1.0), (peg.shoulder, -1.0)])


def parts_moved(solved: Solved, ways: Iterable[Floats]) -> tuple[str, ...]:
    """The parts of which a size moves, in one of the ways in which all marks (n,) may move: as few of them are worked
    out as it takes."""
    left = dict.fromkeys(one.part for one in shown(solved))
    moved: set[str] = set()
    for x in ways if left else ():
        moved |= {
            one.part for one in shown(solved) if one.part not in moved and abs(_sum(x, one.terms)) > one.least_mm
        }
        if len(moved) == len(left):
            break
    return tuple(part for part in left if part in moved)


def _ways(solved: Solved, kind: str, number: int, changes_mm: tuple[float, ...]) -> Iterator[Floats]:
    if kind == "tool":
        yield _by_tool(solved, number, changes_mm[0])
        return
    if kind == "cut":
        planned = cut_as_planned(solved, number)
        if planned is not None:
            yield planned
        return
    piece, row = _row_of(solved, number, kind)
    if piece is None:
        return
    yield _derivative(solved, piece, row) * changes_mm[0]
    for change in changes_mm:
        x = _anew(solved, piece, row, change)
        if x is not None:
            yield x


def _derivative(solved: Solved, piece: Piece, row: int) -> Floats:
    """How all marks (n,) move with a measured row of a piece, mm a mm."""
    measured = piece.network.measured
    unit = np.zeros((len(measured), 1))
    unit[row] = 1.0 / float(measured.scale[row])
    x = np.zeros(len(solved.piece_of))
    x[piece.marks] = piece.advice.moved(unit)[:, 0]
    if isinstance(piece.advice, SharedErrors):
        told = (piece.advice.shared.spread.T @ unit)[:, 0]
        for other in solved.pieces:
            if other is not piece and isinstance(other.advice, SharedErrors):
                x[other.marks] = other.advice.moves @ told
    return x


def _by_tool(solved: Solved, number: int, change_mm: float) -> Floats:
    """How all marks (n,) move when what is given of an error that readings share says so much more."""
    x = np.zeros(len(solved.piece_of))
    for piece in solved.pieces:
        if isinstance(piece.advice, SharedErrors):
            told = piece.advice.shared.told
            x[piece.marks] = piece.advice.moves @ told.root[number] * (change_mm / float(told.u[number]) ** 2)
    return x


def _anew(solved: Solved, piece: Piece, row: int, change_mm: float) -> Floats | None:
    """How all marks (n,) move when a measured row says so much more, all solved again; None where it is too large."""
    network = solved.graph.network
    x = np.zeros(len(network))
    if network.shared is None and network.turning is None:
        own = moved_by_change(piece, row, change_mm)
        if own is None:
            return None
        x[piece.marks] = own
        return x
    if len(network) > RESOLVED_MARKS_MAX:
        return None
    value = network.measured.value.copy()
    value[piece.chosen["measured"][row]] += change_mm
    for one in solve_network(replace(network, measured=replace(network.measured, value=value))).pieces:
        x[one.marks] = one.x
    return np.asarray(x - (solved.positions_mm - network.plan_mm))


def cut_to_plan(state: State, rows: Collection[int]) -> State:
    """Return the state as if the sizes that some rows of the log say of cuts were those of the plan."""
    marks = [mark for mark, no in state.laid_by.items() if no in rows and mark in state.laid_from] if rows else []
    if not marks:
        return state
    cut_to = list(state.cut_to_mm)
    for mark in marks:
        cut_to[mark] = cut_to[state.laid_from[mark]]
    return replace(state, cut_to_mm=tuple(cut_to))


def cut_as_planned(solved: Solved, row: int) -> Floats | None:
    """How all marks (n,) move when what a row says of a cut is as planned, all solved again; None where it is too
    large for that."""
    if len(solved.graph.network) > RESOLVED_MARKS_MAX:
        return None
    network = make_graph(solved.assembly, cut_to_plan(solved.state, {row})).network
    x = np.zeros(len(network))
    for piece in solve_network(network).pieces:
        x[piece.marks] = piece.x
    return np.asarray(x - (solved.positions_mm - network.plan_mm))


def _sum(x: Floats, terms: Iterable[tuple[int, float]]) -> float:
    return float(sum(coef * x[mark] for mark, coef in terms))


def _row_of(solved: Solved, no: int, kind: str) -> tuple[Piece | None, int]:
    """The piece in which a reading (by its row of the log) or a closed contact stands, and its number
    among the piece's measured rows."""
    for piece in solved.pieces:
        for k, row in enumerate(piece.chosen["measured"].tolist()):
            if named(solved, solved.graph.measured[row]) == (kind, no):
                return piece, k
    return None, -1
