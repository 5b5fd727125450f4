"""Verdicts: joints and seats, from values, uncertainties and limits.

Words: a housing or a room fits, is tight, or is loose; a shoulder is proud or open. What is
closed already went together, so a closed contact is judged against its most only; a room is
never closed, for closing its joint must leave it open. A joint is never better than the seat
of its parts.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property
from itertools import accumulate

import numpy as np

from fitsolve.build.assembly import Contact
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
from fitsolve.solve.doubts import block_diagonal
from fitsolve.solve.judge import EXACT_MM, PROVEN, Room, Seat, Side, judge, margin, room, seats, together
from fitsolve.solve.shared import shared_part

FIT_WORDS: dict[Side, FitVerdict] = {"in": "fits", "low": "tight", "high": "loose", "unsure": "can't tell"}
SHOULDER_WORDS: dict[Side, FitVerdict] = {"in": "fits", "low": "proud", "high": "open", "unsure": "can't tell"}


def contact_findings(solved: Solved) -> list[ContactFinding]:
    """Every contact with its clearance and verdict."""
    contacts = solved.assembly.contacts
    rows = [contact.clearance for contact in contacts]
    u, fixed = [0.0] * len(rows), [False] * len(rows)
    for number, places in solved.by_piece([contact.marks[0] for contact in contacts]).items():
        piece = solved.pieces[number]
        own = rows_of([solved.inside(rows[place]) for place in places])
        spread = np.sqrt(piece.outlook.errors.variance(own)).tolist()
        for place, u_mm, is_fixed in zip(places, spread, piece.fixed_rows(own).tolist(), strict=True):
            u[place], fixed[place] = u_mm, is_fixed
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
            judged = judge(value, u[k], low, contact.most_mm)
            words = SHOULDER_WORDS if contact.kind == "butt" else FIT_WORDS
            chance, verdict = judged.chance, words[judged.side]
            if contact.joint not in solved.state.closed and judged.side in ("low", "high"):
                first = unread(solved, merged(rows[k]))
        expanded = None if value is None else 2 * u[k]
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
        self.groups: dict[tuple[str, int], list[tuple[Contact, Terms]]] = {}
        self.pieces_of: dict[str, list[tuple[str, int]]] = defaultdict(list)
        contacts = solved.assembly.contacts
        keys_of: dict[int, list[tuple[str, int]]] = defaultdict(list)
        for part, own in gaps.items():
            for number, places in solved.by_piece([contacts[k].marks[0] for k, _ in own]).items():
                key = part, number
                chosen = [own[place] for place in places]
                self.groups[key] = [(contacts[k], gap_terms(contacts[k])[side]) for k, side in chosen]
                self.pieces_of[part].append(key)
                keys_of[number].append(key)
        self.covariances: dict[tuple[str, int], Floats] = {}
        self.shared: dict[tuple[str, int], Floats] = {}
        for number, keys in keys_of.items():
            rows = rows_of([solved.inside(row) for key in keys for _, row in self.groups[key]])
            ends = [*accumulate(len(self.groups[key]) for key in keys)]
            gaps_of = [rows.stretch(first, end) for first, end in zip([0, *ends], ends, strict=False)]
            errors = solved.pieces[number].outlook.errors
            self.covariances.update(zip(keys, errors.covariances(gaps_of), strict=True))
            for key, own_gaps in zip(keys, gaps_of, strict=True):
                if (moved := shared_part(errors, own_gaps)) is not None:
                    self.shared[key] = moved

    def finding(self, part: str, joints: tuple[str, ...]) -> SeatFinding:
        """One part: the chances of its pieces (axes) multiply, for their errors are independent; those that the
        readings of a tool tie are one."""
        margins, rooms = [], {key: self.room(key) for key in self.pieces_of[part]}
        for key in self.pieces_of[part]:
            if any(self.uncut[mark] for _, row in self.groups[key] for mark, _ in row):
                margins.append(margin(rooms[key], self.slack_mm(key, self.as_planned)))
        tied = [key for key in self.pieces_of[part] if key in self.shared]
        groups = [[key] for key in self.pieces_of[part] if key not in self.shared]
        chance = math.prod(self.chance(own, rooms) for own in ([tied, *groups] if tied else groups))
        verdict: SeatVerdict = "goes on" if chance >= PROVEN else "jams" if chance <= 1 - PROVEN else "can't tell"
        return SeatFinding(part, chance, verdict, joints, min(margins) if margins else None)

    def chance(self, keys: list[tuple[str, int]], rooms: Mapping[tuple[str, int], Room]) -> float:
        """The chance that a part goes on in these pieces at once."""
        slack = [self.slack_mm(key, self.solved.places_mm) for key in keys]
        if len(keys) == 1:
            return seats(rooms[keys[0]], slack[0], self.covariances[keys[0]])
        covariance = block_diagonal([self.covariances[key] for key in keys])
        moved = np.concatenate([self.shared[key] for key in keys])
        own = block_diagonal([np.ones((len(one), len(one))) for one in slack])
        covariance += (1.0 - own) * (moved @ moved.T)
        whole = together([rooms[key] for key in keys], [len(one) for one in slack])
        return seats(whole, np.concatenate(slack), covariance)

    @cached_property
    def uncut(self) -> list[bool]:
        """For each mark whether it is still to be cut."""
        uncut: list[bool] = self.solved.graph.network.uncut.tolist()
        return uncut

    @cached_property
    def as_planned(self) -> list[float]:
        """Positions (n,) with every uncut mark laid out to plan from its reference."""
        network = self.solved.graph.network
        reference = network.cuts.reference
        laid_out = self.solved.positions_mm[reference] + network.plan_mm - network.plan_mm[reference]
        planned: list[float] = np.where(network.uncut, laid_out, self.solved.positions_mm).tolist()
        return planned

    def slack_mm(self, key: tuple[str, int], at: list[float]) -> Floats:
        """What the gaps of a part come to with marks at these places, less what they have to be at least."""
        return np.array([
            sum([coef * at[mark] for mark, coef in row])
            - (0.0 if one.kind == "room" else min(0.0, one.least_mm) / 2)
            for one, row in self.groups[key]
        ])

    def room(self, key: tuple[str, int]) -> Room:
        """Which of them leave the part room together: the upper mark of a gap stands first in its row."""
        marks, number = self.solved.assembly.marks, self.solved.numbers
        own = [marks[row[0][0]].part == key[0] for _, row in self.groups[key]]
        pairs = [(number[row[0][0]], number[row[1][0]]) for _, row in self.groups[key]]
        return room(Seat(pairs, own), self.solved.pieces[key[1]].outlook)
