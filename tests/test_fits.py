"""Fits: least, aim and most in that order, with room between them."""

import math
import tomllib
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsolve.build.fits import BUILT_IN, Fit, find_fit, fit_fault, unknown_fit

# Every number in specs/references/fits.toml has its source beside it.
REFERENCE = tomllib.loads(
    (Path(__file__).parents[1] / "specs" / "references" / "fits.toml").read_text(encoding="utf-8")
)
MARKS = REFERENCE["marks"]
MM = st.floats(-5, 5)


class TestBuiltInFits:
    """The fits of the bench, in inches as the trade says them, in mm inside."""

    @pytest.mark.parametrize("name", REFERENCE["fits"])
    def test_are_the_three_lengths_of_the_reference_file(self, name):
        fit = BUILT_IN[name]
        expected = [float(Fraction(text) * Fraction("25.4")) for text in REFERENCE["fits"][name]]
        assert [fit.least_mm, fit.aim_mm, fit.most_mm] == pytest.approx(expected, abs=1e-12)

    @pytest.mark.parametrize("fit", BUILT_IN.values(), ids=lambda one: one.name)
    def test_have_room_an_order_and_a_source(self, fit):
        assert fit_fault(fit, "in") is None
        assert fit.band_mm > 0
        assert fit.source
        assert set(BUILT_IN) == set(REFERENCE["fits"])

    # The bench marks: common practice, no source.
    def test_a_shoulder_counts_as_open_where_its_line_begins_to_show(self):
        assert MARKS["hides_mm"] < BUILT_IN["tight-up"].most_mm <= 1.02 * MARKS["shows_mm"]

    def test_a_glued_tenon_is_aimed_at_no_more_than_lies_between_snug_and_sloppy(self):
        assert BUILT_IN["glue"].aim_mm <= MARKS["snug_to_sloppy_mm"]

    def test_the_usual_dado_is_within_a_slip_fit(self):
        assert BUILT_IN["slip"].least_mm <= MARKS["dado_over_part_mm"] <= BUILT_IN["slip"].most_mm


class TestFaults:
    """A fit that can't be aimed at is refused, with its numbers and what to do."""

    @given(MM, MM, MM)
    def test_a_fit_stands_exactly_when_in_order_with_room(self, least, aim, most):
        stands = least <= aim <= most and most > least
        assert (fit_fault(Fit("mine", least, aim, most), "mm") is None) == stands

    def test_no_room(self):
        assert fit_fault(Fit("mine", 0.1016, 0.1016, 0.1016), "in") == (
            "the fit mine has no room: least, aim and most are all 0.004 in",
            "No cut lands on one size exactly: give it a most above its least.",
        )

    def test_out_of_order(self):
        assert fit_fault(Fit("mine", 0.0, 0.3, 0.2), "mm") == (
            "the fit mine is out of order: least 0, aim 0.3, most 0.2 mm",
            "Give the three from small to large: least, aim, most.",
        )

    @pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
    def test_no_number(self, bad):
        assert fit_fault(Fit("mine", 0.0, bad, 1.0), "mm")[0] == "the fit mine is not made of three lengths"

    def test_the_band_is_half_the_room(self):
        assert Fit("mine", -0.1, 0.0, 0.3).band_mm == pytest.approx(0.2, abs=1e-12)


class TestNames:
    """The build's own fits come first; an unknown name is answered with what may have been meant."""

    def test_its_own_before_the_built_in(self):
        mine = Fit("slip", 0.0, 0.1, 0.2)
        assert find_fit("slip", {"slip": mine}) is mine
        assert find_fit("slip") is BUILT_IN["slip"]
        assert find_fit("press") is None

    def test_a_slip_of_the_pen_is_met_with_the_nearest_name(self):
        assert unknown_fit("sllip") == (
            'no fit is called "sllip"',
            "Did you mean slip? A fit of your own goes into the plan, under fits.",
        )

    def test_a_name_like_no_other_is_met_with_all_of_them(self):
        assert unknown_fit("zzz")[1].startswith("There are: easy, glue, slip, tight-up.")
