"""The whole model of specs/mathematics.md once more: dense, plain, and by other means.

What fitsolve works out with exact counting, contraction and its own active sets is done here
with one vector of all marks, null spaces by singular value decomposition (numpy), quadratic
programmes by an interior-point solver (clarabel 0.11) finished on the constraints it finds,
and optimality certified by non-negative least squares (scipy). Slow, and meant to be obvious.

All positions x (n,) are deviations from the plan in mm; J (n, e) says how they err with
independent unit errors, one a row of what was measured or planned.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import clarabel
import numpy as np
from numpy.linalg import norm, pinv, svd
from scipy.optimize import nnls
from scipy.sparse import csc_matrix
from scipy.stats import norm as normal

from fitsolve.build.assembly import Contact, Distance, Rule, Span
from fitsolve.build.state import MarkState
from tests.builds import Case

TINY = 1e-8


def settle(rows, scale, free):
    """Least squares of rows / scale over x = free @ f: the map from values to x, and what stays free."""
    if len(rows) == 0 or free.shape[1] == 0:
        return np.zeros((len(free), len(rows))), free
    _, s, vt = svd(rows @ free)
    rank = int((s > TINY).sum())
    span = free @ vt[:rank].T
    return span @ pinv(rows @ span / scale[:, None], rcond=1e-14) / scale, free @ vt[rank:].T


def _seen(rows, free):
    """What of x = free @ f the rows see and what they do not, as two bases."""
    if len(rows) == 0:
        return np.zeros((len(free), 0)), free
    _, s, vt = svd(rows @ free)
    rank = int((s > TINY).sum())
    return free @ vt[:rank].T, free @ vt[rank:].T


# -- quadratic programmes ------------------------------------------------------------------------


def programme(F, g, E, e, G, h):
    """minimise |F x - g|^2 subject to E x = e, G x <= h. Returns x and which rows of G press on it."""
    _, s, vt = svd(np.vstack([F, E, G]))
    moved = vt[: int((s > TINY).sum())].T  # directions that no row sees are left alone
    x, press = _finish(F @ moved, g, E @ moved, e, G @ moved, h)
    return moved @ x, press


def _finish(F, g, E, e, G, h):
    """The interior point's answer made exact: solve on the rows that press, until all conditions hold."""
    x = _interior(F, g, E, e, G, h)
    weight, _ = _cone(F, g, E, G, x, h - G @ x < 1e-3)
    press = weight > 1e-5 * max(1.0, weight.max(initial=0.0))
    for _ in range(200):
        x = _on(F, g, np.vstack([E, G[press]]), np.concatenate([e, h[press]]), x)
        weight, off = _cone(F, g, E, G, x, h - G @ x < 1e-8)
        over = G @ x - h
        if over.max(initial=0.0) < 1e-8 and off < 1e-8:
            return x, weight > 1e-9
        if over.max(initial=0.0) >= 1e-8:
            press[np.argmax(over)] = True
        else:
            force = np.zeros(len(h))
            force[press] = (pinv(np.vstack([E, G[press]]).T) @ (F.T @ (g - F @ x)))[len(e) :]
            press[np.argmin(force)] = False
    raise AssertionError("the oracle found no active set")


def _interior(F, g, E, e, G, h):
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-11
    settings.max_iter = 300
    cones = [clarabel.ZeroConeT(len(e)), clarabel.NonnegativeConeT(len(h))]
    P, A = csc_matrix(np.triu(F.T @ F)), csc_matrix(np.vstack([E, G]))
    solution = clarabel.DefaultSolver(P, -F.T @ g, A, np.concatenate([e, h]), cones, settings).solve()
    return np.array(solution.x)


def _cone(F, g, E, G, x, near):
    """The forces with which E and the near rows of G hold x, and what they leave of the gradient."""
    pull = F.T @ (g - F @ x)
    scale = max(1.0, norm(pull))
    columns = np.hstack([E.T, -E.T, G[near].T])
    weight = np.zeros(len(G))
    if columns.shape[1] == 0:
        return weight, norm(pull) / scale
    found, off = nnls(columns, pull / scale, maxiter=100 * sum(columns.shape))
    weight[near] = found[2 * len(E) :] * scale
    return weight, off


def _on(F, g, E, e, x):
    """minimise |F x - g|^2 on E x = e, moving the given x no more than that asks."""
    ones = np.ones(len(e))
    step, free = settle(E, ones, np.eye(len(x)))
    x = x + step @ (e - E @ x)
    step, _ = settle(F, np.ones(len(g)), free)
    return x + step @ (g - F @ x)


def least_violation(E, e, G, h, e_scale, h_scale, may):
    """The least sum of (violation / scale)^2 that lets all rows hold; rows of G where `may` is false never
    give. Returns the violations of E (signed) and of G, and which rows of G press."""
    n, p, q = E.shape[1], len(e), len(h)
    F = np.hstack([np.zeros((p + q, n)), np.diag(np.concatenate([1 / e_scale, 1 / h_scale]))])
    give = np.diag(may.astype(float))
    E1 = np.hstack([E, -np.eye(p), np.zeros((p, q))])
    G1 = np.vstack([np.hstack([G, np.zeros((q, p)), -give]), np.hstack([np.zeros((q, n + p)), -np.eye(q)])])
    x, press = programme(F, np.zeros(p + q), E1, e, G1, np.concatenate([h, np.zeros(q)]))
    return x[n : n + p], np.where(may, x[n + p :], 0.0), press[:q]


# -- the model -----------------------------------------------------------------------------------


@dataclass
class Lines:
    """Rows (m, n) with a value and a scale each, in deviations from the plan."""

    rows: np.ndarray
    value: np.ndarray
    scale: np.ndarray


class Oracle:
    """A build solved; sizes, clearances, uncertainties and verdicts by name of what the plan holds."""

    def __init__(self, case: Case) -> None:
        self.assembly, self.state = case.assembly, case.state
        self.plan = np.array([mark.plan_mm for mark in self.assembly.marks])
        self.n = len(self.plan)
        self.made = np.array([s == MarkState.MADE for s in self.state.marks])
        self._estimate()
        self._allocate()

    def row(self, *terms):
        row = np.zeros(self.n)
        for mark, coef in terms:
            row[mark] += coef
        return row

    def lines(self, entries):
        """Lines from (row, value in mm, scale)."""
        rows = np.array([row for row, _, _ in entries]).reshape(len(entries), self.n)
        value = np.array([value for _, value, _ in entries], dtype=float)
        return Lines(rows, value - rows @ self.plan, np.array([s for _, _, s in entries], dtype=float))

    def gaps(self, contact: Contact):
        pairs = [contact.marks[::-1]]  # upper, lower
        if contact.kind == "housing":
            tongue_low, tongue_high, socket_low, socket_high = contact.marks
            pairs = [(tongue_low, socket_low), (socket_high, tongue_high)]
        gaps = [self.row((upper, 1), (lower, -1)) for upper, lower in pairs]
        for gap, lean in zip(gaps, contact.leans, strict=False):
            if lean is not None:
                upper = self.row((lean.upper_run, 1), (lean.upper_home, -1))
                lower = self.row((lean.lower_run, 1), (lean.lower_home, -1))
                gap -= lean.ratio * (upper - lower)
        return gaps

    def span(self, span: Span | Distance):
        return span.sign * self.row((span.end, 1), (span.start, -1))

    def values(self, rule: Rule):
        """A rule as rows and what they shall be."""
        spans = [self.span(span) for span in rule.spans]
        if len(spans) == 1:
            return [(spans[0], rule.length_mm or 0.0)]
        return [(a - b, 0.0) for k, a in enumerate(spans) for b in spans[k + 1 :]]

    # -- 1. what is there ------------------------------------------------------------------------

    def _estimate(self) -> None:
        """Both stages; where diagonals were read again and again, from where the last step ended. What
        they settle goes by their directions, or where those see more than the plan's do, by the plan's."""
        self.measured, self.planned = self.lines(self._measured()), self.lines(self._planned())
        A2 = self.planned.rows
        self.x, plan_rows = np.zeros(self.n), self.measured.rows
        for _ in range(100):
            A1 = self.measured.rows
            seen = [_seen(rows, np.eye(self.n)) for rows in (A1, plan_rows)]
            span, free1 = seen[seen[0][0].shape[1] > seen[1][0].shape[1]]
            M1 = span @ pinv(A1 @ span / self.measured.scale[:, None], rcond=1e-14) / self.measured.scale
            M2, self.free = settle(A2, self.planned.scale, free1)
            x = self.x + M1 @ (self.measured.value - A1 @ self.x)
            x = x + M2 @ (self.planned.value - A2 @ x)
            step, self.x = norm(x - self.x), x
            if step < 1e-10 or not self._turn(plan_rows):
                break
        else:
            raise AssertionError("the oracle found no end")
        self.J = np.hstack([(M1 - M2 @ (A2 @ M1)) * self.measured.scale, M2 * self.planned.scale])
        self.there, self.J_there, self.free_there, self.free_read = self.x, self.J, self.free, free1
        hat = A1 @ M1
        self.residual = A1 @ self.x - self.measured.value
        self.redundancy = 1.0 - np.diag(hat)

    def _turn(self, plan_rows) -> bool:
        """Turn the rows of diagonals to where their points lie now; false where there are none."""
        at, rows, value = self.plan + self.x, plan_rows.copy(), self.measured.value.copy()
        for k, reading in enumerate(self.state.readings):
            if reading.event == "diagonal":
                ends = [(reading.terms[i][0], reading.terms[i + 1][0]) for i in range(0, len(reading.terms), 2)]
                d = np.array([at[b] - at[a] for b, a in ends])
                rows[k] = self.row(*[t for (b, a), c in zip(ends, d / norm(d), strict=True) for t in ((b, c), (a, -c))])
                value[k] = reading.value_mm - rows[k] @ self.plan
        self.measured = Lines(rows, value, self.measured.scale)
        return any(reading.event == "diagonal" for reading in self.state.readings)

    def _measured(self):
        entries = [(self.row(*r.terms), r.value_mm, r.u_mm) for r in self.state.readings]
        for number, contact in enumerate(self.assembly.contacts):
            if contact.joint not in self.state.closed or number in self.state.gap_read or contact.kind == "room":
                continue
            gaps = self.gaps(contact)
            if contact.kind == "housing" and contact.rests is None:
                entries.append((gaps[0] - gaps[1], 0.0, max(contact.most_mm, 0.1) / math.sqrt(3)))
            else:
                entries.append((gaps[1 if contact.rests == "high" else 0], 0.0, 0.05))
        return entries

    def _planned(self):
        at = self.plan + np.array(self.state.cut_to_mm)
        u = self.assembly.workmanship_mm / 2
        pairs = [(d.start, d.end) for d in self.assembly.distances if not d.derived]
        pairs += [(base, station) for station, base in self.straight.items()]
        pairs = [pair for pair in pairs if self.made[list(pair)].all()]
        tied = [{mark} for mark in range(self.n)]
        slanted = [(mark.station_of, k) for k, mark in enumerate(self.assembly.marks) if mark.station_of is not None]
        slanted = [pair for pair in slanted if self.made[list(pair)].all()]
        for a, b in pairs + slanted + [
            (r.terms[0][0], r.terms[1][0]) for r in self.state.readings if len(r.terms) == 2 and not r.across
        ]:
            _join(tied, a, b)
        for run in self.assembly.runs:
            there = [mark for mark in run if self.made[mark]]
            for a, b in zip(there, there[1:], strict=False):
                if _join(tied, a, b):
                    pairs.append((a, b))
        rows = [(self.row((b, 1), (a, -1)), at[b] - at[a], u) for a, b in pairs]
        elsewhere = {slope.placed for slope in self.assembly.slopes} | {peg.tenon_hole for peg in self.assembly.pegs}
        for key in dict.fromkeys((mark.part, mark.axis) for mark in self.assembly.marks):
            own = [k for k, mark in enumerate(self.assembly.marks)
                   if (mark.part, mark.axis) == key and self.made[k] and mark.station_of is None and k not in elsewhere]
            own.sort(key=lambda k: self.plan[k])
            for a, b in zip(own, own[1:], strict=False):
                if _join(tied, a, b):
                    rows.append((self.row((b, 1), (a, -1)), at[b] - at[a], u * 2**0.5))
        rows += [(row, value, u) for row, value, made in self.pegs() if made]
        return rows + [(row, value, u * straight) for row, value, made, straight in self.slopes() if made]

    # -- 2. what to cut --------------------------------------------------------------------------

    def _wanted(self):
        """Wishes, late wishes and holds as entries; bounds as (row, low, high, scale, may be relaxed)."""
        finest = self.assembly.finest_mm
        wishes, late, holds, bounds = [], [], [], []
        for d in self.assembly.distances:
            if d.derived or (self.made[d.start] and self.made[d.end]):
                continue
            row, scale = self.span(d), finest if d.give_mm is None else d.give_mm
            kind = holds if d.hold else late if d.give_mm is None else wishes
            kind.append((row, d.sign * (self.plan[d.end] - self.plan[d.start]), scale))
            if d.low_mm is not None:
                bounds.append((row, d.low_mm, d.high_mm, scale, True))
        for station, base in self.straight.items():
            if not (self.made[station] and self.made[base]):
                holds.append((self.row((station, 1), (base, -1)), 0.0, 1.0))
        for (row, value, made, _), slope in zip(self.slopes(), self.assembly.slopes, strict=True):
            if not made:
                kind, scale = (holds, finest) if slope.give_mm is None else (wishes, slope.give_mm)
                kind.append((row, value, scale))
        holds += [(row, value, finest) for row, value, made in self.pegs() if not made]
        for contact in self.assembly.contacts:
            if contact.joint in self.state.closed and contact.kind != "room":
                continue
            gaps = self.gaps(contact)
            share, band = len(gaps), (contact.most_mm - contact.least_mm) / 2
            wishes += [(gap, contact.aim_mm / share, band / share) for gap in gaps]
            if share == 2:
                bounds += [(gap, min(0.0, contact.least_mm) / 2, np.inf, band / 2, True) for gap in gaps]
            bounds.append((sum(gaps), contact.least_mm, contact.most_mm, band, True))
        for keep in self.assembly.keeps:
            if keep.give_mm is not None:
                wishes += [(row, value, keep.give_mm) for row, value in self.values(keep)]
            if keep.low_mm is not None:
                scale = keep.give_mm or max((keep.high_mm - keep.low_mm) / 2, finest)
                bounds += [(self.span(span), keep.low_mm, keep.high_mm, scale, True) for span in keep.spans]
        for rough in self.state.rough:
            bounds.append((self.span(rough), -np.inf, rough.most_mm, rough.u_mm, False))
        return self.lines(wishes), self.lines(late), self.lines(holds), self._bounds(bounds)

    def _bounds(self, bounds):
        """Both sides as rows G x <= h, with scale, whether hard, whether relaxable."""
        sides = [(row, high, scale, may) for row, _, high, scale, may in bounds if np.isfinite(high)]
        sides += [(-row, -low, scale, may) for row, low, _, scale, may in bounds if np.isfinite(low)]
        G = self.lines([(row, limit, scale) for row, limit, scale, _ in sides])
        hard = (np.abs(G.rows) @ ~self.made) > 0
        return G, hard, hard & np.array([may for *_, may in sides], dtype=bool)

    def _stage(self, rows, value, scale, u=None, which=()) -> None:
        """One more least squares stage in what is free; u is how well its values are known, if they err, and `which`
        bounds its last rows are."""
        step, self.free = settle(rows, scale, self.free)
        self.x = self.x + step @ (value - rows @ self.x)
        self.J = self.J - step @ (rows @ self.J)
        if u is not None:
            first = self.J.shape[1] + len(value) - len(which)
            self.own_error.update({int(bound): first + k for k, bound in enumerate(which)})
            self.J = np.hstack([self.J, step * u])

    def _known(self, bounds: Lines, press):
        """How well pressing bounds are known: what is said of rough wood as it was read, all else exactly."""
        gone = self.hard_ones[press] & ~self.may[press]
        self.left += [int(k) for k in press[gone]]
        return np.where(gone, bounds.scale[press], 0.0)

    def _allocate(self) -> None:
        wishes, late, holds, (bounds, hard, may) = self._wanted()
        self.missed, self.hard_ones, self.may, self.left = np.zeros(len(bounds.value)), hard, may, []
        self.shared_out: list[int] = []
        self.own_error: dict[int, int] = {}
        for rows, giving in ((~hard, ~hard), (~may, hard & ~may)):  # facts, then wood that is gone
            moved = (norm(bounds.rows @ self.free, axis=1) > TINY) & (self.missed == 0.0)
            self._facts(bounds, moved & rows, giving)
        moved = (norm(bounds.rows @ self.free, axis=1) > TINY) & (self.missed == 0.0)
        held = norm(holds.rows @ self.free, axis=1) > TINY
        hold_missed = self._compromise(bounds, moved, may, holds, held)
        moved &= self.missed == 0.0
        held &= hold_missed == 0.0
        self.contradicting = bool(np.any(self.missed[hard]) or np.any(hold_missed))
        press = self._best(wishes, holds, held, bounds, moved)
        self._stage(
            np.vstack([holds.rows[held], bounds.rows[press]]),
            np.concatenate([holds.value[held], bounds.value[press]]), np.ones(held.sum() + len(press)),
            np.concatenate([np.zeros(held.sum()), self._known(bounds, press)]), press,
        )  # fmt: skip
        self._stage(wishes.rows, wishes.value, wishes.scale)
        press = self._best(late, holds, np.zeros_like(held), bounds, moved)
        self._stage(bounds.rows[press], bounds.value[press], np.ones(len(press)), self._known(bounds, press), press)
        self._stage(late.rows, late.value, late.scale)
        self.bounds, self.moved, self.hard = bounds, moved, hard
        assert (bounds.rows @ self.x - bounds.value)[moved].max(initial=0.0) < 1e-7, "the oracle misses a bound"

    def _best(self, wishes: Lines, holds: Lines, held, bounds: Lines, moved):
        """Which bounds press when the wishes are served best in what is still free."""
        N, x = self.free, self.x
        moved = moved & (norm(bounds.rows @ N, axis=1) > TINY)
        _, press = programme(
            wishes.rows @ N / wishes.scale[:, None], (wishes.value - wishes.rows @ x) / wishes.scale,
            holds.rows[held] @ N, (holds.value - holds.rows @ x)[held],
            bounds.rows[moved] @ N, (bounds.value - bounds.rows @ x)[moved],
        )  # fmt: skip
        return np.flatnonzero(moved)[press]

    def _facts(self, bounds: Lines, rows, may) -> None:
        """Of these bounds, which cannot all hold, those that may are missed as little as they need."""
        nothing = np.zeros((0, self.free.shape[1]))
        G, h = bounds.rows[rows] @ self.free, (bounds.value - bounds.rows @ self.x)[rows]
        _, violated, _ = least_violation(nothing, np.zeros(0), G, h, np.zeros(0), bounds.scale[rows], may[rows])
        before = self.missed > 0
        self.missed[rows] = np.where(violated > 1e-9, violated, 0.0)
        out = np.flatnonzero((self.missed > 0) & ~before)
        wood = self.hard_ones[out] & ~self.may[out]  # readings of rough wood that do not add up err by their own u
        self.shared_out += out[wood].tolist()
        self._stage(bounds.rows[out], bounds.value[out], bounds.scale[out], np.where(wood, bounds.scale[out], 0.0), out)

    def _compromise(self, bounds: Lines, moved, may, holds: Lines, held):
        """Hard limits that cannot all hold give as little as they need, and are held there."""
        N = self.free
        v, violated, press = least_violation(
            holds.rows[held] @ N, (holds.value - holds.rows @ self.x)[held],
            bounds.rows[moved] @ N, (bounds.value - bounds.rows @ self.x)[moved],
            holds.scale[held], bounds.scale[moved], may[moved],
        )  # fmt: skip
        hold_missed = np.zeros(len(holds.value))
        hold_missed[held] = np.where(np.abs(v) > 1e-9, v, 0.0)
        self.missed[moved] = np.where(violated > 1e-9, violated, 0.0)
        out, gone = moved & (self.missed > 0), held & (hold_missed != 0.0)
        if not (out.any() or gone.any()):
            return hold_missed
        firm = np.flatnonzero(moved)[press & (violated <= 1e-9)]
        self._stage(bounds.rows[firm], bounds.value[firm], np.ones(len(firm)), self._known(bounds, firm), firm)
        self._stage(
            np.vstack([holds.rows[gone], bounds.rows[out]]),
            np.concatenate([holds.value[gone], bounds.value[out]]),
            np.concatenate([holds.scale[gone], bounds.scale[out]]),
        )
        return hold_missed

    @property
    def clear(self) -> bool:
        """Whether no bound that the answer touches would be crossed by a slight change of the readings,
        so that uncertainties are defined."""
        touching = self.moved & (self.bounds.value - self.bounds.rows @ self.x < 1e-6)
        crossing = self.bounds.rows @ self.J
        for bound in self.left:  # what rough wood is moves that bound with the answer
            crossing[bound, self.own_error[bound]] = 0.0
        return bool((norm(crossing[touching], axis=1) < 1e-7).all())

    # -- what it comes to ------------------------------------------------------------------------

    def fixed(self, row) -> bool:
        return bool(norm(row @ self.free) < 1e-7)

    def value(self, row) -> float | None:
        return float(row @ (self.plan + self.x)) if self.fixed(row) else None

    def u_advice(self, row) -> float:
        return float(norm(row @ self.J))

    def u_outcome(self, row) -> float:
        return float(math.hypot(norm(row @ self.J), norm(row @ self.cut_errors)))

    def u_outlook(self, row) -> float:
        return float(norm(row @ self.outlook[1]))

    @cached_property
    def cut_errors(self):
        """How each mark misses by its cut, per unit error: a location shared by the two walls of one
        tongue or socket with half a width error either way, or a location alone."""
        columns, walls, line = [], set(), self.lines_cut
        location, width = self.assembly.workmanship_mm / 2, self.assembly.workmanship_width_mm / 2
        for contact in self.assembly.contacts:
            for pair in (contact.marks[:2], contact.marks[2:]) if contact.kind == "housing" else ():
                low, high = line[pair[0]], line[pair[1]]
                if not (self.made[list(pair)].any() or walls & (low | high) or low & high):
                    walls |= low | high
                    columns.append(location * self.row(*((mark, 1) for mark in low | high)))
                    columns.append(width / 2 * self.row(*((mark, -1) for mark in low), *((mark, 1) for mark in high)))
        for mark in np.flatnonzero(~self.made):
            if mark not in walls:
                walls |= line[mark]
                columns.append(location * self.row(*((one, 1) for one in line[mark])))
        return np.array(columns).reshape(-1, self.n).T

    @cached_property
    def lines_cut(self):
        """For each mark, the marks cut with it in one line: its stations, and the other end of its slope."""
        line = [{mark} for mark in range(self.n)]
        ends = [(mark.station_of, k) for k, mark in enumerate(self.assembly.marks) if mark.station_of is not None]
        one_cut = [(slope.start, slope.end) for slope in self.assembly.slopes if slope.give_mm is None]
        for a, b in ends + one_cut:
            if not (self.made[a] or self.made[b]):
                _join(line, a, b)
        return line

    @cached_property
    def straight(self):
        """Stations, each with its mark, that lie where the mark lies: all but ends that a slope places."""
        placed = {slope.placed for slope in self.assembly.slopes}
        stations = {k: mark.station_of for k, mark in enumerate(self.assembly.marks)}
        return {k: base for k, base in stations.items() if base is not None and k not in placed}

    def pegs(self):
        """The tenon's hole from its shoulder less the mortise's from the face, what that shall be, and whether
        the tenon is bored."""
        for one in self.assembly.pegs:
            row = self.row((one.tenon_hole, 1), (one.shoulder, -1), (one.hole, -1), (one.face, 1))
            yield row, -one.way * one.draw_mm, bool(self.made[one.tenon_hole])

    def slopes(self):
        """Rise less what the run makes of it, what that is off in the plan, and whether it is made: then it goes
        by what is there, a run still to be cut as drawn. A station between the two ends of a face is off by its
        share of what these are off; straight to a cut in its middle, less toward its ends."""
        for one in self.assembly.slopes:
            marks = (one.start, one.end, one.run_start, one.run_end)
            made = bool(self.made[one.start] and self.made[one.end])
            made = made and bool(not one.crossing or (self.made[one.run_start] and self.made[one.run_end]))
            lines, straight, t = [(marks, 1.0)], 1.0, one.share / one.of
            if one.whole is not None and (not made or self.made[list(one.whole[:2])].all()):
                lines.append((one.whole, -t))
                straight = 2 * math.sqrt(max(abs(t * (1 - t)), 0.01))
            row, whole = np.zeros(self.n), np.zeros(self.n)
            for (start, end, run_start, run_end), share in lines:
                rise = self.row((end, share), (start, -share))
                run = self.row((run_end, -one.ratio * share), (run_start, one.ratio * share))
                whole += rise + run
                row += rise if made and not (self.made[run_start] and self.made[run_end]) else rise + run
            yield row, row @ self.plan - whole @ self.plan, made, straight

    @cached_property
    def outlook(self):
        """How the finished piece errs before and after placements follow, and what can still move."""
        rows, laid_from = [], {}
        for part, axis in {(mark.part, mark.axis) for mark in self.assembly.marks}:
            own = [k for k, mark in enumerate(self.assembly.marks) if (mark.part, mark.axis) == (part, axis)]
            start = self._figures_run_from(part, axis, own)
            for k in own:
                if not self.made[k]:
                    bored = [peg.shoulder for peg in self.assembly.pegs if peg.tenon_hole == k and self.made[peg.shoulder]]
                    laid_from[k] = bored[0] if bored else start
                    rows.append(self.row((k, 1), (laid_from[k], -1)))
        rows = np.array(rows).reshape(-1, self.n)
        step, free = settle(rows, np.ones(len(rows)), self.free_there)
        errors = np.hstack([self.J_there - step @ (rows @ self.J_there), self.cut_errors, self._left(laid_from)])
        wishes, _, holds, _ = self._wanted()
        step, free = settle(holds.rows, holds.scale, free)
        errors = errors - step @ (holds.rows @ errors)
        step, _ = settle(wishes.rows, wishes.scale, free)
        return errors, errors - step @ (wishes.rows @ errors), free

    def _figures_run_from(self, part, axis, own):
        """The first mark of the longest run; where that is still to be cut, the made mark nearest to it, if any is."""
        runs = [run for run in self.assembly.runs if run and run[0] in own]
        end = max(runs, key=lambda run: round(abs(self.plan[run[-1]] - self.plan[run[0]]), 6))[0] if runs else own[0]
        made = [k for k in own if self.made[k] and self.assembly.marks[k].station_of is None]
        return end if self.made[end] or not made else min(made, key=lambda k: round(abs(self.plan[k] - self.plan[end]), 6))

    def _left(self, laid_from):
        """How marks err that are left where rough wood ends: the one laid out from the other, with its line."""
        columns = [self.bounds.scale[bound] * self._line_left(bound, laid_from)[1] for bound in self.left]
        alone = np.array(columns).reshape(-1, self.n).T
        if not self.shared_out:
            return alone
        own = self.J[:, [self.own_error[bound] for bound in (*self.left, *self.shared_out)]]
        together = np.zeros((self.n, own.shape[1]))
        for bound in self.shared_out:  # where they do not add up, as far as it moves with all that was read of them
            mark, line = self._line_left(bound, laid_from)
            together[line > 0] = own[mark] - own[laid_from[mark]]
        return np.hstack([alone, together])

    def _line_left(self, bound, laid_from):
        """The mark that is left where rough wood ends, and which marks (n,) are cut with it."""
        own = np.flatnonzero(self.bounds.rows[bound])
        uncut = [k for k in own if not self.made[k]]
        laid = [k for k in uncut if laid_from[k] in own and laid_from[k] != k]
        mark = max(laid or uncut, key=lambda k: (round(abs(self.plan[k] - self.plan[laid_from[k]]), 6), k))
        return mark, self.row(*((one, 1) for one in self.lines_cut[mark]))

    def chance(self, value, u, low, high) -> float:
        if u < 1e-9:
            return float(low - 1e-9 <= value <= high + 1e-9)
        return float(normal.cdf((high - value) / u) - normal.cdf((low - value) / u))


def _join(tied, a, b) -> bool:
    """Put two marks into one set; false where they were in one already."""
    if tied[a] is tied[b]:
        return False
    both = tied[a] | tied[b]
    for mark in both:
        tied[mark] = both
    return True
