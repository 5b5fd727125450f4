"""A log made in Python: rows hold what a maker writes, numbers too, and nothing else is taken for a row."""

from decimal import Decimal
from fractions import Fraction

import pytest

import fitsolve

PLAN = fitsolve.Plan(unit="in", part={"leg": {"x": "outer 3 1/2 inner"}})


@pytest.mark.parametrize("reading", ["3 1/2", "3.5", 3.5, Decimal("3.5"), Fraction(7, 2)])
def test_a_reading_may_be_a_number(reading):
    row = fitsolve.Row(event="reading", start="leg.outer", end="leg.inner", reading=reading, tool="caliper")
    found = fitsolve.reconcile(fitsolve.Build(PLAN, [row]))
    assert found.between("leg.outer", "leg.inner").distance_mm == pytest.approx(88.9, abs=1e-9)


@pytest.mark.parametrize("give", ["1/16", 0.0625, Decimal("0.0625"), Fraction(1, 16)])
def test_so_may_a_length_of_the_plan(give):
    plan = fitsolve.Plan(unit="in", give=give, part={"leg": {"x": "outer 3 1/2 inner"}})
    assert fitsolve.reconcile(fitsolve.Build(plan)).assembly.distances[0].give_mm == pytest.approx(1.5875, abs=1e-12)


def test_a_row_is_struck_by_its_number():
    rows = [
        fitsolve.Row(event="reading", start="leg.outer", end="leg.inner", reading=3, tool="caliper"),
        fitsolve.Row(event="strike", start=1, end=None),
    ]
    assert fitsolve.reconcile(fitsolve.Build(PLAN, rows)).state.readings == ()


@pytest.mark.parametrize("row", ["1,,reading", None, ("reading", "leg.outer", "leg.inner")])
def test_what_is_no_row_is_said_to_be_none(row):
    with pytest.raises(TypeError, match=r"a list of fitsolve\.Row, and here is"):
        fitsolve.Build(PLAN, [row])
