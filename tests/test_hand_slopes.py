"""Slopes worked by hand: specs/hand_cases.md, 9. All lengths in mm; all builds are invented."""

from __future__ import annotations

from math import hypot, sqrt

import pytest

from tests.test_hand_cases import SLIP_AIM, SLIP_BAND, U_CUT, U_FINE, U_ROD, found, near, size

TAIL = """
[part.rail]
copies = {{ l = "as drawn", r = "left for right" }}
x = "end 90 shoulder 500 middle"
z = [{z}]
slopes = "lower@shoulder..lower@end {slope}"
"""
PLACED = '"lower 60 upper"'
ON_RUNS = '"lower@shoulder 60 (give 1) upper", "lower@end 75 (give {give}) upper"'


@pytest.mark.parametrize("copy", ["l", "r"])
@pytest.mark.parametrize(("slope", "s"), [("1:6 down", 1 / 6), ("1:8 down", 1 / 8), ("45° down", 1.0)])
def test_the_end_of_a_tail_follows_from_its_shoulder_and_its_length(copy, slope, s):
    result = found(
        TAIL.format(z=PLACED, slope=slope),
        f"reading rail.{copy}.lower@shoulder rail.{copy}.upper 60.4 fine",
        f"reading rail.{copy}.end rail.{copy}.shoulder 93 stick",
    )
    end = result.between(f"rail.{copy}.lower@end", f"rail.{copy}.upper")
    assert end.distance_mm == near(60.4 + s * 93)
    assert end.expanded_mm == near(2 * sqrt(U_FINE**2 + (s * U_ROD) ** 2 + U_CUT**2))


def test_readings_outrank_the_slope():
    result = found(
        TAIL.format(z=PLACED, slope="1:6 down"),
        "reading rail.l.lower@shoulder rail.l.upper 60.4 fine",
        "reading rail.l.lower@end rail.l.upper 77.7 fine",
        "reading rail.l.end rail.l.shoulder 93 stick",
    )
    assert result.between("rail.l.lower@end", "rail.l.upper").distance_mm == near(77.7)
    assert result.between("rail.l.lower@shoulder", "rail.l.upper").distance_mm == near(60.4)
    assert result.between("rail.l.end", "rail.l.shoulder").distance_mm == near(93)


@pytest.mark.parametrize("copy", ["l", "r"])
def test_a_tail_still_to_be_cut_moves_its_end_with_its_length(copy):
    result = found(
        TAIL.format(z=PLACED.replace("60", "60 (give 1)"), slope="1:6 down"),
        f"reading rail.{copy}.end rail.{copy}.shoulder 93 fine",
    )
    end = result.between(f"rail.{copy}.lower@end", f"rail.{copy}.upper")
    assert result.between(f"rail.{copy}.lower@shoulder", f"rail.{copy}.upper").distance_mm == near(60)
    assert end.distance_mm == near(60 + 93 / 6)


@pytest.mark.parametrize("give", [0.25, 1.0, 3.0])
def test_both_ends_share_what_the_length_asks_when_both_stand_on_runs(give):
    result = found(
        TAIL.format(z=ON_RUNS.format(give=give), slope="1:6"), "reading rail.l.end rail.l.shoulder 93 fine"
    )
    more = 3 / 6
    shoulder = size(result, "rail.l.lower@shoulder", "rail.l.upper")
    end = size(result, "rail.l.lower@end", "rail.l.upper")
    assert shoulder.size_mm == near(60 - more * 1 / (1 + give**2))
    assert end.size_mm == near(75 + more * give**2 / (1 + give**2))
    assert end.advice_expanded_mm == near(2 * (give**2 / (1 + give**2)) / 6 * U_FINE)


LAP = """
[part.rail]
copies = {{ l = "as drawn", r = "left for right" }}
x = "end 90 shoulder 500 middle"
z = "lower 60 upper"
slopes = "lower@shoulder..lower@end 1:6 down"
[part.leg]
copies = {{ l = "as drawn", r = "left for right" }}
x = "outer 90 inner"
z = "foot 100 bottom 60 (give {give}) top"
slopes = "bottom@inner..bottom@outer 1:6 down"
[joint.tail]
each = \"\"\"
e
l
r
\"\"\"
meet = ["rail.{{e}}.shoulder against leg.{{e}}.inner, shoulder",
        "rail.{{e}}.lower@shoulder/upper in leg.{{e}}.bottom@inner/top, slip",
        "rail.{{e}}.lower@end/upper in leg.{{e}}.bottom@outer/top, slip"]
"""


@pytest.mark.parametrize("copy", ["l", "r"])
def test_a_notch_laid_out_from_the_real_tail_has_its_width_at_the_shoulder_and_at_the_end(copy):
    """The tail is read at both ends, leg and lap have one depth: both widths of the notch come of one
    line, so both clearances are alike, and lie where one dado would (case 1 with twice the gaps)."""
    give, t = 2.0, 60.4
    result = found(
        LAP.format(give=give),
        f"reading rail.{copy}.lower@shoulder rail.{copy}.upper {t} fine",
        f"reading rail.{copy}.lower@end rail.{copy}.upper {t + 15} fine",
        f"reading rail.{copy}.end rail.{copy}.shoulder 90 fine",
        f"reading leg.{copy}.outer leg.{copy}.inner 90 fine",
    )
    stiff, soft = 1 / give**2, 4 / SLIP_BAND**2
    d = (60 * stiff + (t + SLIP_AIM) * soft) / (stiff + soft)
    notch = size(result, f"leg.{copy}.bottom@inner", f"leg.{copy}.top")
    assert notch.size_mm == near(d)
    assert size(result, f"leg.{copy}.bottom@outer", f"leg.{copy}.top").size_mm == near(d + 15)
    joint = next(one for one in result.joints if f"rail.{copy}" in one.name)
    widths = [one for one in joint.contacts if one.kind == "housing"]
    assert [one.clearance_mm for one in widths] == [near(d - t), near(d - t)]
    assert widths[0].expanded_mm == near(2 * hypot(U_FINE, 0.07))
