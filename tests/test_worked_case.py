"""A worked case in inches: four legs, two aprons, four readings by caliper and three by tape.

Expected values: computed with a dense independent program, printed to four places.
"""

from __future__ import annotations

import pytest

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.build.shoplog import Row

PLAN = """
unit = "in"
give = "1/16"
fits = { slip = ["0.002", "0.008", "0.016"] }
[tool.caliper]
good_to = "0.002"
[tool.tape]
good_to = "1/32"
per_length = 0.0005
[part.leg]
copies = ["fl", "fr", "rl", "rr"]
x = "left 3 1/2 right"
[part.apron]
copies = ["front", "rear"]
x = ["left-end 60 (hold) right-end",
     "left-end 6 (give 1/8) dado-l.left 3 1/2 dado-l.right 41 dado-r.left 3 1/2 dado-r.right 6 (give 1/8) right-end"]
[joint.dado]
each = '''
apron  e  leg
front  l  fl
front  r  fr
rear   l  rl
rear   r  rr
'''
meet = "leg.{leg}.left/right in apron.{apron}.dado-{e}.left/right, slip"
[keep]
ends = "apron.front.left-end..dado-l.left = dado-r.right..right-end, give 1/32"
"""

READINGS = [
    ("leg.fl.left", "leg.fl.right", "3.531", "caliper"),
    ("leg.fr.left", "leg.fr.right", "3.488", "caliper"),
    ("leg.rl.left", "leg.rl.right", "3 33/64", "caliper"),
    ("leg.rr.left", "leg.rr.right", "3.502", "caliper"),
    ("leg.fl.right", "leg.fr.left", "41 3/32", "tape"),
    ("leg.fl.left", "leg.fr.right", "48 1/8", "tape"),
    ("leg.rl.right", "leg.rr.left", "40 31/32", "tape"),
]

FRONT = [60.0, 5.9369, 3.5390, 41.0910, 3.4963, 5.9369]
REAR = [60.0, 6.0029, 3.5234, 40.9611, 3.5098, 6.0029]
CLEARANCES = [0.0080, 0.0083, 0.0077, 0.0078]


@pytest.fixture(scope="module")
def found():
    rows = tuple(
        Row(no, "2025-03-10T09:00:00", "reading", start, end, reading, tool)
        for no, (start, end, reading, tool) in enumerate(READINGS, 1)
    )
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(PLAN), log=rows))


@pytest.mark.parametrize(("part", "expected"), [("apron.front", FRONT), ("apron.rear", REAR)])
def test_sizes(found, part, expected):
    sizes = [one.size_mm / 25.4 for one in found.distances if one.part == part]
    assert sizes == pytest.approx(expected, abs=1e-4)


def test_clearances(found):
    clearances = [contact.clearance_mm / 25.4 for joint in found.joints for contact in joint.contacts]
    assert clearances == pytest.approx(CLEARANCES, abs=1e-4)


def test_pieces_add_up_to_the_held_length(found):
    for part in ("apron.front", "apron.rear"):
        overall, *pieces = [one.size_mm for one in found.distances if one.part == part]
        assert sum(pieces) == pytest.approx(overall, abs=1e-9)
        assert overall == pytest.approx(60 * 25.4, abs=1e-9)
