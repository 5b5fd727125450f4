"""Holes: one thing with a place on two axes, in the plan and in the log. All parts are invented."""

from __future__ import annotations

import pytest
from plans import at, gap, problems, worked
from pytest import approx

from fitsolve.build.logtext import parse_log
from fitsolve.build.state import MarkState, settle

HEAD = 'unit = "mm"\ngive = 1\n'
JAW = """[part.jaw]
copies = { f = "as drawn", r = "left for right", u = "top for bottom" }
x = ["l.end 600 r.end", "l.end 100 dado"]
y = "show 50 back"
z = "bottom 200 top"
[part.jaw.holes]
screw-l = ["140 from l.end", "45 (give 2) from top"]
low.pin = ["30 from dado left", "20 from bottom"]
"""


def state_of(rows: str, plan: str = HEAD + JAW):
    lines = [f"{no},2025-05-05T10:00:00+00:00,{row}" for no, row in enumerate(rows.strip().split("\n"), 1)]
    log = "\n".join(["no,time,event,from,to,reading,tool,note", *lines, ""])
    assembly, state = settle(worked(plan), parse_log(log.encode()), {})
    return assembly, state


def test_a_hole_lies_where_its_two_places_say():
    jaw = worked(HEAD + JAW)
    assert gap(jaw, "jaw.f.l.end", "jaw.f.screw-l.x") == 140
    assert gap(jaw, "jaw.f.screw-l.z", "jaw.f.top") == 45
    assert gap(jaw, "jaw.f.low.pin.x", "jaw.f.dado") == 30
    assert gap(jaw, "jaw.f.bottom", "jaw.f.low.pin.z") == 20
    assert {jaw.marks[jaw.index[f"jaw.f.screw-l.{axis}"]].axis for axis in "xz"} == {"x", "z"}


@pytest.mark.parametrize(("copy", "x", "z"), [("f", 1, 1), ("r", -1, 1), ("u", 1, -1)])
def test_handed_copies_turn_it_around(copy, x, z):
    jaw = worked(HEAD + JAW)
    assert gap(jaw, f"jaw.{copy}.l.end", f"jaw.{copy}.screw-l.x") == approx(x * 140)
    assert gap(jaw, f"jaw.{copy}.bottom", f"jaw.{copy}.screw-l.z") == approx(z * 155)


def test_its_places_are_distances_like_any_other():
    jaw = worked(HEAD + JAW)
    (place,) = [d for d in jaw.distances if jaw.marks[d.start].name == "jaw.f.screw-l.z"]
    assert (place.plan_mm, place.give_mm, jaw.marks[place.end].name) == (45, 2, "jaw.f.top")


def test_it_may_be_named_by_itself_where_the_other_mark_says_the_axis():
    assembly, state = state_of("reading,jaw.f.l.end,jaw.f.screw-l,140.4,caliper,\nmade,jaw.r.screw-l,jaw.r.top,45.2,,")
    assert not [p for p in state.problems if p.level == "error"]
    assert state.cut_to_mm[assembly.index["jaw.r.screw-l.z"]] == approx(-0.2)
    assert state.marks[assembly.index["jaw.r.screw-l.x"]] == MarkState.UNCUT
    (reading,) = state.readings
    assert [assembly.marks[mark].name for mark, _ in reading.terms] == ["jaw.f.screw-l.x", "jaw.f.l.end"]


def test_made_means_both_its_marks():
    assembly, state = state_of("made,jaw.f.screw-l,,,,")
    made = {mark.name for mark, s in zip(assembly.marks, state.marks, strict=True) if s == MarkState.MADE}
    assert made == {"jaw.f.screw-l.x", "jaw.f.screw-l.z"}


def test_a_span_of_a_check_may_name_it():
    check = '[check]\nc = "jaw.f.l.end..screw-l = 140, within 1"\n'
    jaw = worked(HEAD + JAW + check)
    assert at(jaw, jaw.marks[jaw.checks[0].spans[0].end].name) == 140


def test_without_runs_there_is_nothing_to_count_from():
    (problem, *_) = problems(HEAD + '[part.a]\nx = "l"\nholes = { b = ["9 from l", "2 from k"] }')
    assert "which way from l" in problem.what


def test_names_that_stand_in_a_run_too():
    text = HEAD + '[part.a]\nx = "l 9 b.x 9 r"\nz = "u 9 t"\nholes = { b = ["9 from l", "2 from t"] }'
    (problem,) = problems(text)
    assert problem.what == "b is a hole, and b.x stands in a run too"
