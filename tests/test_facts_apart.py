"""Made wood that contradicts itself in two places is told of twice, each with its own excess."""

from __future__ import annotations

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.build.shoplog import Row

PLAN = """
unit = "mm"
give = 2
fits = { slip = ["0.1", "0.3", "0.6"] }
[tool.stick]
good_to = 4
[part.leg]
copies = ["a", "b", "c", "d"]
x = "left 90 right"
[part.apron]
copies = ["f", "r"]
x = "l.a 90.3 l.b 900 r.a 90.3 r.b"
[joint.dado]
each = '''
apron e leg
f l a
f r b
r l c
r r d
'''
meet = "leg.{leg}.left/right in apron.{apron}.{e}.a/b, slip"
[check]
parallel = "leg.a.right..leg.b.left = leg.c.right..leg.d.left, within 5"
"""


def contradictions(*spacings: tuple[str, str, str, str]):
    rows = [("made", f"leg.{leg}") for leg in "abcd"]
    rows += [("reading", f"leg.{leg}.left", f"leg.{leg}.right", "90", "caliper") for leg in "abcd"]
    for apron in "fr":
        for start, end, size in (("l.a", "l.b", "90.3"), ("l.b", "r.a", "900"), ("r.a", "r.b", "90.3")):
            rows.append(("reading", f"apron.{apron}.{start}", f"apron.{apron}.{end}", size, "caliper"))
    rows += [("reading", *one) for one in spacings]
    log = tuple(Row(no, "2025-03-10T09:00:00", *row) for no, row in enumerate(rows, 1))
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(PLAN), log=log)).contradictions


# By hand: each dado leaves 0.15 mm on either side of its leg, so the legs may stand up to 900.6 apart;
# at 902 they are 1.4 mm too far.
FRONT = ("leg.a.right", "leg.b.left", "902", "caliper")


def test_one_apron_that_cannot_go_on_is_one_contradiction():
    (found,) = contradictions(FRONT)
    assert found.facts


def test_a_coarse_reading_elsewhere_does_not_hide_it():
    found = contradictions(FRONT, ("leg.c.right", "leg.d.left", "901.5", "stick"))
    assert len(found) == 1


def test_two_aprons_that_cannot_go_on_are_two():
    found = contradictions(FRONT, ("leg.c.right", "leg.d.left", "902", "caliper"))
    assert len(found) == 2


def test_two_aprons_over_one_frame_are_two():
    between = [("leg.a.left", "leg.c.left", "0", "caliper"), ("leg.c.right", "leg.d.left", "902", "caliper")]
    assert len(contradictions(FRONT, *between)) == 2
