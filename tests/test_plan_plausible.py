"""What a plan may say and hardly means: warnings, each with both numbers. The plans are invented."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plans import problems

SHELF = 'unit = "mm"\ngive = 1\n[part.shelf]\nx = "left 30 a 840 b 30 right"\n'
MORE = 'from shelf.left to shelf.a: 30'


def warned(text):
    return [problem for problem in problems(text) if problem.level == "warning"]


def test_finest_above_a_distance():
    (one,) = warned("finest = 40\n" + SHELF)
    assert one.what == "finest is 40 mm, more than from shelf.left to shelf.a: 30, and 1 more"
    assert (one.place.line, one.place.key) == (1, "finest")


@pytest.mark.parametrize("finest", ["0.5", "30"])
def test_finest_as_large_as_a_distance_is_well(finest):
    assert warned(f"finest = {finest}\n" + SHELF) == []


def test_a_distance_below_its_own_finest():
    (one,) = warned(SHELF.replace("left 30 a", "left 30 (finest 50) a"))
    assert one.what == "from shelf.left to shelf.a is 30 mm, less than its finest line, 50"
    assert one.place.line == 4


def test_a_distance_with_a_finest_of_its_own_is_not_held_against_the_plan_s():
    assert warned("finest = 20\n" + SHELF.replace("left 30 a", "left 12 (finest 1) a")) == []


def test_a_keep_whose_limits_leave_out_the_plan():
    (one,) = warned(SHELF + '[keep]\nends = "shelf.left..a = 30, by 31 to 35"\n')
    assert one.what == "from shelf.left to shelf.a it is 30 mm by the plan, outside the limits of this keep: 31 to 35"
    assert (one.place.line, one.place.key) == (6, "keep.ends")


def test_a_check_that_the_plan_fails():
    (one,) = warned(SHELF + '[check]\nends = "shelf.left..a = 33, within 2"\n')
    assert one.what == "by the plan itself it is off by 3 mm, beyond its 2"
    (one,) = warned(SHELF + '[check]\nends = "shelf.left..a = shelf.a..b, within 2"\n')
    assert "off by 810 mm" in one.what


@given(st.integers(1, 60), st.integers(1, 60), st.integers(1, 60), st.integers(0, 60))
def test_it_is_said_just_where_the_plan_leaves_them(length, low, more, within):
    plan = SHELF.replace("left 30 a", f"left {length} a")
    kept = warned(plan + f'[keep]\nends = "shelf.left..a = {length}, by {low} to {low + more}"\n')
    assert bool(kept) == (not low <= length <= low + more)
    checked = warned(plan + f'[check]\nends = "shelf.left..a = 30, within {within}"\n') if within else []
    assert bool(checked) == (within > 0 and abs(length - 30) > within)


@pytest.mark.parametrize("key", ["give", "finest", "workmanship", "workmanship_width"])
def test_a_length_is_asked_for_where_there_is_none(key):
    (one,) = problems(f"{key} = true\n" + SHELF.replace("give = 1\n", ""))
    assert (one.what, one.hint) == ("a length was expected here", f'As in {key} = "1/16", or a number.')
