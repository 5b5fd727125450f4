"""The same build said in another way: moved, mirrored, renamed, its lists in another order.

And what is found in it, by name, so that the answers of two such builds can be laid side by side.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

from fitsolve.build.assembly import Assembly, Contact, Rule, Span
from fitsolve.build.state import State
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


def renamed(case: Case) -> Case:
    """Every part and mark under another name."""
    a = case.assembly
    parts = {part: f"z{k}.{part[::-1]}" for k, part in enumerate(a.parts)}
    marks = tuple(replace(m, name=f"{parts[m.part]}.n{k}", part=parts[m.part]) for k, m in enumerate(a.marks))
    return Case(
        replace(
            a, marks=marks, parts=tuple(parts.values()), index={m.name: k for k, m in enumerate(marks)},
            distances=tuple(replace(d, part=parts[d.part]) for d in a.distances),
            joints=tuple(replace(j, parts=tuple(parts[p] for p in j.parts)) for j in a.joints),
        ),
        case.state,
    )  # fmt: skip


def shuffled(case: Case, seed: int) -> Case:
    """Parts, joints, contacts, keeps, checks, distances and readings in another order."""
    random = Random(seed)
    a, s = case.assembly, case.state

    def order(count: int) -> list[int]:
        return random.sample(range(count), count)

    parts = [a.parts[k] for k in order(len(a.parts))]
    marks = [k for part in parts for k, mark in enumerate(a.marks) if mark.part == part]
    runs = [run for part in parts for run in a.runs if a.marks[run[0]].part == part]
    new = {old: k for k, old in enumerate(marks)}
    joints, contacts = order(len(a.joints)), order(len(a.contacts))
    joint_new = {old: k for k, old in enumerate(joints)}
    contact_new = {old: k for k, old in enumerate(contacts)}

    def span(one: Span) -> Span:
        return replace(one, start=new[one.start], end=new[one.end])

    def rules(given: tuple[Rule, ...]) -> tuple[Rule, ...]:
        return tuple(replace(given[k], spans=tuple(span(one) for one in given[k].spans)) for k in order(len(given)))

    assembly = replace(
        a,
        parts=tuple(parts),
        marks=tuple(
            replace(a.marks[k], station_of=None if (of := a.marks[k].station_of) is None else new[of]) for k in marks
        ),
        index={a.marks[k].name: new[k] for k in marks},
        runs=tuple(tuple(new[mark] for mark in run) for run in runs),
        distances=tuple(
            replace(a.distances[k], start=new[a.distances[k].start], end=new[a.distances[k].end])
            for k in order(len(a.distances))
        ),
        contacts=tuple(
            replace(a.contacts[k], joint=joint_new[a.contacts[k].joint], marks=tuple(new[m] for m in a.contacts[k].marks))
            for k in contacts
        ),
        joints=tuple(replace(a.joints[k], contacts=tuple(contact_new[c] for c in a.joints[k].contacts)) for k in joints),
        keeps=rules(a.keeps),
        checks=rules(a.checks),
        placed=tuple(a.placed[k] for k in marks),
    )  # fmt: skip
    state = replace(
        s,
        marks=tuple(s.marks[k] for k in marks),
        cut_to_mm=tuple(s.cut_to_mm[k] for k in marks),
        readings=tuple(
            replace(s.readings[k], terms=tuple((new[m], c) for m, c in s.readings[k].terms)) for k in order(len(s.readings))
        ),
        rough=tuple(replace(s.rough[k], start=new[s.rough[k].start], end=new[s.rough[k].end]) for k in order(len(s.rough))),
        closed={joint_new[joint]: how for joint, how in s.closed.items()},
        gap_read=frozenset(contact_new[contact] for contact in s.gap_read),
    )  # fmt: skip
    return Case(assembly, state)


def answers(case: Case, names: Assembly | None = None) -> dict[tuple[str, ...], float | None]:
    """Everything found that has a number, by name. `names` are those to use for marks."""
    found = findings(case, seats=False)
    said: dict[str, str] = {}
    if names is not None:
        said = {mine.name: its.name for mine, its in zip(case.assembly.marks, names.marks, strict=True)}
    numbers: dict[tuple[str, ...], float | None] = {}
    for d in found.distances:
        key = (said.get(d.start, d.start), said.get(d.end, d.end))
        numbers[*key, "size"] = d.size_mm
        numbers[*key, "advice"] = d.advice_expanded_mm
        numbers[*key, "outcome"] = d.outcome_expanded_mm
    for joint in found.joints:
        for one in joint.contacts:
            plan = case.assembly.contacts[one.number]
            marks = sorted(case.assembly.marks[mark].name for mark in plan.marks)
            key = (joint.name, one.kind, *(said.get(name, name) for name in marks))
            numbers[*sorted(key), "clearance"] = one.clearance_mm
            numbers[*sorted(key), "U"] = one.expanded_mm
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


def state_with(case: Case, **changes) -> Case:
    """The same plan with another state."""
    state: State = replace(case.state, **changes)
    return Case(case.assembly, state)
