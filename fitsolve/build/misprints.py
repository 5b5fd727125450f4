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
from fitsolve.light import replace
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
    mine = [_signed_of(sums, tie.run, k) for k in range(low, high + 1)]
    first, last = marks[low], marks[high + 1]
    theirs, lines = [], []
    here = first
    for one in sums.way(first, last):
        forward = one.start == here
        theirs.append(one.length if forward else -one.length)
        here = one.end if forward else one.start
        lines.append(one.run)
    who = f"from {sums.name(first)} to {sums.name(last)} of part.{sums.part}"
    what = f"the two runs {who} don't agree"
    return _two_sums(
        sums.rules.unit, spot, what, (_label(sums, lines), theirs), (spot.name(), mine), run.steps[tie.step]
    )


def _signed_of(sums: Sums, run: int, step: int) -> Fraction:
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
