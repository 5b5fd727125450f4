"""The build as the entering commands see it: plan worked out, log read, and a row tried before it is written.

A row is tried under the lock of the log, against the log as it is then: the history is
replayed with it, and an error in it stops it. Nothing here needs the numbers of a solution.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from pathlib import Path
from typing import TYPE_CHECKING

from fitsolve.build.assembly import Assembly
from fitsolve.build.folder import LOG, PLAN, Build, load_build
from fitsolve.build.history import State
from fitsolve.build.logtext import Log, Row
from fitsolve.build.tools import Tool
from fitsolve.cli.common import at_least, show_problems
from fitsolve.cli.names import Names
from fitsolve.errors import Place, Problem
from fitsolve.light import cached_property, dataclass

if TYPE_CHECKING:
    from fitsolve.reconciliation import Reconciliation


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
    found: dict[str, Reconciliation] = field(default_factory=dict)
    """What was found for a part that was asked for, with the log as it was."""

    @cached_property
    def settled(self) -> tuple[Assembly, State]:
        """The plan with the stations that the log names, and what the log as it was leaves true."""
        from fitsolve.build.state import settle

        return settle(self.assembly, self.log, self.tools)

    def settled_by(self, log: Log) -> tuple[Assembly, State]:
        """The same for another log; worked out only where it is another."""
        if log is self.log:
            return self.settled
        from fitsolve.build.state import settle

        return settle(self.assembly, log, self.tools)

    @property
    def keeps_wrong(self) -> Problem | None:
        """The first error in a keep of the plan, if there is one: no size is advised without that keep."""
        return next((fault for fault in self.build.plan.faults if fault.place.key.startswith("keep")), None)

    @property
    def log(self) -> Log:
        """The log as it was when the build was opened."""
        return self.build.log

    @property
    def example(self) -> str:
        """A reading as it is typed, in the unit of the build; for hints."""
        return "3-17/32" if self.assembly.unit == "in" else "89.7"

    def length_mm(self, typed: str) -> float:
        """A length as it was typed, with strong or bare behind it if it was. Raises LengthError."""
        from fitsolve.build.hand import read_by_hand

        return read_by_hand(typed, self.assembly.unit, self.assembly.strong_mm).length_mm

    def last_tool(self) -> str:
        """The tool of the last row that has one; empty where none has. What was knifed off was read with none."""
        rows = sorted(self.log.rows, key=lambda row: row.no, reverse=True)
        return next((row.tool for row in rows if row.tool and row.tool != "knife"), "")


@dataclass(frozen=True)
class Written:
    """A row that is on disk, and what is true with it. `problems` are those of the row itself."""

    row: Row
    assembly: Assembly
    state: State
    problems: tuple[Problem, ...]


def open_bench(folder: Path, *, to_answer: bool = False) -> Bench:
    """Return a build opened for entering rows. Raises BuildError with all that is wrong with it.

    Errors in single rows of the log do not stop it: they can be struck, and more be entered. Errors in keeps and
    checks alone do not either, unless it is opened to answer by: whoever has the caliper in hand is told of them.
    """
    from fitsolve.build.place import assemble

    build = load_build(folder, rules_apart=not to_answer)
    if build.plan.faults and at_least(1):
        show_problems([_rules_wrong(build.plan.faults)])
    assembly, tools = assemble(build.plan), build.plan.tools()
    return Bench(folder, build, assembly, tools, Names(assembly, tools))


def _rules_wrong(faults: Sequence[Problem]) -> Problem:
    """`2 errors in [keep] and [check]; what is entered is kept all the same`."""
    tables = [f"[{name}]" for name in ("keep", "check") if any(fault.place.key.startswith(name) for fault in faults)]
    count, it, is_ = (f"{len(faults)} errors", "them", "they are") if len(faults) > 1 else ("1 error", "it", "it is")
    what = f"{count} in {' and '.join(tables)}; what is entered is kept all the same"
    hint = f"fitsolve plan lists {it}. No sizes are given until {is_} mended."
    return Problem(Place(PLAN), what, hint, level="warning")


def write(bench: Bench, row: Row) -> Written:
    """Try a row, write it, and return it with its number. Raises BuildError where it cannot be."""
    return write_all(bench, [row])[0]


def write_all(bench: Bench, rows: Sequence[Row]) -> list[Written]:
    """Try rows, write all of them or none, and return them with their numbers. Raises BuildError."""
    with Writing(bench) as writing:
        return writing.rows(rows)


class Writing:
    """The log open for one row after another: read and replayed once, then kept up with each row."""

    def __init__(self, bench: Bench) -> None:
        from fitsolve.build.running import Running
        from fitsolve.build.shoplog import OpenLog

        self._open = OpenLog(bench.folder / LOG)
        self._running = Running(bench.assembly, bench.tools)

    def __enter__(self) -> Writing:
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def get_ready(self) -> None:
        """Read and replay the log now, so that not even the first row need wait for it."""
        log = self._open.look()
        if log is not None:
            self._running.ready(log)

    def row(self, row: Row) -> Written:
        """Try a row, write it, and return it with its number. Raises BuildError where it cannot be."""
        return self.rows([row])[0]

    def rows(self, rows: Sequence[Row]) -> list[Written]:
        """The same for several rows: all of them or none."""
        tried: list[Written] = []

        def check(log: Log, numbered: tuple[Row, ...]) -> tuple[Problem, ...]:
            assembly, state, problems = self._running.tried(log, numbered)
            said = [(problem.place.key, as_typed(problem)) for problem in problems]
            for row in numbered:
                own = tuple(problem for key, problem in said if key == f"#{row.no}")
                tried.append(Written(row, assembly, state, own))
            return tuple(problem for written in tried for problem in written.problems)

        try:
            self._open.append(rows, check)
        except BaseException:
            self._running.refused()
            raise
        self._running.kept(self._open.log)
        return tried


def as_typed(problem: Problem) -> Problem:
    """A problem of a row that is not written: it was typed just now, so there is no line to point to."""
    place = problem.place
    shown = Place(text=place.text, column=place.column, width=place.width)
    return Problem(shown, problem.what, problem.hint, problem.detail, problem.level)
