"""Checks: what each check of the frame comes to, and the verdict on it.

A check has one value or several (each pair of spans; each mark off the plane of the others). Each is
judged by itself against its tolerance, three ways. The check is as good as the worst of them: a value
beyond comes before one that can't be told, and that before one within; of several alike the largest
counts. Where anything of it is fixed by nothing, the whole is told by nothing.

What is settled is counted exactly for rows of whole numbers. Rows of a frame hold what its geometry
makes them; they are settled where what is free moves them by less than SETTLED of their largest weight.
A row that turns with its diagonals is another one as built than as drawn: by as much as the sides are
unequal, it also moves when the whole is turned round, which nothing fixes and which is no rack. So of a
rack up to TURNING is let pass. Rack, taper and twist only readings may tell (and closed joints, but of a
rack): that parts are straight and square is what they ask.

Not here: what the values are (build.rulevalues), words (report).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import combinations, islice

import numpy as np

from fitsolve.build.assembly import Rule
from fitsolve.build.rulevalues import FrameValue, frame_values, rule_values
from fitsolve.findings.solved import Solved, Terms, rows_of
from fitsolve.findings.values import CheckFinding, CheckVerdict
from fitsolve.light import dataclass
from fitsolve.rows import Flags, Floats, Rows
from fitsolve.solve.freedom import Freedom
from fitsolve.solve.judge import PROVEN, Side, judge
from fitsolve.solve.pieces import Piece
from fitsolve.solve.turning import as_counted
from fitsolve.solve.wanted import AnyStaged

CHECK_WORDS: dict[Side, CheckVerdict] = {
    "in": "within",
    "low": "beyond",
    "high": "beyond",
    "unsure": "can't tell",
}
_RANK: dict[CheckVerdict, int] = {"beyond": 0, "can't tell": 1, "within": 2}

SETTLED = 1e-9
TURNING = 0.05
ALIKE = 6
"""Values that are the same to so many decimals of a millimetre are as large."""


@dataclass(frozen=True, slots=True)
class CheckValue:
    """One value of a check: its row, what it is less its target (None where nothing fixes it), u (k = 1), and
    the verdict with its chance. `about` are the marks a value of the frame is about."""

    terms: Terms
    target: float
    value_mm: float | None
    u_mm: float
    chance: float
    verdict: CheckVerdict
    about: tuple[int, ...] = ()


def check_findings(solved: Solved) -> tuple[CheckFinding, ...]:
    """Every check, as good as its worst value."""
    checks = solved.assembly.checks
    rows = [_rows(solved, check) for check in checks]
    values = iter(_judged(solved, [(check, *row) for check, own in zip(checks, rows, strict=True) for row in own]))
    return tuple(
        _finding(solved, number, check, list(islice(values, len(own))))
        for number, (check, own) in enumerate(zip(checks, rows, strict=True))
    )


def _finding(solved: Solved, number: int, check: Rule, values: list[CheckValue]) -> CheckFinding:
    within = check.within_mm
    assert within is not None, "the plan gives every check a tolerance"
    worst = worst_of(values)
    if worst is None or any(one.value_mm is None for one in values):
        from fitsolve.findings.missing import missing_readings

        missing = missing_readings(solved, check)
        return CheckFinding(number, check.name, check.kind, None, None, within, None, "can't tell", missing)
    return CheckFinding(
        number, check.name, check.kind, worst.value_mm, 2 * worst.u_mm, within, worst.chance, worst.verdict
    )


def worst_of(values: list[CheckValue]) -> CheckValue | None:
    """Return the value that a check is judged by, of those that something fixes."""
    fixed = [one for one in values if one.value_mm is not None]
    return min(fixed, key=_badness, default=None)


def _badness(one: CheckValue) -> tuple[int, float, float]:
    """Least for the worst; of two as large the less certain one, whatever order they come in."""
    return _RANK[one.verdict], -round(abs(one.value_mm or 0.0), ALIKE), -one.u_mm


def check_values(solved: Solved, check: Rule) -> list[CheckValue]:
    """Return every value of a check, in the order of its rows."""
    return _judged(solved, [(check, *row) for row in _rows(solved, check)])


def _rows(solved: Solved, check: Rule) -> list[tuple[FrameValue, float]]:
    """The rows of a check, and what each shall be."""
    at = solved.positions_mm
    if check.frame is not None:
        return [(one, 0.0) for one in frame_values(check, at)]
    return [
        (FrameValue(terms, about), target)
        for (terms, target), about in zip(rule_values(check, at), _compared(check), strict=True)
    ]


def _judged(solved: Solved, rows: list[tuple[Rule, FrameValue, float]]) -> list[CheckValue]:
    """The values of rows; those of one piece are worked out together."""
    values: list[float | None] = [None] * len(rows)
    u_mm = [0.0] * len(rows)
    of_piece: dict[int, list[int]] = defaultdict(list)
    for place, (_, one, target) in enumerate(rows):
        if not one.terms:  # it cancels: nothing can be wrong with it
            values[place] = -target
        elif solved.piece(one.terms) is not None:
            of_piece[solved.homes[one.terms[0][0]]].append(place)
    for number, places in of_piece.items():
        piece = solved.pieces[number]
        own = rows_of([solved.inside(rows[place][1].terms) for place in places])
        fixed = told(solved, piece, [rows[place][0] for place in places], own)
        if not fixed.all():
            some = np.flatnonzero(fixed)
            places, own = [places[k] for k in some.tolist()], own.pick(some)
        spread = np.sqrt(piece.outlook.errors.variance(own)) if places else np.zeros(0)
        for place, u in zip(places, spread.tolist(), strict=True):
            _, one, target = rows[place]
            values[place], u_mm[place] = solved.value_mm(one.terms) - target, u
    return [_with_verdict(*row, value, u) for row, value, u in zip(rows, values, u_mm, strict=True)]


def _with_verdict(check: Rule, one: FrameValue, target: float, value: float | None, u: float) -> CheckValue:
    if value is None:
        return CheckValue(one.terms, target, None, 0.0, 0.0, "can't tell", one.about)
    within = check.within_mm or 0.0
    judged = judge(value, u, -within, within)
    verdict = CHECK_WORDS[judged.side]
    if verdict == "can't tell" and judged.chance <= 1 - PROVEN:
        verdict = "beyond"
    return CheckValue(one.terms, target, value, u, judged.chance, verdict, one.about)


def _compared(check: Rule) -> list[tuple[int, ...]]:
    """The marks of each value of a check of spans: those of its span, or of the two it compares."""
    ends = [(span.start, span.end) for span in check.spans]
    return [ends[0]] if len(ends) == 1 else [(*one, *other) for one, other in combinations(ends, 2)]


def told(solved: Solved, piece: Piece, checks: Sequence[Rule], rows: Rows) -> Flags:
    """Return whether anything that may tell it fixes each row (m,), by the check that it is of."""
    most = np.array([TURNING if check.kind == "rack" else SETTLED for check in checks])
    fixed = settled(piece.allocation.staged, rows, most)
    if not any(check.frame is not None and check.frame.read for check in checks):
        return fixed
    for k, (check, terms) in enumerate(zip(checks, rows.terms(), strict=True)):
        if fixed[k] and check.frame is not None and check.frame.read:
            freedom = _by_readings(solved, piece) if check.kind == "rack" else piece.read
            left = max((abs(float(part)) for part in freedom.contract(terms).values()), default=0.0)
            fixed[k] = left <= most[k] * max(abs(coef) for _, coef in terms)
    return fixed


def _by_readings(solved: Solved, piece: Piece) -> Freedom:
    """What readings leave free without any joint: a joint holds a rail at no angle."""
    rows, counted = piece.network.measured, piece.network.counted
    own = np.array(
        [k for k, row in enumerate(piece.chosen["measured"].tolist()) if solved.graph.measured[row].kind == "reading"],
        dtype=np.intp,
    )
    counted = as_counted(rows, counted, piece.network.planned, len(piece.network), piece.network.as_drawn)
    freedom = Freedom(len(piece.network))
    freedom.tie((rows if counted is None else counted).pick(own))
    return freedom


def settled(staged: AnyStaged, rows: Rows, most: Floats | float = SETTLED) -> Flags:
    """Return whether the stages so far fix each row (m,), but for `most` of its largest weight."""
    moved = abs(staged.contract(rows, staged.basis))
    if 0 in moved.shape or (isinstance(moved, np.ndarray) and not moved.any()):
        return np.ones(len(rows), dtype=bool)
    loose = np.asarray(moved.max(axis=1) if isinstance(moved, np.ndarray) else moved.max(axis=1).toarray()).ravel()
    largest = np.zeros(len(rows))
    np.maximum.at(largest, rows.owner(), np.abs(rows.coef))
    return np.asarray(loose <= most * largest)
