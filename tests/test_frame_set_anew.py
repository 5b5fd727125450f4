"""What was only set so is set anew, and not cut: parts that nothing joins, or that sit in dry joints.

By hand; builds are invented. All in mm.
"""

from __future__ import annotations

from math import hypot

import pytest

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.findings.checks import check_values, worst_of
from fitsolve.findings.mending import resetting
from fitsolve.report.wherewords import check_texts
from tests.test_frame_square import COPIES, POSTS, A, B, _row, read_diagonals, read_sides
from tests.test_hand_cases import HEAD

RAILED = """
[part.leg]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = "outer 80 inner"
y = ["face 80 back", "face 20 cheek-a 40 cheek-b 20 back"]
z = ["foot 700 head", "foot 100 edge-b 60 edge-t 540 head"]
[part.rail]
copies = ["front", "rear"]
x = "l.shoulder 1000 r.shoulder"
y = "show 39.8 back"
z = "bottom 59.7 top"
[joint.long]
each = '''
rail   e  leg
front  l  fl
front  r  fr
rear   l  rl
rear   r  rr
'''
meet = ["rail.{rail}.{e}.shoulder against leg.{leg}.inner, shoulder",
        "rail.{rail}.show/back in leg.{leg}.cheek-a/cheek-b, wide",
        "rail.{rail}.bottom/top in leg.{leg}.edge-b/edge-t, wide"]
[check]
wind = "wind leg.*.head, within 0.1"
level = "level leg.*.head, within 0.1"
"""
PARTS = [
    f"reading {part}.{a} {part}.{b} {mm} exact -"
    for part, runs in [
        *((f"leg.{leg}", [("foot", "head", 700), ("foot", "edge-b", 100), ("edge-b", "edge-t", 60)]) for leg in COPIES),
        *((f"rail.{one}", [("bottom", "top", 59.7), ("l.shoulder", "r.shoulder", 1000), ("show", "back", 39.8)])
          for one in ("front", "rear")),
    ]
    for a, b, mm in runs
]  # fmt: skip
JOINTS = [f"long rail.{rail} leg.{leg}" for rail, leg in zip(("front", "front", "rear", "rear"), COPIES, strict=True)]


def heads(**high):
    """How much higher than leg.fl.head the other heads stand, exactly."""
    rows = []
    for leg in COPIES[1:]:
        off, proud = high.get(leg, 0.0), f"proud leg.{leg if high.get(leg, 0.0) > 0 else 'fl'}.head"
        rows.append(f"reading leg.fl.head leg.{leg}.head {abs(off)} exact {proud if off else '-'}")
    return rows


def build(plan, *rows, closed=()):
    log = [_row(row) for row in rows]
    shut = [fitsolve.Row(time="2025-11-25T14:10:00+00:00", event="close", start=name, note=how) for name, how in closed]
    last = len(rows) if not closed else len(PARTS)
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(HEAD + plan), log=[*log[:last], *shut, *log[last:]]))


def last_words(found, name):
    number = next(k for k, check in enumerate(found.checks) if check.name == name)
    return check_texts(found, number)[-1]


def test_legs_that_nothing_joins_are_moved_and_not_planed():
    found = build(RAILED, *PARTS, *heads(rr=3.0))
    assert found.checks[0].value_mm == pytest.approx(3.0, abs=1e-6)
    for name in ("wind", "level"):
        said = last_words(found, name)
        assert "no closed joint ties leg." in said
        assert "move or shim them, say fitsolve apart, and read across again" in said
        assert "Plane" not in said


def test_a_leg_in_a_dry_joint_is_set_anew_where_its_play_allows():
    """Tenons 59.7 in mortises of 60, 0.3 of play. fr stands 0.2 higher: each of the two joints of the front is 0.1
    out of its middle, so that fl can go up by 0.15 + 0.1, more than enough."""
    found = build(RAILED, *PARTS, *heads(fr=0.2), closed=[(name, "dry") for name in JOINTS])
    worst = worst_of(check_values(found.solved, found.assembly.checks[0]))
    assert abs(worst.value_mm) == pytest.approx(0.2, abs=1e-5)
    one = resetting(found.solved, worst)
    assert (one.parts, one.axis, one.by_mm, one.left_mm) == (
        ("leg.fl",), "z", pytest.approx(0.2, abs=1e-5), pytest.approx(0.0, abs=1e-5)
    )  # fmt: skip
    assert last_words(found, "wind").endswith(
        "But long rail.front leg.fl is closed dry: open it, set leg.fl 0.2 higher, close and read again"
    )


def test_what_is_left_then_is_told_and_cut_only_where_it_is_too_much():
    """fr 0.5 higher: 0.25 out of the middle each, 0.15 + 0.25 to go, and 0.1 is left, which is just what will do."""
    found = build(RAILED, *PARTS, *heads(fr=0.5), closed=[(name, "dry") for name in JOINTS])
    one = resetting(found.solved, worst_of(check_values(found.solved, found.assembly.checks[0])))
    assert (one.by_mm, abs(one.left_mm)) == (pytest.approx(0.4, abs=1e-4), pytest.approx(0.1, abs=1e-4))
    tight = build(RAILED.replace("within 0.1", "within 0.05"), *PARTS, *heads(fr=0.5), closed=[(n, "dry") for n in JOINTS])
    assert "set leg.fl 0.4 higher, close and read again; that leaves 0.1. Else plane 0.5 off" in last_words(tight, "wind")


def test_what_is_glued_stays_and_dry_joints_beside_it_are_still_moved():
    glued = build(RAILED, *PARTS, *heads(fr=0.2), closed=[(name, "glued") for name in JOINTS])
    assert "closed dry" not in last_words(glued, "wind")
    assert "Plane" in last_words(glued, "wind")
    mixed = [(name, "dry" if "rear" in name else "glued") for name in JOINTS]
    found = build(RAILED, *PARTS, *heads(rr=0.2), closed=mixed)
    one = resetting(found.solved, worst_of(check_values(found.solved, found.assembly.checks[0])))
    assert set(one.parts) <= {"leg.rl", "leg.rr", "rail.rear"}


@pytest.mark.parametrize(("how", "told"), [
    (None, "Pull the longer diagonal in before its joints are closed: nothing need be cut"),
    ("dry", "Pull the longer diagonal in before its joints, closed dry, are glued: nothing need be cut"),
    ("glued", ""),
])  # fmt: skip
def test_a_racked_frame_is_pulled_in_as_long_as_a_joint_is_not_glued(how, told):
    names = [f"long side.{a} post.{b}" for a, b in (("f", "fl"), ("f", "fr"), ("r", "rl"), ("r", "rr"))]
    names += [f"short end.{a} post.{b}" for a, b in (("l", "fl"), ("l", "rl"), ("r", "fr"), ("r", "rr"))]
    closed = [fitsolve.Row(time="2025-11-25T14:10:00+00:00", event="close", start=one, note=how) for one in names if how]
    rows = [*read_sides(A, A, B, B), *read_diagonals(hypot(A + 2.5, B), hypot(A - 2.5, B))]
    log = [*closed, *[_row(f"{row} -") for row in rows]]
    plan = read_plan(HEAD + POSTS + "square = 'corners post.*.outer/face at head, within 2'")
    found = fitsolve.reconcile(fitsolve.Build(plan=plan, log=log))
    assert found.checks[0].verdict == "beyond"
    assert last_words(found, "square rack").endswith(told or "nothing still uncut can take it up")
