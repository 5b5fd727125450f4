"""Wood left on, in words: the line on the waste side, and what is then to be trimmed."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fitsolve.findings.edges import Edge
from fitsolve.findings.leaving import LeaveOn, LeftLimit, LeftMark
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.naming import inside
from fitsolve.report.screen import Block, Line, Table

_EXPECT = "expect to trim "


def leave_block(found: Reconciliation, leave: LeaveOn) -> list[Block]:
    """Wood left on, as a block; none where nothing needs it."""
    if not leave.marks:
        return []
    measures = Measures.of(found.assembly)
    limit = " or a limit is passed" if leave.limits else ""
    lead = f"cut to its figures a joint of it ends looser than its fit{limit} {chance_text(leave.chance_exact)} of the "
    lead += f"time, and wood does not grow. At these lines {chance_text(leave.chance)} ({chance_text(leave.allowed)} "
    lead += "allowed: overcut)."
    rows = tuple(_left_row(found, measures, one) for one in leave.marks)
    trims = _trims(found, leave, measures)
    return [Block("LEAVE ON", (Line(lead, hang=0), Table(rows, 3), Table(trims, 6)))]


def _trims(found: Reconciliation, leave: LeaveOn, measures: Measures) -> tuple[tuple[str, ...], ...]:
    """What is expected to be trimmed at each joint, then at each limit."""
    trims = [
        one for one in leave.contacts
        if one.chance != one.chance_exact and measures.bare(one.trimming_mm).strip("0.")
    ]  # fmt: skip
    contacts, joints = found.assembly.contacts, found.assembly.joints
    said = tuple(
        (f"{joints[contacts[one.number].joint].name}, along {contacts[one.number].axis}",
         f"{_EXPECT}{measures.clearance(one.trimming_mm)}")
        for one in trims
    )  # fmt: skip
    limits = tuple(
        (_limit_text(found, one), f"{_EXPECT}{measures.clearance(one.trimming_mm)}")
        for one in leave.limits
        if one.chance != one.chance_exact and measures.bare(one.trimming_mm).strip("0.")
    )
    return (*said, *limits)


def leave_texts(found: Reconciliation, part: str, own: Sequence[Edge] | None = None) -> list[str]:
    """Wood left on a part, as it is said on paper: the lines and the chances, then what is to be trimmed; nothing where
    none needs it. `own` are its edges, where they are known already."""
    from fitsolve.findings.leaving import leave_on_part

    leave = leave_on_part(found.solved, part, found.layouts, own)
    if not leave.marks:
        return []
    measures = Measures.of(found.assembly)
    rows = [_left_row(found, measures, one) for one in leave.marks]
    marks = "; ".join(f"{name} {line} {exact}, {on}" for name, line, exact, on in rows)
    beyond = " or beyond a limit" if leave.limits else ""
    text = f"leave on: {marks}: {chance_text(leave.chance)} looser than a fit{beyond} ({chance_text(leave.allowed)} "
    text += f"allowed; {chance_text(leave.chance_exact)} cut exactly)"
    trims = _trims(found, leave, measures)
    return [f"{text}; {_trims_text(trims)}" if trims else text]


def _trims_text(rows: Sequence[tuple[str, ...]]) -> str:
    """`expect to trim 0.30 mm at tenon rail post.l, x; 0.61 mm at ...`."""
    by_amount: dict[str, list[str]] = {}
    for name, trim in rows:
        by_amount.setdefault(trim.removeprefix(_EXPECT), []).append(name)
    return _EXPECT + "; ".join(f"{amount} at {' and '.join(names)}" for amount, names in by_amount.items())


def _limit_text(found: Reconciliation, one: LeftLimit) -> str:
    """A limit by its distance: `l.end..r.end, 65 7/8 at least`."""
    marks, distance = found.assembly.marks, found.assembly.distances[one.distance]
    limit = distance.low_mm if one.side < 0 else distance.high_mm
    assert limit is not None, "it is about a limit"
    said = f"{Measures.of(found.assembly).exact(limit)} at {'least' if one.side < 0 else 'most'}"
    return f"{inside(marks[distance.start])}..{inside(marks[distance.end])}, {said}"


def _left_row(found: Reconciliation, measures: Measures, one: LeftMark) -> tuple[str, ...]:
    own = measures
    line = found.laid_out.lines.get(one.mark)
    if line is not None:
        own = measures.stepped(line.step_mm)
    on = abs(Fraction(one.line_mm) - Fraction(one.figure_mm))
    return (
        inside(found.assembly.marks[one.mark]),
        own.size(abs(one.line_mm)),
        f"for {own.full(abs(one.figure_mm))}",
        f"{measures.clearance(float(on))} left on",
    )


def chance_text(chance: float) -> str:
    """A chance in whole percent: `5 %`, `under 1 %`."""
    if 0.0 < chance < 0.01:
        return "under 1 %"
    return f"{100 * chance:.0f} %" if chance < 0.995 or chance == 1.0 else "over 99 %"
