"""Leaving: a part laid out with wood left on, so that what can't be undone hardly ever happens.

A mark whose wood side is known (edges) can be trimmed one way only, into the wood. Cut too far, a joint
ends above the most of its fit, and nothing puts wood back (unless trimming elsewhere closes it). So the
marks of a part that meet open joints are laid out toward their waste, as little as brings the chance of
that, for all its joints together, down to what the plan allows (`overcut`); what is then to be trimmed
is told. So are marks of a distance with limits: of an end cut past its least, as of a dado past its most,
nothing can be undone.

    exact     where the mark is wanted, and its line
    left on   that much toward the waste; its line is the next whole step on the waste side

One part at a time, others as they are to be cut: what it meets is measured before the next is laid out.

Not here: the statistics (solve/leaving), words (report).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from fitsolve.build.assembly import exact_step
from fitsolve.build.history import MarkState
from fitsolve.findings.edges import Edge, EdgeMark, edges
from fitsolve.findings.lines import steps_of
from fitsolve.findings.running import Layout, layouts
from fitsolve.findings.solved import Solved, rows_of
from fitsolve.graph import clearance_terms, merged
from fitsolve.light import dataclass
from fitsolve.rows import Floats
from fitsolve.solve.leaving import Joints, beyond_mending, chance_of_any, chance_over, expected_trimming, leave_on

NOTHING_MM = 1e-6
ON_A_LINE = 1e-6
HARDLY = 0.25
"""Less than this part of its step is left on at a line only where the lines of the others do not do without it."""


@dataclass(frozen=True, slots=True)
class LeftMark:
    """A mark with wood left on: its exact figure from `reference`, how much has to be left on, and the
    line on the waste side of that, mm from the reference. `waste` is +1 the way the figures run, else -1."""

    mark: int
    reference: int
    way: int
    waste: int
    figure_mm: float
    left_on_mm: float
    line_mm: float


@dataclass(frozen=True, slots=True)
class LeftContact:
    """What becomes of a contact that its own marks alone can spoil: the chance of ending above its most, cut
    exactly and with wood left on at the lines; its clearance then, and how much is trimmed on
    average until it is what the fit aims at."""

    number: int
    chance_exact: float
    chance: float
    clearance_mm: float
    trimming_mm: float


@dataclass(frozen=True, slots=True)
class LeftLimit:
    """The same of a distance with limits: of passing its least (`side` -1) or its most (+1); its size with
    wood left on, and how much is trimmed on average until it is as wanted."""

    distance: int
    side: int
    chance_exact: float
    chance: float
    size_mm: float
    trimming_mm: float


@dataclass(frozen=True, slots=True)
class LeaveOn:
    """A part with wood left on: `chance_exact` and `chance` that any of its joints ends above its most, or a
    distance beyond its limits, cut exactly and with wood left on at the lines; `allowed` what the plan allows."""

    part: str
    allowed: float
    marks: tuple[LeftMark, ...]
    contacts: tuple[LeftContact, ...]
    chance_exact: float
    chance: float
    limits: tuple[LeftLimit, ...] = ()


@dataclass(frozen=True, slots=True)
class _Limit:
    """One limit of a distance as a clearance that has a most."""

    distance: int
    side: int
    terms: list[tuple[int, float]]
    most_mm: float


def leave_on_part(
    solved: Solved, part: str, wanted: Sequence[Layout] | None = None, own: Sequence[Edge] | None = None
) -> LeaveOn:
    """Return how a part is laid out with wood left on; no marks where none needs it. `wanted` are all layouts, and
    `own` the edges of the part, where they are known already."""
    every = layouts(solved) if wanted is None else wanted
    steps = steps_of(solved.assembly, [one for one in every if one.part == part])
    return _Leaving(solved, part, edges(solved, [part]) if own is None else own).found(steps)


class _Leaving:
    def __init__(self, solved: Solved, part: str, own: Sequence[Edge]) -> None:
        self.solved, self.part = solved, part
        contacts = solved.assembly.contacts
        open_ones = [
            number
            for number in solved.assembly.contacts_of[part]
            if contacts[number].joint not in solved.state.closed or contacts[number].kind == "room"
        ]
        self.contacts = [number for number in open_ones if self._fixed(self._terms(number))]
        self.limits = [limit for limit in self._limits() if self._fixed(limit.terms)]
        limited = {mark for limit in self.limits for mark, _ in limit.terms}
        met = {mark for number in self.contacts for mark in solved.assembly.contacts[number].every_mark}
        self.at_stake = limited | met
        self.marks = [(edge, one) for edge in own for one in edge.marks if self._trimmable(edge, one)]

    def _terms(self, number: int) -> list[tuple[int, float]]:
        return merged(clearance_terms(self.solved.assembly.contacts[number]))

    def _limits(self) -> list[_Limit]:
        """The limits of the distances of the part that are not made yet, each as a clearance."""
        found = []
        for number, one in enumerate(self.solved.assembly.distances):
            if one.part != self.part or (one.low_mm is None and one.high_mm is None):
                continue
            if all(self.solved.state.marks[mark] == MarkState.MADE for mark in (one.start, one.end)):
                continue
            for side, limit in ((-1, one.low_mm), (1, one.high_mm)):
                if limit is not None:
                    way = float(side * one.sign)
                    found.append(_Limit(number, side, [(one.end, way), (one.start, -way)], side * limit))
        return found

    def _fixed(self, terms: list[tuple[int, float]]) -> bool:
        piece = self.solved.piece(terms)
        return piece is not None and piece.fixed(self.solved.inside(terms))

    def _trimmable(self, edge: Edge, one: EdgeMark) -> bool:
        return (
            one.state != MarkState.MADE
            and one.mark != edge.reference
            and one.figure_mm is not None
            and one.wood != 0
            and one.mark in self.at_stake
        )

    def found(self, steps: Mapping[int, float]) -> LeaveOn:
        """The marks with wood left on; `steps` are their finest lines, mm."""
        allowed = self.solved.assembly.overcut
        every = self.joints()
        joints, rows = beyond_mending(every)
        left = leave_on(joints, allowed)
        s = np.where(left.left_on_mm > NOTHING_MM, left.left_on_mm, 0.0)
        at_lines, lines = s.copy(), {}
        for place, (edge, one) in enumerate(self.marks):
            if s[place] > 0.0:
                lines[place] = _left(edge, one, float(s[place]), steps[one.mark])
                at_lines[place] = abs(lines[place].line_mm - lines[place].figure_mm)
        hardly = [place for place, left_on in lines.items() if s[place] < HARDLY * steps[left_on.mark]]
        for place in sorted(hardly, key=lambda place: float(s[place])):
            without = at_lines.copy()
            without[place] = 0.0
            if chance_of_any(joints, without) <= allowed:
                at_lines = without
                del lines[place]
        marks = list(lines.values())
        alone = [int(k) for k in np.flatnonzero(np.any(rows == 1.0, axis=0))]
        exact, chance = (chance_of_any(joints, at) for at in (np.zeros(len(s)), at_lines))
        of_contacts = [k for k in alone if k < len(self.contacts)]
        of_limits = [k for k in alone if k >= len(self.contacts)]
        told = self.told(every, at_lines, of_contacts), self.told_limits(every, at_lines, of_limits)
        return LeaveOn(self.part, allowed, tuple(marks), told[0], exact, chance, told[1])

    def told_limits(self, joints: Joints, s: Floats, chosen: list[int]) -> tuple[LeftLimit, ...]:
        """What becomes of the chosen limits with so much left on."""
        value, u = joints.left_on(s), joints.u
        found = []
        for k in chosen:
            limit = self.limits[k - len(self.contacts)]
            exact, then, spread = float(joints.value[k]), float(value[k]), float(u[k])
            before, after = (chance_over(one, spread, limit.most_mm) for one in (exact, then))
            trimming = expected_trimming(then, spread, exact)
            found.append(LeftLimit(limit.distance, limit.side, before, after, limit.side * then, trimming))
        return tuple(found)

    def told(self, joints: Joints, s: Floats, chosen: list[int]) -> tuple[LeftContact, ...]:
        """What becomes of the chosen contacts with so much left on."""
        clearance, u = joints.left_on(s), joints.u
        found = []
        for k in chosen:
            contact = self.solved.assembly.contacts[self.contacts[k]]
            found.append(
                LeftContact(
                    self.contacts[k],
                    chance_over(float(joints.value[k]), float(u[k]), contact.most_mm),
                    chance_over(float(clearance[k]), float(u[k]), contact.most_mm),
                    float(clearance[k]),
                    expected_trimming(float(clearance[k]), float(u[k]), contact.aim_mm),
                )
            )
        return tuple(found)

    def joints(self) -> Joints:
        """The clearances of the open contacts of the part, then its limits, and how marks of it close them."""
        solved = self.solved
        q, m = len(self.contacts) + len(self.limits), len(self.marks)
        rows = [*(self._terms(number) for number in self.contacts), *(limit.terms for limit in self.limits)]
        covariance, closing = np.zeros((q, q)), np.zeros((q, m))
        for home, places in solved.by_piece([terms[0][0] for terms in rows]).items():
            piece = solved.pieces[home]
            inside = rows_of([solved.inside(rows[place]) for place in places])
            covariance[np.ix_(places, places)] = piece.outlook.errors.covariances(inside, [np.arange(len(places))])[0]
            moved = piece.moved_by_cuts(inside)
            for column, (edge, one) in enumerate(self.marks):
                if int(solved.piece_of[one.mark]) == home:
                    toward_waste = -one.wood * edge.way
                    closing[places, column] = -toward_waste * moved[:, solved.number[one.mark]]
        most = [solved.assembly.contacts[k].most_mm for k in self.contacts]
        most += [limit.most_mm for limit in self.limits]
        return Joints(
            np.array([solved.value_mm(terms) for terms in rows]),
            covariance,
            np.array(most),
            closing,
        )


def _left(edge: Edge, one: EdgeMark, left_on_mm: float, step_mm: float) -> LeftMark:
    """The mark with so much left on, at the next line on the waste side."""
    assert one.figure_mm is not None
    waste = -one.wood
    step = exact_step(step_mm)
    wanted = (one.figure_mm + waste * left_on_mm) / float(step)
    steps = math.ceil(wanted - ON_A_LINE) if waste > 0 else math.floor(wanted + ON_A_LINE)
    return LeftMark(one.mark, edge.reference, edge.way, waste, one.figure_mm, left_on_mm, float(steps * step))
