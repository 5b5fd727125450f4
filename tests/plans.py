"""Plans for the tests: a way to work one out, and to see what is wrong with one. All are invented."""

from __future__ import annotations

from fitsolve.build.assembly import Assembly
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.errors import BuildError, Problem


def worked(text: str) -> Assembly:
    """Return a plan worked out."""
    return assemble(read_plan(text))


def problems(text: str) -> list[Problem]:
    """Return what is wrong with a plan: its errors, or else its warnings and notices."""
    try:
        return list(worked(text).notices)
    except BuildError as error:
        return list(error.problems)


def said(text: str) -> list[str]:
    """Return what is wrong with a plan, as it is shown."""
    return [str(problem) for problem in problems(text)]


def warnings(text: str) -> list[str]:
    """Return what is wrong with a plan, without what only informs."""
    return [problem.what for problem in problems(text) if problem.level != "notice"]


def at(assembly: Assembly, name: str) -> float:
    """Return where a mark lies, in mm."""
    return assembly.marks[assembly.index[name]].plan_mm


def gap(assembly: Assembly, start: str, end: str) -> float:
    """Return how far the second mark lies above the first, in mm."""
    return at(assembly, end) - at(assembly, start)


def names(assembly: Assembly, marks: tuple[int, ...]) -> tuple[str, ...]:
    """Return the names of marks."""
    return tuple(assembly.marks[mark].name for mark in marks)
