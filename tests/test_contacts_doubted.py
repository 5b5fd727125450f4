"""A closed contact is held against the readings like one of them: a shoulder may stand off."""

from __future__ import annotations

import pytest

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.report.doubtwords import stop_texts
from fitsolve.report.waits import held_up, joint_waits

PLAN = """
format = 1
unit = "mm"
[part.leg]
y = "face 90 back"
[part.rail]
y = "shoulder 400 tail"
[part.post]
y = "face 90 back"
[joint.left]
meet = "rail.shoulder against leg.back, tight-up"
[joint.right]
meet = "rail.tail against post.face, tight-up"
"""
TIME = "2025-11-25T14:10:00+00:00"


def reading(start, end, length, tool="caliper"):
    return fitsolve.Row(time=TIME, event="reading", start=start, end=end, reading=length, tool=tool)


def closed(joint):
    return fitsolve.Row(time=TIME, event="close", start=joint, note="glued")


def frame(rail_read=("400.0",)):
    """Two legs and a rail glued between them. Three readings over the joints say 401, the rail says 400."""
    return fitsolve.reconcile(
        fitsolve.Build(
            plan=read_plan(PLAN),
            log=[
                reading("leg.face", "leg.back", "90"),
                reading("post.face", "post.back", "90"),
                *(reading("rail.shoulder", "rail.tail", length) for length in rail_read),
                closed("left rail leg"),
                closed("right rail post"),
                reading("leg.face", "post.back", "581"),
                reading("leg.back", "post.face", "401"),
                reading("leg.face", "post.face", "491"),
            ],
        )
    )


def named(one):
    return {(who.kind, who.number) for who in (one.worst, *one.equals)}


def test_the_rail_or_either_shoulder_may_be_wrong():
    (one,) = frame().suspicions
    assert named(one) == {("reading", 3), ("contact", 0), ("contact", 1)}
    assert one.worst.kind == "reading", "of what is alike, a reading first"
    assert one.worst.error_mm == pytest.approx(-1.0, abs=0.05)
    assert one.rest_agrees


def test_read_again_and_again_the_rail_is_right_and_a_shoulder_stands_off():
    found = frame(("400.0", "400.0", "400.0"))
    (one,) = found.suspicions
    assert named(one) == {("contact", 0), ("contact", 1)}
    text = stop_texts(found)[0]
    assert text[0].startswith("left rail leg, closed: by what the readings say its parts stand ")
    assert "right rail post is 0.9" in text[1] or "right rail post is 1.0" in text[1]
    assert not found.all_well


def test_where_all_agrees_nothing_is_doubted():
    found = frame(("401.0",))
    assert found.suspicions == ()


def test_what_a_joint_moves_that_may_stand_off_waits():
    # A shelf still to be cut goes between the legs: where the rail's shoulders are, tells how long it is.
    plan = (
        PLAN
        + '[part.shelf]\ny = "near 400 (give 2) far"\n[keep]\nfill = "shelf.near..far = leg.back..post.face, give 1"\n'
    )
    log = [
        reading("leg.face", "leg.back", "90"),
        reading("post.face", "post.back", "90"),
        *(reading("rail.shoulder", "rail.tail", "400.0") for _ in range(3)),
        closed("left rail leg"),
        closed("right rail post"),
        reading("leg.face", "post.back", "581"),
        reading("leg.back", "post.face", "401"),
        reading("leg.face", "post.face", "491"),
    ]
    found = fitsolve.reconcile(fitsolve.Build(plan=read_plan(plan), log=log))
    assert joint_waits(found) == {"shelf": "left rail leg may not be home"}
    assert held_up(found)["shelf"] == "left rail leg may not be home, see STOP. If it is:"
