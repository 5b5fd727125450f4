"""Take-up: where the value of a check comes from, and what still uncut could bring it in.

Where. v is linear in the rows that went into the estimate: with i_k = dv per unit error of row k (a
reading, a closed joint, a made size never read), s_k its u and r_k its value less the plan, it is

    v = v of the plan + sum of i_k r_k / s_k + what the sizes and placements still chosen add.

The plan says nothing of how parts stand that it does not tie to each other; where it happens to draw them is
no reason of anything. There r_k is less the plan as those parts would have to stand for v to be 0 at the sizes
of the plan; where several readings tell that, as they would have to stand for the least sum of squares of
i_k r_k / s_k. So v never counts from an origin.

What would bring it in. Everything is allocated once more with wishes beside the others that outweigh
them, that each value of the check be 0: what is made stays, holds and limits are kept, and what can move
moves as little as it may, sizes before the play of joints; no shoulder is left open for it. Where the
worst value then is hardly smaller, nothing that is still uncut can take it up.

Not here: what it costs the other wishes (a trial tells: sizes --try), words (report).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from fitsolve.build.assembly import Rule
from fitsolve.build.rulevalues import rule_values
from fitsolve.findings.causes import TELLING_MARKS_MAX
from fitsolve.findings.checks import SETTLED, TURNING, CheckValue, settled
from fitsolve.findings.portions import SLIGHT_MM, Portions, portions
from fitsolve.findings.solved import Solved, rows_of
from fitsolve.findings.values import ALIKE
from fitsolve.graph import distance_terms, gap_terms
from fitsolve.light import dataclass, replace
from fitsolve.rows import Floats, Rows, stacked
from fitsolve.solve.allocate import allocate
from fitsolve.solve.pieces import Piece, wanted_of
from fitsolve.solve.shared import SharedErrors

OUTWEIGHS = 1e-2
"""The scale of these wishes beside the least of the others."""

PLAY = 0.03
"""Gaps of open joints count as if their fits were so much narrower: play is the last to take it up."""

SHUT = 1e-4
"""A shoulder is no play: that it stays where it stands outweighs even the check."""

WORTH = 0.1
"""Less of a value than this part is not worth a word."""


@dataclass(frozen=True, slots=True)
class Departure:
    """What one thing that was read, closed or cut adds to a value, mm, by being off its plan. `kind` and
    `number` are those of its row: a reading (its row in the log), a contact, a distance, a station, ..."""

    kind: str
    number: int
    adds_mm: float


@dataclass(frozen=True, slots=True)
class Whence:
    """Where a value comes from: departures, the largest first; what the plan itself makes; what is still chosen."""

    departures: tuple[Departure, ...]
    planned_mm: float
    chosen_mm: float


@dataclass(frozen=True, slots=True)
class TakeUp:
    """What could bring a value in: sizes still to be cut (a distance of the plan and by how much more it
    would be), joints still open whose play would, what the value then is, and what each of them takes of it."""

    sizes: tuple[tuple[int, float], ...]
    joints: tuple[int, ...]
    then_mm: float
    portions: Portions


def whence(solved: Solved, value: CheckValue) -> Whence | None:
    """Return where a value comes from; None where nothing fixes it, or its piece is too large to ask."""
    piece = piece_of_value(solved, value)
    if piece is None or value.value_mm is None:
        return None
    plan = solved.graph.network.plan_mm
    planned = float(sum(coef * plan[mark] for mark, coef in value.terms)) - value.target
    weights, rows, influence = influences(solved, piece, value)
    planned, parts = _from_no_origin(solved, piece, weights, influence, rows, planned)
    adds: dict[tuple[str, int], float] = defaultdict(float)
    sources = [solved.graph.measured[k] for k in piece.chosen["measured"].tolist()]
    sources += [solved.graph.planned[k] for k in piece.chosen["planned"].tolist()]
    for source, part in zip(sources, parts.tolist(), strict=True):
        number = solved.state.readings[source.number].no if source.kind == "reading" else source.number
        adds[source.kind, number] += part
    found = [Departure(kind, number, amount) for (kind, number), amount in adds.items() if abs(amount) > 1e-9]
    chosen = value.value_mm - planned - sum(one.adds_mm for one in found)
    return Whence(tuple(sorted(found, key=lambda one: -round(abs(one.adds_mm), ALIKE))), planned, chosen)


def influences(solved: Solved, piece: Piece, value: CheckValue) -> tuple[Floats, Rows, Floats]:
    """Return the weights of a value on the marks of its piece (n,), the rows of the estimate, first those that
    were measured, and by how much the value moves for a mm more of each (m,)."""
    weights = np.zeros(len(piece.network))
    for mark, coef in solved.inside(value.terms):
        weights[mark] += coef
    errors = piece.advice.base if isinstance(piece.advice, SharedErrors) else piece.advice
    rows = stacked([piece.network.measured, piece.network.planned])
    return weights, rows, errors.influence(weights)[: len(rows)] / rows.scale


def _from_no_origin(
    solved: Solved, piece: Piece, weights: Floats, influence: Floats, rows: Rows, planned: float
) -> tuple[float, Floats]:
    """What the plan makes of a value, and what each row adds (m,), parts that the plan does not tie moved to
    where the value would be 0 by the plan; see the module."""
    parts = influence * rows.value
    placed = np.array([solved.assembly.placed[mark] for mark in piece.marks.tolist()])
    groups, group = np.unique(placed, return_inverse=True)
    if len(groups) == 1:
        return planned, parts
    own = group[rows.mark]
    across = np.flatnonzero(np.bincount(rows.owner(), own != own[rows.start[:-1]][rows.owner()], len(rows)) > 0)
    moves = influence[across, None] * rows.pick(across).renumber(group).dense(len(groups))
    on_value = np.bincount(group, weights, len(groups))
    shift = np.zeros(len(groups))
    free = np.eye(len(groups))
    if np.abs(on_value).max() > SETTLED:
        shift = -planned * on_value / (on_value @ on_value)
        free -= np.outer(on_value, on_value) / (on_value @ on_value)
        planned = 0.0
    least = np.linalg.lstsq(moves @ free, parts[across] - moves @ shift, rcond=1e-9)[0]
    parts[across] -= moves @ (shift + free @ least)
    return planned, parts


def part_shares(solved: Solved, told: Whence) -> dict[str, float]:
    """Return what each part adds to a value, mm, the most first; "" for what lies between parts."""
    adds: dict[str, float] = defaultdict(float)
    for one in told.departures:
        adds[_part_of(solved, one)] += one.adds_mm
    return dict(sorted(adds.items(), key=lambda item: -round(abs(item[1]), ALIKE)))


def _part_of(solved: Solved, one: Departure) -> str:
    """The part that a departure is of; none for a joint, and for a reading from one part to another."""
    assembly = solved.assembly
    marks: Iterable[int] = ()
    if one.kind == "reading":
        reading = next(reading for reading in solved.state.readings if reading.no == one.number)
        marks = (mark for mark, _ in reading.terms)
    elif one.kind == "distance":
        marks = (assembly.distances[one.number].start,)
    elif one.kind in ("station", "layout"):
        marks = (one.number,)
    elif one.kind == "run":
        marks = assembly.runs[one.number]
    elif one.kind == "slope":
        marks = (assembly.slopes[one.number].start,)
    parts = {assembly.marks[mark].part for mark in marks}
    return parts.pop() if len(parts) == 1 else ""


def take_up(solved: Solved, check: Rule, value: CheckValue) -> TakeUp | None:
    """Return what could bring a value in; None where nothing still uncut can."""
    piece = piece_of_value(solved, value)
    if piece is None or value.value_mm is None:
        return None
    own = rows_of([solved.inside(value.terms)])
    if settled(piece.estimate, own, TURNING if check.kind == "rack" else SETTLED)[0]:
        return None
    wish = _wish(solved, piece, check)
    wanted = wanted_of(piece.network)
    wishes = stacked([_with_narrow_gaps(solved, piece), wish])
    moved = allocate(piece.estimate, replace(wanted, wishes=wishes)).staged.x - piece.x
    everywhere = np.zeros(len(solved.piece_of))
    everywhere[piece.marks] = moved
    then = _worst_at(check, solved.positions_mm + everywhere)
    if then > abs(value.value_mm) - max(SLIGHT_MM, WORTH * abs(value.value_mm)):
        return None
    shared = portions(solved, value.terms, everywhere)
    return TakeUp(_sizes(solved, everywhere), _joints(solved, everywhere), then, shared)


def _wish(solved: Solved, piece: Piece, check: Rule) -> Rows:
    """That each value of a check in this piece be 0, as deviations from plan."""
    own = [(terms, target) for terms, target in rule_values(check, solved.positions_mm) if solved.piece(terms) is piece]
    rows = rows_of([solved.inside(terms) for terms, _ in own])
    now = np.array([solved.value_mm(terms) - target for terms, target in own])
    scales = piece.network.wishes.scale
    scale = OUTWEIGHS * (float(scales.min()) if len(scales) else 1.0)
    return replace(rows, value=rows.of(piece.x) - now, scale=np.full(len(rows), scale))


def _with_narrow_gaps(solved: Solved, piece: Piece) -> Rows:
    """The wishes of a piece, those for gaps of open joints weighing more; shoulders stay as they stand."""
    wishes = piece.network.wishes
    sources = [solved.graph.wishes[row] for row in piece.chosen["wishes"].tolist()]
    contacts = solved.assembly.contacts
    kinds = np.array([contacts[one.number].kind if one.kind == "gap" else "" for one in sources], dtype="U7")
    weight = np.where(kinds == "", 1.0, np.where(kinds == "butt", SHUT, PLAY))
    value = np.where(kinds == "butt", wishes.of(piece.x), wishes.value)
    return replace(wishes, value=value, scale=weight * wishes.scale)


def _worst_at(check: Rule, positions: Floats) -> float:
    """The largest value of a check where marks lie so, without its sign."""
    values = rule_values(check, positions)
    return max(abs(sum(coef * float(positions[mark]) for mark, coef in terms) - target) for terms, target in values)


def piece_of_value(solved: Solved, value: CheckValue) -> Piece | None:
    """Return the piece of a value; None where it has none, or one too large to ask."""
    piece = solved.piece(value.terms) if value.terms else None
    return piece if piece is not None and len(piece.network) <= TELLING_MARKS_MAX else None


def _sizes(solved: Solved, moved: Floats) -> tuple[tuple[int, float], ...]:
    """The sizes still to be cut that change, the most first."""
    changes = []
    for number, distance in enumerate(solved.assembly.distances):
        change = sum(coef * moved[mark] for mark, coef in distance_terms(distance))
        if abs(change) > SLIGHT_MM and not distance.derived:
            changes.append((number, float(change)))
    changes.sort(key=lambda one: (-round(abs(one[1]), 2), one[0]))
    most = abs(changes[0][1]) if changes else 0.0
    return tuple(one for one in changes if abs(one[1]) >= WORTH * most)


def _joints(solved: Solved, moved: Floats) -> tuple[int, ...]:
    """The open joints of which a gap changes, the most first."""
    found: dict[int, float] = {}
    for contact in solved.assembly.contacts:
        if contact.joint in solved.state.closed:
            continue
        change = max(abs(sum(coef * moved[mark] for mark, coef in gap)) for gap in gap_terms(contact))
        if change > SLIGHT_MM:
            found[contact.joint] = max(found.get(contact.joint, 0.0), float(change))
    return tuple(sorted(found, key=lambda joint: -round(found[joint], ALIKE)))
