"""Pegs on the screen: each by its name, counted as it is told; what is pegged is not called glued."""

from __future__ import annotations

import re

import pytest
from cli_folder import folder_of, rows_on_disk, run

PLAN = """
unit = "mm"
workmanship = 0.3
give = 1
[tool.caliper]
good_to = "0.05"
[part.post]
copies = {{ l = "as drawn", r = "left for right" }}
x = "outer 60 inner"
z = ["foot 700 head", "foot 300 low 80 up"]
holes = {{ pin-a = ["18 from inner", "320 from foot"], pin-b = ["18 from inner", "360 from foot"] }}
[part.rail]
x = "l.end 42 l.shoulder 700 r.shoulder 42 r.end"
z = "low 80 up"
[joint.tenon]
each = '''
e
l
r
'''
meet = ["rail.{{e}}.shoulder against post.{{e}}.inner, tight-up", "rail.low/up in post.{{e}}.low/up, slip",
        {pegs}]
"""
TWO = ", ".join(f'"peg post.{{e}}.{pin} 10, draw 1.5"' for pin in ("pin-a", "pin-b"))


@pytest.fixture
def build(tmp_path):
    """Two pegs a joint. One mortise's hole is read at 18, and its tenon's bored at 19: by hand, 1 mm away from the
    shoulder. The other three were never read."""
    at = folder_of(tmp_path / "b", PLAN.format(pegs=TWO))
    for words in (("made", "post.l"), ("made", "post.r"), ("read", "post.l", "inner", "pin-a.x", "18", "--tool", "caliper"),
                  ("made", "rail"), ("read", "rail", "l.shoulder", "l.pin-a", "19", "--tool", "caliper")):  # fmt: skip
        assert run(*words, at=at).exit_code == 0
    return at


def block(at):
    """The lines of the block on pegs."""
    return re.search(r"^PEGS.*?(?=^[A-Z])", run("sizes", at=at).stdout, re.MULTILINE | re.DOTALL).group().splitlines()


def test_they_are_counted_as_they_are_told(build):
    lead, *lines = block(build)
    assert lead == "PEGS      1 does not draw, 3 to be read"
    told = [line.rsplit("   ", 1)[1] for line in lines if re.match(r"   \S", line)]
    assert sorted(told) == ["does not draw", "to be read", "to be read", "to be read"]


def test_several_of_a_joint_are_told_apart_by_their_holes(build):
    named = [line.rsplit("   ", 1)[0].strip() for line in block(build)[1:] if re.match(r"   \S", line)]
    assert named == [f"tenon rail post.{e}, post.{e}.{pin}" for e in "lr" for pin in ("pin-a", "pin-b")]


def test_one_of_a_joint_needs_no_more_name(tmp_path):
    at = folder_of(tmp_path / "b", PLAN.format(pegs='"peg post.{e}.pin-a 10, draw 1.5"'))
    assert [line.strip().rsplit("   ", 1)[0] for line in block(at) if re.match(r"   \S", line)] == [
        "tenon rail post.l", "tenon rail post.r"]  # fmt: skip


@pytest.mark.parametrize(("way", "held", "apart"), [
    ("--pegged", "pegged", "drilled out or cut apart"), ("--glued", "glued", "cut apart"),
])  # fmt: skip
def test_what_holds_a_joint_is_called_by_its_name(build, way, held, apart):
    assert run("close", "tenon", "post.l", way, "--sure", at=build).exit_code == 1
    count = len(rows_on_disk(build))
    result = run("remake", "rail", at=build)
    assert (result.exit_code, len(rows_on_disk(build))) == (2, count)
    assert f"  {held}, and must be {apart}: tenon rail post.l\n" in result.stdout
    assert f"tenon rail post.l is {held}: it does not open\n  {apart[0].upper()}{apart[1:]}? Then: " in result.stderr
    assert f"{held.upper():10}1 of 2 joints: tenon rail post.l" in run(at=build).stdout
