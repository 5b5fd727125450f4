"""Words: findings in the maker's own words, one sentence or two each.

Every function takes a reconciliation and one finding of it and returns text. Nothing here
measures a terminal or prints. Uncertainties are ± at k = 2.

Not here: joints and seats (fitwords), contradictions (demands), sizes to cut (cutting), what
would help (remedies), layout on a screen (terminal).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from fitsolve.findings.causes import moved_by, piece_of_row
from fitsolve.findings.values import Assumption, Between, CheckFinding, Doubt
from fitsolve.graph import rule_values
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.demands import contradiction_text
from fitsolve.report.measures import Measures
from fitsolve.report.naming import counted, span_named, words_of
from fitsolve.report.remedies import KNIFE, to_know
from fitsolve.report.slipwords import slip_guess, tool_kind
from fitsolve.report.when import when

__all__ = [
    "assumed_text",
    "between_text",
    "check_text",
    "coarse_texts",
    "contradiction_text",
    "culprits_text",
    "doubt_text",
    "footing",
    "moves_text",
    "suspect_groups",
    "suspects",
    "title_text",
    "waiting",
]

MOVED_SHARE = 0.1
"""A suspect reading moves a size when it would change it by more than this share of the finest line."""

CLEARLY = 0.5
"""A standardised residual larger than the next by this points at one reading (our own choice)."""

_SHOWN_MOST = 8


def title_text(found: Reconciliation) -> str:
    """The first line: what is built, when it was last touched, on how many readings this stands."""
    state = found.state
    pieces = [found.assembly.title or "This build"]
    if state.last_time:
        pieces.append(when(state.last_time))
    pieces.append(
        counted(len(state.readings), "reading") + (f", last #{state.last_row}" if state.last_row else "")
    )
    settle = len(suspect_groups(found)) + len(found.contradictions)
    if settle:
        pieces.append(f"{counted(settle, 'thing')} to settle before you cut")
    return "   ".join(pieces)


def footing(found: Reconciliation) -> str:
    """The last line: units, and what ± means."""
    unit = "inches" if found.assembly.unit == "in" else "millimetres"
    return f"Lengths in {unit}. ± is at k = 2: the truth lies within about 95 times in 100."


# -- doubts --------------------------------------------------------------------------------


def suspects(found: Reconciliation) -> tuple[Doubt, ...]:
    """The readings not to be believed, the worst first."""
    doubtful = [doubt for doubt in found.doubts if doubt.suspect]
    return tuple(sorted(doubtful, key=lambda doubt: -abs(doubt.standardised or 1e9)))


def doubt_text(found: Reconciliation, doubt: Doubt) -> str:
    """What is wrong with a reading, and what it would have to be.

    `#23 leg.fl.inner..leg.fr.inner, 40 3/32 by tape: 1 in short of what the others say. Would be
    41 3/32. Read it again.`
    """
    measures = Measures.of(found.assembly)
    name = span_named(found.assembly, doubt.start, doubt.end)
    lead = f"#{doubt.row} {name}, {measures.exact(doubt.reading_mm)} by {doubt.tool}: "
    should = doubt.would_be_mm
    if should is None:
        should = _plan_of(found, doubt)
        if should is None:
            return f"{lead}nothing else checks it, and it is far off. Read it again."
        off = _off(doubt.reading_mm - should, measures, "more than plan", "less than plan")
        told = f"{lead}{off}, and nothing else checks it."
    else:
        off = _off(
            doubt.reading_mm - should, measures, "more than the others say", "short of what the others say"
        )
        told = f"{lead}{off}. Would be {measures.size(should)}."
    guess = slip_guess(doubt.reading_mm, should, measures, tool_kind(doubt.tool))
    return f"{told}{f' {guess}' if guess else ''} Read it again."


def _off(mm: float, measures: Measures, over: str, under: str) -> str:
    amount = abs(mm)
    if amount >= measures.step_mm:
        text = f"{measures.size(amount)} {measures.unit}" if measures.marks_unit else measures.size(amount)
    else:
        text = measures.clearance(amount)
    return f"{text} {over if mm > 0 else under}"


def _plan_of(found: Reconciliation, doubt: Doubt) -> float | None:
    """What the plan says of a reading, in mm, as a length."""
    reading = next((one for one in found.state.readings if one.no == doubt.row), None)
    if reading is None:
        return None
    marks = found.assembly.marks
    return abs(sum(coef * marks[mark].plan_mm for mark, coef in reading.terms))


def moves_text(found: Reconciliation, group: Sequence[Doubt]) -> str:
    """Which parts still to be cut some suspect readings move, and which none of them does."""
    moved = [moved_by(found.solved, doubt, MOVED_SHARE * found.assembly.finest_mm) for doubt in group]
    parts = dict.fromkeys(part for one in moved for part in one.parts)
    others = dict.fromkeys(part for one in moved for part in one.others if part not in parts)
    if not parts:
        return "It moves nothing that is still to be cut." if others else "Nothing is left to be cut."
    text = f"It moves {_parts(list(parts))}."
    return f"{text} Not {_parts(list(others))}." if others else text


def _parts(parts: Sequence[str]) -> str:
    if len(parts) > _SHOWN_MOST:
        return f"{', '.join(parts[:_SHOWN_MOST])} and {len(parts) - _SHOWN_MOST} more"
    return words_of(parts)


def waiting(found: Reconciliation) -> dict[str, list[int]]:
    """The parts that must wait, each with the suspect readings that move it."""
    waits: dict[str, list[int]] = defaultdict(list)
    for doubt in suspects(found):
        for part in moved_by(found.solved, doubt, MOVED_SHARE * found.assembly.finest_mm).parts:
            waits[part].append(doubt.row)
    return waits


def suspect_groups(found: Reconciliation) -> list[list[Doubt]]:
    """The suspect readings, those that hang together in one group, the worst of each first.

    What nothing else checks is suspect by itself.
    """
    groups: dict[tuple[int, int], list[Doubt]] = defaultdict(list)
    for doubt in suspects(found):
        alone = doubt.row if doubt.standardised is None else 0
        groups[piece_of_row(found.solved, doubt.row), alone].append(doubt)
    return list(groups.values())


def culprits_text(found: Reconciliation, group: Sequence[Doubt]) -> str:
    """Where several readings are suspect together: which others it may be, and what they would be then."""
    if len(group) < 2:
        return ""
    measures = Measures.of(found.assembly)
    worst, *others = group
    said = [
        f"#{doubt.row} {span_named(found.assembly, doubt.start, doubt.end)} would be "
        f"{measures.size(doubt.would_be_mm or 0.0)}, not {measures.exact(doubt.reading_mm)}"
        for doubt in others
    ]
    clearly = abs(worst.standardised or 0.0) > abs(others[0].standardised or 0.0) + CLEARLY
    lead = f"If #{worst.row} is right after all:" if clearly else "It could as well be one of these:"
    return f"{lead} {'; or '.join(said)}."


# -- the frame -----------------------------------------------------------------------------


def check_text(found: Reconciliation, check: CheckFinding) -> tuple[str, str]:
    """A check as its amount, `1/32 of 1/16`, and its verdict with what would tell more."""
    measures = Measures.of(found.assembly)
    within = measures.exact(check.within_mm)
    if check.value_mm is None or check.expanded_mm is None:
        return f"? of {within}", "not fixed by anything yet"
    amount = f"{measures.coarse(abs(check.value_mm))} of {within}"
    said = f"{check.verdict}, {measures.coarse_u(check.expanded_mm)}"
    if check.verdict == "can't tell":
        how = _to_know_check(found, check)
        return amount, f"{said}. To know: {', and '.join(how)}" if how else said
    return amount, said


def _to_know_check(found: Reconciliation, check: CheckFinding) -> list[str]:
    values = rule_values(found.assembly.checks[check.number])
    values = [one for one in values if one[0]]
    if not values:
        return []
    worst = max(values, key=lambda one: abs(found.solved.value_mm(one[0]) - one[1]))
    return ["read it once it is cut" if way == KNIFE else way for way in to_know(found, worst[0])]


# -- what was taken for granted -------------------------------------------------------------


def assumed_text(found: Reconciliation, one: Assumption) -> str:
    """A size that was never read: `leg.rl face..back 3 1/2, ± 0.032: made, never read`."""
    measures = Measures.of(found.assembly)
    name = span_named(found.assembly, one.start, one.end)
    return f"{name} {measures.full(one.size_mm)}, {measures.u(one.expanded_mm)}: made, never read"


def coarse_texts(found: Reconciliation) -> list[str]:
    """Readings on one part that tell less than cutting to plan would: a tape no better than the saw."""
    measures = Measures.of(found.assembly)
    cutting = found.assembly.workmanship_mm
    lines = []
    for reading in found.state.readings:
        if reading.across or len(reading.terms) != 2 or 2 * reading.u_mm <= cutting:
            continue
        name = span_named(found.assembly, reading.start, reading.end)
        lines.append(
            f"#{reading.no} {name}: this {reading.tool} is no better than your cutting "
            f"({measures.u(2 * reading.u_mm)} against {measures.u(cutting)})"
        )
    return lines


def between_text(found: Reconciliation, start: str, end: str, answer: Between) -> str:
    """How far apart two marks are: `leg.fl outer..inner   3 17/32 in, ± 0.004, made`."""
    name = span_named(found.assembly, start, end)
    how = {"made": "made", "rough": "rough: it can still come down", "uncut": "to be cut"}[answer.state]
    if answer.distance_mm is None or answer.expanded_mm is None:
        return f"{name}   not fixed by anything, {how}"
    measures = Measures.of(found.assembly)
    unit = f" {measures.unit}" if measures.marks_unit else ""
    return f"{name}   {measures.full(answer.distance_mm)}{unit}, {measures.u(answer.expanded_mm)}, {how}"
