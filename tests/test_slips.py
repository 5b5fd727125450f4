"""What a reading that is far off looks like. All shapes of slips are common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsolve.findings.slips import far_off_plan, slips
from fitsolve.lengths import read_length

NEAR = 25.4 / 32


def kinds(reading, should, unit="in", tool="other", text=""):
    """What a reading looks like; a number is written in decimals, unless its text is given."""
    mm, text = 25.4 if unit == "in" else 1.0, text or f"{reading:.10g}"
    return [one.kind for one in slips(reading * mm, should * mm, unit, NEAR if unit == "in" else 0.5, tool, text)]


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
    (17 + 1 / 16, 17 + 1 / 32, "in", "rule", "fraction"),  # off by no more than a line of the layout
    (3.531, 4.531, "in", "caliper", "whole"),
    (500.0, 503.2, "mm", "rule", "kerf"),  # 1/8 in
    (500.0, 501.3, "mm", "tape", "hook"),
])  # fmt: skip
def test_a_slip_is_recognised(reading, should, unit, tool, kind):
    assert kind in kinds(reading, should, unit, tool)


@pytest.mark.parametrize(("reading", "should", "unit"), [(3.531, 4.531, "in"), (78.1, 88.1, "mm"), (178.1, 78.1, "mm")])
def test_a_caliper_is_not_held_at_its_1_or_10(reading, should, unit):
    assert "held" not in kinds(reading, should, unit, "caliper")


def test_half_a_sixteenth_that_is_no_fraction_of_the_other_looks_like_nothing():
    assert kinds(17 + 5 / 32, 17 + 1 / 8, "in", "rule") == []  # 5/64 or 5/16 are not near 1/8


def test_a_reading_near_enough_looks_like_nothing():
    assert kinds(3.5, 3.51) == []


def test_what_is_off_by_no_such_amount_looks_like_nothing():
    assert kinds(507.0, 500.0, "mm") == []


def test_nothing_is_never_25_times_nothing():
    # 0 and 1/2 are no unit taken for the other: 25.4 times 0 is 0.
    assert kinds(0.0, 0.5) == []
    assert kinds(0.5, 0.0) == []
    assert kinds(12.0, 0.0, "mm") == []  # 12 / 25.4 is 0.47, less than a line from nothing


def written(text, should, unit="in"):
    """What the digits of a reading would have been, as written, where some are swapped."""
    mm, near = (25.4, NEAR) if unit == "in" else (1.0, 0.5)
    found = slips(float(read_length(text, unit)), should * mm, unit, near, "other", text)
    return [(one.text, one.whole) for one in found if one.kind == "digits"]


class TestDigitsAsWritten:
    """Only digits that somebody wrote can be swapped."""

    def test_a_fraction_is_no_decimal(self):
        # 29 31/32 is 29.96875: nobody wrote 29.9687, so nobody can have meant 29.9867.
        assert written("29 31/32", 30.0) == written("29-31/32", 29.9868) == []
        assert written("49 15/16", 49.9735 + 1 / 32) == []

    def test_above_the_line_they_can_be(self):
        assert written("29-31/32", 29 + 13 / 32) == [("29-13/32", None)]
        assert written("31/64", 13 / 64) == [("13/64", None)]

    def test_in_the_whole_number_they_can_be(self):
        assert written("41 1/2", 14.5) == [("14 1/2", ("41", "14"))]
        assert written("890.5 mm", 980.5 / 25.4) == [("980.5 mm", ("890", "980"))]

    def test_a_decimal_has_them_on_both_sides(self):
        assert written("3.351", 3.531) == [("3.531", None)]
        assert written("0.15", 0.51) == [("0.51", None)]

    def test_what_nobody_writes_is_not_meant(self):
        assert written("10 1/4", 1.25) == []  # 01 1/4
        assert written("13/16", 1 + 15 / 16) == []  # 31/16
        assert written("1/16", 1 / 61) == []  # below the line

    def test_they_are_all_of_the_miss(self):
        # 0.033 in off: 3.021 lies 0.024 nearer to 3.045 than 3.012 does, and no more than that.
        assert written("3.012", 3.045) == []


@pytest.mark.parametrize(("text", "should", "unit"), [
    ("16.04", 160.0, "mm"),  # 160.4: in cm, or the point misplaced
    ("200.1", 2000.0, "mm"),  # 2001
    ("16", 160.0, "mm"),  # a nought left out
    ("353.1", 35.31, "in"),
    ("16.04 cm", 16.04, "mm"),  # 160.4 mm entered as cm
])  # fmt: skip
def test_ten_times_too_much_or_too_little(text, should, unit):
    mm, near = (25.4, NEAR) if unit == "in" else (1.0, 0.5)
    assert "ten" in [one.kind for one in slips(float(read_length(text, unit)), should * mm, unit, near, "rule", text)]


def test_what_is_not_ten_times_off():
    assert kinds(200.1, 2150.0, "mm") == []  # 2001 is 149 off
    assert "ten" not in kinds(0.5, 5.0, text="1/2")  # a fraction has no point


@given(st.floats(0, 5000), st.floats(0, 5000), st.sampled_from(["in", "mm"]), st.sampled_from(["tape", "caliper"]))
def test_what_would_be_there_is_near_what_should_be(reading, should, unit, tool):
    for one in slips(reading, should, unit, 0.8, tool, f"{reading:.3f} mm"):
        assert one.would_be_mm > 0
        assert abs(one.would_be_mm - should) <= 0.8 * 25.4
        assert one.by_mm == pytest.approx(reading - one.would_be_mm)


def test_far_off_is_a_quarter_inch_or_what_this_shop_never_misses_by():
    assert not far_off_plan(5.9, 0.05, 0.8)
    assert far_off_plan(-6.1, 0.05, 0.8)
    assert not far_off_plan(6.1, 3.0, 0.8)  # by a tool that is itself so coarse
