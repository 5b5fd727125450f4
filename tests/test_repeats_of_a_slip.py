"""The same read twice checks how well it was read, not where: a slip that is repeated is still told of."""

from __future__ import annotations

import pytest
from cli_folder import FRAMES, folder_of, run

from fitsolve.build.folder import load_build
from fitsolve.reconciliation import reconcile

INCH_OFF = "reading,leg.l.left,leg.l.right,4 17/32,caliper,\n"


def doubts(at):
    return {doubt.row: doubt for doubt in reconcile(load_build(at)).doubts}


@pytest.mark.parametrize("times", [1, 2, 4])
def test_a_slip_stays_under_stop_however_often_it_is_repeated(tmp_path, times):
    at = folder_of(tmp_path / "b", rows=INCH_OFF * times)
    assert all(doubt.suspect and doubt.standardised is None for doubt in doubts(at).values())
    said = run("sizes", at=at).stdout
    assert said.count("STOP") == times
    assert "was a whole inch misread?" in said
    assert "WAIT      apron" in said


def test_repeats_that_do_not_agree_are_held_against_each_other_as_ever(tmp_path):
    at = folder_of(tmp_path / "b", rows="reading,leg.l.left,leg.l.right,3.531,caliper,\n" + INCH_OFF)
    found = doubts(at)
    assert all(doubt.standardised is not None for doubt in found.values())
    assert any(doubt.suspect for doubt in found.values())


def test_repeats_near_the_plan_are_no_suspects(tmp_path):
    at = folder_of(tmp_path / "b", rows="reading,leg.l.left,leg.l.right,3.531,caliper,\n" * 3)
    assert [doubt.suspect for doubt in doubts(at).values()] == [False] * 3
    assert all(doubt.redundancy == pytest.approx(2 / 3) for doubt in doubts(at).values())


def test_where_others_check_it_too_the_plan_is_no_screen(tmp_path):
    """The frame's loop confirms legs that stand an inch further apart than drawn: no suspect among them."""
    wide = FRAMES.replace("41 3/32", "42 3/32").replace("48 1/8", "49 1/8")
    at = folder_of(tmp_path / "b", rows=wide + "reading,leg.l.right,leg.r.left,42 3/32,tape,\n")
    assert not any(doubt.suspect for doubt in doubts(at).values())


def test_a_diagonal_along_one_axis_is_held_against_its_repeats_as_any_reading(tmp_path):
    # From corner to corner along a side: the two lie in one line along x, and say nothing of it.
    plan = """\
unit = "mm"
give = 1
[part.leg]
copies = { f = "as drawn", r = "front for rear" }
x = "left 70 right"
y = "face 60 back"
[part.rail]
x = "left 70.2 right"
y = "f.end 500 r.end"
[joint.butt]
meet = ["rail.f.end against leg.f.back, tight-up", "rail.r.end against leg.r.back, tight-up",
        "leg.f.left/right in rail.left/right, slip", "leg.r.left/right in rail.left/right, slip"]
"""
    rows = "diagonal,leg.f.left/face,leg.r.left/face,620,tape,\n" * 2
    found = doubts(folder_of(tmp_path / "b", plan, rows))
    assert [doubt.redundancy for doubt in found.values()] == pytest.approx([0.5, 0.5])
    assert not any(doubt.suspect for doubt in found.values())
