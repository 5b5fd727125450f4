"""Laid out when? What a part is said to be cut to was advised before it was cut, not when it is said.

Whoever lays a part out from the screen or the sheet, cuts it, reads something and says only then that it is
made, cut the lines that were shown before the reading. Nothing tells when it was laid out; what tells that
it was before a reading is that the reading is of this part itself: wood was cut by then.

    a reading of this part since it was changed last     asked; where nobody can be asked, a warning
    a reading of something else since                    a note: the rest of a part is often laid out later
    neither                                              laid out by what is advised now

Only where the advice has moved. `--as-of NO` says it: the last row of the log when it was laid out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fitsolve.build.assembly import Mark
from fitsolve.build.logtext import Log, row_number
from fitsolve.build.state import State, struck_rows
from fitsolve.cli.advised import cuts_of, found_for
from fitsolve.cli.bench import Bench
from fitsolve.cli.common import refuse, say
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.findings.running import Layout
from fitsolve.light import dataclass, replace
from fitsolve.reconciliation import Reconciliation

_CHANGES = ("made", "trim", "remake", "close")
_READ = ("reading", "lean", "compare", "gang", "diagonal", "wind")


@dataclass(frozen=True)
class Moment:
    """When a part may have been laid out: the last row of the log then, and the readings since; `own` where
    they are of the part itself."""

    last: int
    since: tuple[int, ...]
    own: bool


def log_as_of(bench: Bench, typed: str) -> Log:
    """The log as it stood when row `typed` was its last; 0 for before the first."""
    number = 0 if typed.strip().lstrip("#") == "0" else row_number(typed)
    if not 0 <= number <= bench.log.highest or (number == 0 and typed.strip().lstrip("#") != "0"):
        raise refuse(f'the log has no row "{typed[:40]}"', f"0 to {bench.log.highest}, as the screen or the sheet "
                     "said it was laid out from.", typed)  # fmt: skip
    return _upto(bench.log, number)


def _upto(log: Log, number: int) -> Log:
    return replace(log, rows=tuple(row for row in log.rows if row.no <= number))


def log_laid_out_by(bench: Bench, part: str, marks: tuple[int, ...]) -> Log:
    """The log as it stood when marks of a part were laid out, as far as can be told: asks, or says what it took."""
    assembly, state = bench.settled
    moment = _moment(bench, assembly.marks, state, part)
    if moment is None:
        return bench.log
    then = _upto(bench.log, moment.last)
    moved = _moved(bench, then, state, marks)
    if not moved:
        return bench.log
    from fitsolve.cli.questions import agreed, listening
    from fitsolve.report.naming import rows_listed

    verb = "has" if len(moment.since) == 1 else "have"
    what = f"{rows_listed(moment.since)} {verb} moved what is advised for {part}: {moved}"
    if moment.own and listening():
        say(f"{what}.")
        return then if agreed("Was it laid out before that?") else bench.log
    hint = f"Taken as laid out since. Before? fitsolve undo, then: fitsolve made {part} --as-of {moment.last}"
    bench.said.append(Problem(Place(), what, hint, level="warning" if moment.own else "notice"))
    return bench.log


def _moment(bench: Bench, marks: Sequence[Mark], state: State, part: str) -> Moment | None:
    struck = struck_rows(bench.log)
    rows = [row for row in bench.log.rows if row.no not in struck and row.event in _CHANGES]
    changes = {row.no: row.event for row in rows if part in row.start.split() or row.start.startswith(f"{part}.")}
    remade = max((no for no, event in changes.items() if event == "remake"), default=0)
    changed = max(changes, default=0)
    since = sorted(one.no for one in state.readings if one.no > changed)
    own = [one.no for one in state.readings if one.no > changed and _within(marks, one.terms, part)]
    if own:
        first = min(own)
        return Moment(first - 1, tuple(no for no in since if no >= first), True)
    return Moment(changed, tuple(since), False) if since and changed > remade else None


def _within(marks: Sequence[Mark], terms: Iterable[tuple[int, float]], part: str) -> bool:
    return all(marks[mark].part == part for mark, _ in terms)


def _moved(bench: Bench, then: Log, state: State, marks: tuple[int, ...]) -> str:
    """Which marks still to be made were laid out elsewhere then, and how far off that is now; empty where none."""
    from fitsolve.build.history import MarkState
    from fitsolve.report.measures import Measures, off_plan

    waiting = [mark for mark in marks if state.marks[mark] != MarkState.MADE]
    if not waiting:
        return ""
    part = bench.assembly.marks[waiting[0]].part
    try:
        before, now = (found_for(bench, log, part) for log in (then, bench.log))
    except BuildError:  # it waited, then or now: there is nothing to choose between
        return ""
    measures, names = Measures.of(bench.assembly), before.assembly.marks
    lines = cuts_of(before, waiting)
    told = []
    for layout in (one for one in before.layouts if one.part == part):
        at = _laid_out(now, layout)
        for mark in (one.mark for one in layout.marks if one.mark in lines and one.mark in at):
            off = at[mark] - lines[mark].size_mm
            if abs(off) > bench.assembly.finest_mm / 4:
                inside, start = (names[each].name[len(part) + 1 :] for each in (mark, layout.reference))
                off = off if lines[mark].size_mm >= 0 else -off
                size = measures.exact(abs(lines[mark].size_mm))
                told.append(f"{inside} was {size} from {start}, now {off_plan(off, measures.unit)}")
    return f"{told[0]}{f', and {len(told) - 1} more' if told[1:] else ''}" if told else ""


def _laid_out(now: Reconciliation, then: Layout) -> dict[int, float]:
    """Where the marks of a layout are laid out now, mm from where their figures started then."""
    own = next((one for one in now.layouts if (one.part, one.axis) == (then.part, then.axis)), None)
    if own is None:
        return {}
    at = {own.reference: 0.0}
    at |= {mark: cut.size_mm for mark, cut in cuts_of(now, [one.mark for one in own.marks]).items()}
    start = at.get(then.reference)
    if start is None:
        names = now.assembly.marks
        start = now.between(names[own.reference].name, names[then.reference].name).distance_mm
        if start is None:
            return {}
        start *= own.way
    return {mark: then.way * own.way * (mm - start) for mark, mm in at.items()}


def without_readings_since(bench: Bench, log: Log) -> State:
    """What is true now but for what was only read since `log`: marks of which only a reading says that they are
    made were laid out with the others."""
    then = {row.no for row in log.rows}
    rows = tuple(row for row in bench.log.rows if row.no in then or row.event not in _READ)
    return bench.settled_by(replace(bench.log, rows=rows))[1]
