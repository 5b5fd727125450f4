"""Odd words: a size said of a cut that looks like a slip of the hand, what it moves, and what to do.

    STOP  #5 leg.rl foot..head said to be cut to 43: 387 mm less than plan, and never read. Ten times off: ...?
          Read it: fitsolve read leg.rl foot head. Was it a slip? fitsolve strike 5
          It moves leg.fl and leg.rl. Not top.

Not here: which they are (findings), readings (doubtwords).
"""

from __future__ import annotations

from fitsolve.build.assembly import Assembly
from fitsolve.findings.oddcuts import OddCut, meant_from
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.doubtwords import follow_texts, moves_parts
from fitsolve.report.measures import Measures, off_plan
from fitsolve.report.naming import inside, span_named
from fitsolve.report.slipwords import slip_guess


def meant_from_text(assembly: Assembly, start: str, end: str, size_mm: float) -> str:
    """Whether a size is what the plan has from the mark beside it, as a question; empty where it is not."""
    other = meant_from(assembly, assembly.index[start], assembly.index[end], size_mm)
    if other is None:
        return ""
    name = inside(assembly.marks[other])
    return f"It is what the plan has from {name}: was it laid out from there? Then say --from {name}."


def odd_stop_texts(found: Reconciliation) -> list[list[str]]:
    """What must be settled first of sizes said of cuts, behind the readings: for each its sentences."""
    if not found.odd_cuts:
        return []
    follow, first = follow_texts(found), len(found.doubted_worst) - len(found.odd_cuts)
    said = [odd_cut_texts(found, one) for one in found.odd_cuts]
    for k, texts in enumerate(said, first):
        texts += [follow[k]] if k in follow else []
    return said


def odd_cut_texts(found: Reconciliation, one: OddCut) -> list[str]:
    """What is odd about it, what to do, and what it moves."""
    assembly, measures = found.assembly, Measures.of(found.assembly)
    marks = [assembly.marks[assembly.index[name]] for name in (one.start, one.end)]
    size = measures.exact(one.size_mm)
    amount, _, way = off_plan(one.size_mm - one.plan_mm, measures.unit).rpartition(" ")
    lead = f"#{one.row} {span_named(assembly, one.start, one.end)}, said to be cut to {size}: "
    lead += f"{amount} {measures.unit} {way} than plan, and never read."
    guess = meant_from_text(assembly, one.start, one.end, one.size_mm)
    guess = guess or slip_guess(one.size_mm, one.plan_mm, measures, "other", size)
    read = f"fitsolve read {marks[0].part} {inside(marks[0])} {inside(marks[1])}"
    return [
        f"{lead} {guess}".rstrip(),
        f"Is it so? Read it: {read}. A slip? fitsolve strike {one.row}, and say it again.",
        moves_parts(one.moved, one.others),
    ]
