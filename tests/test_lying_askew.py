"""What a part out of square would take up is told, by plane geometry: a misfit m over a length L is an angle m / L."""

from __future__ import annotations

from pathlib import Path

import pytest

import fitsolve
from fitsolve.findings.askew import taken_up
from fitsolve.report.askewwords import askew_of, doubted_askew
from fitsolve.report.demands import contradiction_text
from fitsolve.report.doubtwords import culprits_text

CASE = """format = 1
unit = "mm"
finest = 0.5
workmanship = 0.3
give = 1
[fits]
housed = [0, 0.1, 0.25]
bottomed = [0, 0.1, 0.5]
[part.side]
copies = { l = "as drawn", r = "left for right" }
x = "outer 20 inner"
z = "foot 80 s1.b 20 s1.t 320 s2.b 20 s2.t 40 head"
[part.shelf]
copies = ["1", "2"]
x = "l.end 774 r.end"
z = "under 20 over"
[joint.house]
each = '''
n e
1 l
1 r
2 l
2 r
'''
meet = ["shelf.{n}.under/over in side.{e}.s{n}.b/s{n}.t, housed",
        "shelf.{n}.{e}.end against side.{e}.inner, bottomed"]
"""
READ = """no,time,event,from,to,reading,tool,note
1,2026-03-01T10:00:00+00:00,reading,side.l.s1.b,side.l.s1.t,20.1,caliper,
2,2026-03-01T10:01:00+00:00,reading,side.l.s1.t,side.l.s2.b,320,rod,
3,2026-03-01T10:02:00+00:00,reading,side.l.s2.b,side.l.s2.t,20.1,caliper,
4,2026-03-01T10:03:00+00:00,reading,side.r.s1.b,side.r.s1.t,20.1,caliper,
5,2026-03-01T10:04:00+00:00,reading,side.r.s1.t,side.r.s2.b,{between},rod,
6,2026-03-01T10:05:00+00:00,reading,side.r.s2.b,side.r.s2.t,20.1,caliper,
7,2026-03-01T10:06:00+00:00,reading,shelf.1.under,shelf.1.over,20,caliper,
8,2026-03-01T10:07:00+00:00,reading,shelf.2.under,shelf.2.over,20,caliper,
9,2026-03-01T10:08:00+00:00,reading,shelf.1.l.end,shelf.1.r.end,774,rod,
10,2026-03-01T10:09:00+00:00,reading,shelf.2.l.end,shelf.2.r.end,774,rod,
"""


def case(folder: Path, between: str, more: str = "") -> fitsolve.reconciliation.Reconciliation:
    folder.mkdir(exist_ok=True)
    (folder / "plan.toml").write_text(CASE)
    (folder / "log.csv").write_text(READ.format(between=between) + more)
    return fitsolve.reconcile(fitsolve.load(folder))


def test_shelves_whose_housings_are_out_of_height_go_in_askew(tmp_path):
    # The housings of the right side stand 1 mm further apart. Each of the four leaves 0.1 beside its shelf; where the
    # two shelves lie square 0.1 of each side's play helps, twice: 1 - 0.2 = 0.8 is too much. Over 774 that is 0.103 in
    # 100: a face of 20 mm stands off by 0.02, within the 0.1 of play.
    found = case(tmp_path / "b", "321")
    (one,) = found.contradictions
    askew = askew_of(found, one)
    assert askew is not None
    assert (askew.parts, askew.along) == (("shelf.1", "shelf.2"), "x")
    assert askew.off_mm == pytest.approx(0.8, abs=1e-6)
    assert askew.apart_mm == pytest.approx(774.0)
    text = contradiction_text(found, one)
    assert "can't go together square as they are made, by 0.80 mm" in text
    assert (
        "shelf.1 or shelf.2 askew by 0.80 mm over 774 takes it up: its faces then stand off by 0.10 mm for every "
        "100 mm of their width. Else take wood off" in text
    )


def test_what_is_far_out_of_square_is_not_called_askew(tmp_path):
    # 20 mm over 774 is 1 in 39, steeper than 1 in 50
    found = case(tmp_path / "b", "340")
    (one,) = found.contradictions
    assert askew_of(found, one) is None
    assert "can't go together as they are made" in contradiction_text(found, one)


def test_a_part_joined_at_one_place_can_take_up_nothing(tmp_path):
    assembly = case(tmp_path / "b", "321").assembly
    left = [number for number, contact in enumerate(assembly.contacts) if contact.joint == 0]
    assert taken_up(assembly, left, 0.8) is None
    assert taken_up(assembly, [], 0.8) is None


def test_once_closed_the_readings_may_all_be_right(tmp_path):
    # Glued up, the same four housings lie 1 mm out of height: a misfit of the readings, or a shelf that hangs.
    closed = "".join(
        f"{11 + k},2026-03-01T11:0{k}:00+00:00,close,house shelf.{n} side.{e},,,,glued\n"
        for k, (n, e) in enumerate([("1", "l"), ("1", "r"), ("2", "l"), ("2", "r")])
    )
    found = case(tmp_path / "b", "321", closed)
    (one,) = found.suspicions
    askew = doubted_askew(found, one)
    assert askew is not None
    assert set(askew.parts) <= {"shelf.1", "shelf.2"}
    assert askew.off_mm == pytest.approx(1.0, abs=0.1)
    assert "Or nothing is misread: " in culprits_text(found, one)


TWO_DEPTHS = """format = 1
unit = "mm"
[fits]
housed = [0, 0.1, 0.25]
bottomed = [0, 0.1, 0.5]
[part.near]
x = "outer 20 inner"
y = "front 30 back"
z = "foot 80 b 20 t 40 head"
[part.far]
x = "inner 20 outer"
y = "front 4000 back"
z = "foot 80 b 20 t 40 head"
[part.shelf]
x = "l.end 774 r.end"
z = "under 20 over"
[joint.house]
each = '''
e s
l near
r far
'''
meet = ["shelf.under/over in {s}.b/t, housed", "shelf.{e}.end against {s}.inner, bottomed"]
"""


def test_joints_that_nothing_ties_along_an_axis_are_no_distance_apart_there(tmp_path):
    # The shelf has no marks along y, and nothing ties the two sides there: where each lies is not known, however deep
    # they are. Along x the ends of the shelf are 774 apart.
    (tmp_path / "plan.toml").write_text(TWO_DEPTHS)
    assembly = fitsolve.reconcile(fitsolve.load(tmp_path)).assembly
    upright = [number for number, contact in enumerate(assembly.contacts) if contact.axis == "z"]
    askew = taken_up(assembly, upright, 0.8)
    assert askew is not None
    assert (askew.along, askew.apart_mm) == ("x", pytest.approx(774.0))
