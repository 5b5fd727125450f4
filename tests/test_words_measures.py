"""Lengths as they are said: sizes to the finest line, clearances in decimals, uncertainties rounded up."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsolve.report.measures import Measures, off_plan
from fitsolve.report.when import when

IN = 25.4
INCHES = Measures("in", Fraction(127, 160))
"""A build in inches, laid out to 1/32."""
MM = Measures("mm", Fraction(1, 2))


class TestSizes:
    """The finest line laid out, and what it leaves out."""

    # By hand: 8.9415 in = 8 15/16 + 0.004; 227.1 mm lies 0.1 above 227.
    @pytest.mark.parametrize(
        ("measures", "mm", "said"),
        [
            (INCHES, 8.9415 * IN, "8 15/16 + 0.004"),
            (INCHES, 8.9335 * IN, "8 15/16 - 0.004"),
            (INCHES, 8.9375 * IN, "8 15/16"),
            (INCHES, 8.9378 * IN, "8 15/16"),
            (MM, 227.1, "227 + 0.10"),
            (MM, 227.5, "227.5"),
        ],
    )
    def test_with_the_rest(self, measures, mm, said):
        assert measures.full(mm) == said

    @given(st.floats(0.01, 4000))
    def test_laid_out_and_rest_make_the_size(self, mm):
        for measures in (INCHES, MM):
            laid_out = measures.laid_out(mm)
            rest = measures.rest(mm, laid_out).replace(" ", "") or "0"
            unit_mm = IN if measures.unit == "in" else 1.0
            last = 0.5 * 10**-measures.places * unit_mm
            assert float(laid_out) + float(rest) * unit_mm == pytest.approx(mm, abs=last * 1.0001)


class TestUncertainties:
    """Never said to be smaller than they are."""

    @pytest.mark.parametrize(
        ("measures", "mm", "said"),
        [
            (INCHES, 0.004 * IN, "± 0.004"),
            (INCHES, 0.0041 * IN, "± 0.005"),
            (INCHES, 0.0001 * IN, "± 0.001"),
            (INCHES, 0.0, "± 0.000"),
            (MM, 0.1, "± 0.10"),
            (MM, 0.101, "± 0.11"),
        ],
    )
    def test_rounded_up(self, measures, mm, said):
        assert measures.u(mm) == said

    @given(st.floats(0, 100))
    def test_what_is_said_is_no_less(self, mm):
        for measures, unit_mm in ((INCHES, IN), (MM, 1.0)):
            said = float(measures.u(mm).removeprefix("± ")) * unit_mm
            step = 10**-measures.places * unit_mm
            assert mm - step * 0.0011 <= said <= mm + step * 1.0001

    # By hand: 3/64 in = 0.046875 in, so 0.045 in is rounded up to it; 0.04 would become 17 % more, and is not.
    @pytest.mark.parametrize(
        ("measures", "mm", "said"),
        [(INCHES, 0.045 * IN, "± 3/64"), (INCHES, 0.04 * IN, "± 0.040"), (INCHES, 0.004 * IN, "± 0.004"), (MM, 0.84, "± 0.9"), (MM, 0.05, "± 0.05")],
    )
    def test_of_the_frame(self, measures, mm, said):
        assert measures.coarse_u(mm) == said


class TestFrame:
    """Values of checks: 64ths or tenths; in decimals where they are less than that."""

    @pytest.mark.parametrize(
        ("measures", "mm", "said"),
        [
            (INCHES, IN / 32, "1/32"),
            (INCHES, 0.033 * IN, "1/32"),
            (INCHES, 0.006 * IN, "0.006"),
            (INCHES, 0.0, "0"),
            (MM, 0.83, "0.8"),
            (MM, 0.04, "0.04"),
        ],
    )
    def test_coarse(self, measures, mm, said):
        assert measures.coarse(mm) == said


class TestOffPlan:
    """What is read less what was planned."""

    # By hand: 3 17/32 - 4 = -15/32; 3.504 - 3 1/2 = 0.004; 89.7 - 90 = -0.3 mm.
    @pytest.mark.parametrize(
        ("mm", "unit", "said"),
        [
            (-15 / 32 * IN, "in", "15/32 less"),
            (0.004 * IN, "in", "0.004 more"),
            (0.0001 * IN, "in", "as planned"),
            (-0.3, "mm", "0.3 less"),
            (0.0, "mm", "as planned"),
        ],
    )
    def test_said(self, mm, unit, said):
        assert off_plan(mm, unit) == said


class TestTimes:
    """The time of a row, said shortly; left as it is where it is none."""

    # 25 November 2025 was a Tuesday.
    @pytest.mark.parametrize(
        ("written", "said"),
        [
            ("2025-11-25T14:10:00+01:00", "Tue 25 Nov 14:10"),
            ("2025-11-25 09:05", "Tue 25 Nov 09:05"),
            ("yesterday", "yesterday"),
            ("", ""),
        ],
    )
    def test_said(self, written, said):
        assert when(written) == said
