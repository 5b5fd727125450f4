"""Marks that are made do not move against each other, whichever runs they stand in. By hand; in mm, builds invented."""

from __future__ import annotations

import pytest

from tests.test_hand_cases import found, near

CAP = """
[part.key]
x = "g 14 h"
[part.cap]
x = ["u 54 x", "u 20 v", "w 20 x"]
[joint.key]
meet = "key.g/h in cap.v/w, slip"
"""
CUT = 0.6
"""Workmanship of these builds (k = 2)."""


@pytest.mark.parametrize("made", [["cap.u", "cap.v", "cap.w"], ["cap.v", "cap.w"], ["cap.v", "cap.w", "cap.x"]])
def test_a_dado_of_two_runs_stays_as_it_was_cut_though_the_mark_between_them_is_not(made):
    """v..w is 54 - 20 - 20 = 14 in the plan; each of the two was a cut of its own."""
    result = found(CAP, *(f"made {mark} - - -" for mark in made), "reading key.g key.h 13 fine")
    apart = result.between("cap.v", "cap.w")
    assert apart.distance_mm == near(14)
    if "cap.x" not in made:
        assert apart.expanded_mm == near(CUT * 2**0.5)
    assert result.joints[0].contacts[0].clearance_mm == near(1)


def test_steps_of_two_runs_lie_as_far_apart_as_they_were_cut():
    plan = """
[part.apron]
z = ["low 100 top", "low 20 l.step", "low 25 r.step"]
"""
    apart = found(plan, "made apron.l.step - - -", "made apron.r.step - - -").between("apron.l.step", "apron.r.step")
    assert (apart.distance_mm, apart.expanded_mm) == (near(5), near(CUT * 2**0.5))


def test_what_is_read_there_counts_alone():
    rows = ["made cap.u - - -", "made cap.v - - -", "made cap.w - - -", "reading cap.v cap.w 14.3 fine"]
    assert found(CAP, *rows).between("cap.v", "cap.w").distance_mm == near(14.3)
