"""Checks: what each check of the frame comes to, and the verdict on it.

A check has one value or several (each pair of spans; each mark off the plane of the others). Each is
judged by itself against its tolerance, three ways. The check is as good as the worst of them: a value
beyond comes before one that can't be told, and that before one within; of several alike the largest
counts. Where anything of it is fixed by nothing, the whole is told by nothing.

What is settled is counted exactly for rows of whole numbers. Rows of a frame hold what its geometry
makes them; they are settled where what is free moves them by less than SETTLED of their largest weight.
A row that turns with its diagonals is another one as built than as drawn: by as much as the sides are
unequal, it also moves when the whole is turned round, which nothing fixes and which is no rack. So of a
rack up to TURNING is let pass. What a square comes to only readings may tell (and closed joints, but of a
rack): that parts are straight and square is what it asks.

Not here: what the values are (build.rulevalues), words (report).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from fitsolve.build.assembly import Rule
from fitsolve.build.rulevalues import FrameValue, frame_values, rule_values
from fitsolve.findings.missing import missing_readings
from fitsolve.findings.solved import Solved, Terms, rows_of
from fitsolve.findings.values import CheckFinding, CheckVerdict
from fitsolve.light import dataclass
from fitsolve.rows import Floats
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
    return tuple(_finding(solved, number, check) for number, check in enumerate(solved.assembly.checks))


def _finding(solved: Solved, number: int, check: Rule) -> CheckFinding:
    within = check.within_mm
    assert within is not None, "the plan gives every check a tolerance"
    values = check_values(solved, check)
    worst = worst_of(values)
    if worst is None or any(one.value_mm is None for one in values):
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
    at = solved.positions_mm
    if check.frame is None:
        rows = [
            (FrameValue(terms, about), target)
            for (terms, target), about in zip(rule_values(check, at.tolist()), _compared(check), strict=True)
        ]
    else:
        rows = [(one, 0.0) for one in frame_values(check, at.tolist())]
    return [_value(solved, check, one, target) for one, target in rows]


def _value(solved: Solved, check: Rule, one: FrameValue, target: float) -> CheckValue:
    terms, within = one.terms, check.within_mm or 0.0
    piece = solved.piece(terms) if terms else None
    if terms and (piece is None or not told(solved, piece, check, terms)):
        return CheckValue(terms, target, None, 0.0, 0.0, "can't tell", one.about)
    value = solved.value_mm(terms) - target
    u = u_of(piece, solved.inside(terms)) if piece else 0.0
    judged = judge(value, u, -within, within)
    verdict = CHECK_WORDS[judged.side]
    if verdict == "can't tell" and judged.chance <= 1 - PROVEN:
        verdict = "beyond"
    return CheckValue(terms, target, value, u, judged.chance, verdict, one.about)


def _compared(check: Rule) -> list[tuple[int, ...]]:
    """The marks of each value of a check of spans: those of its span, or of the two it compares."""
    ends = [(span.start, span.end) for span in check.spans]
    return [ends[0]] if len(ends) == 1 else [(*one, *other) for one, other in combinations(ends, 2)]


def told(solved: Solved, piece: Piece, check: Rule, terms: Terms) -> bool:
    """Return whether anything that may tell it fixes a row of a check."""
    inside = solved.inside(terms)
    most = TURNING if check.kind == "rack" else SETTLED
    if not settled(piece.allocation.staged, inside, most):
        return False
    if check.frame is None or not check.frame.read:
        return True
    freedom = _by_readings(solved, piece) if check.kind == "rack" else piece.read
    left = freedom.contract(inside)
    return max((abs(float(part)) for part in left.values()), default=0.0) <= most * max(abs(c) for _, c in inside)


def _by_readings(solved: Solved, piece: Piece) -> Freedom:
    """What readings leave free without any joint: a joint holds a rail at no angle."""
    rows, counted = piece.network.measured, piece.network.counted
    own = np.array(
        [k for k, row in enumerate(piece.chosen["measured"].tolist()) if solved.graph.measured[row].kind == "reading"],
        dtype=np.intp,
    )
    counted = as_counted(rows, counted, len(piece.network))
    freedom = Freedom(len(piece.network))
    freedom.tie((rows if counted is None else counted).pick(own))
    return freedom


def u_of(piece: Piece, inside: Terms) -> float:
    """Return the standard uncertainty of a row in the finished piece, mm."""
    return float(np.sqrt(piece.outlook.errors.variance(rows_of([inside])))[0])


def settled(staged: AnyStaged, inside: Terms, most: float = SETTLED) -> bool:
    """Whether the stages so far fix a row, but for what rounding of its weights makes."""
    return bool(loose(staged, inside).max(initial=0.0) <= most * max(abs(coef) for _, coef in inside))


def loose(staged: AnyStaged, inside: Terms) -> Floats:
    """Return how far a row moves with each thing that is still free, mm a mm, without its sign."""
    moved = abs(staged.contract(rows_of([inside]), staged.basis))
    return np.asarray(moved if isinstance(moved, np.ndarray) else moved.toarray()).ravel()
