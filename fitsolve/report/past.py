"""The log in words: its rows, and why a row no longer counts."""

from __future__ import annotations

from fitsolve.build.assembly import Assembly
from fitsolve.build.history import State
from fitsolve.build.logtext import Log, Row
from fitsolve.report.naming import counted, span_named
from fitsolve.report.screen import Block, Line, Table, show
from fitsolve.report.when import when


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
