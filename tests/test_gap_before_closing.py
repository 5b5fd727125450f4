"""A gap that was read before its joint was closed says nothing of the joint as it is closed."""

from __future__ import annotations

import pytest
from cli_folder import folder_of
from state_bench import bench, settled

import fitsolve

BENCH = bench()
GAP = "reading,leg.a.back,shelf.edge,2,stick\n"
CLOSE = "close,butt shelf leg.a,,,,{how}\n"


def counting(state):
    return [reading.no for reading in state.readings]


def test_read_after_the_close_it_stands_in_place_of_the_closing():
    state = settled(CLOSE.format(how="dry") + GAP)
    assert counting(state) == [2]
    assert len(state.gap_read) == 1


def test_read_before_it_is_set_aside_and_the_closing_counts():
    state = settled(GAP + CLOSE.format(how="dry"))
    assert (counting(state), state.gap_read) == ([], frozenset())
    assert state.set_aside == {1: "a gap of butt shelf leg.a before it was closed in #2"}


@pytest.mark.parametrize("between", ["", "open,butt shelf leg.a\n"])
def test_it_is_the_last_close_that_counts(between):
    state = settled(CLOSE.format(how="dry") + GAP + between + CLOSE.format(how="glued"))
    assert (counting(state), state.gap_read) == ([], frozenset())


def test_both_gaps_of_a_housing():
    state = settled("reading,leg.a.outer,apron.front.l.dado-o,0.3,stick\nreading,apron.front.l.dado-i,leg.a.inner,1,stick\n"
                    "reading,leg.a.outer,apron.rear.l.dado-o,0.4,stick\nclose,dado apron.front leg.a,,,,dry")  # fmt: skip
    assert counting(state) == [3], "the other apron's joint was not closed"


def test_other_readings_across_the_joint_stay():
    state = settled("reading,leg.a.face,shelf.edge,101,stick\n" + CLOSE.format(how="dry"))
    assert counting(state) == [1]


PLAN = """\
unit = "mm"
give = 1
[part.post]
x = "left 100 right"
[part.rail]
x = "left 500 right"
[joint.end]
meet = ["rail.left against post.right, tight-up"]
"""


@pytest.mark.parametrize("rows, gap", [
    ("reading,post.right,rail.left,3,rule,\nclose,end rail post,,,,glued\n", 0.0),
    ("close,end rail post,,,,glued\nreading,post.right,rail.left,3,rule,\n", 3.0),
])  # fmt: skip
def test_the_whole_way_from_the_log_to_the_gap(tmp_path, rows, gap):
    found = fitsolve.reconcile(fitsolve.load(folder_of(tmp_path / "b", plan=PLAN, rows=rows)))
    assert found.between("post.right", "rail.left").distance_mm == pytest.approx(gap, abs=1e-9)
    assert found.doubts == () or not any(doubt.suspect for doubt in found.doubts)
