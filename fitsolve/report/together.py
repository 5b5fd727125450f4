"""Together: the joints and seats of a whole build, a line each where one is enough.

What is wrong stands first and whole. What can't be told stands together where the same would tell: that is said once,
and under it a line for each, so that the readings to take are seen before the joints that they are for. Parts that jam
at the same place, or may, are one line.

Not here: what is said of one joint (fitwords), of one seat (seatwords).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from fitsolve.findings.values import CheckFinding, JointFinding, SeatFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.fitwords import (
    BY_ITSELF,
    EITHER,
    Unsure,
    joint_lines,
    known_text,
    left_full,
    ranked_contacts,
    short_name,
    slant_line,
    to_be_read,
    uncut_both_sides,
    unsure_of,
)
from fitsolve.report.measures import Measures
from fitsolve.report.naming import words_of
from fitsolve.report.remedies import capital
from fitsolve.report.screen import Block, Line, Table
from fitsolve.report.seatwords import between_of, seat_text, seat_to_be_read
from fitsolve.report.told import Told
from fitsolve.report.words import check_text

UNSURE = "can't tell"
TOGETHER_LEAST = 4
"""So many checks of one name that are within are one row."""
_IN_PLURAL = {"fits": "fit", "goes on": "go on", "jams": "jam"}
_WORST_FIRST = ("tight", "proud", "jam", "beyond", "loose", "open", UNSURE, "fit", "go on", "within", "closed")


def summed(counts: Mapping[str, int]) -> str:
    """`2 can't tell, 8 fit`: the worst first, what is well and what is closed last."""
    return ", ".join(f"{counts[word]} {word}" for word in _WORST_FIRST if counts.get(word))


def headed(name: str, verdict: str, said: Sequence[str], indent: int = 3) -> list[Line | Table]:
    """What is said of one thing: behind its name and verdict where it is one sentence, else under them."""
    lead = f"{name}   {verdict}"
    if len(said) == 1:
        return [Line(f"{lead}   {said[0]}", indent, 3, lead=len(lead))]
    return [Line(lead, indent, style="bold"), *(Line(text, indent + 3, 0) for text in said)]


# -- joints --------------------------------------------------------------------------------------


def joint_blocks(found: Reconciliation, told: Told) -> list[Block]:
    """How many joints there are of each verdict, then those that do not plainly fit."""
    if not found.joints:
        return []
    counts: dict[str, int] = defaultdict(int)
    faults: list[Line | Table] = []
    ahead: list[str] = []
    capped: dict[str, list[str]] = defaultdict(list)
    unsure: list[JointFinding] = []
    for joint in found.joints:
        counts["closed" if joint.closed else _IN_PLURAL.get(joint.verdict, joint.verdict)] += 1
        open_one = joint.verdict == UNSURE and not joint.closed
        if open_one and uncut_both_sides(found, [joint.number]):
            ahead.append(joint.name)
            continue
        if open_one and ranked_contacts(joint):
            unsure.append(joint)
            continue
        said = _unsure_last(found, joint, joint_lines(found, joint))
        first = ", to be read" if to_be_read(found, joint) else ""
        if len(said) == 1 and said[0].startswith(BY_ITSELF):
            capped[said[0]].append(f"{joint.name} ({joint.verdict}{first})")
        elif said:
            verdict = f"closed, {joint.verdict}" if joint.closed else f"{joint.verdict}{first}"
            faults += headed(joint.name, verdict, [told.of(joint.name, text) for text in said])
    lines = [*faults, *_unsure_joints(found, unsure, told)]
    lines += [Line(f"{text}: {', '.join(names)}", 3) for text, names in capped.items()]
    if ahead:
        lines.append(Line(f"neither side is cut yet: {'; '.join(ahead)}", 3))
    return [Block("JOINTS", (Line(summed(counts)), *lines))]


def _unsure_last(found: Reconciliation, joint: JointFinding, said: Sequence[str]) -> list[str]:
    """What is said of a joint, all further contacts that only can't be told in one line at its end."""
    lines = [text for text in said if not text.endswith(EITHER)]
    unsure = [one for one in ranked_contacts(joint)[1:] if one.verdict == UNSURE and one.clearance_mm is not None]
    if len(lines) == len(said) or not unsure:
        return list(said)
    measures, contacts = Measures.of(found.assembly), found.assembly.contacts
    known = (f"{short_name(found, contacts[one.number])} {known_text(one, measures)}" for one in unsure)
    return [*lines, f"can't tell either: {'; '.join(known)}"]


def _unsure_joints(found: Reconciliation, joints: Sequence[JointFinding], told: Told) -> list[Line | Table]:
    """The joints that can't be told, those together of which the same would tell more."""
    groups: dict[tuple[object, ...], list[tuple[JointFinding, Unsure]]] = {}
    for joint in joints:
        said = unsure_of(found, ranked_contacts(joint)[0])
        key = (tuple(way.do for way in said.ways), bool(said.full), said.to_be_tried, said.conflict)
        groups.setdefault(key, []).append((joint, said))
    lines: list[Line | Table] = []
    for own in groups.values():
        advice = _advice(found, [said for _, said in own], told)
        advice = f"To know: {advice}" if own[0][1].ways else capital(advice)
        if len(own) == 1:
            facts = _facts(found, *own[0])
            lines += headed(own[0][0].name, UNSURE, [f"{facts}. {advice}" if advice else facts])
            continue
        lead = f"{len(own)} {UNSURE}"
        lines.append(Line(f"{lead}   {advice}".rstrip(), 3, 3, lead=len(lead)))
        lines.append(Table(tuple((joint.name, _facts(found, joint, said)) for joint, said in own), 6))
    return lines


def _facts(found: Reconciliation, joint: JointFinding, first: Unsure) -> str:
    """What is known of a joint's contacts that can't be told: `l.step against shoulder 0.004 in, ± 0.016, needs
    ± 0.004; ...`."""
    measures = Measures.of(found.assembly)
    ranked = ranked_contacts(joint)
    worst, *others = (short_name(found, found.assembly.contacts[one.number]) for one in ranked)
    proof = f"needs ± {first.needs}" if first.needs else first.limit
    facts = [f"{worst} {first.known}, {proof}{' in the compromise' if first.conflict else ''}"]
    facts += [f"{name} {known_text(one, measures)}" for name, one in zip(others, ranked[1:], strict=True)]
    along = slant_line(found, ranked)
    return "; ".join([*facts, *([along[:1].lower() + along[1:]] if along else [])])


def _advice(found: Reconciliation, said: Sequence[Unsure], told: Told) -> str:
    """What would tell more of joints that the same would, and what does without."""
    if said[0].conflict:
        return said[0].conflict
    ways = [", and ".join(told.way(way) for way in said[0].ways)] if said[0].ways else []
    if said[0].full:
        ways.append(left_full(found, [one.full for one in said]))
    if said[0].to_be_tried:
        ways.append("try it dry before you take anything off")
    return "; or ".join(ways)


# -- seats ---------------------------------------------------------------------------------------


def seat_blocks(found: Reconciliation, told: Told) -> list[Block]:
    """How many parts go on, then those that do not, or may not: the ones with the same in their way together."""
    if not found.seats:
        return []
    counts: dict[str, int] = defaultdict(int)
    number = {joint.name: joint.number for joint in found.joints}
    ahead: list[str] = []
    groups: dict[object, list[SeatFinding]] = {}
    for seat in found.seats:
        counts[_IN_PLURAL.get(seat.verdict, seat.verdict)] += 1
        if seat.verdict == UNSURE and uncut_both_sides(found, [number[name] for name in seat.joints]):
            ahead.append(f"{seat.part} (chance {seat.chance or 0.0:.2f})")
        elif seat.verdict != "goes on":
            pair = between_of(found, seat)
            groups.setdefault((seat.verdict, pair) if pair else seat.part, []).append(seat)
    lines: list[Line | Table] = []
    for own in groups.values():
        first = ", to be read" if seat_to_be_read(found, own[0]) else ""
        parts, word = words_of([seat.part for seat in own]), str(own[0].verdict)
        word = _IN_PLURAL.get(word, word) if len(own) > 1 else word
        lines += headed(parts, f"{word}{first}", [seat_text(found, own[0], own[1:], told)])
    if ahead:
        lines.append(Line(f"no part of these joints is cut yet: {', '.join(ahead)}", 3))
    return [Block("SEATS", (Line(summed(counts)), *lines))]


# -- checks --------------------------------------------------------------------------------------


def check_rows(found: Reconciliation, told: Told) -> tuple[tuple[str, ...], ...]:
    """The checks of the frame, a row each; many of one name that are all within are one, with the worst of them."""
    alike: dict[tuple[object, ...], list[CheckFinding]] = defaultdict(list)
    for check in found.checks:
        kind = found.assembly.checks[check.number].kind
        if check.verdict == "within" and check.value_mm is not None and check.expanded_mm is not None:
            alike[check.name.split()[0], kind, check.within_mm].append(check)
    together = {one.number: own for own in alike.values() if len(own) >= TOGETHER_LEAST for one in own}
    rows: list[tuple[str, ...]] = []
    for check in found.checks:
        own = together.get(check.number)
        if own is None:
            rows.append((check.name, *check_text(found, check, told)))
        elif own[0] is check:
            rows.append(_worst_of(found, own, told))
    return tuple(rows)


def _worst_of(found: Reconciliation, own: Sequence[CheckFinding], told: Told) -> tuple[str, ...]:
    word = own[0].name.split()[0]
    count = sum(one.name.split()[0] == word for one in found.checks)
    name = f"{word}, {'all' if count == len(own) else f'{len(own)} of'} {count}"
    worst = max(own, key=lambda one: abs(one.value_mm or 0.0))
    spread = max(own, key=lambda one: one.expanded_mm or 0.0)
    amount, _ = check_text(found, worst, told)
    return name, f"up to {amount}", check_text(found, spread, told)[1]
