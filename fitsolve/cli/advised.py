"""What was advised: the sizes that `sizes` shows, for marks that are said to be made.

Whoever cut what `sizes` told, and says only that it is made, must not be taken at the plan. So a
mark that is made without a size is written down at what was advised, worked out here anew: the
line it is laid out at; where no line will do, as far from the other wall of its housing as is wanted. A part that waits
for a reading, or stands in a conflict, has no size that was advised. A plan whose lines or rooms ask
for another size than it draws is advised so from the start, before anything is read.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fitsolve.build.assembly import Assembly
from fitsolve.build.logtext import Log
from fitsolve.build.state import State
from fitsolve.cli.bench import Bench
from fitsolve.cli.common import refuse
from fitsolve.errors import BuildError
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation, findings_of
from fitsolve.report.linewords import knifed_mm, laid_of
from fitsolve.report.measures import Measures
from fitsolve.report.waits import wait_texts

_SAME_MM = 1e-6


@dataclass(frozen=True, slots=True)
class AdvisedCut:
    """What a mark is to be cut to: `size_mm` from mark `reference`; `planned` where that is the line of the plan,
    `as_drawn` where it is the plan itself."""

    mark: int
    reference: int
    size_mm: float
    planned: bool
    as_drawn: bool


def advised_cuts(bench: Bench, marks: Sequence[int], log: Log | None = None) -> dict[int, AdvisedCut]:
    """Return what was advised for these marks (of one part), in the order they are laid out in; a mark that
    nothing fixes, a reference end and a made mark have nothing. Raises BuildError where the part waits. `log` is the
    log as it stood when they were laid out, where that is not the log as it is."""
    return cuts_of(found_for(bench, log or bench.log, bench.assembly.marks[marks[0]].part), marks)


def found_for(bench: Bench, log: Log, part: str) -> Reconciliation:
    """Return the findings with that log, the lines of this part alone. Raises BuildError where they give no size to
    cut it to."""
    now = log is bench.log
    if now and part in bench.found:
        return bench.found[part]
    assembly, state = bench.settled_by(log)
    try:
        if bench.keeps_wrong:
            raise BuildError([bench.keeps_wrong])
        errors = [problem for problem in state.problems if problem.level == "error"]
        if errors:
            raise BuildError(errors)
        found = findings_of(assembly, state)
    except BuildError as error:
        first = error.problems[0]
        raise _not_advised(part, f"{first.place}: {first.what}" if str(first.place) else first.what) from None
    waits = wait_texts(found, part)
    if waits:
        raise _not_advised(part, waits[0])
    alone = found.asked_of(part)
    if now:
        bench.found[part] = alone
    return alone


def cuts_of(found: Reconciliation, marks: Sequence[int]) -> dict[int, AdvisedCut]:
    """What marks are to be cut to, those that have a size, in the order they are laid out in."""
    measures, wanted = Measures.of(found.assembly), set(marks)
    cuts = {}
    for layout in found.layouts:
        for one in layout.marks:
            if one.mark not in wanted or one.figure_mm is None:
                continue
            line = found.laid_out.lines[one.mark]
            laid = laid_of(found, one.mark, one.figure_mm, one.plan_mm, one.fitted)
            figure = knifed_mm(found, one.mark) if laid.line_mm is None else laid.line_mm
            planned = laid.as_planned(measures.stepped(line.step_mm))
            drawn = planned and abs(figure - one.plan_mm) < _SAME_MM
            cuts[one.mark] = AdvisedCut(one.mark, layout.reference, figure, planned, drawn)
    return cuts


def _not_advised(part: str, why: str) -> BuildError:
    hint = "Give the size of each mark, as: fitsolve made PART MARK SIZE. Cut to the drawing? Say --as-planned."
    return refuse(f"no size was advised for {part}: {why}", hint)


def size_text(assembly: Assembly, mm: float) -> str:
    """A size as it goes into the log: on a line that is laid out as a fraction, else in decimals, to
    0.0001 in or 0.001 mm."""
    measures = Measures.of(assembly)
    laid_out = measures.laid_out(abs(mm))
    if abs(Fraction(abs(mm)) - laid_out) < Fraction(1, 2000):
        text = measures.size(laid_out)
        return text.replace(" ", "-") if measures.marks_unit else text
    from fitsolve.written import write_decimal

    text = write_decimal(abs(mm), measures.unit, measures.places + 1)
    return text.rstrip("0").rstrip(".")


def is_made(state: State, mark: int) -> bool:
    """Whether a mark is as it will be."""
    from fitsolve.build.history import MarkState

    return state.marks[mark] == MarkState.MADE
