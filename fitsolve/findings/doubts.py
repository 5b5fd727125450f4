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

import math
from collections import defaultdict
from itertools import accumulate, pairwise

import numpy as np

from fitsolve.build.readings import Reading
from fitsolve.findings.slips import far_off_plan
from fitsolve.findings.solved import Solved
from fitsolve.findings.values import ALIKE, Agreement, Doubt, Suspect, Suspicion, ToolScatter
from fitsolve.graph import Source
from fitsolve.light import dataclass, replace
from fitsolve.rows import Floats, Ints
from fitsolve.solve.covariance import DenseErrors
from fitsolve.solve.doubts import (
    ALPHA,
    CRITICAL,
    Standing,
    agrees,
    chance_above,
    scatter_of,
    smallest_error,
    square_trace,
    stand_out,
)
from fitsolve.solve.pieces import CHECKED, Piece, Residuals, residuals
from fitsolve.solve.shared import columns_of
from fitsolve.solve.staged import Staged

SLIPS_MOST = 2
"""So many readings of one tool may stand out and still be taken for slips (our own choice)."""

__all__ = ["CRITICAL", "Doubted", "doubted"]


@dataclass(frozen=True)
class Doubted:
    """All that is doubtful: one entry a reading in the order of the log, what stands out, and
    whether the whole agrees."""

    doubts: tuple[Doubt, ...]
    suspicions: tuple[Suspicion, ...]
    agreement: Agreement

    @property
    def worst(self) -> tuple[Suspect, ...]:
        """The worst of each thing that stands out, then each reading that only the plan speaks against."""
        named = [one.worst for one in self.suspicions]
        alone = [one for one in self.doubts if one.suspect and one.standardised is None]
        return (*named, *(Suspect("reading", one.row, 0.0, one.off_plan_mm or 0.0) for one in alone))


def doubted(solved: Solved) -> Doubted:
    """Hold all readings against each other, piece by piece; pieces read with a tool whose error they
    share together."""
    found: list[Doubt] = []
    suspicions: list[Suspicion] = []
    square_sum, freedom = 0.0, 0
    scatters = _Scatters(solved)
    for system in _systems(solved):
        own: list[Doubt] = []
        for piece, checked in zip(system.pieces, system.checked, strict=True):
            own += _readings(solved, piece, checked)
        found += _with_swapped(solved, system, own)
        checks = system.redundancy > 0
        square_sum += float(system.z[checks] @ system.z[checks])
        freedom += round(float(system.redundancy.sum()))
        standing = []
        if np.abs(system.standardised).max() > CRITICAL:
            standing = stand_out(system.z, system.redundancy, system.scale, system.column)
        suspicions += _suspicions(solved, system, standing)
        scatters.take(system, standing)
    chance = chance_above(square_sum, freedom)
    agreement = Agreement(square_sum, freedom, chance, freedom <= 0 or chance >= ALPHA, scatters.findings())
    found.sort(key=lambda doubt: doubt.row)
    suspicions.sort(key=lambda one: (len(one.after), -round(abs(one.worst.standardised), ALIKE)))
    return Doubted(tuple(found), tuple(suspicions), agreement)


def _with_swapped(solved: Solved, system: _System, own: list[Doubt]) -> list[Doubt]:
    """The doubts of a system, with those that look swapped made suspect: only the plan speaks against them."""
    workmanship = solved.assembly.workmanship_mm
    far = [one for one in own if one.standardised is not None and not one.suspect]
    far = [one for one in far if far_off_plan(one.off_plan_mm or 0.0, 0.0, workmanship)]
    if len(far) < 2:
        return own
    from fitsolve.findings.swapped import Checked, swapped

    readings = solved.state.readings
    place = {readings[one.number].no: k for k, one in enumerate(system.sources) if one.kind == "reading"}
    way = {one.no: math.copysign(1.0, one.value_mm) for one in readings}
    checked = [Checked(one, place[one.row], float(system.scale[place[one.row]]), way[one.row]) for one in far]
    rows = swapped(checked, system.z, system.adjusted, workmanship)
    return [
        replace(one, suspect=True, standardised=None, would_be_mm=None) if one.row in rows else one for one in own
    ]


class _System:
    """Pieces whose residuals have to do with each other: the measured rows of one after another, then
    the rows that say what the errors are that they share, if they share any."""

    def __init__(self, solved: Solved, pieces: list[Piece]) -> None:
        self.pieces = pieces
        self.checked = [residuals(piece) for piece in pieces]
        self.sources = [source for piece in pieces for source in _sources(solved, piece)]
        self.start = [*accumulate((len(piece.network.measured) for piece in pieces), initial=0)]
        scales = [piece.network.measured.scale for piece in pieces]
        z = [one.residual_mm / scale for one, scale in zip(self.checked, scales, strict=True)]
        redundancy = [one.redundancy for one in self.checked]
        self.spread = np.zeros((self.start[-1], 0))
        if pieces[0].shared is not None and len(solved.graph.shared) > 0 and _shares(pieces[0]):
            told = pieces[0].shared.told
            self.spread = np.vstack([piece.shared.spread for piece in pieces if piece.shared is not None])
            self.spread = np.vstack([self.spread, told.root / told.u[:, None]])
            self.sources += [Source("tool", k) for k in range(len(told.u))]
            scales.append(told.u)
            z.append(told.value / told.u)
            redundancy.append(np.clip(1.0 - np.square(told.root / told.u[:, None]).sum(axis=1), 0.0, 1.0))
        self.scale, self.z, self.redundancy = (np.concatenate(one) for one in (scales, z, redundancy))

    @property
    def standardised(self) -> Floats:
        """w of each row, 0 where nothing checks it."""
        checks = self.redundancy > CHECKED
        return np.where(checks, self.z / np.sqrt(np.where(checks, self.redundancy, 1.0)), 0.0)

    def column(self, k: int) -> Floats:
        """Column k of the map from rows to adjusted rows, all divided by their u."""
        unit = np.zeros((len(self.z), 1))
        unit[k] = 1.0
        return self.adjusted(unit)[:, 0]

    def adjusted(self, errors: Floats) -> Floats:
        """What errors (m, c) of the rows make of the adjusted rows (m, c), all divided by their u."""
        found = np.zeros(errors.shape)
        for place, piece in enumerate(self.pieces):
            own = slice(self.start[place], self.start[place + 1])
            if np.any(errors[own]):
                rows = piece.network.measured
                found[own] = columns_of(rows, piece.adjusted.moved(errors[own])) / rows.scale[:, None]
        return found + self.spread @ (self.spread.T @ errors) if self.spread.shape[1] else found


def _shares(piece: Piece) -> bool:
    return piece.shared is not None and bool(np.any(piece.shared.weights))


def _systems(solved: Solved) -> list[_System]:
    read = [piece for piece in solved.pieces if len(piece.chosen["measured"])]
    together = [piece for piece in read if _shares(piece)]
    groups = [[piece] for piece in read if not _shares(piece)]
    return [_System(solved, group) for group in ([together, *groups] if together else groups)]


def _sources(solved: Solved, piece: Piece) -> list[Source]:
    return [solved.graph.measured[row] for row in piece.chosen["measured"].tolist()]


def _tied(solved: Solved, reading: Reading) -> bool:
    """Whether the plan says how far its marks are apart, along each axis."""
    placed, marks = solved.assembly.placed, solved.assembly.marks
    groups = {(marks[mark].axis, placed[mark]) for mark, _ in reading.terms}
    return len(groups) == len({axis for axis, _ in groups})


def _readings(solved: Solved, piece: Piece, checked: Residuals) -> list[Doubt]:
    found = []
    alone = _by_repeats_alone(piece, checked)
    residuals_mm, redundancies, standardised = (
        one.tolist() for one in (checked.residual_mm, checked.redundancy, checked.standardised)
    )
    said_mm = solved.graph.network.measured.value[piece.chosen["measured"]].tolist()
    for k, source in enumerate(_sources(solved, piece)):
        if source.kind != "reading":
            continue
        reading = solved.state.readings[source.number]
        way = -1.0 if reading.value_mm < 0 else 1.0
        residual, redundancy, w = residuals_mm[k], redundancies[k], standardised[k]
        off_plan = way * said_mm[k] if not reading.across or _tied(solved, reading) else None
        told = redundancy > 0
        if told:
            suspect = abs(w) > CRITICAL
            would_be: float | None = way * (reading.value_mm + residual / redundancy)
        if not told or (alone[k] and not suspect):
            workmanship = solved.assembly.workmanship_mm
            suspect = off_plan is not None and far_off_plan(off_plan, reading.u_mm, workmanship)
            if suspect and off_plan is not None and reading.across:  # now see how far open joints let them lie
                from fitsolve.findings.play import play_mm

                marks = [mark for mark, _ in reading.terms]
                play = play_mm(solved.assembly, marks, solved.state.closed)
                suspect = far_off_plan(off_plan, reading.u_mm, workmanship, play)
            told = told and not suspect  # that the same was read twice is no check of where it was read
            would_be = would_be if told else None
        found.append(
            Doubt(
                reading.no,
                reading.start,
                reading.end,
                reading.tool,
                reading.shown_mm,
                way * residual,
                way * w if told else None,
                redundancy,
                suspect,
                would_be,
                smallest_error(reading.u_mm, redundancy),
                off_plan,
            )
        )
    return found


def _by_repeats_alone(piece: Piece, checked: Residuals) -> list[bool]:
    """For each measured row whether repeats of it, the same marks read again, are all that checks it.

    Of m readings of one distance that nothing else checks the redundancies add up to m - 1; with any other check
    to more.
    """
    rows = piece.network.measured
    alone = [False] * len(rows)
    of_marks: dict[frozenset[int], list[int]] = defaultdict(list)
    marks, nowhere = rows.mark.tolist(), np.flatnonzero(rows.coef == 0.0).tolist()  # some are 0 of a diagonal
    for place in nowhere:
        marks[place] = -1
    for k, (start, end) in enumerate(pairwise(rows.start.tolist())):
        those = frozenset(marks[start:end])
        of_marks[those - {-1} if nowhere else those].append(k)
    if len(of_marks) == len(rows):
        return alone
    terms = [*rows.terms()]
    groups: dict[tuple[tuple[int, float], ...], list[int]] = defaultdict(list)
    for alike in of_marks.values():
        for k in alike if len(alike) > 1 else ():
            told = sorted([term for term in terms[k] if term[1]])
            groups[tuple((mark, coef / told[0][1]) for mark, coef in told)].append(k)
    for own in groups.values():
        if len(own) > 1 and float(checked.redundancy[own].sum()) <= len(own) - 1 + CHECKED:
            for k in own:
                alone[k] = True
    return alone


def _suspicions(solved: Solved, system: _System, standing: list[Standing]) -> list[Suspicion]:
    found: list[Suspicion] = []
    if not standing:
        return found
    after: list[Suspect] = []
    w, checks = system.standardised, system.redundancy > 0

    def alone(k: int) -> Suspect:
        error = -float(w[k] * system.scale[k]) / math.sqrt(system.redundancy[k])
        return _suspect(solved, system.sources[k], float(w[k]), error)

    for one in standing:
        worst, equals = _suspect(solved, system.sources[one.row], one.w, one.error), [alone(k) for k in one.equals]
        square_sum, told = one.square_sum, _against_plan(solved, [worst, *equals])
        if told is not None and told is not worst:
            square_sum += one.w**2 - told.standardised**2
            worst, equals = told, [worst, *(who for who in equals if who is not told)]
        found.append(
            Suspicion(
                worst,
                tuple(equals),
                tuple(alone(k) for k in one.because),
                tuple(after),
                int(checks.sum()) - len(after) - 1,
                agrees(square_sum, one.freedom),
                chance_above(square_sum, one.freedom),
                told is not None and bool(equals),
            )
        )
        after.append(worst)
    return found


def _against_plan(solved: Solved, alike: list[Suspect]) -> Suspect | None:
    """The one, of several that explain a misfit alike, that is far off plan by itself and would not be
    if it were what the others say; None where it is none of them, or several."""
    by_row = {reading.no: reading for reading in solved.state.readings}
    found = []
    for who in alike:
        if who.kind != "reading":
            continue
        reading = by_row[who.number]
        if reading.across and len({solved.assembly.placed[mark] for mark, _ in reading.terms}) != 1:
            continue
        planned = sum(coef * solved.assembly.marks[mark].plan_mm for mark, coef in reading.terms)
        way = -1.0 if reading.value_mm < 0 else 1.0
        off, workmanship = reading.value_mm - planned, solved.assembly.workmanship_mm
        if far_off_plan(off, reading.u_mm, workmanship) and not far_off_plan(
            off - way * who.error_mm, reading.u_mm, workmanship
        ):
            found.append(who)
    return found[0] if len(found) == 1 else None


def _suspect(solved: Solved, source: Source, w: float, error: float) -> Suspect:
    if source.kind != "reading":
        return Suspect(source.kind, source.number, w, error)
    reading = solved.state.readings[source.number]
    way = -1.0 if reading.value_mm < 0 else 1.0
    return Suspect("reading", reading.no, way * w, way * error)


def _adjusted(piece: Piece) -> Floats:
    """How the adjusted rows (m, e) err with unit errors, what readings share taken as known, by u."""
    errors, rows = piece.adjusted, piece.network.measured
    assert isinstance(errors, DenseErrors), "asked for in dense pieces only"
    return np.asarray(rows.of(errors.few) / rows.scale[:, None])


def _few(standing: list[int], own: list[int]) -> bool:
    """Whether of the rows of a tool only a few stand out: two, or one in eight."""
    return len(set(standing) & set(own)) <= max(SLIPS_MOST, len(own) // 8)


class _Scatters:
    """The readings of each tool, gathered over all pieces. What stands out is left out, or one slip
    would speak for the whole tool; but where many readings of a tool stand out, it is the tool.

    The part of R that is needed is dense: it is worked out in pieces that are solved so. Of large
    pieces only its trace, which the redundancies tell, and that of its square are."""

    def __init__(self, solved: Solved) -> None:
        self.solved = solved
        self.parts: dict[str, list[_Part]] = defaultdict(list)

    def take(self, system: _System, standing: list[Standing]) -> None:
        by_tool: dict[str, list[int]] = defaultdict(list)
        for k, (source, redundancy) in enumerate(zip(system.sources, system.redundancy.tolist(), strict=True)):
            if redundancy > 0 and source.kind == "reading":
                by_tool[self.solved.state.readings[source.number].tool].append(k)
        if not by_tool:
            return
        small = all(isinstance(piece.estimate, Staged) for piece in system.pieces)
        adjusted = [_adjusted(piece) for piece in system.pieces] if small else []
        for tool, own in by_tool.items():
            places = np.array(own, dtype=np.intp)
            out = standing if _few([one.row for one in standing], own) else []
            z = system.z[places]
            for one in out:
                z = z - one.direction[places] * one.w
            traces = _traces(system, places, adjusted, out) if small else _large_traces(system, places, out)
            weight = float((system.redundancy[places] / np.square(system.scale[places])).sum())
            self.parts[tool].append(_Part(len(own), float(z @ z), *traces, weight))

    def findings(self) -> tuple[ToolScatter, ...]:
        found = []
        for tool, parts in self.parts.items():
            square_sum, mean = sum(one.square_sum for one in parts), sum(one.mean for one in parts)
            spread = sum(one.spread for one in parts)
            told = scatter_of(square_sum, mean, spread)
            if told is None:
                continue
            verdict, most = told.verdict, told
            if verdict == "less":
                unread = self._as_may_have_been(tool, square_sum, sum(one.weight for one in parts))
                most = scatter_of(unread, mean, spread) or told
                verdict = "less" if most.verdict == "less" else "as stated"
            readings = sum(one.readings for one in parts)
            found.append(ToolScatter(tool, readings, told.freedom, told.factor, told.chance, verdict, most.factor))
        return tuple(found)

    def _as_may_have_been(self, tool: str, square_sum: float, weight: float) -> float:
        from fitsolve.findings.readto import as_may_have_been, read_to_mm

        texts = {one.text for one in self.solved.state.readings if one.tool == tool}
        return as_may_have_been(square_sum, weight, read_to_mm(texts, self.solved.assembly.unit))


@dataclass(frozen=True)
class _Part:
    """The readings of one tool in one system: their square sum, trace R, trace (R R) and sum R_ii / u_i^2."""

    readings: int
    square_sum: float
    mean: float
    spread: float
    weight: float


def _traces(system: _System, places: Ints, adjusted: list[Floats], out: list[Standing]) -> tuple[float, float]:
    """Trace R and trace (R R) of some rows, from what the adjusted rows of each piece err by."""
    cut = places.searchsorted(system.start).tolist()
    spreads = [
        own[places[first:end] - start]
        for own, start, (first, end) in zip(adjusted, system.start, pairwise(cut), strict=False)
        if first < end
    ]
    columns = [*_beside(spreads), *(one.direction[places, None] for one in out)]
    if system.spread.shape[1]:
        columns.append(system.spread[places])
    known = columns[0] if len(columns) == 1 else np.hstack(columns)
    if len(known) <= len(known.T):  # R = I - B B' as it is: its squares may be small beside what they are the rest of
        left = -(known @ known.T)
        left.ravel()[:: len(left) + 1] += 1.0
        return float(left.trace()), float(np.square(left).sum())
    square_sum = float(np.square(known).sum())  # R has as many rows as there are readings
    return len(places) - square_sum, len(places) - 2.0 * square_sum + float(np.square(known.T @ known).sum())


def _beside(blocks: list[Floats]) -> list[Floats]:
    """Blocks below each other, each with columns of its own."""
    if len(blocks) == 1:
        return blocks
    start = np.cumsum([0, *(len(block) for block in blocks)])
    padded = []
    for block, first in zip(blocks, start, strict=False):
        whole = np.zeros((start[-1], block.shape[1]))
        whole[first : first + len(block)] = block
        padded.append(whole)
    return padded


def _large_traces(system: _System, places: Ints, out: list[Standing]) -> tuple[float, float]:
    """The same without the matrix: from redundancies, and from its products with columns."""
    taken = np.column_stack([np.zeros(len(places)), *(one.direction[places] for one in out)])

    def product(columns: Floats) -> Floats:
        errors = np.zeros((len(system.z), columns.shape[1]))
        errors[places] = columns
        return np.asarray(columns - system.adjusted(errors)[places] - taken @ (taken.T @ columns))

    mean = float(system.redundancy[places].sum() - np.square(taken).sum())
    return mean, square_trace(product, len(places))
