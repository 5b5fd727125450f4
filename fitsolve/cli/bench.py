"""The build as the entering commands see it: plan worked out, log read, and a row tried before it is written.

A row is tried under the lock of the log, against the log as it is then: the history is
replayed with it, and an error in it stops it. Nothing here needs the numbers of a solution.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from pathlib import Path

from fitsolve.build.assembly import Assembly
from fitsolve.build.folder import LOG, Build, load_build
from fitsolve.build.logtext import Log, Row
from fitsolve.build.state import State, settle
from fitsolve.build.tools import Tool
from fitsolve.cli.names import Names
from fitsolve.errors import Place, Problem
from fitsolve.light import dataclass


@dataclass(frozen=True)
class Bench:
    """A build opened for entering rows."""

    folder: Path
    build: Build
    assembly: Assembly
    tools: Mapping[str, Tool]
    names: Names
    said: list[Problem] = field(default_factory=list)
    """Warnings about what was typed, to be shown with those of the row."""

    @property
    def log(self) -> Log:
        """The log as it was when the build was opened."""
        return self.build.log

    def last_tool(self) -> str:
        """The tool of the last row that has one; empty where none has."""
        rows = sorted(self.log.rows, key=lambda row: row.no, reverse=True)
        return next((row.tool for row in rows if row.tool), "")


@dataclass(frozen=True)
class Written:
    """A row that is on disk, and what is true with it. `problems` are those of the row itself."""

    row: Row
    assembly: Assembly
    state: State
    problems: tuple[Problem, ...]


def open_bench(folder: Path) -> Bench:
    """Return a build opened for entering rows. Raises BuildError with all that is wrong with it.

    Errors in single rows of the log do not stop it: they can be struck, and more be entered.
    """
    from fitsolve.build.place import assemble

    build = load_build(folder)
    assembly, tools = assemble(build.plan), build.plan.tools()
    return Bench(folder, build, assembly, tools, Names(assembly, tools))


def write(bench: Bench, row: Row) -> Written:
    """Try a row, write it, and return it with its number. Raises BuildError where it cannot be."""
    return write_all(bench, [row])[0]


def write_all(bench: Bench, rows: Sequence[Row]) -> list[Written]:
    """Try rows, write all of them or none, and return them with their numbers. Raises BuildError."""
    from fitsolve.build.shoplog import append

    tried: list[Written] = []

    def check(log: Log, numbered: tuple[Row, ...]) -> tuple[Problem, ...]:
        assembly, state = settle(bench.assembly, replace(log, rows=(*log.rows, *numbered)), bench.tools)
        of_row: dict[str, list[Problem]] = {f"#{row.no}": [] for row in numbered}
        for problem in state.problems:
            if problem.place.key in of_row:
                of_row[problem.place.key].append(as_typed(problem))
        tried[:] = [Written(row, assembly, state, tuple(of_row[f"#{row.no}"])) for row in numbered]
        return tuple(problem for written in tried for problem in written.problems)

    append(bench.folder / LOG, rows, check)
    return tried


def as_typed(problem: Problem) -> Problem:
    """A problem of a row that is not written: it was typed just now, so there is no line to point to."""
    place = problem.place
    shown = Place(text=place.text, column=place.column, width=place.width)
    return Problem(shown, problem.what, problem.hint, problem.detail, problem.level)
