"""Readings across parts that nothing checks: held against the plan, with the play of open joints allowed.

By hand: post 0..100; rail 97..597 with its end 3 short of the floor at 100 (a room of 0 to 20: 17 more, or
3 less); beam in a housing on the rail with a most of 4, so 2 either way; all on x.
"""

from __future__ import annotations

import pytest
from cli_folder import folder_of
from plans import worked

import fitsolve
from fitsolve.findings.play import play_mm

PLAN = """\
unit = "mm"
give = 1
workmanship = 0.5
fits = { roomy = [0, 2, 4] }
[part.post]
x = "left 100 right"
[part.rail]
x = "left 500 right"
[part.beam]
x = "l 502 r 10 far"
[joint.end]
meet = ["rail.left short of post.right by 0 to 20, rail above"]
[joint.top]
meet = ["rail.left/right in beam.l/r, roomy"]
"""


def marks(assembly, *names):
    return [assembly.index[name] for name in names]


def test_play_adds_up_from_part_to_part():
    plan = worked(PLAN)
    post, rail, beam = marks(plan, "post.right", "rail.right", "beam.far")
    room = plan.contacts[0]
    gap = plan.marks[room.marks[1]].plan_mm - plan.marks[room.marks[0]].plan_mm
    assert play_mm(plan, [post, rail]) == max(20 - gap, gap)
    assert play_mm(plan, [rail, beam]) == 2
    assert play_mm(plan, [post, beam]) == max(20 - gap, gap) + 2
    assert play_mm(plan, [post, post - 1]) == 0


def test_a_closed_joint_leaves_none_but_a_room_stays_open():
    plan = worked(PLAN)
    post, rail, beam = marks(plan, "post.right", "rail.right", "beam.far")
    assert play_mm(plan, [rail, beam], {0, 1}) == 0
    assert play_mm(plan, [post, rail], {0, 1}) > 0


def test_of_two_axes_the_play_is_that_along_both():
    # Along z the rail stands in a housing of its own on the post, 4 at most: 2 either way.
    plan = worked(
        PLAN.replace('x = "left 100 right"', 'x = "left 100 right"\nz = "low 52 high"').replace(
            'x = "left 500 right"', 'x = "left 500 right"\nz = "under 50 over"'
        )
        + '[joint.up]\nmeet = ["rail.under/over in post.low/high, roomy"]\n'
    )
    along_x, along_z = marks(plan, "post.right", "rail.right"), marks(plan, "post.low", "rail.under")
    assert play_mm(plan, along_z) == 2
    assert play_mm(plan, [*along_x, *along_z]) == play_mm(plan, along_x) + 2


def test_the_tightest_way_counts():
    plan = worked(PLAN + '[joint.stop]\nmeet = ["rail.right short of beam.far by 0 to 40, beam above"]\n')
    assert play_mm(plan, marks(plan, "rail.left", "beam.l")) == 2


@pytest.mark.parametrize("off, suspect", [(7.9, False), (8.2, True), (-7.9, False), (-8.2, True)])
def test_what_the_play_explains_is_no_slip(tmp_path, off, suspect):
    # rail.right to beam.far is 11 in plan (1 of the housing and 10); 6 and 2 of play more are allowed
    plan = worked(PLAN)
    there, here = (plan.marks[plan.index[name]].plan_mm for name in ("beam.far", "rail.left"))
    rows = f"reading,rail.left,beam.far,{there - here + off:.3f},rule,\n"
    found = fitsolve.reconcile(fitsolve.load(folder_of(tmp_path / "b", plan=PLAN, rows=rows)))
    assert [doubt.suspect for doubt in found.doubts] == [suspect]
