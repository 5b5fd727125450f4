"""What the history leaves true: which marks exist, what they were cut to, which readings count.

The log is replayed in the order of its row numbers (history). Three things are worked out here
beforehand, because they reach back: which rows are struck (the last strike first, so that a
struck strike strikes nothing), how the plan's present names read in rows before a `rename`, and
which stations (`outer@foot`) the log names that the plan does not.

Nothing is lost: a row that does not count stands in `set_aside` with the reason, or in
`problems` with what is wrong with it.

Not here: what a row says (readings), names (lookup), numbers (solve).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fitsolve.build.assembly import Assembly
from fitsolve.build.history import OPEN_AGAIN, History, MarkState, State
from fitsolve.build.logtext import Log, Row, row_number
from fitsolve.build.lookup import Lookup
from fitsolve.build.points import spans_of
from fitsolve.build.readings import Reading, RoughBound, RowReader
from fitsolve.build.renaming import gone
from fitsolve.build.tools import Tool
from fitsolve.errors import Problem
from fitsolve.light import replace

__all__ = ["MarkState", "Reading", "RoughBound", "State", "objections", "replayed", "settle", "struck_rows"]


def settle(assembly: Assembly, log: Log, tools: Mapping[str, Tool]) -> tuple[Assembly, State]:
    """Return what the log leaves true, and the assembly with the stations that the log names.

    `tools` are the build's own; the built-in ones are known. Never raises: what is wrong with
    the rows stands in the state's `problems`.
    """
    history = replayed(assembly, log, tools)
    return history.assembly, history.state(max(log.rows, key=lambda row: row.no, default=Row()))


def replayed(assembly: Assembly, log: Log, tools: Mapping[str, Tool]) -> History:
    """Return the history of a log, replayed to its end."""
    first = RowReader(assembly, Lookup(assembly), tools, log.file)
    rows = _in_order(log, first)
    struck, strays = _strikes(log, rows)
    for row in strays:
        last = f"The rows before it are 1 to {row.no - 1}." if row.no > 1 else "There is no row before it."
        first.report(row, "strike: no such row", f"Name an earlier row by its number. {last}", row.start)
    live = [row for row in rows if row.no not in struck]
    renaming = [row for row in live if row.event == "rename" and row.start and row.end]
    renames = [(row.start, row.end) for row in renaming]
    assembly = _with_stations(assembly, Lookup(assembly, renames), live)
    lookup = Lookup(assembly, renames)
    reader = RowReader(assembly, lookup, tools, log.file)
    reader.problems, reader.gone = first.problems, gone(lookup, renaming)
    history = History(assembly, reader)
    history.set_aside.update({no: f"struck by #{by}" for no, by in struck.items()})
    history.replay(live)
    history.set_aside.update({no: f"#{by} renames it to what the plan has not" for no, by in reader.lost.items()})
    mended = {id(problem) for no, problem in log.broken.items() if no in struck}
    closed = tuple(f"{assembly.joints[joint].name}{OPEN_AGAIN}" for joint in history.closed)
    told = [p for p in reader.problems if not closed or not p.what.startswith(closed)]
    history.reader.problems = [p for p in log.problems if id(p) not in mended] + told
    return history


def objections(
    assembly: Assembly, log: Log, rows: Sequence[Row], tools: Mapping[str, Tool]
) -> tuple[Problem, ...]:
    """Return the problems that new rows, numbered but not yet written, would have behind that log.

    For `shoplog.append`: a row that would be an error had better not be written.
    """
    new = {f"#{row.no}" for row in rows}
    _, state = settle(assembly, replace(log, rows=(*log.rows, *rows)), tools)
    return tuple(problem for problem in state.problems if problem.place.key in new)


def _in_order(log: Log, reader: RowReader) -> list[Row]:
    """The rows by number, which is the order they were written in, whatever a spreadsheet made of it."""
    rows: dict[int, Row] = {}
    for row in log.rows:
        if row.no < 1:
            reader.report(row, "this row has no number", "Row numbers are 1, 2, 3 and so on, each once.")
        elif row.no in rows:
            reader.report(row, f"row {row.no} stands in the log twice", "Give one the next free number.")
        else:
            rows[row.no] = row
    return [rows[no] for no in sorted(rows)]


def struck_rows(log: Log) -> dict[int, int]:
    """Return the rows that are struck, and the row that strikes each, itself not struck."""
    return _strikes(log, log.rows)[0]


def _strikes(log: Log, rows: Sequence[Row]) -> tuple[dict[int, int], list[Row]]:
    """The rows that count for nothing with the row that strikes each; and the strikes that name no row before them."""
    known = {row.no for row in rows} | log.broken.keys()
    struck: dict[int, int] = {}
    strays: list[Row] = []
    for row in sorted(rows, key=lambda row: row.no, reverse=True):
        if row.event != "strike" or row.no in struck:
            continue
        target = row_number(row.start)
        if target in known and target < row.no:
            struck[target] = row.no
        else:
            strays.append(row)
    return struck, strays


def _with_stations(assembly: Assembly, lookup: Lookup, rows: list[Row]) -> Assembly:
    """The assembly with the stations of its marks that only the log names."""
    missing: dict[str, None] = {}
    epoch = 0
    for row in rows:
        if row.event == "rename":
            epoch += bool(row.start and row.end)
        elif "@" in row.start or "@" in row.end:
            for cell in (row.start, row.end):
                for span in spans_of(cell) if row.event == "diagonal" else (cell,):
                    missing.update(dict.fromkeys(lookup.stations_named(span, epoch)))
    if not missing:
        return assembly
    from fitsolve.build.stations import with_stations

    return with_stations(assembly, missing)
