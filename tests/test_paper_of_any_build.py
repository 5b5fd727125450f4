"""Whatever a build is like, it can be put on paper, and nothing there is in the way of anything."""

from __future__ import annotations

import itertools

import daqp
import numpy as np
from builds import Case, benches
from hypothesis import given, settings
from hypothesis import strategies as st
from test_paper_has_room import clear

from fitsolve.build.history import MarkState
from fitsolve.drawing.assembled import assembled_page
from fitsolve.drawing.assembledwords import assembled_drawing
from fitsolve.drawing.cutlines import CUT, LEAVE, MADE, START, cut_lines
from fitsolve.drawing.loops import loops_page
from fitsolve.drawing.loopwords import loops_drawing
from fitsolve.drawing.papers import STRIPS
from fitsolve.drawing.partdraw import part_page
from fitsolve.drawing.partwords import part_drawing
from fitsolve.drawing.sheet import sheet_pages
from fitsolve.drawing.sheetwords import shop_sheet
from fitsolve.drawing.spread import spread_out
from fitsolve.drawing.strip import StripPlan, strip_pages
from fitsolve.findings.edges import edges
from fitsolve.findings.running import cut_pairs
from fitsolve.findings.tags import tagged
from fitsolve.reconciliation import findings_of


@settings(max_examples=20, deadline=None)
@given(benches("xyz", parts=4))
def test_any_build_on_paper(case: Case):
    found = findings_of(case.assembly, case.state)
    for part in found.assembly.parts:
        clear(part_page(part_drawing(found, part, "0-0000")), 0.0)
    clear(assembled_page(assembled_drawing(found, "0-0000")), 0.0)
    clear(loops_page(loops_drawing(found, "0-0000")), 0.0)
    tags = tagged("c", cut_pairs(found.assembly, found.state))
    for page in sheet_pages(shop_sheet(found, tags, "0-0000", "now"), "letter"):
        clear(page)
    every = edges(found.solved)
    for edge, lines in zip(every, cut_lines(found, every)):
        for page in strip_pages(StripPlan(edge.part, edge.axis, "start", lines, "0-0000", "any", False), STRIPS["a4"]):
            clear(page)


@settings(max_examples=25, deadline=None)
@given(benches("xyz", parts=4))
def test_each_mark_still_to_be_cut_has_one_tag_and_one_word(case: Case):
    found = findings_of(case.assembly, case.state)
    tags = tagged("c", cut_pairs(found.assembly, found.state))
    sheet = shop_sheet(found, tags, "0-0000", "now")
    lines = [line for part in sheet.parts for axis in part.axes for line in axis.lines]
    to_cut = [line.tag for line in lines if line.word in (CUT, LEAVE)]
    assert sorted(to_cut) == sorted(one.tag for one in tags)
    for line in lines:
        made = case.state.marks[line.mark] == MarkState.MADE
        assert line.word in ((MADE, START) if made else (CUT, LEAVE, START))
        assert line.word != LEAVE or line.why


@given(
    st.lists(st.tuples(st.floats(-50, 250), st.floats(0.5, 30)), min_size=1, max_size=12),
    st.floats(0, 20),
    st.floats(100, 300),
)
def test_labels_stand_apart_and_in_their_bounds(labels, low, high):
    wanted = sorted(x for x, _ in labels)
    rooms = [room for _, room in labels]
    xs = spread_out(wanted, rooms, low, high)
    if sum(rooms) > high - low + 1e-6:
        assert xs is None
        return
    if xs is None:
        assert sum(rooms) > high - low - 1e-6
        return
    assert xs[0] - rooms[0] / 2 >= low - 1e-6
    assert xs[-1] + rooms[-1] / 2 <= high + 1e-6
    for (a, ra), (b, rb) in itertools.pairwise(zip(xs, rooms)):
        assert b - a >= (ra + rb) / 2 - 1e-6


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(-20, 120), st.integers(1, 12)), min_size=1, max_size=6))
def test_labels_move_as_little_as_will_do(labels):
    # The same quadratic programme by a general-purpose solver (daqp, a dual active-set method).
    wanted = sorted(float(x) for x, _ in labels)
    rooms = [float(room) for _, room in labels]
    xs = spread_out(wanted, rooms, 0.0, 100.0)
    n = len(rooms)
    apart = np.array([[float(j == k + 1) - float(j == k) for j in range(n)] for k in range(n - 1)]).reshape(n - 1, n)
    rows = np.vstack([apart, np.eye(n)[:1], np.eye(n)[-1:]])
    least = [*((a + b) / 2 for a, b in itertools.pairwise(rooms)), rooms[0] / 2, -1e9]
    most = [*[1e9] * (n - 1), 1e9, 100 - rooms[-1] / 2]
    y, _, flag, _ = daqp.solve(np.eye(n), -np.array(wanted), rows, np.array(most), np.array(least))
    assert flag == 1
    assert xs is not None
    assert max(abs(a - b) for a, b in zip(xs, y)) < 1e-6
