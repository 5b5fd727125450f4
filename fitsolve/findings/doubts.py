"""Doubts: each reading held against all the others, and against the plan where nothing else checks it.

A reading whose standardised residual passes the two-sided critical value is suspect. What
stands out is sought one after another, each left out before the next is sought, so that what
stood out only because of it is told apart from what is wrong by itself; what explains a misfit
as well as the worst does is named with it. Closed contacts are held against the readings in the
same way: a shoulder may stand off.

A reading that nothing checks (redundancy 0) is only screened: where the plan says how far its
marks are apart, more off plan than cuts ever miss by is called a slip. Nothing is thrown out.

The mathematics: solve/doubts.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from fitsolve.findings.slips import far_off_plan
from fitsolve.findings.solved import Solved
from fitsolve.findings.values import Agreement, Doubt, Suspect, Suspicion, ToolScatter
from fitsolve.graph import Source
from fitsolve.light import dataclass
from fitsolve.rows import Floats
from fitsolve.solve.covariance import DenseErrors
from fitsolve.solve.doubts import (
    CRITICAL,
    Standing,
    agrees,
    block_of,
    chance_above,
    scatter,
    smallest_error,
    stand_out,
)
from fitsolve.solve.pieces import Piece, Residuals, residuals

__all__ = ["CRITICAL", "Doubted", "doubted"]


@dataclass(frozen=True)
class Doubted:
    """All that is doubtful: one entry a reading in the order of the log, what stands out, and
    whether the whole agrees."""

    doubts: tuple[Doubt, ...]
    suspicions: tuple[Suspicion, ...]
    agreement: Agreement


def doubted(solved: Solved) -> Doubted:
    """Hold all readings against each other, piece by piece."""
    found: list[Doubt] = []
    suspicions: list[Suspicion] = []
    square_sum, freedom = 0.0, 0
    scatters = _Scatters(solved)
    for piece in solved.pieces:
        if len(piece.chosen["measured"]) == 0:
            continue
        checked = residuals(piece)
        found += _readings(solved, piece, checked)
        z = checked.residual_mm / piece.network.measured.scale
        square_sum += float(z[checked.redundancy > 0] @ z[checked.redundancy > 0])
        freedom += round(float(checked.redundancy.sum()))
        standing = _standing(piece, checked)
        suspicions += _suspicions(solved, piece, checked, standing)
        scatters.take(piece, z, checked, standing)
    agreement = Agreement(
        square_sum, freedom, chance_above(square_sum, freedom), agrees(square_sum, freedom), scatters.findings()
    )
    found.sort(key=lambda doubt: doubt.row)
    suspicions.sort(key=lambda one: (len(one.after), -abs(one.worst.standardised)))
    return Doubted(tuple(found), tuple(suspicions), agreement)


def _sources(solved: Solved, piece: Piece) -> list[Source]:
    return [solved.graph.measured[row] for row in piece.chosen["measured"].tolist()]


def _readings(solved: Solved, piece: Piece, checked: Residuals) -> list[Doubt]:
    found = []
    for k, source in enumerate(_sources(solved, piece)):
        if source.kind != "reading":
            continue
        reading = solved.state.readings[source.number]
        way = -1.0 if reading.value_mm < 0 else 1.0
        residual, redundancy = float(checked.residual_mm[k]), float(checked.redundancy[k])
        w = float(checked.standardised[k])
        tied = len({solved.assembly.placed[mark] for mark, _ in reading.terms}) == 1
        off_plan = way * float(piece.network.measured.value[k]) if tied or not reading.across else None
        if redundancy > 0:
            suspect = abs(w) > CRITICAL
            would_be = way * (reading.value_mm + residual / redundancy)
        else:
            workmanship = solved.assembly.workmanship_mm
            suspect = off_plan is not None and far_off_plan(off_plan, reading.u_mm, workmanship)
            would_be = None
        found.append(
            Doubt(
                reading.no,
                reading.start,
                reading.end,
                reading.tool,
                reading.shown_mm,
                way * residual,
                way * w if redundancy > 0 else None,
                redundancy,
                suspect,
                would_be,
                smallest_error(reading.u_mm, redundancy),
                off_plan,
            )
        )
    return found


def _standing(piece: Piece, checked: Residuals) -> list[Standing]:
    if np.abs(checked.standardised).max() <= CRITICAL:
        return []
    rows, errors = piece.network.measured, piece.advice

    def column(k: int) -> Floats:
        return np.asarray(rows.of(errors.response(k)) / rows.scale)

    return stand_out(checked.residual_mm / rows.scale, checked.redundancy, rows.scale, column)


def _suspicions(solved: Solved, piece: Piece, checked: Residuals, standing: list[Standing]) -> list[Suspicion]:
    sources = _sources(solved, piece)
    found: list[Suspicion] = []
    after: list[Suspect] = []

    def alone(k: int) -> Suspect:
        error = -float(checked.residual_mm[k] / checked.redundancy[k])
        return _suspect(solved, sources[k], float(checked.standardised[k]), error)

    for one in standing:
        worst = _suspect(solved, sources[one.row], one.w, one.error)
        found.append(
            Suspicion(
                worst,
                tuple(alone(k) for k in one.equals),
                tuple(alone(k) for k in one.because),
                tuple(after),
                int((checked.redundancy > 0).sum()) - len(after) - 1,
                one.rest_agrees,
                chance_above(one.square_sum, one.freedom),
            )
        )
        after.append(worst)
    return found


def _suspect(solved: Solved, source: Source, w: float, error: float) -> Suspect:
    if source.kind != "reading":
        return Suspect(source.kind, source.number, w, error)
    reading = solved.state.readings[source.number]
    way = -1.0 if reading.value_mm < 0 else 1.0
    return Suspect("reading", reading.no, way * w, way * error)


class _Scatters:
    """The readings of each tool, gathered over all pieces. Pieces that are solved in a sparse way
    are left out: the part of R that is needed would be dense. What stands out is left out too, or
    one slip would speak for the whole tool."""

    def __init__(self, solved: Solved) -> None:
        self.solved = solved
        self.parts: dict[str, list[tuple[Floats, Floats]]] = defaultdict(list)

    def take(self, piece: Piece, z: Floats, checked: Residuals, standing: list[Standing]) -> None:
        if not isinstance(piece.advice, DenseErrors) or not np.any(checked.redundancy > 0):
            return
        by_tool: dict[str, list[int]] = defaultdict(list)
        for k, source in enumerate(_sources(self.solved, piece)):
            if source.kind == "reading" and checked.redundancy[k] > 0:
                by_tool[self.solved.state.readings[source.number].tool].append(k)
        rows = piece.network.measured
        adjusted = rows.of(piece.advice.maps) / rows.scale[:, None]
        for one in standing:
            z = z - one.direction * one.w
        for tool, own in by_tool.items():
            places = np.array(own, dtype=np.intp)
            block = block_of(adjusted, places)
            for one in standing:
                block = block - np.outer(one.direction[places], one.direction[places])
            self.parts[tool].append((z[places], block))

    def findings(self) -> tuple[ToolScatter, ...]:
        found = []
        for tool, parts in self.parts.items():
            z = np.concatenate([one for one, _ in parts])
            told = scatter(z, [block for _, block in parts])
            if told is not None:
                found.append(ToolScatter(tool, len(z), told.freedom, told.factor, told.chance, told.verdict))
        return tuple(found)
