"""What was advised, when something is said to be made as planned.

Whoever cut what `sizes` told would then be taken at the plan: so what was advised and differs is said.
"""

from __future__ import annotations

from fitsolve.build.history import MarkState
from fitsolve.build.state import State, settle
from fitsolve.cli.bench import Bench
from fitsolve.errors import BuildError, Place, Problem

_SHOWN_MOST = 6


def covered(bench: Bench, whole: str) -> tuple[State, list[int]]:
    """The state before, and the marks that a part, a mark or a beginning means and that are not made."""
    assembly, state = settle(bench.assembly, bench.log, bench.tools)
    if whole in assembly.parts:
        marks = [k for k, mark in enumerate(assembly.marks) if mark.part == whole]
    elif whole in assembly.index:
        marks = [assembly.index[whole]]
    else:
        marks = list(bench.names.lookup.covered(whole, 0))
    return state, [mark for mark in marks if state.marks[mark] != MarkState.MADE]


def advised(bench: Bench, whole: str) -> list[Problem]:
    """Return a warning that names what was advised off plan for marks that are said to be made as planned."""
    from fitsolve.findings.running import layouts
    from fitsolve.reconciliation import findings_of
    from fitsolve.report.measures import Measures
    from fitsolve.report.naming import inside

    assembly, state = settle(bench.assembly, bench.log, bench.tools)
    _, marks = covered(bench, whole)
    if not marks or any(problem.level == "error" for problem in state.problems):
        return []
    try:
        found = findings_of(assembly, state)
    except BuildError:
        return []
    measures, said = Measures.of(assembly), []
    for layout in layouts(found.solved):
        for one in layout.marks:
            if one.mark not in marks or one.figure_mm is None:
                continue
            if measures.laid_out(one.figure_mm) == measures.laid_out(one.plan_mm):
                continue
            size, plan = measures.size(abs(one.figure_mm)), measures.exact(abs(one.plan_mm))
            said.append(f"{inside(assembly.marks[one.mark])} {size} (plan {plan})")
    if not said:
        return []
    more = f" and {len(said) - _SHOWN_MOST} more" if len(said) > _SHOWN_MOST else ""
    what = f"{whole} is taken as planned; advised was {', '.join(said[:_SHOWN_MOST])}{more}"
    hint = f"Cut as advised? Then: fitsolve undo, and fitsolve made {whole}"
    return [Problem(Place(), what, hint, level="warning")]
