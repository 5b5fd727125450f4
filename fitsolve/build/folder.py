"""The folder of a build: `plan.toml`, written by hand, and `log.csv`, added to by the program.

A `Build` is the plan and its log. It may come from a folder or be made in Python; nothing
further down knows the difference. Nothing is written here, and the log is not understood yet:
that takes the plan worked out (state).

When it fails: no such folder, no plan in it, a file that cannot be read, a plan or a log that
makes no sense. All of that is gathered and raised at once, as one `BuildError`.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import field
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING

from fitsolve.build.logtext import Log, Row
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.light import dataclass, replace

if TYPE_CHECKING:
    from fitsolve.build.plan import Plan

PLAN, LOG = "plan.toml", "log.csv"

_START = "A build is a folder that holds a plan. fitsolve new FOLDER starts one; --build FOLDER names one."


@dataclass(frozen=True)
class Build:
    """One piece of work: its plan, its log, and what is to be said of them beside the answer.

    Rows may be given instead of a log; those without a number get the next one.
    """

    plan: Plan
    log: Log = field(default_factory=Log)
    notices: tuple[Problem, ...] = ()

    def __post_init__(self) -> None:
        if not isinstance(self.log, Log):
            object.__setattr__(self, "log", log_of(self.log))


def log_of(rows: Sequence[Row]) -> Log:
    """Return rows as a log. A row whose number is 0 gets the one after the row before it; a reading may be a number."""
    numbered: list[Row] = []
    last = 0
    for row in map(_written, rows):
        last = row.no or last + 1
        numbered.append(row if row.no else replace(row, no=last))
    return Log(rows=tuple(numbered), highest=max((row.no for row in numbered), default=0), headed=True)


def _written(row: Row) -> Row:
    """A row as a file would have it: all texts. A reading of 3.5 is what was written, exactly."""
    if not isinstance(row, Row):
        raise TypeError(f"a log made in Python is a list of fitsolve.Row, and here is {row!r:.60}")
    cells: tuple[object, ...] = (row.time, row.event, row.start, row.end, row.reading, row.tool, row.note)
    if all(type(cell) is str for cell in cells):
        return row
    from fitsolve.build.plan import as_text

    time, event, start, end, reading, tool, note = ("" if cell is None else str(as_text(cell)) for cell in cells)
    return Row(row.no, time, event, start, end, reading, tool, note, row.line)


def load_build(folder: str | os.PathLike[str], *, rules_apart: bool = False) -> Build:
    """Return the build in a folder. Raises BuildError with the problems of both its files.

    With `rules_apart` what is wrong with keeps and checks alone does not stop it: see `plan.read_plan`.
    """
    from fitsolve.build.plan import read_plan
    from fitsolve.build.shoplog import read_log

    folder = Path(folder)
    problems: list[Problem] = []
    plan, log = None, Log()
    try:
        plan = read_plan(plan_text(folder), PLAN, rules_apart=rules_apart)
    except BuildError as error:
        problems += error.problems
    try:
        log = read_log(folder / LOG)
    except BuildError as error:
        if plan is not None or folder.is_dir():  # without a folder one complaint is enough
            problems += error.problems
    if plan is None or problems:
        raise BuildError([*problems, *unmended(log)])
    return Build(plan, log)


def plan_text(folder: Path) -> str:
    """Return the text of a folder's plan. Raises BuildError where there is none to read."""
    from fitsolve.build.plan import decode_plan

    path = folder / PLAN
    try:
        content = path.read_bytes()
    except (OSError, ValueError) as why:
        raise BuildError([_no_plan(folder, why)]) from None
    return decode_plan(content, PLAN)


def _no_plan(folder: Path, why: OSError | ValueError) -> Problem:
    """What is wrong with a plan that cannot be read, and what to do."""
    place = Place(_shown(folder))
    if isinstance(why, (FileNotFoundError, NotADirectoryError, ValueError)):
        try:
            there, is_folder = folder.exists(), folder.is_dir()
        except (OSError, ValueError):
            there = is_folder = False
        if is_folder:
            return Problem(place, f"there is no {PLAN} in this folder", _START)
        if there:
            meant = quote(_shown(folder.parent)) if folder.name in (PLAN, LOG) else ""
            near = f"Did you mean its folder, --build {meant}? " if meant else ""
            return Problem(place, "this is no folder", f"{near}{_START}")
        return Problem(place, "there is no such folder", _START)
    reason = (getattr(why, "strerror", None) or str(why)).lower()
    return Problem(Place(PLAN), f"the plan can't be read: {reason}", "Is it a file, and yours to read?")


def unmended(log: Log) -> list[Problem]:
    """Return the errors of a log's lines, without those whose row was struck since."""
    from fitsolve.build.state import struck_rows

    struck = struck_rows(log)
    mended = {id(problem) for no, problem in log.broken.items() if no in struck}
    return [problem for problem in log.problems if problem.level == "error" and id(problem) not in mended]


def _shown(path: Path | str) -> str:
    return "".join(c if c.isprintable() else "\ufffd" for c in str(path))
