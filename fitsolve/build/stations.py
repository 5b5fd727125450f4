"""Stations that only the log names: marks of the plan at another height, put beside it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fitsolve.build.assembly import Assembly
from fitsolve.build.stock import station_doubt
from fitsolve.errors import Place, Problem


def with_stations(assembly: Assembly, names: Iterable[str]) -> Assembly:
    """Return the assembly with stations (`leg.fl.outer@foot`) that it lacks; unknown marks are left out."""
    marks, index, placed = list(assembly.marks), dict(assembly.index), list(assembly.placed)
    notices = list(assembly.notices)
    within: dict[str, list[str]] = {}
    for name in names:
        base, at, station = name.partition("@")
        if name in index or not at or not station or base not in index:
            continue
        number = index[base]
        mark = marks[number]
        if not within:
            for other in assembly.marks:
                within.setdefault(other.part, []).append(other.name[len(other.part) + 1 :])
        doubt = station_doubt(station, mark.part, within.get(mark.part, ()))
        if doubt:
            notices.append(Problem(Place(key=name), *doubt, level="notice"))
        index[name] = len(marks)
        marks.append(replace(mark, name=name, station_of=number))
        placed.append(placed[number])
    if len(marks) == len(assembly.marks):
        return assembly
    return replace(assembly, marks=tuple(marks), index=index, placed=tuple(placed), notices=tuple(notices))
