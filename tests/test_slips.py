"""What a reading that is far off looks like. All shapes of slips are common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsolve.findings.slips import far_off_plan, slips

NEAR = 25.4 / 32


def kinds(reading, should, unit="in", tool="other"):
    mm = 25.4 if unit == "in" else 1.0
    return [one.kind for one in slips(reading * mm, should * mm, unit, NEAR if unit == "in" else 0.5, tool)]


@pytest.mark.parametrize(("reading", "should", "unit", "tool", "kind"), [
    (40 + 3 / 32, 41 + 3 / 32, "in", "tape", "held"),  # 1 in short
    (510.0, 500.0, "mm", "tape", "held"),  # 10 mm over
    (600.0, 500.0, "mm", "tape", "held"),
    (89.7 / 25.4 / 25.4, 89.7 / 25.4, "in", "caliper", "unit"),  # read 3.531 as mm
    (3.531 * 25.4, 3.531, "in", "caliper", "unit"),  # 89.7 typed without mm
    (14.5, 41.5, "in", "tape", "digits"),
    (3.351, 3.531, "in", "caliper", "digits"),
    (3 + 3 / 16, 3 + 3 / 32, "in", "rule", "fraction"),  # sixteenths for thirty-seconds
    (3 + 3 / 32, 3 + 3 / 16, "in", "rule", "fraction"),
    (79.7, 89.7, "mm", "caliper", "jaws"),
    (500.0, 503.2, "mm", "rule", "kerf"),  # 1/8 in
    (500.0, 501.3, "mm", "tape", "hook"),
])  # fmt: skip
def test_a_slip_is_recognised(reading, should, unit, tool, kind):
    assert kind in kinds(reading, should, unit, tool)


def test_a_reading_near_enough_looks_like_nothing():
    assert kinds(3.5, 3.51) == []


def test_what_is_off_by_no_such_amount_looks_like_nothing():
    assert kinds(507.0, 500.0, "mm") == []


def test_nothing_is_never_25_times_nothing():
    # 0 and 1/2 are no unit taken for the other: 25.4 times 0 is 0.
    assert kinds(0.0, 0.5) == []
    assert kinds(0.5, 0.0) == []
    assert kinds(12.0, 0.0, "mm") == []  # 12 / 25.4 is 0.47, less than a line from nothing


@given(st.floats(0, 5000), st.floats(0, 5000), st.sampled_from(["in", "mm"]), st.sampled_from(["tape", "caliper"]))
def test_what_would_be_there_is_near_what_should_be(reading, should, unit, tool):
    for one in slips(reading, should, unit, 0.8, tool):
        assert one.would_be_mm > 0
        assert abs(one.would_be_mm - should) <= 0.8 * 25.4
        assert one.by_mm == pytest.approx(reading - one.would_be_mm)


def test_far_off_is_a_quarter_inch_or_what_this_shop_never_misses_by():
    assert not far_off_plan(5.9, 0.05, 0.8)
    assert far_off_plan(-6.1, 0.05, 0.8)
    assert not far_off_plan(6.1, 3.0, 0.8)  # by a tool that is itself so coarse
