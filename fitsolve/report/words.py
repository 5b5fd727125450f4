"""Words: findings in the maker's own words, one sentence or two each.

Every function takes a reconciliation and one finding of it and returns text. Nothing here
measures a terminal or prints. Uncertainties are ± at k = 2.

Not here: doubts (doubtwords), joints and seats (fitwords), contradictions (demands), sizes to cut (cutting), what
would help (remedies), layout on a screen (terminal).
"""

from __future__ import annotations

from fitsolve.build.history import MarkState
from fitsolve.build.readings import Reading
from fitsolve.findings.checks import check_values, worst_of
from fitsolve.findings.values import Assumption, Between, CheckFinding
from fitsolve.reconciliation import TURNED_MM, Reconciliation
from fitsolve.report.doubtwords import (
    culprits_text,
    doubt_text,
    moves_text,
    rests_on,
    suspect_groups,
    suspects,
    waiting,
)
from fitsolve.report.measures import Measures
from fitsolve.report.naming import counted, lies_text, rows_listed, span_named
from fitsolve.report.remedies import KNIFE, to_know
from fitsolve.report.slipwords import slip_guess, tool_kind
from fitsolve.report.told import Told
from fitsolve.report.turnedwords import turned_count
from fitsolve.report.when import when

__all__ = [
    "assumed_text",
    "between_text",
    "check_text",
    "coarse_texts",
    "culprits_text",
    "doubt_text",
    "footing",
    "moves_text",
    "slip_guess",
    "suspect_groups",
    "suspects",
    "title_text",
    "tool_kind",
    "waiting",
]

AS_DRAWN_MM = 1e-9
"""A check with no more uncertainty than this says what the plan says."""


def title_text(found: Reconciliation) -> str:
    """The first line: what is built, when it was last touched, on how many readings this stands."""
    state = found.state
    pieces = [found.assembly.title or "This build"]
    if state.last_time:
        pieces.append(when(state.last_time))
    pieces.append(
        counted(len(state.readings), "reading") + (f", last #{state.last_row}" if state.last_row else "")
    )
    settle = len(suspect_groups(found)) + len(found.odd_cuts) + len(found.conflicts) + turned_count(found)
    if settle:
        pieces.append(f"{counted(settle, 'thing')} to settle before you cut")
    return "   ".join(pieces)


def footing(found: Reconciliation) -> str:
    """The last line: units, and what ± means."""
    unit = "inches" if found.assembly.unit == "in" else "millimetres"
    text = f"Lengths in {unit}. ± is at k = 2: the truth lies within about 95 times in 100."
    if any(state != MarkState.MADE for state in found.state.marks):
        cuts = Measures.of(found.assembly).u(found.assembly.workmanship_mm)
        text += " Sizes to cut are lines that keep the joints; behind them exact and ± are of the size wanted, and "
        text += f"how cuts land ({cuts}) comes on top."
    return text


# -- the frame -----------------------------------------------------------------------------


def check_text(found: Reconciliation, check: CheckFinding, told: Told | None = None) -> tuple[str, str]:
    """A check as its amount, `1/32 of 1/16`, and its verdict with what would tell more; `told` is what was said of that
    already."""
    measures = Measures.of(found.assembly)
    within = measures.exact(check.within_mm)
    if check.value_mm is None or check.expanded_mm is None:
        from fitsolve.report.framewords import missing_text

        return f"? of {within}", missing_text(found.assembly, check)
    amount = f"{measures.coarse(abs(check.value_mm))} of {within}"
    if check.expanded_mm <= AS_DRAWN_MM:  # stations of what is uncut move with their marks
        return amount, f"{check.verdict} as drawn: nothing of it is cut or read yet"
    said = f"{check.verdict}, {measures.coarse_u(check.expanded_mm)}"
    if rests := check_rests_on(found, check):
        return amount, f"{said}. It rests on {rests}: see STOP"
    if check.verdict == "can't tell":
        how = _to_know_check(found, check, told or Told(found))
        return amount, f"{said}. To know: {', and '.join(how)}" if how else said
    return amount, said


def check_rests_on(found: Reconciliation, check: CheckFinding) -> str:
    """The readings not to be believed that a check moves with; empty for none."""
    worst = worst_of(check_values(found.solved, found.assembly.checks[check.number]))
    return rests_on(found, list(worst.terms)) if worst is not None and worst.terms else ""


def _to_know_check(found: Reconciliation, check: CheckFinding, told: Told) -> list[str]:
    worst = worst_of(check_values(found.solved, found.assembly.checks[check.number]))
    if worst is None or not worst.terms:
        return []
    ways = to_know(found, worst.terms)
    return ["read it once it is cut" if way.do == KNIFE else told.way(way) for way in ways]


# -- what was taken for granted -------------------------------------------------------------


def assumed_text(found: Reconciliation, one: Assumption) -> str:
    """A size that was never read: `leg.rl face..back 3 1/2, ± 0.032: made, never read`."""
    measures = Measures.of(found.assembly)
    name = span_named(found.assembly, one.start, one.end)
    return f"{name} {measures.full(one.size_mm)}, {measures.u(one.expanded_mm)}: made, never read"


def coarse_texts(found: Reconciliation) -> list[str]:
    """Readings on one part that tell less than cutting to plan would, by tool: a tape no better than the saw."""
    measures, cutting = Measures.of(found.assembly), found.assembly.workmanship_mm
    by_tool: dict[str, list[Reading]] = {}
    for reading in found.state.readings:
        if not reading.across and len(reading.terms) == 2 and 2 * reading.u_mm > cutting:
            by_tool.setdefault(reading.tool, []).append(reading)
    lines = []
    for tool, readings in by_tool.items():
        least, most = (measures.u(2 * pick(one.u_mm for one in readings)) for pick in (min, max))
        spread = most if least == most else f"{least} to {most.removeprefix('± ')}"
        first = readings[0]
        lead = f"#{first.no} {span_named(found.assembly, first.start, first.end)}"
        if len(readings) > 1:
            lead = rows_listed([one.no for one in readings])
        lines.append(f"{lead}: this {tool} is no better than your cutting ({spread} against {measures.u(cutting)})")
    return lines


def between_text(found: Reconciliation, start: str, end: str, answer: Between) -> str:
    """How far apart two marks are: `leg.fl outer..inner   3 17/32 in, ± 0.004, made`."""
    name = span_named(found.assembly, start, end)
    how = {"made": "made", "rough": "rough: it can still come down", "uncut": "to be cut"}[answer.state]
    if answer.distance_mm is None or answer.expanded_mm is None:
        from fitsolve.report.unfixed import unfixed_text

        return f"{name}   {unfixed_text(found, start, end)}"
    measures = Measures.of(found.assembly)
    unit = f" {measures.unit}" if measures.marks_unit else ""
    if answer.state == "made" and not _held(found, start, end):
        how = "as advised: both are made, but nothing holds them there yet"
    elif answer.state == "made" and _unread(found, start, end):
        how = "made, never read: how cuts land is in it"
    spread = measures.u(answer.expanded_mm) + (" with how cuts land" if answer.state == "uncut" else "")
    return f"{name}   {measures.full(answer.distance_mm)}{unit}{_which_way(found, start, end)}, {spread}, {how}"


def _held(found: Reconciliation, start: str, end: str) -> bool:
    """Whether the wood, readings and closed joints hold two marks where they are to each other."""
    index, solved = found.assembly.index, found.solved
    terms = [(index[end], 1.0), (index[start], -1.0)]
    piece = solved.piece(terms)
    return start == end or (piece is not None and piece.estimate.freedom.settled(solved.inside(terms)))


def _unread(found: Reconciliation, start: str, end: str) -> bool:
    """Whether most of what is unsure of a distance is how it was cut."""
    index = found.assembly.index
    ways = to_know(found, [(index[end], 1.0), (index[start], -1.0)])
    return bool(ways) and ways[0].kind == "unread"


def _which_way(found: Reconciliation, start: str, end: str) -> str:
    """Which way two marks lie, where the plan does not tell or tells otherwise."""
    assembly = found.assembly
    first, second = assembly.index[start], assembly.index[end]
    if turned_between(found, start, end):
        return ", the other way round than planned"
    if assembly.placed[first] == assembly.placed[second]:
        return ""
    apart = found.solved.value_mm([(second, 1.0), (first, -1.0)])
    lies = lies_text(assembly, first, second, apart if abs(apart) > TURNED_MM else 0.0)
    return f", {lies}" if lies else ""


def turned_between(found: Reconciliation, start: str, end: str) -> bool:
    """Whether two marks lie the other way round than the plan has them."""
    assembly = found.assembly
    first, second = assembly.index[start], assembly.index[end]
    plan = assembly.marks[second].plan_mm - assembly.marks[first].plan_mm
    if assembly.placed[first] != assembly.placed[second] or abs(plan) <= TURNED_MM:
        return False
    value = found.solved.value_mm([(second, 1.0), (first, -1.0)])
    return value * plan < 0 and abs(value) > TURNED_MM
