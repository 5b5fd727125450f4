"""Laws that every answer keeps, whatever the build: on plans and logs written out as a maker would,
and on generated builds.

Lengths of the written builds are whole 64ths of an inch, which are exact in millimetres too.
"""

from __future__ import annotations

import math
import random
import re
from dataclasses import dataclass, fields, replace

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pytest import approx

from fitsolve.build.logtext import parse_log
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.build.readings import Reading
from fitsolve.build.state import MarkState, settle
from fitsolve.findings.values import ContactFinding
from fitsolve.reconciliation import Reconciliation, findings_of
from tests.builds import Case, benches

SAME_MM = 1e-7

# -- builds written out ------------------------------------------------------------------------


@dataclass(frozen=True)
class Written:
    """Aprons over the same legs: lengths and what is off plan in 64ths of an inch."""

    aprons: int
    leg: int
    space: tuple[int, ...]
    end: int
    off: tuple[int, ...]
    made_only: int
    by_tape: bool
    equal_ends: bool


@st.composite
def written(draw: st.DrawFn) -> Written:
    spaces = draw(st.integers(1, 2))
    return Written(
        aprons=draw(st.integers(1, 2)),
        leg=draw(st.integers(64, 400)),
        space=tuple(draw(st.integers(640, 3200)) for _ in range(spaces)),
        end=draw(st.integers(64, 600)),
        off=tuple(draw(st.integers(-6, 6)) for _ in range(3 + 2 + 1)),
        made_only=draw(st.integers(-1, spaces)),
        by_tape=draw(st.booleans()),
        equal_ends=draw(st.booleans()),
    )


def inches(sixtyfourths: int) -> str:
    whole, rest = divmod(sixtyfourths, 64)
    return f"{whole} {rest}/64" if rest and whole else f"{rest}/64" if rest else str(whole)


def millimetres(sixtyfourths: int) -> str:
    return f"{sixtyfourths * 396875 / 1_000_000:.6f}"  # 25.4 / 64 = 0.396875


UNITS = {"in": inches, "mm": millimetres}


def plan_lines(build: Written, unit: str = "in", order: random.Random | None = None) -> str:
    length = UNITS[unit]
    legs = len(build.space) + 1
    run = f"end-l {length(build.end)} (give {length(8)})"
    for k in range(legs):
        run += f" d{k}.lo {length(build.leg)} d{k}.hi"
        run += f" {length(build.space[k])} " if k < legs - 1 else f" {length(build.end)} (give {length(8)}) "
    run += "end-r"
    names = ["front", "rear"][: build.aprons]
    rows = [f"{apron} d{k} n{k}" for apron in names for k in range(legs)]
    parts = [
        f'[part.leg]\ncopies = [{", ".join(f"{chr(34)}n{k}{chr(34)}" for k in range(legs))}]\nx = "left {length(build.leg)} right"\n',
        f'[part.apron]\ncopies = [{", ".join(f"{chr(34)}{name}{chr(34)}" for name in names)}]\nx = "{run}"\n',
    ]
    if order:
        order.shuffle(parts)
        order.shuffle(rows)
    keep = f'[keep]\nends = "apron.*.end-l..d0.lo = d{legs - 1}.hi..end-r, give {length(4)}"\n'
    head = (
        f'format = 1\ntitle = "Generated"\nunit = "{unit}"\nfinest = "{length(2)}"\nworkmanship = "{length(1)}"\n'
        f'workmanship_width = "{length(1)}"\ngive = "{length(4)}"\n'
        f'fits = {{ slip = ["0", "{length(1)}", "{length(3)}"] }}\n'
    )
    table = "\n".join(["apron e leg", *rows])
    joint = (
        f'[joint.dado]\neach = """\n{table}\n"""\n'
        'meet = "leg.{leg}.left/right in apron.{apron}.{e}.lo/hi, slip"\n'
    )
    return "\n".join([head, *parts, joint, keep if build.equal_ends else ""])


Row = tuple[str, str, str, str, str]


def log_rows(build: Written, unit: str = "in") -> list[Row]:
    length, legs = UNITS[unit], len(build.space) + 1
    rows: list[Row] = []
    for k in range(legs):
        if k == build.made_only:
            rows.append(("made", f"leg.n{k}", "", "", ""))
        else:
            rows.append(("reading", f"leg.n{k}.left", f"leg.n{k}.right", length(build.leg + build.off[k]), "caliper"))
    for k, space in enumerate(build.space):
        tool = "tape" if build.by_tape else "rod"
        rows.append(("reading", f"leg.n{k}.right", f"leg.n{k + 1}.left", length(space + build.off[3 + k]), tool))
    overall = build.leg * legs + sum(build.space) + build.off[5]
    rows.append(("reading", "leg.n0.left", f"leg.n{legs - 1}.right", length(overall), "tape"))
    return rows


def log_text(rows: list[Row]) -> str:
    lines = [f"{k},2025-03-10T09:00:00+01:00,{','.join(row)}," for k, row in enumerate(rows, 1)]
    return "\n".join(["no,time,event,from,to,reading,tool,note", *lines, ""])


def answered(plan: str, log: str) -> Reconciliation:
    worked = read_plan(plan)
    assembly, state = settle(assemble(worked), parse_log(log.encode()), worked.tools())
    assert not [problem for problem in state.problems if problem.level == "error"], state.problems
    return findings_of(assembly, state)


Numbers = dict[str, tuple[float | None, ...]]


def numbers(found: Reconciliation, simulated: bool = True) -> Numbers:
    """Everything a reconciliation says in numbers, by name."""
    said: Numbers = {}
    for d in found.distances:
        said[f"{d.start}..{d.end}"] = (d.plan_mm, d.size_mm, d.advice_expanded_mm, d.outcome_expanded_mm)
    for joint in found.joints:
        for contact in joint.contacts:
            meeting = sorted(found.assembly.marks[mark].name for mark in found.assembly.contacts[contact.number].marks)
            said[" ".join(meeting)] = (contact.clearance_mm, contact.expanded_mm, contact.chance)
    for seat in found.seats:
        said[seat.part] = (seat.as_planned_mm,)
        if simulated:
            said[f"chance of {seat.part}"] = (seat.chance,)
    for doubt in found.doubts:
        ends = " ".join([doubt.start, doubt.end, doubt.tool, f"{doubt.reading_mm:.6f}"])
        said[ends] = (doubt.residual_mm, doubt.standardised, doubt.redundancy, doubt.would_be_mm)
    return said


def assert_same(one: Numbers, other: Numbers) -> None:
    assert one.keys() == other.keys()
    for name, values in one.items():
        for a, b in zip(values, other[name], strict=True):
            off = SAME_MM
            if name.startswith("chance") and a is not None:
                # Simulated: other draws fall to the gaps when they come in another order.
                off = 5 * math.sqrt(2 * max(a * (1 - a), 1e-4) / 10_000)
            assert b == (None if a is None else approx(a, abs=off, rel=1e-9)), name


@settings(max_examples=40)
@given(written())
def test_inches_or_millimetres_give_the_same_answer(build: Written):
    first, second = [
        answered(plan_lines(build, unit), log_text(log_rows(build, unit))) for unit in ("in", "mm")
    ]
    assert_same(numbers(first), numbers(second))


@settings(max_examples=40)
@given(written(), st.randoms(use_true_random=False))
def test_the_order_of_parts_and_rows_changes_nothing(build: Written, order: random.Random):
    rows = log_rows(build)
    first = answered(plan_lines(build), log_text(rows))
    order.shuffle(rows)
    second = answered(plan_lines(build, order=order), log_text(rows))
    assert_same(numbers(first), numbers(second))


NEW_NAMES = {
    "leg": "zpost", "apron": "beam", "front": "z1", "rear": "a1", "lo": "west", "hi": "east", "left": "m1",
    "right": "a2", "end-l": "tip-w", "end-r": "tip-e", "n0": "q9", "n1": "q1", "n2": "b5", "d0": "s7", "d1": "s2",
    "d2": "a8",
}  # fmt: skip


def renamed(text: str) -> str:
    return re.sub(r"(?<![\w-])[a-z][a-z0-9-]*(?![\w-])", lambda word: NEW_NAMES.get(word[0], word[0]), text)


@settings(max_examples=40)
@given(written())
def test_names_change_nothing(build: Written):
    plan, log = plan_lines(build), log_text(log_rows(build))
    # The head words of the joint's table are names too, and stay what they are in braces.
    anew = renamed(plan).replace("{apron}", "{beam}").replace("{leg}", "{zpost}")
    first, second = numbers(answered(plan, log)), numbers(answered(anew, renamed(log)))
    new = {renamed(name): values for name, values in first.items()}
    assert_same(*[{" ".join(sorted(name.split())): values for name, values in said.items()} for said in (new, second)])


@settings(max_examples=40)
@given(written())
def test_a_mirrored_piece_has_the_mirrored_answer(build: Written):
    # Left for right: legs, spaces and what they are off plan in the other order.
    legs = len(build.space) + 1
    off = (*build.off[:legs][::-1], *build.off[legs:3], *build.off[3 : 2 + legs][::-1], *build.off[2 + legs :])
    made_only = build.made_only if build.made_only < 0 else legs - 1 - build.made_only
    mirrored = replace(build, space=build.space[::-1], off=off, made_only=made_only)
    first, second = [answered(plan_lines(one), log_text(log_rows(one))) for one in (build, mirrored)]
    for apron in ["apron.front", "apron.rear"][: build.aprons]:
        one, other = [
            [(d.size_mm, d.advice_expanded_mm, d.outcome_expanded_mm) for d in found.distances if d.part == apron]
            for found in (first, second)
        ]
        assert np.array(one) == approx(np.array(other[::-1]), abs=SAME_MM)


HANDED = """
format = 1
title = "Generated"
unit = "mm"
finest = "0.5"
workmanship = "0.4"
workmanship_width = "0.1"
give = "1.5"
fits = {{ slip = ["0", "0.4", "1"] }}
[part.leg]
copies = {{ l = "as drawn", r = "left for right" }}
x = "outer {leg} inner"
[part.bracket]
copies = {{ l = "as drawn", r = "left for right" }}
x = ["tip {tip} lo {leg} hi {tail} end", "tip {whole} (give 4) end"]
[joint.dado]
each = \"\"\"
k
l
r
\"\"\"
meet = "leg.{{k}}.outer/inner in bracket.{{k}}.lo/hi, slip"
"""


def copy(finding: object) -> bool:
    """Whether a finding is about the right copy: of the joints the second."""
    return finding.number >= 1 if isinstance(finding, ContactFinding) else ".r." in finding.start


def alike(finding: object) -> list[float]:
    """What a finding says that must be the same of both copies."""
    values = [getattr(finding, field.name) for field in fields(finding) if field.name not in ("number", "row")]
    return [value for value in values if isinstance(value, float)]


@settings(max_examples=40)
@given(st.integers(20, 100), st.integers(20, 300), st.integers(20, 300), st.integers(-20, 20), st.booleans())
def test_a_handed_copy_gets_the_same_sizes_the_other_way_round(leg, tip, tail, off, read):
    plan = HANDED.format(leg=leg, tip=tip, tail=tail, whole=leg + tip + tail)
    rows: list[Row] = []
    for k in "lr":
        rows.append(("reading", f"leg.{k}.outer", f"leg.{k}.inner", f"{leg + off / 10}", "caliper"))
        if read:
            rows.append(("reading", f"bracket.{k}.tip", f"bracket.{k}.end", f"{leg + tip + tail + off / 20}", "rod"))
    found = answered(plan, log_text(rows))
    for kind in (found.distances, [contact for joint in found.joints for contact in joint.contacts], found.doubts):
        half = len(kind) // 2
        assert [alike(one) for one in sorted(kind, key=copy)[:half]] == [
            approx(alike(one), abs=SAME_MM) for one in sorted(kind, key=copy)[half:]
        ]
    x, index = found.solved.positions_mm, found.assembly.index
    way = {k: np.sign(x[index[f"leg.{k}.inner"]] - x[index[f"leg.{k}.outer"]]) for k in "lr"}
    assert way["l"] == -way["r"]


@settings(max_examples=40)
@given(written(), st.integers(0, 99), st.integers(-64, 64))
def test_a_struck_row_counts_for_nothing(build: Written, which: int, off: int):
    rows = log_rows(build)
    wrong = ("reading", "leg.n0.left", "leg.n1.left", inches(build.leg + build.space[0] + off), "tape")
    first = answered(plan_lines(build), log_text(rows))
    at = which % (len(rows) + 1)
    struck = [*rows[:at], wrong, *rows[at:], ("strike", f"{at + 1}", "", "", "")]
    assert_same(numbers(first), numbers(answered(plan_lines(build), log_text(struck))))


@settings(max_examples=40)
@given(written(), st.integers(-64, 64), st.integers(-6, 6))
def test_a_trimmed_reading_counts_for_nothing(build: Written, off: int, then: int):
    rows = log_rows(build)
    again = ("reading", "leg.n1.left", "leg.n1.right", inches(build.leg + then), "caliper")
    answers = []
    for before in ([], [("reading", "leg.n1.left", "leg.n1.right", inches(build.leg + off), "caliper")]):
        trimmed = [*before, ("trim", "leg.n1.left", "leg.n1.right", "", ""), again, *rows]
        answers.append(numbers(answered(plan_lines(build), log_text(trimmed))))
    assert_same(*answers)


# -- generated builds --------------------------------------------------------------------------


def sizes(found: Reconciliation) -> list[float | None]:
    return [distance.size_mm for distance in found.distances]


@settings(max_examples=60)
@given(benches(trouble=False), st.integers(-5000, 5000))
def test_moving_everything_along_changes_no_distance(case: Case, by: int):
    moved = replace(
        case.assembly, marks=tuple(replace(mark, plan_mm=mark.plan_mm + by / 8) for mark in case.assembly.marks)
    )
    first, second = findings_of(case.assembly, case.state), findings_of(moved, case.state)
    assert_same(numbers(first), numbers(second))


@settings(max_examples=80)
@given(benches(trouble=False), st.integers(0, 999), st.sampled_from([0.02, 0.1, 1.0]))
def test_a_reading_that_agrees_moves_nothing_and_never_adds_doubt(case: Case, which: int, u: float):
    before = findings_of(case.assembly, case.state)
    asked = [pair for piece in before.solved.pieces for pair in settled_by_readings(piece)]
    assume(asked)
    start, end = asked[which % len(asked)]
    x = before.solved.positions_mm
    value = float(x[end] - x[start])
    marks = case.assembly.marks
    agrees = Reading(
        999, "reading", marks[start].name, marks[end].name, "any", ((end, 1.0), (start, -1.0)), value, abs(value),
        u, marks[start].part != marks[end].part,
    )  # fmt: skip
    after = findings_of(case.assembly, replace(case.state, readings=(*case.state.readings, agrees)))
    assert sizes(after) == approx(sizes(before), abs=SAME_MM)
    for one, other in zip(before.distances, after.distances, strict=True):
        if one.state == "made" and one.advice_expanded_mm is not None:
            assert other.advice_expanded_mm <= one.advice_expanded_mm * (1 + 1e-9) + 1e-9
    for one, other in zip(before.doubts, after.doubts, strict=False):
        assert other.residual_mm == approx(one.residual_mm, abs=SAME_MM)


def settled_by_readings(piece) -> list[tuple[int, int]]:
    """Pairs of a piece's marks, by their numbers in the whole, whose distance readings settle."""
    n = len(piece.marks)
    pairs = [(a, b) for a in range(n) for b in range(a + 1, n) if piece.read.settled([(b, 1.0), (a, -1.0)])]
    return [(int(piece.marks[a]), int(piece.marks[b])) for a, b in pairs]


@settings(max_examples=100)
@given(benches())
def test_the_plan_moves_nothing_that_readings_settle(case: Case):
    found = findings_of(case.assembly, case.state)
    for piece in found.solved.pieces:
        rows = piece.network.measured
        # Readings alone, by the pseudo-inverse (numpy): of all their solutions the shortest.
        alone = np.linalg.pinv(rows.dense(len(piece.marks)) / rows.scale[:, None]) @ (rows.value / rows.scale)
        for k, (start, end) in enumerate(settled_by_readings(piece)):
            a, b = np.searchsorted(piece.marks, [start, end])
            for x in (piece.estimate.x, piece.x):
                assert x[b] - x[a] == approx(alone[b] - alone[a], abs=1e-6), k


@settings(max_examples=100)
@given(benches())
def test_a_rough_mark_never_grows(case: Case):
    found = findings_of(case.assembly, case.state)
    x = found.solved.positions_mm
    for rough in case.state.rough:
        assert {case.state.marks[rough.start], case.state.marks[rough.end]} != {MarkState.MADE}
        assert rough.sign * (x[rough.end] - x[rough.start]) <= rough.most_mm + 1e-9


@settings(max_examples=40)
@given(written(), st.integers(1, 40))
def test_a_rough_apron_is_never_sized_beyond_what_it_is(build: Written, short: int):
    whole = build.leg * (len(build.space) + 1) + sum(build.space) + 2 * build.end
    rows = [*log_rows(build), ("rough", "apron.front.end-l", "apron.front.end-r", inches(whole - short), "rod")]
    found = answered(plan_lines(build), log_text(rows))
    between = found.between("apron.front.end-l", "apron.front.end-r")
    assert between.distance_mm <= (whole - short) * 0.396875 + 1e-9
