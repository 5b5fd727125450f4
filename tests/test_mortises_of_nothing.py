"""The plan as understood says which mortises nothing goes in: their piece was left out, or is called otherwise."""

from __future__ import annotations

import pytest
from cli_folder import folder_of, run

PLAN = """
unit = "mm"
workmanship = 0.4
[part.leg]
copies = ["l", "r"]
x = "outer 60 inner"
z = "foot 100 low.a 60 low.b 340 up.a 60 up.b 40 head"
[part.rail]
copies = ["low", "up"]
x = "l.shoulder 700 r.shoulder"
z = "bottom 60 top"
[joint.tenon]
each = '''
m    e
low  l
low  r
up   l
up   r
'''
meet = ["rail.{m}.{e}.shoulder against leg.{e}.inner, tight-up", "rail.{m}.bottom/top in leg.{e}.{m}.a/{m}.b, slip"]
"""
NO_UPPER = PLAN.replace('copies = ["low", "up"]', 'copies = ["low"]').replace("up   l\nup   r\n", "")


def unused(at, plan):
    """What `plan` says of walls of nothing."""
    lines = run("plan", at=folder_of(at / "b", plan)).stdout.splitlines()
    return [line for line in lines if line.startswith("UNUSED")]


def test_an_upper_rail_that_was_left_out(tmp_path):
    assert unused(tmp_path, NO_UPPER) == ["UNUSED    nothing goes between up.a/up.b of leg.l and leg.r"]


@pytest.mark.parametrize(
    "plan",
    [
        PLAN,
        NO_UPPER.replace("up.a 60 up.b", "line 60 other"),  # marks to lay out by: no walls of one name
        NO_UPPER + '[check]\nhigh = "leg.l.up.a..up.b = 60, within 1"\n',  # one leg's is asked for: of a copy it is the same
    ],
)
def test_nothing_is_said_of_what_is_used_or_only_laid_out(tmp_path, plan):
    assert unused(tmp_path, plan) == []
