"""Bent: a reading at a station that does not go with what is known of the plain marks.

A station lies straight with its mark until it is read. With r what was read between stations, less the plan, and
d what readings and closed joints say of their plain marks, less the plan,

    off = r - d,    u^2 = u_r^2 + var(d) + (workmanship / 2)^2 for each station;

off by more than 3.2905 u, the wood is bent or leans there, or one of the readings is wrong: nothing tells which, and
the estimate passes over it, for a station moves no mark that is read. Asked only where readings and closed joints
alone settle d, and of stations on two marks: how far one mark leans is no matter of its mark.

Where no open joint and no check is judged at the plain marks, and nothing still to be cut rests on them, it is no
matter: what stands at the stations is then told by the checks that name them.

The same stations read again, and alike, the slip is ruled out: then it is the shape of the wood.

What d would move: with c the covariance of all positions with d, they move by c / var(d) for each mm of it.

Not here: words (report).
"""

from __future__ import annotations

import math

import numpy as np

from fitsolve.build.readings import Reading
from fitsolve.build.terms import merged
from fitsolve.findings.doubts import CRITICAL
from fitsolve.findings.moved import parts_moved
from fitsolve.findings.solved import Solved, Terms, rows_of
from fitsolve.findings.values import Bent
from fitsolve.rows import Floats
from fitsolve.solve.pieces import Piece
from fitsolve.solve.shared import SharedErrors

KNOWN_MM = 1e-6
"""What is known better than this nothing moves."""


def bent(solved: Solved) -> tuple[Bent, ...]:
    """Return the readings at stations that contradict what is known of the plain marks, in the order of the log."""
    apart = [one for one in solved.state.readings if _plain(solved, one)]
    first = [one for k, one in enumerate(apart) if not any(_alike(one, other) for other in apart[:k])]
    found = [one for reading in first if (one := _bent(solved, reading, apart)) is not None]
    return tuple(one for one in found if one.moved or one.judged)


def _plain(solved: Solved, reading: Reading) -> Terms:
    """The plain marks of a reading at stations; none where it has no station, or they are one mark."""
    marks, sloped = solved.assembly.marks, solved.assembly.sloped_ends
    stations = {mark for mark, _ in reading.terms if marks[mark].station_of is not None and mark not in sloped}
    if not stations or len(reading.terms) != 2:
        return []
    plain = []
    for mark, coef in reading.terms:
        station_of = marks[mark].station_of if mark in stations else None
        plain.append((mark if station_of is None else station_of, coef))
    return merged(plain)


def _bent(solved: Solved, reading: Reading, apart: list[Reading]) -> Bent | None:
    plain, piece = _plain(solved, reading), solved.piece(list(reading.terms))
    if piece is None or solved.piece(plain) is not piece or not piece.read.settled(solved.inside(plain)):
        return None
    network, plan = solved.graph.network, solved.graph.network.plan_mm
    number = solved.state.readings.index(reading)
    row = next(k for k, one in enumerate(solved.graph.measured) if (one.kind, one.number) == ("reading", number))
    place = int(np.flatnonzero(piece.chosen["measured"] == row)[0])
    known = solved.value_mm(plain) - sum(coef * plan[mark] for mark, coef in plain)
    off = float(piece.network.measured.value[place]) - float(known)
    variance = float(piece.facts.variance(rows_of([solved.inside(plain)]))[0])
    stations = sum(mark not in dict(plain) for mark, _ in reading.terms)
    straight = stations * (solved.assembly.workmanship_mm / 2) ** 2
    if abs(off) <= CRITICAL * math.sqrt(float(network.measured.scale[row]) ** 2 + variance + straight):
        return None
    way = -1.0 if reading.value_mm < 0 else 1.0
    again = any(_alike(reading, one) for one in apart if one is not reading)
    end, start = sorted(plain, key=lambda term: -term[1])
    moved = () if again else parts_moved(solved, [_with_it(solved, piece, plain, off)])
    return Bent(
        reading.no, reading.start, reading.end, reading.tool, reading.shown_mm,
        solved.assembly.marks[start[0]].name, solved.assembly.marks[end[0]].name,
        way * solved.value_mm(plain), 2 * math.sqrt(variance), way * off, again, moved, _judged(solved, plain),
    )  # fmt: skip


def _judged(solved: Solved, plain: Terms) -> tuple[str, ...]:
    """The open joints that meet at the plain marks, and the checks about them."""
    assembly, own = solved.assembly, {mark for mark, _ in plain}
    joints = dict.fromkeys(
        assembly.joints[contact.joint].name
        for contact in assembly.contacts
        if contact.joint not in solved.state.closed and own & set(contact.marks)
    )
    return *joints, *(check.name for check in assembly.checks if own & set(check.every_mark))


def _alike(one: Reading, other: Reading) -> bool:
    """Whether two readings are of the same stations and say the same."""
    same = dict(one.terms) == {mark: coef * (1 if one.terms[0] in other.terms else -1) for mark, coef in other.terms}
    return same and abs(one.shown_mm - other.shown_mm) <= CRITICAL * math.hypot(one.u_mm, other.u_mm)


def _with_it(solved: Solved, piece: Piece, plain: Terms, off_mm: float) -> Floats:
    """How all marks (n,) would move if the plain marks were so much further apart."""
    errors = piece.advice.base if isinstance(piece.advice, SharedErrors) else piece.advice
    weights = np.zeros(len(piece.network))
    for mark, coef in solved.inside(plain):
        weights[mark] = coef
    influence = errors.influence(weights)
    x = np.zeros(len(solved.piece_of))
    variance = float(influence @ influence)
    if variance > KNOWN_MM**2:
        x[piece.marks] = errors.moved(influence[:, None])[:, 0] * (off_mm / variance)
    return x
