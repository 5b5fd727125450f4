"""Builds with slopes: sizes and uncertainties agree with the independent solve, and so do both ways
of ours. Slopes tie two axes, with ratios that floats do not hold exactly (1:6, 1:7, 7 degrees), in
chains and loops, on made, uncut and rough wood, placed by the slope or by a run."""

from __future__ import annotations

import math
from dataclasses import replace

from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from fitsolve.build.assembly import Lean
from fitsolve.build.state import MarkState
from tests.builds import Bench, _draw_axis
from tests.test_exact_against_oracle import disagreements
from tests.test_sparse_and_dense_agree import assert_agree

PHASES = (Phase.explicit, Phase.generate)
"""These builds are large: making a failing one smaller takes minutes."""

RATIOS = [1 / 6, -1 / 6, 1 / 8, -1 / 8, 1 / 3, 1 / 24, -1 / 7, 1.0, math.tan(math.radians(7))]


@st.composite
def sloped_benches(draw: st.DrawFn, trouble: bool = True):
    """A generated build on x and z whose parts have slopes: between two marks as they stand in the
    plan, or between two stations of one mark of which the slope places the second."""
    bench = Bench(give=draw(st.sampled_from([None, 0.5, 1.5])), workmanship=draw(st.sampled_from([0.2, 0.8])))
    names = [f"p{k}" for k in range(draw(st.integers(2, 4)))]
    for axis in "xz":
        _draw_axis(draw, bench, names, axis, trouble)
    for name in names:
        own = {
            axis: [mark for mark, number in bench.index.items() if mark.startswith(f"{name}.{axis}")] for axis in "xz"
        }
        for k in range(draw(st.integers(1, 3))):
            _draw_slope(draw, bench, own, k)
    for number, contact in enumerate(bench.contacts):
        if contact.axis == "z" and draw(st.booleans()):
            bench.contacts[number] = replace(contact, leans=_draw_leans(draw, bench, contact))
    for joint in bench.joints:
        if draw(st.integers(0, 4)) == 0:
            bench.close(joint)
    return bench.case()


def _draw_slope(draw, bench, own, k):
    rise, run = draw(st.sampled_from(["xz", "zx"]))
    if len(own[run]) < 2 or not own[rise]:
        return
    first, second = draw(st.permutations(own[run]))[:2]
    ratio = draw(st.sampled_from(RATIOS))
    base = draw(st.sampled_from(own[rise]))
    if k == 0 and draw(st.booleans()) and len(own[rise]) > 1:  # one only: two that differ by rounding are nearly one
        other = draw(st.sampled_from([mark for mark in own[rise] if mark != base]))
        at = {mark: bench.marks[bench.index[mark]].plan_mm for mark in (base, other, first, second)}
        rounding = draw(st.sampled_from([0.0, 0.2]))  # the plan need not agree exactly
        bench.slope(base, other, (first, second), (at[other] - at[base] + rounding) / (at[second] - at[first]))
        return
    for station in ("a", "b"):
        bench.station(base, f"{station}{k}")
    bench.slope(f"{base}@a{k}", f"{base}@b{k}", (first, second), ratio, placed=f"{base}@b{k}")
    low, high = sorted(bench.marks[bench.index[mark]].plan_mm for mark in (first, second))
    between = [mark for mark in own[run] if low < bench.marks[bench.index[mark]].plan_mm < high]
    if between and draw(st.booleans()):  # a third station of the same face
        bench.station(base, f"c{k}")
        bench.on_face(f"{base}@c{k}", draw(st.sampled_from(between)))
        if draw(st.integers(0, 2)) == 0:
            bench.read(base, f"{base}@c{k}", abs(_apart(bench, base, f"{base}@c{k}")) + 0.2, 0.1)
    if draw(st.booleans()):
        for station in ("a", "b", "c"):
            if f"{base}@{station}{k}" not in bench.index:
                continue
            bench.states[bench.index[f"{base}@{station}{k}"]] = bench.states.get(bench.index[base], MarkState.UNCUT)
    plan = _apart(bench, base, f"{base}@b{k}")
    if draw(st.integers(0, 3)) == 0 and abs(plan) > 1:
        bench.read(base, f"{base}@b{k}", abs(plan) + draw(st.sampled_from([0.0, 0.3])), 0.1)


def _apart(bench, first, second):
    return bench.marks[bench.index[second]].plan_mm - bench.marks[bench.index[first]].plan_mm


def _draw_leans(draw, bench, contact):
    """Marks along x of the two parts that meet, for each gap: where its two marks are, and their shoulders."""
    upper, lower = (bench.marks[mark].part for mark in (contact.marks[0], contact.marks[-1]))
    own = {part: [k for k, m in enumerate(bench.marks) if (m.part, m.axis) == (part, "x")] for part in (upper, lower)}
    if not all(own.values()):
        return ()
    leans = []
    for a, b in ((upper, lower), (lower, upper))[: 2 if contact.kind == "housing" else 1]:
        marks = [draw(st.sampled_from(own[part])) for part in (a, a, b, b)]
        leans.append(draw(st.sampled_from([None, Lean(*marks, draw(st.sampled_from(RATIOS)))])))
    return tuple(leans)


@given(sloped_benches())
@settings(max_examples=25, phases=PHASES)
def test_on_two_axes_tied_by_slopes(case):
    assert disagreements(case) == []


@given(sloped_benches(trouble=False))
@settings(max_examples=30, phases=PHASES)
def test_where_everything_can_hold(case):
    assert disagreements(case) == []


@given(sloped_benches())
@settings(max_examples=20, phases=PHASES)
def test_sparse_and_dense_agree(case):
    assert_agree(case.assembly, case.state)
