"""What is tried beside the plan: changes as typed, with any unambiguous beginning of a name, made into
the assembly as it would be."""

from __future__ import annotations

from collections.abc import Sequence

from fitsolve.build.assembly import Assembly
from fitsolve.build.history import State
from fitsolve.build.language import Misread, Name
from fitsolve.build.trial import Change, misread_change, read_change, with_fit, with_rule, with_span
from fitsolve.cli.names import Names
from fitsolve.errors import BuildError, Problem


def assembly_tried(assembly: Assembly, state: State, names: Names, texts: Sequence[str]) -> Assembly:
    """Return the assembly with all changes made, in their order. Raises BuildError with all that is wrong."""
    problems: list[Problem] = []
    for text in texts:
        try:
            change = read_change(text, assembly.unit)
            assembly = _with(assembly, state, names, change)
        except BuildError as error:
            problems += error.problems
    if problems:
        raise BuildError(problems)
    return assembly


def _with(assembly: Assembly, state: State, names: Names, change: Change) -> Assembly:
    if change.verb == "fit":
        return with_fit(assembly, state, change)
    if change.verb in ("keep", "check"):
        return with_rule(assembly, change)
    *part, first, second = change.names
    own = _part(names, change, part[0]) if part else ""
    start = _mark(names, change, first, own)
    end = _mark(names, change, second, own or assembly.marks[start].part)
    return with_span(assembly, state, change, start, end)


def _part(names: Names, change: Change, name: Name) -> str:
    try:
        return names.part(name.text)
    except BuildError as error:
        raise _placed(change, name, error) from None


def _mark(names: Names, change: Change, name: Name, part: str) -> int:
    try:
        return names.assembly.index[names.mark(name.text, part)]
    except BuildError as error:
        raise _placed(change, name, error) from None
    except KeyError:
        what = f'"{name.text}" is a station that nothing was read at'
        raise misread_change(change.text, Misread(what, name.column, name.width)) from None


def _placed(change: Change, name: Name, error: BuildError) -> BuildError:
    """The same error with its caret in the whole change."""
    first = error.problems[0]
    return misread_change(change.text, Misread(first.what, name.column, name.width, first.hint))
