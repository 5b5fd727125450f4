"""Plausible: what a plan may say, and hardly means. Each is a warning.

    finest above a distance of a run      lines further apart than the marks they are for
    a keep's limits that leave out what   the plan cannot be built as drawn
    the plan itself has
    a keep that the plan itself misses    every size of the parts it names would be pulled off plan
      by more than its give
    a check that the plan itself fails    the frame is beyond it before anything is cut

Not here: what a plan may not say (the readers of plans), limits of a distance (sums).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from fitsolve.build.assembly import Assembly, Rule
from fitsolve.errors import Place, Problem
from fitsolve.written import write_length

_SAME_MM = 1e-6


def plan_doubts(assembly: Assembly, place_of: Callable[[str], Place]) -> list[Problem]:
    """Return what a plan hardly means, as warnings; `place_of` finds a key of the plan's head."""
    found = [*_finest(assembly, place_of("finest")), *_own_finest(assembly)]
    found += [one for keep in assembly.keeps for one in _outside_limits(assembly, keep)]
    return [*found, *_missed(assembly, assembly.keeps), *_missed(assembly, assembly.checks)]


def _warned(place: Place, what: str, hint: str) -> Problem:
    return Problem(place, what, hint, level="warning")


def _finest(assembly: Assembly, place: Place) -> Iterable[Problem]:
    """The finest line of the plan above a distance that has no finer one of its own."""
    short = [
        one
        for one in assembly.distances
        if one.finest_mm is None and _SAME_MM < one.plan_mm < assembly.finest_mm - _SAME_MM
    ]
    if not short:
        return
    least = min(short, key=lambda one: one.plan_mm)
    start, end = assembly.marks[least.start].name, assembly.marks[least.end].name
    finest, length = (write_length(mm, assembly.unit) for mm in (assembly.finest_mm, least.plan_mm))
    more = f", and {len(short) - 1} more" if len(short) > 1 else ""
    what = f"finest is {finest} {assembly.unit}, more than from {start} to {end}: {length}{more}"
    yield _warned(place, what, "Such a distance would be laid out as 0: make finest smaller, or give it a finest.")


def _own_finest(assembly: Assembly) -> Iterable[Problem]:
    for one in assembly.distances:
        if one.finest_mm is not None and _SAME_MM < one.plan_mm < one.finest_mm - _SAME_MM:
            start, end = assembly.marks[one.start].name, assembly.marks[one.end].name
            finest, length = (write_length(mm, assembly.unit) for mm in (one.finest_mm, one.plan_mm))
            what = f"from {start} to {end} is {length} {assembly.unit}, less than its finest line, {finest}"
            yield _warned(one.place, what, "Correct the length or its finest.")


def _values(assembly: Assembly, rule: Rule) -> list[float] | None:
    """The spans of a rule as the plan has them; None where it does not tie them all."""
    marks, placed = assembly.marks, assembly.placed
    if any(placed[span.start] != placed[span.end] for span in rule.spans):
        return None
    return [span.sign * (marks[span.end].plan_mm - marks[span.start].plan_mm) for span in rule.spans]


def _outside_limits(assembly: Assembly, keep: Rule) -> Iterable[Problem]:
    values = _values(assembly, keep)
    if values is None or keep.low_mm is None or keep.high_mm is None:
        return
    for value, span in zip(values, keep.spans, strict=True):
        if not keep.low_mm - _SAME_MM <= value <= keep.high_mm + _SAME_MM:
            start, end = assembly.marks[span.start].name, assembly.marks[span.end].name
            length, low, high = (write_length(mm, assembly.unit) for mm in (value, keep.low_mm, keep.high_mm))
            what = (
                f"from {start} to {end} it is {length} {assembly.unit} by the plan, outside the limits "
                f"of this keep: {low} to {high}"
            )
            yield _warned(keep.place, what, "Correct the limits or the plan.")


def _frame_off(assembly: Assembly, check: Rule) -> float:
    """By how much a check of the frame is off in the plan; nothing where the plan does not tie its marks."""
    by_axis: dict[str, set[int]] = {}
    for mark in check.every_mark:
        by_axis.setdefault(assembly.marks[mark].axis, set()).add(assembly.placed[mark])
    if any(len(groups) > 1 for groups in by_axis.values()):
        return 0.0
    from fitsolve.build.rulevalues import rule_values

    at = [mark.plan_mm for mark in assembly.marks]
    values = [math.fsum(coef * at[mark] for mark, coef in terms) for terms, _ in rule_values(check, at)]
    return max((abs(one) for one in values), default=0.0)


def _off(assembly: Assembly, rule: Rule) -> float:
    """By how much a rule is off in the plan; nothing where the plan does not tie its marks."""
    values = _values(assembly, rule)
    if values is None:
        return 0.0
    if rule.frame is not None:
        return _frame_off(assembly, rule)
    if len(values) > 1:
        return max(values) - min(values)
    limited = rule.low_mm is not None and rule.length_mm is None and rule.kind != "flush"
    return 0.0 if limited or not values else abs(values[0] - (rule.length_mm or 0.0))


def _missed(assembly: Assembly, rules: Sequence[Rule]) -> Iterable[Problem]:
    """The keeps, or the checks, that the plan itself misses; those that one sentence stands for are told at once."""
    missed: dict[Place, list[tuple[float, Rule]]] = {}
    said: dict[Place, int] = {}
    for rule in rules:
        most = rule.give_mm if rule.within_mm is None else rule.within_mm
        said[rule.place] = said.get(rule.place, 0) + 1
        if most is None:
            continue
        off = _off(assembly, rule)
        if off > most + _SAME_MM:
            missed.setdefault(rule.place, []).append((off, rule))
    for place, found in missed.items():
        off, worst = max(found, key=lambda one: one[0])
        yield _warned(place, _told(assembly, worst, off, len(found) - 1), _mend(assembly, worst, said[place]))


def _told(assembly: Assembly, rule: Rule, off: float, more: int) -> str:
    """By how much the plan itself is off, and for how many more of its sentence it is."""
    checked = rule.within_mm is not None
    most = rule.within_mm if checked else rule.give_mm
    shown, asked = (write_length(mm, assembly.unit) for mm in (off, most or 0.0))
    what = f"by the plan itself it is off by {shown} {assembly.unit}, beyond its {'' if checked else 'give of '}{asked}"
    if more:
        what += f", at {rule.name}; and {more} more of this sentence {'is' if more == 1 else 'are'}"
    return what


def _mend(assembly: Assembly, rule: Rule, said: int) -> str:
    kind = "keep" if rule.within_mm is None else "check"
    if said > 1:
        return f"Stars of two parts stand for every pair: name those that are meant, or correct the {kind} or the plan."
    return _lean(assembly, rule) or f"Correct the {kind} or the plan."


def _lean(assembly: Assembly, check: Rule) -> str:
    """What to write of an edge that is to be plumb and slants by the plan; nothing for any other check."""
    ends = {mark for slope in assembly.slopes for mark in (slope.start, slope.end)}
    for span in check.spans if check.kind == "plumb" else ():
        if {span.start, span.end} <= ends:
            start, end = (assembly.marks[mark] for mark in (span.start, span.end))
            lean = write_length(abs(end.plan_mm - start.plan_mm), assembly.unit)
            span_text = f"{start.name}..{end.name[len(end.part) + 1 :]}"
            within = write_length(check.within_mm or 0.0, assembly.unit)
            return f"Its slope has it lean: check the lean itself, as in {span_text} = {lean}, within {within}."
    return ""
