"""Misprints: two sums of a plan that don't agree, shown one under the other.

Not here: which of them agree (sums).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from fitsolve.build.language import Step
from fitsolve.build.locate import Spot
from fitsolve.errors import Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, replace
from fitsolve.written import write_length

if TYPE_CHECKING:
    from fitsolve.build.sums import Sums, Tie

_TERMS_MOST = 12
"""A sum of more lengths than this is shown by its beginning and its end."""


def misprint(sums: Sums, tie: Tie) -> Problem:
    """Return two sums that don't agree: the stretch of this run, and the other way between its ends."""
    round_trip = sums.way(tie.start, tie.end)
    others = {(one.run, one.step) for one in round_trip}
    low = high = tie.step
    while (tie.run, low - 1) in others:
        low -= 1
    while (tie.run, high + 1) in others:
        high += 1
    run, spot = sums.runs[tie.run]
    marks = sums.run_marks[tie.run]
    mine = [_Leg(marks[k], marks[k + 1], _length(sums, tie.run, k), tie.run) for k in range(low, high + 1)]
    theirs = []
    here = marks[low]
    for one in sums.way(marks[low], marks[high + 1]):
        forward = one.start == here
        there = one.end if forward else one.start
        theirs.append(_Leg(here, there, one.length if forward else -one.length, one.run))
        here = there
    mine, theirs = _both_forward(mine, theirs)
    who = f"from {sums.name(mine[0].start)} to {sums.name(mine[-1].end)} of part.{sums.part}"
    what = f"the two runs {who} don't agree"
    shown = [(_label(sums, [leg.run for leg in way]), [leg.length for leg in way]) for way in (theirs, mine)]
    return _two_sums(sums.rules.unit, spot, what, shown[0], shown[1], run.steps[tie.step])


@dataclass(frozen=True, slots=True)
class _Leg:
    """One distance of a way from mark to mark; below 0 where the way goes against it."""

    start: int
    end: int
    length: Fraction
    run: int


def _both_forward(mine: list[_Leg], theirs: list[_Leg]) -> tuple[list[_Leg], list[_Leg]]:
    """Two ways between the same marks, taken between those of their loop where both go forward, if there are such:
    three equal thirds against the whole, and not two of them and the whole against one."""
    back = [_Leg(leg.end, leg.start, -leg.length, leg.run) for leg in reversed(theirs)]
    loop = [*mine, *back]
    begins = [k for k, leg in enumerate(loop) if leg.length > 0 and loop[k - 1].length <= 0]
    if len(begins) != 1:
        return mine, theirs
    loop = loop[begins[0] :] + loop[: begins[0]]
    forward = [leg for leg in loop if leg.length > 0]
    against = [leg for leg in loop if leg.length <= 0]
    if not against:
        return mine, theirs
    return forward, [_Leg(leg.end, leg.start, -leg.length, leg.run) for leg in reversed(against)]


def _length(sums: Sums, run: int, step: int) -> Fraction:
    length = sums.runs[run][0].steps[step].length
    if length is not None:
        return length
    return next(tie.length for tie in sums.ties if (tie.run, tie.step) == (run, step))  # (equal) is rare


def _label(sums: Sums, runs: list[int]) -> str:
    names = list(dict.fromkeys(sums.spot_of(run).name() for run in runs))
    if len(names) == 1:
        return names[0]
    kind = names[0].split(" ")[0]
    return f"{kind}s " + ", ".join(name.split(" ", 1)[1] for name in names)


def _two_sums(
    unit: Unit, spot: Spot, what: str, other: tuple[str, list[Fraction]], mine: tuple[str, list[Fraction]], step: Step
) -> Problem:
    """The problem with both sums one under the other, and by how much they differ."""
    labels = [f"{label}:" for label, _ in (other, mine)]
    sums = [_written_sum(unit, lengths) for _, lengths in (other, mine)]
    totals = [sum(lengths, Fraction(0)) for _, lengths in (other, mine)]
    off = totals[1] - totals[0]
    wide, long = max(map(len, labels)), max(map(len, sums))
    lines = [
        f"{label:<{wide}}  {written:<{long}} = {write_length(total, unit, marked=True)}"
        for label, written, total in zip(labels, sums, totals, strict=True)
    ]
    lines[1] += f"   ({write_length(abs(off), unit, marked=True)} {'more' if off > 0 else 'less'})"
    place = spot.place(step.column, step.width)
    place = replace(place, text="", column=None, key="" if place.line is not None else place.key)
    return Problem(place, what, "One of them is a misprint: correct it, then run again.", tuple(lines))


def _written_sum(unit: Unit, lengths: Sequence[Fraction]) -> str:
    text = ""
    for k, length in enumerate(lengths):
        if _TERMS_MOST // 2 <= k < len(lengths) - _TERMS_MOST // 2 and len(lengths) > _TERMS_MOST:
            text += " + ..." if k == _TERMS_MOST // 2 else ""
            continue
        written = write_length(abs(length), unit)
        if text:
            text += f" {'-' if length < 0 else '+'} {written}"
        else:
            text = f"-{written}" if length < 0 else written
    return text
