"""Laws of what to cut, and of rows that no longer count; laws of the log are tried with its text."""

from __future__ import annotations

from fractions import Fraction
from random import Random

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pytest import approx

import fitsolve
from fitsolve.build.logtext import parse_log
from fitsolve.build.plan import read_plan
from tests.builds import benches, findings, solve
from tests.frames import assembly_of, case_of, frames
from tests.oracle import Oracle
from tests.turned import answers, differing

few = settings(max_examples=25)


@given(benches() | frames().map(case_of))
@few
def test_a_rough_mark_never_grows(case):
    """Not even where limits contradict each other: wood that is gone is gone."""
    x = solve(case).positions_mm
    for rough in case.state.rough:
        assert rough.sign * (x[rough.end] - x[rough.start]) <= rough.most_mm + 1e-6


@given(benches() | frames().map(case_of))
@few
def test_made_wood_is_not_moved_by_what_is_still_to_be_cut(case):
    """Wishes, holds and limits pull on nothing that is there."""
    whole, oracle = solve(case), Oracle(case)
    for d in case.assembly.distances:
        row = oracle.span(d)
        there = float(row @ (oracle.plan + oracle.there))
        if abs(row @ oracle.free_there).max(initial=0.0) < 1e-9:
            assert whole.value_mm([(d.end, d.sign), (d.start, -d.sign)]) == approx(there, abs=1e-6)


@given(benches(trouble=False))
@few
def test_holds_and_limits_are_kept_where_they_can_be(case):
    found = findings(case, seats=False)
    assume(not found.contradictions and all(p.allocation.status == "optimal" for p in found.solved.pieces))
    assume(not any(p.allocation.missed_mm.any() for p in found.solved.pieces))
    for finding in found.distances:
        d = case.assembly.distances[finding.number]
        if finding.state == "made" or finding.size_mm is None:
            continue
        fact = found.solved.piece([(d.start, 1.0), (d.end, -1.0)])
        if fact.is_fact(found.solved.inside([(d.end, 1.0), (d.start, -1.0)])):
            continue
        if d.hold:
            assert finding.size_mm == approx(d.plan_mm, abs=1e-6)
        if d.low_mm is not None:
            assert d.low_mm - 1e-6 <= finding.size_mm <= d.high_mm + 1e-6


# -- rows that no longer count -------------------------------------------------------------------


def with_rows(log: str, *rows: str) -> str:
    """The log with more rows at its end; `{last}` in a row is the number of the row before it."""
    number = log.count("\n") - 1
    for row in rows:
        number += 1
        log += f"{number},2025-05-06T10:00:00+00:00,{row.format(last=number - 1)}\n"
    return log


def reading_of(plan: str, seed: int) -> tuple[str, str]:
    """A reading of some distance, a long way off plan; and its first mark."""
    assembly, random = assembly_of(plan), Random(seed)
    d = random.choice([d for d in assembly.distances if d.plan_mm > 5])
    names = [assembly.marks[k].name for k in (d.start, d.end)]
    return f"reading,{names[0]},{names[1]},{d.plan_mm + random.uniform(0, 4):.2f},fine,", names[0]


@given(frames(), st.integers(0, 1000))
@few
def test_a_struck_reading_counts_for_nothing(texts, seed):
    plan, log = texts
    reading, _ = reading_of(plan, seed)
    struck = with_rows(log, reading, "strike,{last},,,,")
    assert differing(answers(case_of((plan, log))), answers(case_of((plan, struck))), 1e-12) == []


@given(frames(), st.integers(0, 1000))
@few
def test_a_reading_of_what_was_trimmed_since_counts_for_nothing(texts, seed):
    plan, log = texts
    reading, mark = reading_of(plan, seed)
    made, _, other = reading.split(",")[:3]
    del made
    without = with_rows(log, f"made,{other},,,,", f"trim,{mark},,,,", f"made,{mark},,,,")
    trimmed = with_rows(log, reading, f"made,{other},,,,", f"trim,{mark},,,,", f"made,{mark},,,,")
    one, more = case_of((plan, without)), case_of((plan, trimmed))
    assume(one.state.marks == more.state.marks)
    assert differing(answers(one), answers(more), 1e-12) == []


# -- units ---------------------------------------------------------------------------------------

BENCH = """
unit = "{unit}"
finest = "{l1}"
workmanship = "{l1}"
workmanship_width = "{l1}"
give = "{l2}"
fits = {{ slip = ["0", "{l1}", "{l3}"] }}
[tool.tape]
good_to = "{l1}"
per_length = 0.0005
[part.leg]
copies = ["l", "r"]
x = "left {l112} right"
[part.apron]
x = ["l.end {l1920} (hold) r.end",
     "l.end {l192} (give {l8}) a {l112} b {l1312} c {l112} d {l192} (give {l8}) r.end"]
[joint.dado]
each = '''
leg e f
l   a b
r   c d
'''
meet = "leg.{{leg}}.left/right in apron.{{e}}/{{f}}, slip"
[keep]
ends = "apron.l.end..a = apron.d..apron.r.end, give {l4}"
"""


def lengths(write) -> dict[str, str]:
    """The lengths of the plan, so many thirty-seconds of an inch, as `write` writes them."""
    return {f"l{k}": write(Fraction(k, 32)) for k in (1, 2, 3, 4, 8, 112, 192, 1312, 1920)}


def inches(length: Fraction) -> str:
    whole, part = divmod(length, 1)
    return f"{whole} {part}" if whole and part else f"{whole or part}"


def millimetres(length: Fraction) -> str:
    scaled = length * 254 * 10**9 / 10  # thirty-seconds of an inch are finite decimals
    assert scaled.denominator == 1
    return f"{scaled.numerator // 10**9}.{scaled.numerator % 10**9:09d}"


@given(st.lists(st.integers(-8, 8), min_size=4, max_size=4))
@few
def test_inches_or_millimetres_the_same_answer(off):
    found = []
    for unit, write in (("in", inches), ("mm", millimetres)):
        plan = BENCH.format(unit=unit, **lengths(write))
        spans = [("leg.l.left", "leg.l.right", 112), ("leg.r.left", "leg.r.right", 112)]
        spans += [("leg.l.right", "leg.r.left", 1312), ("leg.l.left", "leg.r.right", 1536)]
        rows = [
            f"{no},2025-05-05T10:00:00+00:00,reading,{a},{b},{write(Fraction(32 * k + 8 * error, 1024))},tape,"
            for no, ((a, b, k), error) in enumerate(zip(spans, off, strict=True), 1)
        ]
        log = "\n".join(["no,time,event,from,to,reading,tool,note", *rows, ""])
        found.append(fitsolve.reconcile(fitsolve.Build(read_plan(plan), parse_log(log.encode()))))
    for one, other in zip(found[0].distances, found[1].distances, strict=True):
        assert one.size_mm == approx(other.size_mm, abs=1e-9)
        assert one.advice_expanded_mm == approx(other.advice_expanded_mm, abs=1e-9)
        assert one.outcome_expanded_mm == approx(other.outcome_expanded_mm, abs=1e-9)
    for one, other in zip(found[0].joints, found[1].joints, strict=True):
        assert one.contacts[0].clearance_mm == approx(other.contacts[0].clearance_mm, abs=1e-9)
        assert one.contacts[0].chance == approx(other.contacts[0].chance, abs=1e-9)
