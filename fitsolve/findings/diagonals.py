"""Diagonals: what was left out of the numbers, why, and what to do; and what is taken as drawn.

Where something fixes how far two points stand apart along one axis and nothing does along another, the length of
their diagonal was turned into the one with the other as drawn: how much that matters is said.
"""

from __future__ import annotations

import math

from fitsolve.build.readings import Reading
from fitsolve.errors import Place, Problem
from fitsolve.findings.solved import Solved, Terms
from fitsolve.solve.turning import Unfit
from fitsolve.written import write_length


def diagonal_problems(solved: Solved) -> tuple[Problem, ...]:
    """A warning for each diagonal that is left out of the numbers, a notice of those that rest on the plan."""
    turned = solved.turned
    if turned is None:
        return ()
    found = [_endless(solved, row, one) for one in turned.unfit for row in one.rows.tolist()]
    found += [_vague(solved, row) for row in turned.vague.tolist()]
    return tuple(found + _as_drawn(solved, sorted(set(_turning(solved)) - set(turned.left_out.tolist()))))


def _turning(solved: Solved) -> list[int]:
    turning = solved.graph.network.turning
    return [] if turning is None else turning.tolist()


ASIDE_MM = {"mm": 10.0, "in": 12.7}
"""How far off the plan points are taken to be, to say what it would do: 10 mm, 1/2 in."""


def _as_drawn(solved: Solved, rows: list[int]) -> list[Problem]:
    """For each axis a notice of the diagonals whose points are fixed along another axis and not along it."""
    along: dict[str, list[int]] = {}
    for row in rows:
        fixed = {axis: solved.fixed(terms) for axis, terms in _by_axis(solved, _reading(solved, row)).items()}
        for axis in (axis for axis, held in fixed.items() if not held and any(fixed.values())):
            along.setdefault(axis, []).append(row)
    return [_drawn_text(solved, axis, own) for axis, own in along.items()]


def _by_axis(solved: Solved, said: Reading) -> dict[str, Terms]:
    """How far the two points of a diagonal stand apart along each of its axes, as rows."""
    ends = [mark for mark, _ in said.terms]
    pairs = zip(ends[0::2], ends[1::2], strict=True)
    return {solved.assembly.marks[end].axis: [(end, 1.0), (start, -1.0)] for end, start in pairs}


def _drawn_text(solved: Solved, axis: str, rows: list[int]) -> Problem:
    said, unit = _reading(solved, rows[0]), solved.assembly.unit
    apart = {each: solved.value_mm(terms) for each, terms in _by_axis(solved, said).items()}
    length, aside = math.hypot(*apart.values()), ASIDE_MM[unit]
    off = max(abs(math.hypot(*{**apart, axis: apart[axis] + way * aside}.values()) - length) for way in (1, -1))
    told = f"{off:.2f} mm" if unit == "mm" else f"{off / 25.4:.3f} in"
    more = f" (and {len(rows) - 1} more)" if len(rows) > 1 else ""
    (end, _), (start, _) = _by_axis(solved, said)[axis]
    first, second = (solved.assembly.marks[mark].name for mark in (start, end))
    what = (
        f"nothing fixes how far {first} and {second} stand apart along {axis}: the diagonal {said.start} to "
        f"{said.end}{more} is taken with that as drawn"
    )
    hint = f"{write_length(aside, unit, marked=True)} off there is {told} of its length. Read it if it may be off."
    return Problem(Place(key=f"#{said.no}"), what, hint, level="notice")


def _reading(solved: Solved, row: int) -> Reading:
    return solved.state.readings[solved.graph.measured[row].number]


def _endless(solved: Solved, row: int, unfit: Unfit) -> Problem:
    said = _reading(solved, row)
    length = write_length(said.shown_mm, solved.assembly.unit)
    why = _too_short(solved, said) or "with the other readings its two points have no place that fits"
    what = f"the diagonal {said.start} to {said.end}, {length}, was left out of the numbers: {why}"
    guilty = unfit.guilty.tolist()
    others = [other for other in (guilty or unfit.rows.tolist()) if other != row]
    if guilty and row not in guilty:
        which = f"{_named(solved, others)} would have to be wrong, or more than one of them."
    elif guilty:
        which = f"It, or {_named(solved, others)}." if others else "By itself no other would explain it."
    else:
        which = f"It, or one of {_named(solved, others)}, or several." if others else ""
    hint = f"A length or a name is wrong. {which}".rstrip()
    return Problem(Place(key=f"#{said.no}"), what, f"{hint} Read again, and strike what was wrong.", level="warning")


NAMED_MOST = 6


def _named(solved: Solved, rows: list[int]) -> str:
    """Measured rows by name: `#1 (leg.fl.outer to leg.fr.outer) or #4 (...)`."""
    names = []
    for row in rows[:NAMED_MOST]:
        source = solved.graph.measured[row]
        if source.kind == "reading":
            said = _reading(solved, row)
            names.append(f"#{said.no} ({said.start} to {said.end})")
        elif source.kind == "contact":
            joint = solved.assembly.contacts[source.number].joint
            names.append(f"{solved.assembly.joints[joint].name}, closed")
    more = f" or {len(rows) - NAMED_MOST} more" if len(rows) > NAMED_MOST else ""
    return " or ".join(dict.fromkeys(names)) + more


def _too_short(solved: Solved, said: Reading) -> str:
    """That a diagonal is shorter than its points stand apart along axes where something fixes that."""
    fixed = {axis: solved.value_mm(terms) for axis, terms in _by_axis(solved, said).items() if solved.fixed(terms)}
    apart = math.hypot(*fixed.values())
    if not fixed or apart <= said.value_mm:
        return ""
    along = " and ".join(fixed)
    told = f"{apart:.1f} mm" if solved.assembly.unit == "mm" else f"{apart / 25.4:.2f} in"
    return f"its points stand {told} apart along {along} alone"


def _vague(solved: Solved, row: int) -> Problem:
    said = _reading(solved, row)
    what = (
        f"the diagonal {said.start} to {said.end} was left out of the numbers: across it, the other readings "
        "hardly say where its points lie, so its length says nothing of use"
    )
    axes = " and ".join(dict.fromkeys(solved.assembly.marks[mark].axis for mark, _ in said.terms))
    hint = f"Read how far apart the two parts stand along {axes} as well."
    return Problem(Place(key=f"#{said.no}"), what, hint, level="warning")
