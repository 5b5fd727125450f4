"""Where several ways lead to a value each has its least-squares share. By hand, and by numpy; all is invented, in mm."""

from __future__ import annotations

import numpy as np
import pytest

from fitsolve.findings.checks import check_values, worst_of
from fitsolve.findings.takeup import take_up
from tests.test_hand_cases import found

TWO_RAILS = """
[part.leg]
copies = { l = "as drawn", r = "left for right" }
x = "outer 80 inner"
[part.rail]
copies = ["low", "high"]
x = "l 1000 r"
[part.half]
copies = ["a", "b"]
x = "l 500 r"
[joint.rail]
meet = ["rail.low.l against leg.l.inner, shoulder", "rail.low.r against leg.r.inner, shoulder",
        "rail.high.l against leg.l.inner, shoulder", "rail.high.r against leg.r.inner, shoulder"{more}]
[check]
wide = "leg.l.outer..leg.r.outer = 1150, within 0.5"
"""
HALVES = """,
        "half.a.l against leg.l.inner, shoulder", "half.a.r against half.b.l, shoulder",
        "half.b.r against leg.r.inner, shoulder\""""
LEGS = [f"reading leg.{leg}.outer leg.{leg}.inner 80 fine" for leg in "lr"]


def portions_of(plan: str):
    result = found(plan, *LEGS)
    check = result.assembly.checks[0]
    worst = worst_of(check_values(result.solved, check))
    assert worst.value_mm == pytest.approx(10.0, abs=0.05)
    cure = take_up(result.solved, check, worst)
    distances = result.assembly.distances
    return {distances[one.distance].part: one for one in cure.portions.sizes}, cure, worst


def test_of_two_rails_between_the_same_legs_each_takes_half():
    sizes, cure, worst = portions_of(TWO_RAILS.replace("{more}", "").replace('[part.half]\ncopies = ["a", "b"]\nx = "l 500 r"\n', ""))
    assert set(sizes) == {"rail.low", "rail.high"}
    for one in sizes.values():
        assert one.more_mm == pytest.approx(-10.0, abs=0.05)  # both have to come down by it all
        assert one.adds_mm == pytest.approx(-5.0, abs=0.05)
    whole = sum(one.adds_mm for one in sizes.values()) + sum(mm for _, mm in cure.portions.joints) + cure.portions.set_mm
    assert whole == pytest.approx(-worst.value_mm, abs=0.02)


def test_three_ways_share_as_least_squares_has_it():
    """Two rails, and two halves one behind the other. Each size as an observation of equal weight of how far the legs
    are apart: w1 = e, w2 = e, w3 + w4 = e; v moves with each as numpy's pseudo-inverse has it, by hand 2/5, 2/5 and
    twice 1/5."""
    sizes, _, worst = portions_of(TWO_RAILS.replace("{more}", HALVES))
    # unknowns: place of the middle between the halves, and of the right leg, from the left one
    rows = np.array([[0.0, 1.0], [0.0, 1.0], [1.0, 0.0], [-1.0, 1.0]])
    share = np.linalg.pinv(rows)[1]
    assert share == pytest.approx([0.4, 0.4, 0.2, 0.2])
    by_hand = dict(zip(("rail.low", "rail.high", "half.a", "half.b"), share, strict=True))
    for part, one in sizes.items():
        assert one.adds_mm == pytest.approx(by_hand[part] * one.more_mm, abs=0.02)
    assert sum(one.adds_mm for one in sizes.values()) == pytest.approx(-worst.value_mm, abs=0.05)
