"""Laws of the answer: what must not change it, and what it must never do."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.build.shoplog import Row

PLAN = """
unit = "{unit}"
finest = "0.5 mm"
workmanship = "0.3 mm"
workmanship_width = "0.1 mm"
give = "1.5 mm"
fits = {{ slip = ["0.1 mm", "0.3 mm", "0.6 mm"] }}
[tool.caliper]
good_to = "0.1 mm"
[tool.rod]
good_to = "0.2 mm"
[part.{leg}]
copies = {{ {l} = "as drawn", {r} = "{hand}" }}
x = "out 90 mm in-side"
[part.apron]
x = ["end 1100 mm (hold) far", "end 100 mm l.o 90 mm l.i 720 mm r.i 90 mm r.o 100 mm far"]
[joint.dado]
each = '''
e  leg
{rows}'''
meet = "{leg}.{{leg}}.out/in-side in apron.{{e}}.o/i, slip"
"""

cuts = st.integers(-60, 60).map(lambda k: k / 100)
woods = st.tuples(cuts, cuts, cuts)


def plan(unit="mm", leg="leg", names=("l", "r"), hand="left for right", turned=False):
    rows = [f"l {names[0]}\n", f"r {names[1]}\n"]
    text = PLAN.format(
        unit=unit, leg=leg, l=names[0], r=names[1], hand=hand, rows="".join(reversed(rows) if turned else rows)
    )
    return read_plan(text)


def readings(wood, leg="leg", names=("l", "r")) -> list[Row]:
    left, right = (f"{leg}.{name}" for name in names)
    taken = [
        (f"{left}.out", f"{left}.in-side", 90 + wood[0], "caliper"),
        (f"{right}.out", f"{right}.in-side", 90 + wood[1], "caliper"),
        (f"{left}.in-side", f"{right}.in-side", 720 + wood[2], "rod"),
        (f"{left}.out", f"{right}.out", 900 + wood[0] + wood[1] + wood[2] + 0.1, "rod"),
    ]
    return [Row(0, "2025-03-10T09:00:00", "reading", a, b, f"{v:.2f} mm", tool) for a, b, v, tool in taken]


def numbered(rows: list[Row]) -> tuple[Row, ...]:
    from dataclasses import replace

    return tuple(replace(row, no=k) for k, row in enumerate(rows, 1))


def apron(rows, **how) -> list[tuple[float, float, float]]:
    found = fitsolve.reconcile(fitsolve.Build(plan=plan(**how), log=numbered(rows)))
    return [
        (one.size_mm, one.advice_expanded_mm, one.outcome_expanded_mm) for one in found.distances if one.part == "apron"
    ]


def same(one, other):
    assert [number for row in one for number in row] == pytest.approx([n for row in other for n in row], abs=1e-7)


@given(woods)
@settings(max_examples=25)
def test_inches_or_millimetres(wood):
    same(apron(readings(wood)), apron(readings(wood), unit="in"))


@given(woods)
@settings(max_examples=25)
def test_names_and_the_order_of_rows_and_joints(wood):
    other = apron(list(reversed(readings(wood, "post", ("b", "a")))), leg="post", names=("b", "a"), turned=True)
    same(apron(readings(wood)), other)


@given(woods)
@settings(max_examples=25)
def test_a_mirrored_piece_has_the_mirrored_answer(wood):
    mirrored = apron(readings((wood[1], wood[0], wood[2])))
    overall, *pieces = apron(readings(wood))
    other_overall, *others = mirrored
    same([overall, *pieces], [other_overall, *reversed(others)])


@given(woods)
@settings(max_examples=25)
def test_a_struck_reading_counts_for_nothing(wood):
    wrong = Row(0, "2025-03-10T09:00:00", "reading", "leg.l.out", "leg.l.in-side", "99 mm", "caliper")
    strike = Row(0, "2025-03-10T09:01:00", "strike", "1")
    same(apron(readings(wood)), apron([wrong, *readings(wood), strike]))


@given(woods)
@settings(max_examples=25)
def test_a_trimmed_reading_counts_for_nothing(wood):
    before = Row(0, "2025-03-10T08:00:00", "reading", "leg.l.out", "leg.l.in-side", "95 mm", "caliper")
    trim = Row(0, "2025-03-10T08:30:00", "trim", "leg.l.in-side")
    same(apron(readings(wood)), apron([before, trim, *readings(wood)]))


@given(woods)
@settings(max_examples=25)
def test_a_reading_that_agrees_moves_nothing_and_never_adds_doubt(wood):
    rows = readings(wood)
    found = fitsolve.reconcile(fitsolve.Build(plan=plan(), log=numbered(rows)))
    width = found.between("leg.l.out", "leg.l.in-side").distance_mm
    agreeing = Row(0, "2025-03-10T10:00:00", "reading", "leg.l.out", "leg.l.in-side", f"{width:.12f} mm", "caliper")
    before, after = apron(rows), apron([*rows, agreeing])
    assert [row[0] for row in after] == pytest.approx([row[0] for row in before], abs=1e-7)
    assert all(a[1] <= b[1] + 1e-9 for a, b in zip(after, before, strict=True))


@given(woods, st.integers(0, 300).map(lambda k: 1100 + (k - 250) / 100))
@settings(max_examples=40)
def test_a_rough_mark_never_grows(wood, rough):
    row = Row(0, "2025-03-10T10:00:00", "rough", "apron.end", "apron.far", f"{rough:.2f} mm", "rod")
    found = fitsolve.reconcile(fitsolve.Build(plan=plan(), log=numbered([*readings(wood), row])))
    assert found.between("apron.end", "apron.far").distance_mm <= max(rough, 0) + 1e-6
    assert found.between("apron.end", "apron.far").state == "rough"


@given(woods)
@settings(max_examples=25)
def test_the_plan_moves_nothing_that_readings_settle(wood):
    made = [Row(0, "2025-03-10T07:00:00", "made", "leg.l"), Row(0, "2025-03-10T07:00:00", "made", "leg.r")]
    pairs = [("leg.l.out", "leg.l.in-side"), ("leg.l.out", "leg.r.out"), ("leg.r.out", "leg.r.in-side")]
    one = fitsolve.reconcile(fitsolve.Build(plan=plan(), log=numbered(readings(wood))))
    other = fitsolve.reconcile(fitsolve.Build(plan=plan(), log=numbered([*made, *readings(wood)])))
    for a, b in pairs:
        assert one.between(a, b).distance_mm == pytest.approx(other.between(a, b).distance_mm, abs=1e-6)
