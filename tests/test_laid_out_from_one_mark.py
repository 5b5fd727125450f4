"""How well cuts are foreseen: each is laid out from where the figures of its part run from, whatever else of it is made.

By hand; in mm, builds invented. As in the hand cases workmanship is ± 0.6, of a width ± 0.14 (k = 2).
"""

from __future__ import annotations

import pytest

from tests.test_hand_cases import found, near

SIDE = """
[tool.worn]
good_to = 1.3
[part.side]
z = "foot 490 groove.lo 20 groove.hi 490 head"
[part.shelf]
z = "under 20 over"
[joint.groove]
meet = "shelf.under/over in side.groove.lo/hi, slip"
"""


@pytest.mark.parametrize("head", [460, 490, 520])
def test_a_groove_between_two_made_ends_is_as_wide_as_it_is_cut(head):
    """Half way between them too: both walls are set from one end, and how long the side is does not come in."""
    plan = SIDE.replace("490 head", f"{head} head")
    result = found(plan, "made side.foot - - -", "made side.head - - -", "reading shelf.under shelf.over 20 fine")
    assert result.joints[0].contacts[0].expanded_mm == pytest.approx((0.1**2 + 0.14**2) ** 0.5)


def test_what_is_laid_out_from_the_far_end_errs_by_the_length_too():
    """The length is read ± 1.3; the groove is laid out from the foot, so its place from the head errs by that, by
    where it is cut and by half of how true its width comes."""
    plan = SIDE + '[check]\nplace = "side.groove.hi..head = 490, within 1"\n'
    (check,) = found(plan, "reading side.foot side.head 1000 worn").checks
    assert check.expanded_mm == pytest.approx((1.3**2 + 0.6**2 + 0.07**2) ** 0.5)


def test_a_hole_in_a_tenon_is_laid_out_from_its_shoulder():
    """The far one of two, on a rail of which the length is read ± 1.3: that does not come in. The shoulder is closed
    (± 0.1), the leg's hole read (± 0.1), the tenon's bored (± 0.6)."""
    plan = """
[tool.worn]
good_to = 1.3
[part.rail]
x = "end 500 shoulder 40 tip"
z = "under 80 over"
[part.leg]
x = "inner 70 outer"
z = "foot 700 head"
holes = { pin = ["15 from inner", "140 from foot"] }
[joint.tenon]
meet = ["rail.shoulder against leg.inner, tight-up", "peg leg.pin 10, draw 1.5"]
"""
    rows = ["reading rail.end rail.shoulder 500 worn", "reading leg.pin.x leg.inner 15 fine", "close tenon_rail_leg - - -"]
    (peg,) = found(plan, *rows).pegs
    assert not peg.bored
    assert peg.offset == (near(1.5), pytest.approx((0.1**2 + 0.1**2 + 0.6**2) ** 0.5))
