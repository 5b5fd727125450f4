"""Closing for good: what is known to be wrong is said before it cannot be mended any more.

It is looked at as it will be closed: what was cut and not written down is there, the joint not yet
closed. Somebody at the keyboard is asked; where nobody can be, nothing is written unless it was said to be
sure. A check of the frame that is beyond is no fault of the joint: where nobody can be asked it is only said.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fitsolve.build.history import MarkState, State
from fitsolve.build.logtext import Row
from fitsolve.cli.bench import Bench
from fitsolve.cli.common import say, show_problems
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.light import replace


def status_of_closing(
    bench: Bench, joint: int, made: Sequence[Row], row: Row, sure: bool, unadvised: Sequence[Problem] = ()
) -> int | None:
    """The exit status that a joint is closed with for good as `row` says, `made` being written first: 0, or 1
    where something is known to be wrong; None where it is not to be closed. `unadvised` is what has no size: its
    part waits, and taken as drawn for good it may be wrong."""
    told, frame = _trouble(bench, joint, made, row.note)
    if not told and not frame and not unadvised:
        return 0
    from fitsolve.cli.questions import agreed, listening

    warnings = [*unadvised, *(Problem(Place(), text, level="warning") for text in (*told, *frame))]
    if (told or unadvised) and not sure and not listening():
        how = "--pegged" if "pegged" in row.note.split()[:2] else "--glued"
        hint = f"Nothing was written. Closed so all the same? fitsolve close {row.start} {how} --sure"
        warnings[-1] = replace(warnings[-1], hint=hint)
        show_problems(warnings)
        return None
    show_problems(warnings)
    if not sure and listening() and not agreed("It cannot be mended once it is closed so. Close it all the same?"):
        say("nothing was written")
        return None
    return 1


def _trouble(bench: Bench, joint: int, made: Sequence[Row], note: str) -> tuple[list[str], list[str]]:
    """What is wrong with the joint itself, and which checks of the frame are beyond."""
    from fitsolve.build.bodies import closed_marks
    from fitsolve.reconciliation import findings_of
    from fitsolve.report.closing import frame_texts, trouble_texts

    log = bench.log
    rows = [replace(one, no=log.highest + 1 + k, time="-") for k, one in enumerate(made)]
    assembly, state = bench.settled_by(replace(log, rows=(*log.rows, *rows)))
    if any(problem.level == "error" for problem in state.problems):
        return [], []
    try:
        found = findings_of(assembly, as_made(state, closed_marks(assembly, joint, note)))
        return trouble_texts(found, joint), frame_texts(found, joint)
    except BuildError:
        return [], []


def as_made(state: State, marks: Iterable[int]) -> State:
    """The state as if these marks were made, and nothing closed by it."""
    own = set(marks)
    made = tuple(MarkState.MADE if k in own else one for k, one in enumerate(state.marks))
    return replace(state, marks=made)
