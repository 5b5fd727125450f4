"""Verdicts: joints and seats, from values, uncertainties and limits.

Words: a housing or a room fits, is tight, or is loose; a shoulder is proud or open. What is
closed already went together, so a closed contact is judged against its most only; a room is
never closed, for closing its joint must leave it open. A joint is never better than the seat
of its parts.
"""

from __future__ import annotations

import math
from collections import defaultdict
from functools import cached_property

import numpy as np

from fitsolve.findings.solved import Solved, Terms, rows_of
from fitsolve.findings.unread import unread
from fitsolve.findings.values import (
    ALIKE,
    ContactFinding,
    FitVerdict,
    JointFinding,
    SeatFinding,
    SeatVerdict,
    Slant,
)
from fitsolve.graph import gap_terms, merged
from fitsolve.rows import Floats
from fitsolve.solve.judge import EXACT_MM, PROVEN, Seat, Side, judge, margin, seats

FIT_WORDS: dict[Side, FitVerdict] = {"in": "fits", "low": "tight", "high": "loose", "unsure": "can't tell"}
SHOULDER_WORDS: dict[Side, FitVerdict] = {"in": "fits", "low": "proud", "high": "open", "unsure": "can't tell"}


def contact_findings(solved: Solved) -> list[ContactFinding]:
    """Every contact with its clearance and verdict."""
    contacts = solved.assembly.contacts
    rows = [contact.clearance for contact in contacts]
    every = rows_of(rows)
    u = np.zeros(len(rows))
    fixed = np.zeros(len(rows), dtype=bool)
    for number, places in solved.by_piece([contact.marks[0] for contact in contacts]).items():
        piece = solved.pieces[number]
        own = solved.local_rows(every, places)
        u[places] = np.sqrt(piece.outlook.errors.variance(own))
        fixed[places] = piece.fixed_rows(own)
    found = []
    slanted = _slanted(solved)
    for k, contact in enumerate(contacts):
        value = solved.value_mm(rows[k]) if fixed[k] else None
        chance: float | None = None
        verdict: FitVerdict = "can't tell"
        first: tuple[tuple[int, int], ...] = ()
        if value is not None:
            closed = contact.joint in solved.state.closed and contact.kind != "room"
            low = -math.inf if closed else contact.least_mm
            judged = judge(value, float(u[k]), low, contact.most_mm)
            words = SHOULDER_WORDS if contact.kind == "butt" else FIT_WORDS
            chance, verdict = judged.chance, words[judged.side]
            if contact.joint not in solved.state.closed and judged.side in ("low", "high"):
                first = unread(solved, merged(rows[k]))
        expanded = None if value is None else float(2 * u[k])
        found.append(
            ContactFinding(
                k,
                contact.kind,
                contact.axis,
                value,
                expanded,
                contact.least_mm,
                contact.aim_mm,
                contact.most_mm,
                chance,
                verdict,
                slanted.get(k),
                first,
            )
        )
    return found


def _slanted(solved: Solved) -> dict[int, Slant]:
    """What each slanted housing comes to along its run; most plans have none."""
    if not solved.assembly.slopes:
        return {}
    from fitsolve.findings.slants import slants

    return slants(solved)


def joint_findings(solved: Solved, seated: tuple[SeatFinding, ...]) -> tuple[JointFinding, ...]:
    """Every joint with its contacts; an open one no better than the seats of its parts."""
    contacts = contact_findings(solved)
    seat_of = {seat.part: seat.verdict for seat in seated}
    found = []
    for number, joint in enumerate(solved.assembly.joints):
        own = tuple(contacts[k] for k in joint.contacts)
        closed = number in solved.state.closed
        verdict = worst(own)
        if not closed:
            verdict = capped(verdict, [seat_of[part] for part in joint.parts if part in seat_of])
        found.append(JointFinding(number, joint.name, joint.parts, own, verdict, closed))
    return tuple(found)


def worst(contacts: tuple[ContactFinding, ...]) -> FitVerdict:
    """A proven fault first (the surest of them; of several as sure the one that misses most), then doubt, then fits."""
    faults = [c for c in contacts if c.verdict not in ("fits", "can't tell")]
    if faults:
        return min(faults, key=lambda c: (round(c.chance or 0.0, ALIKE), -missed_share(c))).verdict
    return "can't tell" if any(c.verdict == "can't tell" for c in contacts) else "fits"


def missed_share(one: ContactFinding) -> float:
    """By how much a contact is past its limits, in widths of its fit; 0 within."""
    if one.clearance_mm is None:
        return 0.0
    past = max(one.least_mm - one.clearance_mm, one.clearance_mm - one.most_mm, 0.0)
    return past / max(one.most_mm - one.least_mm, EXACT_MM)


def capped(verdict: FitVerdict, seated: list[SeatVerdict]) -> FitVerdict:
    """The verdict, no better than what is known of the parts going on."""
    if "jams" in seated and verdict in ("fits", "can't tell"):
        return "tight"
    if "can't tell" in seated and verdict == "fits":
        return "can't tell"
    return verdict


def seat_findings(solved: Solved) -> tuple[SeatFinding, ...]:
    """For every part with an open housing, whether it goes on all its joints at once."""
    assembly = solved.assembly
    gaps: dict[str, list[tuple[int, int]]] = defaultdict(list)
    joints: dict[str, dict[str, None]] = defaultdict(dict)
    has_housing = set()
    for number, contact in enumerate(assembly.contacts):
        if contact.joint in solved.state.closed or contact.kind == "butt":
            continue
        for part in {assembly.marks[mark].part for mark in contact.marks}:
            joints[part][assembly.joints[contact.joint].name] = None
            gaps[part] += [(number, side) for side in range(len(gap_terms(contact)))]
            if contact.kind == "housing":
                has_housing.add(part)
    seated = _Seated(solved, {part: gaps[part] for part in assembly.parts if part in has_housing})
    return tuple(seated.finding(part, tuple(joints[part])) for part in seated.gaps)


class _Seated:
    """The gaps of all parts, piece by piece, with how those of one part err together."""

    def __init__(self, solved: Solved, gaps: dict[str, list[tuple[int, int]]]) -> None:
        self.solved = solved
        self.gaps = gaps
        self.groups: dict[tuple[str, int], list[tuple[int, int]]] = {}
        self.pieces_of: dict[str, list[tuple[str, int]]] = defaultdict(list)
        contacts = solved.assembly.contacts
        for part, own in gaps.items():
            for number, places in solved.by_piece([contacts[k].marks[0] for k, _ in own]).items():
                self.groups[part, number] = [own[place] for place in places]
                self.pieces_of[part].append((part, number))
        self.covariances: dict[tuple[str, int], Floats] = {}
        keys_of: dict[int, list[tuple[str, int]]] = defaultdict(list)
        for key in self.groups:
            keys_of[key[1]].append(key)
        for number, keys in keys_of.items():
            rows = [rows_of(self.inside(key)) for key in keys]
            found = solved.pieces[number].outlook.errors.covariances(rows)
            self.covariances.update(zip(keys, found, strict=True))

    def terms(self, key: tuple[str, int]) -> list[Terms]:
        contacts = self.solved.assembly.contacts
        return [gap_terms(contacts[k])[side] for k, side in self.groups[key]]

    def inside(self, key: tuple[str, int]) -> list[Terms]:
        return [self.solved.inside(row) for row in self.terms(key)]

    def finding(self, part: str, joints: tuple[str, ...]) -> SeatFinding:
        """One part: the chances of its pieces (axes) multiply, for their errors are independent; what the
        readings of a tool share may tie them, and then a verdict must hold however they are tied."""
        chances, margins = [], []
        for key in self.pieces_of[part]:
            seat, view = self.seat(key), self.solved.pieces[key[1]].outlook
            gap_mm = self.gap_mm(key, self.solved.positions_mm)
            chances.append(seats(seat, gap_mm, self.covariances[key], view))
            if np.any(self.solved.graph.network.uncut[self.marks(key)]):
                margins.append(margin(seat, self.gap_mm(key, self.as_planned), view))
        chance = math.prod(chances)
        least, most = (1.0 - sum(1.0 - one for one in chances), min(chances)) if self.tied else (chance, chance)
        verdict: SeatVerdict = "can't tell"
        if least >= PROVEN:
            verdict = "goes on"
        elif most <= 1 - PROVEN:
            verdict = "jams"
        return SeatFinding(part, chance, verdict, joints, min(margins) if margins else None)

    @cached_property
    def tied(self) -> bool:
        """Whether some readings share an error of their tool, over whatever axes they lie on."""
        return bool(self.solved.graph.shared)

    @cached_property
    def as_planned(self) -> Floats:
        """Positions (n,) with every uncut mark laid out to plan from its reference."""
        network = self.solved.graph.network
        reference = network.cuts.reference
        laid_out = self.solved.positions_mm[reference] + network.plan_mm - network.plan_mm[reference]
        return np.where(network.uncut, laid_out, self.solved.positions_mm)

    def marks(self, key: tuple[str, int]) -> list[int]:
        return [mark for row in self.terms(key) for mark, _ in row]

    def gap_mm(self, key: tuple[str, int], positions: Floats) -> Floats:
        return np.array([sum(coef * positions[mark] for mark, coef in row) for row in self.terms(key)])

    def seat(self, key: tuple[str, int]) -> Seat:
        contacts, marks = self.solved.assembly.contacts, self.solved.assembly.marks
        least = [
            0.0 if contacts[k].kind == "room" else min(0.0, contacts[k].least_mm) / 2
            for k, _ in self.groups[key]
        ]
        own = [marks[row[0][0]].part == key[0] for row in self.terms(key)]
        return Seat(rows_of(self.inside(key)), np.array(least), np.array(own))
