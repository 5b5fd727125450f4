"""Grounds: what a number stands on, and what it would take to be sure.

A value v with standard uncertainty u is held against limits. Beside the chances of lying below,
within and above them, three things are told:

    the U that would prove it     the largest 2 u at which the chance of the side v lies on is 0.95;
                                  for v outside, |v - limit| / 1.645 * 2; none where v stands on a limit
    the shares of that U          i_k^2 / sum of i_k^2, i_k = dv per unit error of reading k
    what each reading could hide  its smallest error that would be found (minimal detectable error)

Not here: words (report).
"""

from __future__ import annotations

import math
from typing import Literal

from fitsolve.findings.causes import Share, shares, squeeze
from fitsolve.findings.checks import check_values, told, worst_of
from fitsolve.findings.solved import Solved, Terms, rows_of
from fitsolve.findings.values import Doubt
from fitsolve.graph import clearance_terms, merged
from fitsolve.light import dataclass
from fitsolve.solve.judge import EXACT_MM, PROVEN, chance_within
from fitsolve.solve.pieces import Piece

SURE_Z = 1.6448536269514722
"""A normal value lies below its mean plus this many standard deviations with a chance of 0.95."""

SAME_U = 1e-12
"""Two uncertainties no further apart than this share of them are one."""

GroundKind = Literal["contact", "check", "seat", "distance"]


@dataclass(frozen=True, slots=True)
class Ground:
    """One number and what it stands on; mm, uncertainties expanded (k = 2).

    `kind` and `number` say what it is of (a contact, a check; -1 for a seat or a distance). The value
    is None where nothing fixes it; limits may be infinite; `to_prove_mm` is None where no U would do.
    """

    kind: GroundKind
    number: int
    name: str
    value_mm: float | None
    expanded_mm: float | None
    low_mm: float
    high_mm: float
    below: float
    within: float
    above: float
    to_prove_mm: float | None
    shares: tuple[Share, ...]


def u_to_prove(value: float, low: float, high: float) -> float | None:
    """Return the largest standard uncertainty at which the side a value lies on is proven; None for none.

    Infinity where any will do.
    """
    if value < low:
        return (low - value) / SURE_Z if low - value > EXACT_MM else None
    if value > high:
        return (value - high) / SURE_Z if value - high > EXACT_MM else None
    if min(value - low, high - value) <= EXACT_MM:
        return None
    if math.isinf(low) and math.isinf(high):
        return math.inf
    return _last_proven(value, low, high, min(value - low, high - value) / SURE_Z + EXACT_MM)


def _last_proven(value: float, low: float, high: float, bad: float) -> float:
    """The largest u below `bad`, which is too large, at which a value is proven to lie within: false position, the
    weight of an end that stays halved (Illinois method, from memory), to the last digits."""
    good, at_good, at_bad = 0.0, 1.0 - PROVEN, chance_within(value, bad, low, high)[1] - PROVEN
    side = 0
    for _ in range(80):
        if bad - good <= SAME_U * bad:
            break
        middle = good + (bad - good) * at_good / (at_good - at_bad)
        middle = middle if good < middle < bad else (good + bad) / 2
        over = chance_within(value, middle, low, high)[1] - PROVEN
        if over >= 0.0:
            good, at_good = middle, over
            at_bad /= 2 if side > 0 else 1
            side = 1
        else:
            bad, at_bad = middle, over
            at_good /= 2 if side < 0 else 1
            side = -1
    return good


def ground(
    solved: Solved,
    of: tuple[GroundKind, int, str],
    terms: Terms,
    limits: tuple[float, float],
    target: float = 0.0,
) -> Ground:
    """Return a sum less its target, held against limits, and what it stands on."""
    kind, number, name = of
    piece = solved.piece(terms) if terms else None
    if piece is None or not _told(solved, of, piece, terms):
        return Ground(kind, number, name, None, None, *limits, 0.0, 0.0, 0.0, None, ())
    of_one_part = kind == "distance" and solved.of_one_part(terms)
    u = solved.u_as_cut(piece, terms) if of_one_part else solved.u_finished(piece, terms)
    value = solved.value_mm(terms) - target
    needed = u_to_prove(value, *limits)
    return Ground(
        kind,
        number,
        name,
        value,
        2 * u,
        *limits,
        *chance_within(value, u, *limits),
        None if needed is None else 2 * needed,
        tuple(shares(solved, terms, of_one_part)),
    )


def _told(solved: Solved, of: tuple[GroundKind, int, str], piece: Piece, terms: Terms) -> bool:
    """Whether anything fixes a sum."""
    if of[0] == "check":
        return bool(told(solved, piece, [solved.assembly.checks[of[1]]], rows_of([solved.inside(terms)]))[0])
    return piece.fixed(solved.inside(terms))


def joint_grounds(solved: Solved, number: int) -> list[Ground]:
    """One for each contact of a joint; what is closed is held against its most only."""
    found = []
    for k in solved.assembly.joints[number].contacts:
        contact = solved.assembly.contacts[k]
        closed = number in solved.state.closed and contact.kind != "room"
        low = -math.inf if closed else contact.least_mm
        terms = merged(clearance_terms(contact))
        found.append(ground(solved, ("contact", k, contact.kind), terms, (low, contact.most_mm)))
    return found


def check_grounds(solved: Solved, number: int) -> list[Ground]:
    """One for each value of a check; of a check of the frame for the one that counts alone."""
    check = solved.assembly.checks[number]
    within = check.within_mm or 0.0
    values = check_values(solved, check)
    worst = worst_of(values)
    if check.frame is not None:
        values = [one for one in values if one.value_mm is None][:1] or ([worst] if worst is not None else [])
    return [
        ground(solved, ("check", number, check.name), one.terms, (-within, within), one.target) for one in values
    ]


def seat_grounds(solved: Solved, part: str) -> list[Ground]:
    """Of a part that has to go on several joints at once: the two gaps that leave it the least room."""
    tight = squeeze(solved, part)
    if tight is None:
        return []
    terms = list(tight.terms)
    target = solved.value_mm(terms) - tight.room_mm
    return [ground(solved, ("seat", -1, part), terms, (0.0, math.inf), target)]


def distance_grounds(solved: Solved, start: int, end: int) -> list[Ground]:
    """How far apart two marks are."""
    marks = solved.assembly.marks
    name = f"{marks[start].name}..{marks[end].name}"
    apart = marks[end].plan_mm - marks[start].plan_mm
    if solved.assembly.placed[start] != solved.assembly.placed[end]:  # the plan does not tell which way
        apart = solved.value_mm([(end, 1.0), (start, -1.0)])
    way = 1.0 if apart >= 0 else -1.0
    terms = [(end, way), (start, -way)]
    return [ground(solved, ("distance", -1, name), terms, (-math.inf, math.inf))]


def could_hide(doubts: tuple[Doubt, ...], one: Share) -> float | None:
    """Return the smallest error, mm, of a reading that would be found; None where none would be."""
    if one.kind != "reading":
        return None
    return next((doubt.smallest_error_mm for doubt in doubts if doubt.row == one.number), None)
