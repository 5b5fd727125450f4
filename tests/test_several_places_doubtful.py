"""A part that hardly goes on though no one place is too tight for sure: no screen says more than is known."""

from __future__ import annotations

import pytest
from cli_folder import folder_of, run

PLAN = """
unit = "mm"
workmanship = 0.4
[tool.caliper]
good_to = 0.1
[fits]
slide = [0, 0.2, 0.5]
[part.post]
copies = ["a", "b", "c"]
x = "left 30 right"
[part.bar]
x = "l.end 100 a.near 30.2 a.far 100 b.near 30.2 b.far 100 c.near 30.2 c.far 100 r.end"
[joint.slide]
each = '''
n
a
b
c
'''
meet = "post.{n}.left/right in bar.{n}.near/far, slide"
"""
BETWEEN = (("l.end", "a.near"), ("a.far", "b.near"), ("b.far", "c.near"), ("c.far", "r.end"))
ROWS = "".join(f"reading,bar.{start},bar.{end},100,caliper,\n" for start, end in BETWEEN) + "".join(
    f"reading,post.{n}.left,post.{n}.right,30.06,caliper,\nreading,bar.{n}.near,bar.{n}.far,30,caliper,\n" for n in "abc"
)


@pytest.fixture(scope="module")
def build(tmp_path_factory):
    """By hand: each post is 0.06 too wide, ± 0.1 sqrt 2 (k = 2), u 0.0707: it goes in with a chance of 1 - Phi(0.85),
    0.198; all three with 0.198^3 = 0.008, for the posts still stand where they like."""
    return folder_of(tmp_path_factory.mktemp("three") / "b", PLAN, ROWS)


def test_sizes_say_that_no_one_place_is_too_tight_for_sure(build):
    said = " ".join(run("sizes", "--part", "bar", at=build).stdout.split())
    assert "bar jams chance 0.01 that it goes on all 3 joints at once" in said
    assert "no one place is too tight for sure, but hardly all of them go; the least is 0.06 mm too little, ± 0.15" in said


def test_where_things_stand_claims_no_more(build):
    said = " ".join(run(at=build).stdout.split())
    assert "is tight as it is made" not in said
    assert "bar hardly goes on all its joints at once as made, slide post.a bar among them; what would save it" in said


def test_one_place_that_is_too_tight_is_called_so(tmp_path):
    # By hand: 0.13 over, u 0.0707, which is tight with a chance of 0.967; the others are 30 in 30.2, just at their aim.
    rows = ROWS.replace("right,30.06", "right,30").replace("post.b.right,30,", "post.b.right,30.13,")
    rows = rows.replace("far,30,", "far,30.2,").replace("b.far,30.2,", "b.far,30,")
    said = " ".join(run(at=folder_of(tmp_path / "b", PLAN, rows)).stdout.split())
    assert "slide post.b bar is tight as it is made; what would save it" in said
