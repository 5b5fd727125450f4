"""Loop words: what the drawing of the loops says, gathered from the findings."""

from __future__ import annotations

from fitsolve.drawing.loops import Loop, LoopsDrawing, LoopStep
from fitsolve.findings.slips import CRITICAL
from fitsolve.findings.ways import Step, WayRound, ways_round
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.fitwords import contact_name
from fitsolve.report.measures import Measures
from fitsolve.report.naming import counted, span_of, words_of

LOOPS_MOST = 40
_OF_MANY_MARKS = {"compare": "comparisons", "gang": "gangs", "diagonal": "diagonals", "wind": "wind"}


def loops_drawing(found: Reconciliation, number: str) -> LoopsDrawing:
    """Return what the drawing of the loops shows, those that miss most for their U first.

    A loop is called open where one reading would be doubted: beyond CRITICAL standard uncertainties.
    """
    ways = ways_round(found.solved)
    measures = Measures.of(found.assembly)
    loops = tuple(_loop(found, way, measures) for way in ways[:LOOPS_MOST])
    notes = []
    if not ways:
        notes.append("No loop: nothing that was read checks anything else.")
    if len(ways) > LOOPS_MOST:
        notes.append(f"{len(ways) - LOOPS_MOST} more loops miss by less.")
    others = [reading.event for reading in found.state.readings if len(reading.terms) != 2]
    if others:
        kinds = [words for event, words in _OF_MANY_MARKS.items() if event in others]
        notes.append(f"{counted(len(others), 'row')} of more than two marks left out: {words_of(kinds)}.")
    return LoopsDrawing(found.assembly.title or "This build", number, loops, " ".join(notes))


def _loop(found: Reconciliation, way: WayRound, measures: Measures) -> Loop:
    marks = found.assembly.marks
    at = 0.0
    steps = []
    for step in way.steps:
        steps.append(LoopStep(_step_words(found, step, measures), at, at + step.value_mm, step.kind == "reading"))
        at += step.value_mm
    is_open = abs(way.misclosure_mm) > CRITICAL / 2 * way.expanded_mm
    verdict = "more than the readings allow" if is_open else "within what the readings allow"
    said = f"misses by {measures.clearance(abs(way.misclosure_mm))}, {measures.u(way.expanded_mm)}: {verdict}"
    parts = dict.fromkeys(marks[step.start].part for step in way.steps)
    title = f"along {way.axis}: {', '.join(parts)}"
    return Loop(title, tuple(steps), way.misclosure_mm, way.expanded_mm, said, is_open)


def _step_words(found: Reconciliation, step: Step, measures: Measures) -> str:
    if step.kind == "contact":
        return f"closed: {contact_name(found, found.assembly.contacts[step.number])}"
    reading = next(one for one in found.state.readings if one.no == step.number)
    name = span_of(found.assembly, step.start, step.end)
    return f"#{step.number} {name}  {measures.exact(reading.shown_mm)} by {reading.tool}"
