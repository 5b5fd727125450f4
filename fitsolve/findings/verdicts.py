"""Verdicts: joints and seats, from values, uncertainties and limits.

Words: a housing or a room fits, is tight, or is loose; a shoulder is proud or open. What is
closed already went together, so a closed contact is judged against its most only; a room is
never closed, for closing its joint must leave it open. A joint is never better than the seat
of its parts.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate, pairwise

import numpy as np

from fitsolve.findings.solved import Solved, rows_of
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
from fitsolve.graph import merged
from fitsolve.light import cached_property
from fitsolve.rows import Floats, Ints
from fitsolve.solve.doubts import block_diagonal
from fitsolve.solve.judge import EXACT_MM, PROVEN, Room, Seat, Side, judge, margins, room, seats, together
from fitsolve.solve.shared import shared_part

FIT_WORDS: dict[Side, FitVerdict] = {"in": "fits", "low": "tight", "high": "loose", "unsure": "can't tell"}
SHOULDER_WORDS: dict[Side, FitVerdict] = {"in": "fits", "low": "proud", "high": "open", "unsure": "can't tell"}


def contact_findings(solved: Solved) -> list[ContactFinding]:
    """Every contact with its clearance and verdict."""
    contacts = solved.assembly.contacts
    rows = rows_of([contact.clearance for contact in contacts])
    u_mm, fixed = np.zeros(len(rows)), np.zeros(len(rows), dtype=bool)
    for number, places in solved.by_piece([contact.marks[0] for contact in contacts]).items():
        piece, own = solved.pieces[number], rows.pick(np.array(places)).renumber(solved.number)
        u_mm[places], fixed[places] = np.sqrt(piece.outlook.errors.variance(own)), piece.fixed_rows(own)
    told = zip(contacts, rows.of(solved.positions_mm).tolist(), u_mm.tolist(), fixed.tolist(), strict=True)
    found = []
    slanted = _slanted(solved)
    for k, (contact, value_mm, u, is_fixed) in enumerate(told):
        value = value_mm if is_fixed else None
        chance: float | None = None
        verdict: FitVerdict = "can't tell"
        first: tuple[tuple[int, int], ...] = ()
        if value is not None:
            closed = contact.joint in solved.state.closed and contact.kind != "room"
            low = -math.inf if closed else contact.least_mm
            judged = judge(value, u, low, contact.most_mm)
            words = SHOULDER_WORDS if contact.kind == "butt" else FIT_WORDS
            chance, verdict = judged.chance, words[judged.side]
            if contact.joint not in solved.state.closed and judged.side in ("low", "high"):
                first = unread(solved, merged(contact.clearance))
        expanded = None if value is None else 2 * u
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
    assembly, contacts, closed = solved.assembly, solved.assembly.contacts, solved.state.closed
    opens = [one.kind != "butt" and one.joint not in closed for one in contacts]
    to_go_on: dict[str, list[int]] = {}
    for part in assembly.parts:
        own = [k for k in assembly.contacts_of[part] if opens[k]]
        if any(contacts[k].kind == "housing" for k in own):
            to_go_on[part] = own
    joints = {part: dict.fromkeys(contacts[k].joint for k in own) for part, own in to_go_on.items()}
    seated = _Seated(solved, to_go_on)
    chances, margins_mm = seated.chances(), seated.margins_mm()
    return tuple(
        SeatFinding(
            part,
            chances[part],
            "goes on" if chances[part] >= PROVEN else "jams" if chances[part] <= 1 - PROVEN else "can't tell",
            tuple(assembly.joints[joint].name for joint in own),
            margins_mm.get(part),
        )
        for part, own in joints.items()
    )


Key = tuple[str, int]
"""A part and a piece."""


class _Seated:
    """The gaps that parts have to get over, each once (G); for each part those of each piece (m) by their numbers,
    with the room they leave and how they err together."""

    def __init__(self, solved: Solved, contacts_of: Mapping[str, Sequence[int]]) -> None:
        self.solved = solved
        contacts = solved.assembly.contacts
        numbers = sorted({k for own in contacts_of.values() for k in own})
        self.gaps = [gap for k in numbers for gap in contacts[k].gaps]
        self.rows = rows_of(self.gaps)
        ends = [(gap[0][0], gap[1][0]) for gap in self.gaps]  # the upper mark of a gap stands first in its row
        marks, inner = solved.assembly.marks, solved.numbers
        self.home = [solved.homes[upper] for upper, _ in ends]
        self.upper_part = [marks[upper].part for upper, _ in ends]
        self.ends = [(inner[upper], inner[lower]) for upper, lower in ends]
        first = [*accumulate((len(contacts[k].gaps) for k in numbers), initial=0)]
        gaps_of = {k: range(*stretch) for k, stretch in zip(numbers, pairwise(first), strict=True)}
        least = [0.0 if contacts[k].kind == "room" else min(0.0, contacts[k].least_mm) / 2 for k in numbers]
        self.least_mm = np.array(least).repeat(np.diff(first))
        self.groups: dict[Key, Ints] = {}
        self.rooms: dict[Key, Room] = {}
        for part, own in contacts_of.items():
            for number, some in self._by_home([gap for k in own for gap in gaps_of[k]]).items():
                own_side = [self.upper_part[gap] == part for gap in some]
                seat = Seat([self.ends[gap] for gap in some], own_side)
                self.rooms[part, number] = room(seat, solved.pieces[number].outlook)
                self.groups[part, number] = np.array(some, dtype=np.intp)
        self.covariances: dict[Key, Floats] = {}
        self.shared: dict[Key, Floats] = {}
        for number, some in self._by_home(range(len(self.gaps))).items():
            self._err_together(number, np.array(some, dtype=np.intp))

    def _by_home(self, gaps: Iterable[int]) -> dict[int, list[int]]:
        """Gaps by the piece they are in."""
        found: dict[int, list[int]] = {}
        for gap in gaps:
            found.setdefault(self.home[gap], []).append(gap)
        return found

    def _err_together(self, number: int, gaps: Ints) -> None:
        """Work out how the gaps of a piece err together that one part has to get over."""
        errors, inside = self.solved.pieces[number].outlook.errors, self.rows.pick(gaps).renumber(self.solved.number)
        keys = [key for key in self.groups if key[1] == number]
        place = np.zeros(len(self.rows), dtype=np.intp)
        place[gaps] = np.arange(len(gaps))
        chosen = [place[self.groups[key]] for key in keys]
        self.covariances.update(zip(keys, errors.covariances(inside, chosen), strict=True))
        moved = shared_part(errors, inside)
        if moved is not None:
            self.shared.update(zip(keys, (moved[own] for own in chosen), strict=True))

    def chances(self) -> dict[str, float]:
        """The chance that each part goes on. Those of its pieces (axes) multiply, for their errors are independent;
        those that the readings of a tool tie are one."""
        tied: dict[str, list[Key]] = defaultdict(list)
        for key in self.groups:
            if key in self.shared:
                tied[key[0]].append(key)
        apart = [*tied.values(), *([key] for key in self.groups if key not in self.shared)]
        rooms, slacks, covariances = [], [], []
        for keys in apart:
            own = [self.slack_mm[self.groups[key]] for key in keys]
            rooms.append(together([self.rooms[key] for key in keys], [*map(len, own)]))
            slacks.append(np.concatenate(own))
            covariances.append(self._together(keys))
        found: dict[str, float] = {}
        for keys, chance in zip(apart, seats(rooms, slacks, covariances), strict=True):
            found[keys[0][0]] = found.get(keys[0][0], 1.0) * chance
        return found

    def _together(self, keys: list[Key]) -> Floats:
        """How the gaps of a part err together, those of several pieces with what the readings of a tool share."""
        if len(keys) == 1:
            return self.covariances[keys[0]]
        covariance = block_diagonal([self.covariances[key] for key in keys])
        moved = np.concatenate([self.shared[key] for key in keys])
        own = block_diagonal([np.ones((len(self.groups[key]),) * 2) for key in keys])
        return np.asarray(covariance + (1.0 - own) * (moved @ moved.T))

    def margins_mm(self) -> dict[str, float]:
        """The least room (mm) that each part is left on an axis where anything is still to be cut, cut to plan; no part
        that nothing bounds there on both sides."""
        network = self.solved.graph.network
        changing = {*self.rows.owner()[network.uncut[self.rows.mark]].tolist()}  # a mark of theirs is still to be cut
        keys = [key for key, own in self.groups.items() if not changing.isdisjoint(own.tolist())]
        left = margins([self.rooms[key] for key in keys], [self.as_planned_mm[self.groups[key]] for key in keys])
        found: dict[str, float] = {}
        for (part, _), margin in zip(keys, left, strict=True):
            if math.isinf(margin):
                continue
            found[part] = min(found.get(part, margin), margin)
        return found

    @cached_property
    def slack_mm(self) -> Floats:
        """What the gaps (G) come to less what they have to be at least."""
        return np.asarray(self.rows.of(self.solved.positions_mm) - self.least_mm)

    @cached_property
    def as_planned_mm(self) -> Floats:
        """The same with every uncut mark laid out to plan from its reference."""
        network = self.solved.graph.network
        reference = network.cuts.reference
        laid_out = self.solved.positions_mm[reference] + network.plan_mm - network.plan_mm[reference]
        return np.asarray(self.rows.of(np.where(network.uncut, laid_out, self.solved.positions_mm)) - self.least_mm)
