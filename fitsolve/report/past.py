"""The log in words: its rows, why a row no longer counts, and where things stand after the last."""

from __future__ import annotations

from collections.abc import Iterable

from fitsolve.build.assembly import Assembly
from fitsolve.build.history import MarkState, State
from fitsolve.build.logtext import Log, Row
from fitsolve.report.naming import counted, span_named
from fitsolve.report.screen import Block, Line, Table, show
from fitsolve.report.when import when

_JOINTS_SHOWN = 6


def show_log(assembly: Assembly, log: Log, state: State) -> None:
    """Print the rows of the log, each with what became of it."""
    title = f"{assembly.title or 'This build'}   {counted(len(log.rows), 'row')}"
    blocks = [Block("", (Line(title, style="bold"),))]
    rows = tuple(row_cells(assembly, row, state) for row in sorted(log.rows, key=lambda row: row.no))
    if rows:
        blocks.append(Block("", (Table(rows),)))
    else:
        blocks.append(
            Block("", (Line("The log is empty. Enter a reading: fitsolve read PART FROM TO READING"),))
        )
    show(blocks)


def row_cells(assembly: Assembly, row: Row, state: State) -> tuple[str, ...]:
    """A row as cells: number, time, event, what, reading, tool; then its note and why it does not count."""
    if row.event in ("reading", "rough", "lean", "compare"):
        what = span_named(assembly, row.start, row.end)
    else:
        what = " ".join(cell for cell in (row.start, f"from {row.end}" if row.end else "") if cell)
        if row.event == "rename":
            what = f"{row.start} to {row.end}"
    rest = [f"({row.note})"] if row.note else []
    if row.no in state.set_aside:
        rest.append(f"no longer counts: {state.set_aside[row.no]}")
    return f"#{row.no}", when(row.time), row.event, what, row.reading, row.tool, " ".join(rest)


def standing_lines(assembly: Assembly, log: Log, state: State) -> Iterable[str]:
    """Where things stand: the last row, what is closed, what is still to be cut, what comes next."""
    count = len(state.readings)
    counts = f"{counted(count, 'reading')} that count{'s' if count == 1 else ''}"
    yield f"{assembly.title or 'This build'}   {counts}"
    last = max(log.rows, key=lambda row: row.no, default=None)
    if last is not None:
        cells = row_cells(assembly, last, state)
        yield "Last row  " + "  ".join(cell for cell in cells if cell)
    yield _closed(assembly, state)
    yield _cutting(assembly, state)
    if last is None:
        yield "Next      read what is made: fitsolve read PART FROM TO READING --tool TOOL"
    else:
        yield "Next      fitsolve sizes: what to cut now, and what to settle first"


def _closed(assembly: Assembly, state: State) -> str:
    count, joints = len(state.closed), counted(len(assembly.joints), "joint")
    if not count:
        return f"Closed    none of {joints}"
    names = [f"{assembly.joints[joint].name} ({how})" for joint, how in sorted(state.closed.items())]
    more = f"; {count - _JOINTS_SHOWN} more" if count > _JOINTS_SHOWN else ""
    return f"Closed    {count} of {joints}: {'; '.join(names[:_JOINTS_SHOWN])}{more}"


def _cutting(assembly: Assembly, state: State) -> str:
    """Which parts still have marks to be cut, and which are not begun."""
    marks: dict[str, list[MarkState]] = {}
    for mark, one in zip(assembly.marks, state.marks, strict=True):
        marks.setdefault(mark.part, []).append(one)
    waiting = [part for part, own in marks.items() if any(one != MarkState.MADE for one in own)]
    begun = [part for part in waiting if any(one != MarkState.UNCUT for one in marks[part])]
    if not waiting:
        return "To cut    nothing: everything is made"
    listed = ", ".join(f"{part} (begun)" if part in begun else part for part in waiting)
    return f"To cut    {listed}"
