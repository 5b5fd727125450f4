"""Diagonals that could not be used: what was left out of the numbers, why, and what to do."""

from __future__ import annotations

from fitsolve.build.readings import Reading
from fitsolve.errors import Place, Problem
from fitsolve.findings.solved import Solved
from fitsolve.written import write_length


def diagonal_problems(solved: Solved) -> tuple[Problem, ...]:
    """A warning for each diagonal that is left out of the numbers."""
    turned = solved.turned
    if turned is None:
        return ()
    found = [_endless(solved, row, turned.endless.tolist()) for row in turned.endless.tolist()]
    return tuple(found + [_vague(solved, row) for row in turned.vague.tolist()])


def _reading(solved: Solved, row: int) -> Reading:
    return solved.state.readings[solved.graph.measured[row].number]


def _endless(solved: Solved, row: int, rows: list[int]) -> Problem:
    said = _reading(solved, row)
    length = write_length(said.shown_mm, solved.assembly.unit)
    what = (
        f"the diagonal {said.start} to {said.end}, {length}, was left out of the numbers: with the other readings "
        "its two points have no place that fits"
    )
    others = [_reading(solved, other) for other in rows if other != row]
    which = f" It, or one of {', '.join(f'#{one.no}' for one in others[:6])}." if others else ""
    hint = f"A length or a name is wrong.{which} Read it again and strike the one that was wrong."
    return Problem(Place(key=f"#{said.no}"), what, hint, level="warning")


def _vague(solved: Solved, row: int) -> Problem:
    said = _reading(solved, row)
    what = (
        f"the diagonal {said.start} to {said.end} was left out of the numbers: across it, the other readings "
        "hardly say where its points lie, so its length says nothing of use"
    )
    axes = " and ".join(dict.fromkeys(solved.assembly.marks[mark].axis for mark, _ in said.terms))
    hint = f"Read how far apart the two parts stand along {axes} as well."
    return Problem(Place(key=f"#{said.no}"), what, hint, level="warning")
