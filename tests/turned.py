"""The same build drawn in another way: elsewhere, or mirrored.

And what is found in it, by name, so that the answers of two such builds can be laid side by side.
"""

from __future__ import annotations

from dataclasses import replace

from fitsolve.build.assembly import Contact, Rule
from tests.builds import Case, findings

OTHER = {"low": "high", "high": "low", None: None}


def moved(case: Case, by: dict[str, float]) -> Case:
    """Each part drawn elsewhere by so many mm."""
    marks = tuple(replace(m, plan_mm=m.plan_mm + by.get(m.part, 0.0)) for m in case.assembly.marks)
    return Case(replace(case.assembly, marks=marks), case.state)


def mirrored(case: Case) -> Case:
    """Left for right: positions reversed, lengths as they were."""
    a, s = case.assembly, case.state
    assembly = replace(
        a,
        marks=tuple(replace(m, plan_mm=-m.plan_mm, outward=-m.outward) for m in a.marks),
        distances=tuple(replace(d, sign=-d.sign) for d in a.distances),
        contacts=tuple(_mirrored(c) for c in a.contacts),
        keeps=tuple(_turned(rule) for rule in a.keeps),
        checks=tuple(_turned(rule) for rule in a.checks),
    )
    state = replace(
        s,
        cut_to_mm=tuple(-x for x in s.cut_to_mm),
        readings=tuple(replace(r, terms=tuple((m, -c) for m, c in r.terms)) for r in s.readings),
        rough=tuple(replace(r, sign=-r.sign) for r in s.rough),
    )
    return Case(assembly, state)


def _mirrored(contact: Contact) -> Contact:
    m = contact.marks
    marks = (m[1], m[0], m[3], m[2]) if contact.kind == "housing" else (m[1], m[0])
    return replace(contact, marks=marks, rests=OTHER[contact.rests])


def _turned(rule: Rule) -> Rule:
    return replace(rule, spans=tuple(replace(span, sign=-span.sign) for span in rule.spans))


def answers(case: Case) -> dict[tuple[str, ...], float | None]:
    """Everything found that has a number, by name."""
    found = findings(case, seats=False)
    numbers: dict[tuple[str, ...], float | None] = {}
    for d in found.distances:
        numbers[d.start, d.end, "size"] = d.size_mm
        numbers[d.start, d.end, "advice"] = d.advice_expanded_mm
        numbers[d.start, d.end, "outcome"] = d.outcome_expanded_mm
    for joint in found.joints:
        for contact in joint.contacts:
            numbers[joint.name, str(contact.number), "clearance"] = contact.clearance_mm
            numbers[joint.name, str(contact.number), "U"] = contact.expanded_mm
    for check in found.checks:
        numbers[check.name, "check"] = None if check.value_mm is None else abs(check.value_mm)
    for doubt in found.doubts:
        numbers[f"#{doubt.row}", "residual"] = doubt.residual_mm
        numbers[f"#{doubt.row}", "redundancy"] = doubt.redundancy
    return numbers


def differing(one: dict, other: dict, tolerance: float = 2e-6) -> list[str]:
    """The answers that are not the same in both."""
    found = [f"only in one: {key}" for key in one.keys() ^ other.keys()]
    for key in one.keys() & other.keys():
        a, b = one[key], other[key]
        if (a is None) != (b is None) or (a is not None and abs(a - b) > tolerance):
            found.append(f"{' '.join(key)}: {a} and {b}")
    return found
