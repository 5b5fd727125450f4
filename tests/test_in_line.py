"""Holes in line: value, U and verdict on each axis. All lengths in mm; the build is invented."""

from __future__ import annotations

from math import hypot

import pytest

from tests.test_hand_cases import U_FINE, found, near

JAW = """
[part.apron]
x = "l.end 900 r.end"
z = "low 120 top"
holes = { screw = ["450 from l.end", "60 from top"] }
[part.jaw]
x = "left 200 right"
z = "under 120 over"
holes = { screw = ["100 from left", "60 from over"] }
[joint.jaw]
meet = ["jaw.left against apron.l.end, shoulder, jaw.left above",
        "jaw.over against apron.top, shoulder, jaw.over above"%s]
%s
"""
READ = [
    "reading apron.l.end apron.screw.x 100.4 fine",
    "reading apron.top apron.screw.z 62.5 fine",
    "reading jaw.left jaw.screw.x 100 fine",
    "reading jaw.over jaw.screw.z 60 fine",
    "close jaw_jaw_apron - - -",
]
SENTENCE = "jaw.screw in line with apron.screw within 1"


@pytest.mark.parametrize(
    ("plan", "name"),
    [(JAW % ("", f'[check]\nscrews = "{SENTENCE}"'), "screws"), (JAW % (f', "{SENTENCE}"', ""), "jaw")],
)
def test_each_axis_is_a_check_with_its_value_and_verdict(plan, name):
    """By hand: 0.4 apart along x, 2.5 in height; two readings and a closed shoulder of 0 +- 0.1."""
    result = found(plan, *READ)
    along, high = result.checks
    assert (along.name, high.name) == (f"{name} x", f"{name} z")
    assert (along.kind, along.verdict, high.verdict) == ("in line", "within", "beyond")
    assert abs(along.value_mm) == near(0.4)
    assert abs(high.value_mm) == near(2.5)
    assert along.expanded_mm == near(2 * hypot(hypot(U_FINE, U_FINE), 0.05))
