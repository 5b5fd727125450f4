"""Holes in line: value, U and verdict on each axis. All lengths in mm; the build is invented."""

from __future__ import annotations

from math import hypot

import pytest

from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.errors import BuildError
from tests.test_hand_cases import HEAD, U_FINE, found, near

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


STARS = """
[part.apron]
copies = {{ f = "as drawn", r = "front for rear" }}
x = "l.end 900 r.end"
y = "show 30 back"
z = "low 120 top"
holes = {{ a = ["450 from l.end", "60 from top"], b = ["450 from l.end", "60 from top"] }}
[part.pad]
copies = ["1", "2", "3"]
x = "left 200 right"
z = "under 120 over"
holes = {{ a = ["100 from left", "60 from over"] }}
[check]
lined = "{sentence}"
"""


@pytest.mark.parametrize(
    ("sentence", "names"),
    [
        ("pad.1.a in line with apron.*.a within 1", ["pad.1 apron.f", "pad.1 apron.r"]),
        ("pad.*.a in line with apron.f.a within 1", ["pad.1 apron.f", "pad.2 apron.f", "pad.3 apron.f"]),
        ("pad.*.a in line with pad.*.a within 1", ["pad.1 pad.2", "pad.1 pad.3", "pad.2 pad.3"]),
        ("apron.*.a in line with pad.*.a within 1",
         [f"apron.{e} pad.{k}" for e in "fr" for k in "123"]),
    ],
)  # fmt: skip
def test_a_star_stands_for_each_copy(sentence, names):
    checks = assemble(read_plan('unit = "mm"\n' + STARS.format(sentence=sentence))).checks
    assert [check.name for check in checks] == [f"lined {name} {axis}" for name in names for axis in "xz"]


@pytest.mark.parametrize(
    ("sentence", "what"),
    [
        ("pad.*.a in line with pad.2.a within 1", "both belong to one part"),
        ("apron.*.a in line with apron.*.b within 1", "both belong to one part"),
        ("pad.*.q in line with apron.f.a within 1", 'pad.1 has no mark "q"'),
        ("lid.*.a in line with apron.f.a within 1", "there is no part"),
        ("pad.*.*.a in line with apron.f.a within 1", "a star stands for the copy of a part"),
    ],
)
def test_a_star_that_means_nothing_is_refused(sentence, what):
    with pytest.raises(BuildError) as caught:
        assemble(read_plan('unit = "mm"\n' + STARS.format(sentence=sentence)))
    assert what in caught.value.problems[0].what


SPACED = """
[part.jaw]
x = "left 600 right"
z = "low 120 top"
holes = { a = ["100 from left", "60 from top"], b = ["500 from left", "60 from top"] }
[part.apron]
x = "l.end 900 r.end"
z = "low 120 top"
holes = { a = ["300 from l.end", "60 from top"], b = ["700 from l.end", "60 from top"] }
[keep]
screws = "jaw.a.x..jaw.b.x = apron.a.x..apron.b.x, give 0.5"
"""


def test_by_a_keep_holes_are_laid_out_from_those_they_stand_opposite():
    """The jaw's came out 2 nearer to each other. The apron's move t each, gives of 1, and what is left counts by
    0.5: 2 t^2 + ((2 - 2 t) / 0.5)^2 is least for t = (2 / 0.25) / (1 + 2 / 0.25) = 8 / 9."""
    result = found(SPACED, "reading jaw.a.x jaw.b.x 398 fine", head=HEAD.replace("[tool.fine]", "give = 1\n[tool.fine]"))
    at = {one.end: one.size_mm for one in result.distances if one.start == "apron.l.end"}
    assert at["apron.a.x"] == near(300 + 8 / 9)
    assert at["apron.b.x"] == near(700 - 8 / 9)
    assert at["apron.r.end"] == near(900)
