"""Diagonals: readings between points on two axes, whose rows turn with their points.

Held against a published trilateration, scipy's own non-linear least squares, finite differences of
our whole way through, and the independent solver. All frames are invented.
"""

from __future__ import annotations

import re
import tomllib
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.optimize import least_squares

import fitsolve.solve.turning as turning
from fitsolve.build.logtext import HEADER, parse_log
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.build.state import settle
from fitsolve.solve.pieces import residuals
from tests.builds import Bench, Case, findings, solve
from tests.oracle import Oracle
from tests.test_sparse_and_dense_agree import all_sparse, assert_agree

PUBLISHED = tomllib.loads((Path(__file__).parents[1] / "specs/references/networks.toml").read_text())["trilateration"]

# -- a published net -------------------------------------------------------------------------------


def published() -> Case:
    """Points 1 to 4 as marks on x and y, in mm; 1 and 2 fixed by readings ten thousand times as good."""
    plan = {**PUBLISHED["fixed"], "3": [0.0, 0.0], "4": [1000.0, 0.0]}
    bench = Bench(workmanship=1e6)
    for number, axis in enumerate("xy"):
        for name, at in plan.items():
            bench.part(f"p{name}", 1000 * at[number], axis, axis=axis)
        a, b = (f"p{name}.{axis}" for name in "12")
        bench.read(a, b, 1000 * (plan["2"][number] - plan["1"][number]), 2e-3)
    for a, b, metres in PUBLISHED["observed"]:
        bench.diagonal((f"p{a}.x", f"p{a}.y"), (f"p{b}.x", f"p{b}.y"), 1000 * metres, 2 * PUBLISHED["sigma_mm"])
    return bench.case()


@pytest.mark.parametrize("sparse", [False, True])
class TestThePublishedTrilateration:
    """W. Benning 2011, Ex. 8-2, in F. Krumm 2020, Ex. 3.1.1: specs/references/networks.toml. Each is held
    to half its last printed digit."""

    def found(self, sparse):
        if not sparse:
            return findings(published(), seats=False)
        with all_sparse():
            return findings(published(), seats=False)

    def test_positions(self, sparse):
        whole = self.found(sparse).solved
        for name, at in PUBLISHED["adjusted"].items():
            for axis, metres in zip("xy", at, strict=True):
                index = whole.assembly.index
                off = whole.positions_mm[index[f"p{name}.{axis}"]] - whole.positions_mm[index[f"p1.{axis}"]]
                known = PUBLISHED["fixed"]["1"]["xy".index(axis)]
                assert off / 1000 + known == approx(metres, abs=0.5e-4)

    def test_residuals_standard_deviations_and_their_factor(self, sparse):
        found = self.found(sparse)
        own = [doubt for doubt in found.doubts if doubt.row > 2]  # 1 and 2 are the fixed points
        v = [doubt.residual_mm for doubt in own]
        assert [mm / 10 for mm in v] == approx(PUBLISHED["residual_cm"], abs=0.5e-3)
        s0 = float(np.sqrt(sum(np.square(v)) / PUBLISHED["degrees_of_freedom"]))
        assert s0 == approx(PUBLISHED["s0_mm"], abs=0.5e-3)
        assert sum(doubt.redundancy for doubt in own) == approx(PUBLISHED["degrees_of_freedom"], abs=1e-7)
        for name, printed in PUBLISHED["standard_deviation_cm"].items():
            for axis, cm in zip("xy", printed, strict=True):
                index = found.solved.assembly.index
                terms = [(index[f"p{name}.{axis}"], 1.0), (index[f"p1.{axis}"], -1.0)]
                piece = found.solved.piece(terms)
                from fitsolve.findings.solved import rows_of

                u = float(np.sqrt(piece.advice.variance(rows_of([found.solved.inside(terms)]))[0]))
                assert u * s0 / PUBLISHED["sigma_mm"] / 10 == approx(cm, abs=0.5e-3)


# -- generated frames, beside scipy ------------------------------------------------------------------


@st.composite
def nets(draw: st.DrawFn, noise: int = 30):
    """Four to six points, readings along the axes that leave no point loose, and diagonals; what each reads
    is off by up to noise / 20 of its u."""
    n = draw(st.integers(4, 6))
    bench = Bench(workmanship=0.8)
    corner = [(0, 0), (900, 0), (40, 700), (880, 650), (450, 1200), (1300, 300)]
    off = [[draw(st.integers(-60, 60)) / 10 for _ in range(2)] for _ in range(n)]
    for axis in range(2):
        for k in range(n):
            bench.part(f"p{k}", float(corner[k][axis]), "xy"[axis], axis="xy"[axis])
    true = np.array(corner[:n], dtype=float) + np.array(off)
    said = []

    def read(a: int, b: int, axes: tuple[int, ...]) -> None:
        u = draw(st.sampled_from([0.05, 0.4]))
        off_by = draw(st.integers(-noise, noise)) / 20 * u
        names = [[f"p{k}.{'xy'[axis]}" for axis in axes] for k in (a, b)]
        if len(axes) == 2:
            value = float(np.hypot(*(true[b] - true[a]))) + off_by
            bench.diagonal(tuple(names[0]), tuple(names[1]), value, 2 * u)
        else:
            value = float(true[b, axes[0]] - true[a, axes[0]]) + off_by
            way = 1 if corner[b][axes[0]] >= corner[a][axes[0]] else -1
            bench.read(names[0][0], names[1][0], way * value, 2 * u)
        said.append((a, b, axes, value, u))

    for axis in (0, 1):  # along each axis a chain, but for one link, which is left to diagonals
        for k in range(1, n - axis):
            read(draw(st.integers(0, k - 1)), k, (axis,))
    for a in range(n - 1):
        read(a, n - 1, (0, 1))
    for _ in range(draw(st.integers(0, 3))):
        read(*draw(st.permutations(range(n)))[:2], (0, 1))
    return bench.case(), said, np.array(corner[:n], dtype=float)


def by_scipy(said, start):
    """Positions and covariance by scipy.optimize.least_squares, the first point held."""

    def off(p):
        at = np.vstack([start[:1], p.reshape(-1, 2)])
        found = []
        for a, b, axes, value, u in said:
            d = (at[b] - at[a])[list(axes)]
            found.append(((np.hypot(*d) if len(axes) == 2 else d[0]) - value) / u)
        return np.array(found)

    def slope(p):
        at = np.vstack([start[:1], p.reshape(-1, 2)])
        rows = np.zeros((len(said), 2 * len(at)))
        for row, (a, b, axes, _, u) in zip(rows, said, strict=True):
            d = (at[b] - at[a])[list(axes)]
            for axis, c in zip(axes, d / np.hypot(*d) if len(axes) == 2 else [1.0], strict=True):
                row[2 * b + axis] += c / u
                row[2 * a + axis] -= c / u
        return rows[:, 2:]

    found = least_squares(off, start[1:].ravel(), slope, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    J = slope(found.x)
    return found.x.reshape(-1, 2), np.linalg.inv(J.T @ J)


@given(nets())
@settings(max_examples=60)
def test_estimates_and_uncertainties_are_those_of_scipy(net):
    case, said, start = net
    whole = solve(case)
    expected, covariance = by_scipy(said, start)
    index = whole.assembly.index
    from fitsolve.findings.solved import rows_of

    for k, at in enumerate(expected, 1):
        for axis in range(2):
            terms = [(index[f"p{k}.{'xy'[axis]}"], 1.0), (index[f"p0.{'xy'[axis]}"], -1.0)]
            assert whole.value_mm(terms) == approx(at[axis] - start[0, axis], abs=1e-6)
            piece = whole.piece(terms)
            u = float(np.sqrt(piece.advice.variance(rows_of([whole.inside(terms)]))[0]))
            assert u == approx(float(np.sqrt(covariance[2 * k - 2 + axis, 2 * k - 2 + axis])), rel=1e-6)


@given(nets())
@settings(max_examples=40)
def test_sparse_and_dense_agree(net):
    assert_agree(net[0].assembly, net[0].state)


@given(nets(noise=0))
@settings(max_examples=15)
def test_it_moves_with_each_reading_as_its_map_says(net):
    """Central differences of the whole way through. Readings agree here: the map leaves out what the
    curvature of a diagonal makes of its residual, as that of any adjustment does."""
    case, _, _ = net
    whole = solve(case)
    for number, reading in enumerate(case.state.readings[-3:], len(case.state.readings) - 3):
        step = 1e-3
        x = []
        for way in (step, -step):
            readings = list(case.state.readings)
            readings[number] = replace(reading, value_mm=reading.value_mm + way)
            x.append(solve(Case(case.assembly, replace(case.state, readings=tuple(readings)))).positions_mm)
        unit = np.zeros((len(whole.graph.measured), 1))
        unit[number] = 1.0
        for piece in whole.pieces:
            if number in piece.chosen["measured"]:
                own = unit[piece.chosen["measured"]]
                moved = piece.advice.moved(own)[:, 0] / reading.u_mm
                assert (x[0] - x[1])[piece.marks] / (2 * step) == approx(moved, abs=1e-5)


# -- a frame that can lean -----------------------------------------------------------------------------


def frame(*, across=(1000.0, 1000.0), lean=0.0) -> Bench:
    """Four posts at the corners of a rectangle 1000 by 600; x of front and rear read, and y of left and right."""
    bench = Bench(workmanship=0.8)
    for name, (x, y) in {"fl": (0, 0), "fr": (1000, 0), "rl": (0, 600), "rr": (1000, 600)}.items():
        bench.part(name, float(x), "x", axis="x")
        bench.part(name, float(y), "y", axis="y")
    bench.read("fl.x", "fr.x", across[0], 0.2)
    bench.read("rl.x", "rr.x", across[1], 0.2)
    bench.read("fl.y", "rl.y", 600.0, 0.2)
    bench.read("fr.y", "rr.y", 600.0, 0.2)
    for a, b, way in (("fl", "rr", 1), ("fr", "rl", -1)):
        length = float(np.hypot(1000.0 + way * lean, 600.0))
        bench.diagonal((f"{a}.x", f"{a}.y"), (f"{b}.x", f"{b}.y"), length, 0.4)
    return bench


@pytest.mark.parametrize("across", [(1000.0, 1000.0), (1000.4, 999.7)])
def test_two_diagonals_say_how_it_leans_and_not_how_it_lies_turned(across):
    """Both say the same in the plan. Sides a hair unequal must not make them say more: the whole lies
    turned as nothing fixes it, and no size of the frame is taken from that."""
    whole = solve(frame(across=across, lean=3.0).case())
    index = whole.assembly.index
    (piece,) = {id(whole.piece([(mark, 1.0)])): whole.piece([(mark, 1.0)]) for mark in range(8)}.values()
    assert not piece.fixed(whole.inside([(index["rl.x"], 1.0), (index["fl.x"], -1.0)]))
    assert not piece.fixed(whole.inside([(index["fr.y"], 1.0), (index["fl.y"], -1.0)]))
    c = np.array([1000.0, 600.0]) / np.hypot(1000.0, 600.0)
    lean = [(index["rl.x"], c[0]), (index["fl.x"], -c[0]), (index["fr.y"], c[1]), (index["fl.y"], -c[1])]
    assert np.abs(piece.x).max() < 10.0
    assert sum(coef * whole.positions_mm[mark] for mark, coef in lean) != approx(0.0, abs=0.5)
    assert not len(whole.turned.left_out)


def test_where_something_holds_it_straight_they_say_how_far_it_leans():
    bench = frame(lean=3.0)
    bench.read("fl.y", "fr.y", 0.0, 0.01)
    bench.read("rl.y", "rr.y", 0.0, 0.01)
    whole = solve(bench.case())
    index = whole.assembly.index
    shift = [(index["rl.x"], 1.0), (index["fl.x"], -1.0)]
    assert whole.piece(shift).fixed(whole.inside(shift))
    assert whole.value_mm(shift) == approx(3.0, abs=1e-3)  # a parallelogram: diagonals over 1000 + 3, 1000 - 3


@pytest.mark.parametrize("sparse", [False, True])
def test_diagonals_between_stations_do_not_turn_a_frame_that_nothing_holds_straight(sparse):
    """The corners are stations at the heads, only drawn to lie over their marks, and both diagonals were read
    a hair too long for the sides. Turned a long way, sides kept along their axes, they would fit: that is no frame."""
    bench = Bench(workmanship=0.8)
    for name, (x, y) in {"fl": (0, 0), "fr": (1000, 0), "rl": (0, 600), "rr": (1000, 600)}.items():
        for axis, at in (("x", x), ("y", y)):
            bench.part(name, float(at), axis, axis=axis)
            bench.station(f"{name}.{axis}", "head")
            bench.make(f"{name}.{axis}", f"{name}.{axis}@head")
    for a, b, length in (("fl.x", "fr.x", 1000.4), ("rl.x", "rr.x", 999.9), ("fl.y", "rl.y", 600), ("fr.y", "rr.y", 598.6)):
        bench.read(a, b, length, 0.2)
    for a, b in (("fl", "rr"), ("fr", "rl")):
        bench.diagonal((f"{a}.x@head", f"{a}.y@head"), (f"{b}.x@head", f"{b}.y@head"), float(np.hypot(1000, 600)) + 1.0, 0.2)
    with all_sparse() if sparse else nullcontext():
        whole = solve(bench.case())
    assert not len(whole.turned.left_out)
    found = residuals(next(piece for piece in whole.pieces if piece.network.turning is not None))
    assert found.redundancy == approx(0.0)  # the edges need not be straight, nothing checks a diagonal
    assert np.abs(whole.positions_mm - [mark.plan_mm for mark in whole.assembly.marks]).max() < 3.0


@given(st.integers(-40, 40), st.integers(-40, 40), st.sampled_from([0.1, 0.8, 3.0]))
@settings(max_examples=30)
def test_plan_and_diagonals_together_are_those_of_the_independent_solver(first, second, U):
    """Made posts of a bent frame, part of it at plan: both stages, with U."""
    bench = Bench(workmanship=0.8)
    bench.part("front", 0.0, "l 1000 r")
    bench.part("rear", 0.0, "l 990 r")
    bench.part("side", 0.0, "f 600 b", axis="y")
    bench.part("other", 0.0, "f 610 b", axis="y")
    bench.make("front", "rear", "side", "other")
    bench.read("front.l", "front.r", 1000 + first / 20, 0.2)
    bench.diagonal(("front.l", "side.f"), ("rear.r", "other.b"), float(np.hypot(990, 610)) + second / 20, U)
    bench.diagonal(("front.r", "side.f"), ("rear.l", "other.b"), float(np.hypot(1000, 610)) - second / 30, U)
    bench.read("side.f", "other.f", 0.0, 0.2)
    case = bench.case()
    whole, oracle = solve(case), Oracle(case)
    from fitsolve.findings.solved import rows_of

    assert not len(whole.turned.left_out)
    for a, b in [("front.l", "rear.l"), ("front.r", "rear.r"), ("side.b", "other.b"), ("rear.l", "rear.r")]:
        index = whole.assembly.index
        terms = [(index[b], 1.0), (index[a], -1.0)]
        row = oracle.row(*terms)
        piece = whole.piece(terms)
        assert piece.fixed(whole.inside(terms)) == oracle.fixed(row)
        if oracle.fixed(row):
            assert whole.value_mm(terms) == approx(oracle.value(row), abs=1e-6)
            u = float(np.sqrt(piece.facts.variance(rows_of([whole.inside(terms)]))[0]))
            assert u == approx(oracle.u_advice(row), abs=1e-6)


# -- when it can not be used ---------------------------------------------------------------------------


def short() -> Bench:
    """Points read 600 apart along y, and a diagonal shorter than that: it fits nowhere."""
    bench = Bench(workmanship=0.8)
    for name, (x, y) in {"a": (0, 0), "b": (400, 600)}.items():
        bench.part(name, float(x), "x", axis="x")
        bench.part(name, float(y), "y", axis="y")
    bench.read("a.y", "b.y", 600.0, 0.01)
    bench.diagonal(("a.x", "a.y"), ("b.x", "b.y"), 500.0, 0.2)
    return bench


def test_a_diagonal_that_fits_nowhere_is_left_out_and_said():
    from fitsolve.findings.diagonals import diagonal_problems

    whole = solve(short().case())
    assert whole.turned.endless.tolist() == [1]
    (problem,) = diagonal_problems(whole)
    assert (problem.level, problem.place.key) == ("warning", "#2")
    assert "left out of the numbers" in problem.what
    index = whole.assembly.index
    assert whole.value_mm([(index["b.y"], 1.0), (index["a.y"], -1.0)]) == approx(600.0)
    assert not whole.piece([(index["b.x"], 1.0)]).fixed([(0, 1.0)])


def test_one_piece_that_comes_to_no_end_leaves_the_others_as_they_are():
    bench, alone = short(), frame(lean=3.0)
    both = frame(lean=3.0)
    for name, (x, y) in {"a": (0, 0), "b": (400, 600)}.items():
        both.part(name, float(x), "x", axis="x")
        both.part(name, float(y), "y", axis="y")
    both.read("a.y", "b.y", 600.0, 0.01)
    both.diagonal(("a.x", "a.y"), ("b.x", "b.y"), 500.0, 0.2)
    assert len(solve(bench.case()).turned.endless) == 1
    one, two = solve(alone.case()), solve(both.case())
    assert two.turned.endless.tolist() == [len(one.graph.measured) + 1]
    names = [mark.name for mark in one.assembly.marks]
    index = two.assembly.index
    assert [two.positions_mm[index[name]] for name in names] == approx(one.positions_mm, abs=1e-9)


def test_what_lies_across_so_loosely_that_a_length_says_nothing():
    """Across the line of two points, at a very flat angle, all that is known is a reading of ± 100 mm."""
    bench = Bench(workmanship=0.8)
    for name, (x, y) in {"a": (0, 0), "b": (1000, 10)}.items():
        bench.part(name, float(x), "x", axis="x")
        bench.part(name, float(y), "y", axis="y")
    bench.read("a.y", "b.y", 10.0, 200.0)
    bench.diagonal(("a.x", "a.y"), ("b.x", "b.y"), 1000.2, 0.2)
    whole = solve(bench.case())
    assert whole.turned.vague.tolist() == [1]


def test_without_diagonals_nothing_is_turned(monkeypatch):
    monkeypatch.setattr(turning, "turned", None)  # would fail if it were called
    bench = Bench()
    bench.part("a", 0.0, "l 10 r")
    bench.read("a.l", "a.r", 10.1, 0.1)
    assert solve(bench.case()).turned is None


def test_three_axes_at_once():
    bench = Bench(workmanship=0.8)
    for axis, at in zip("xyz", (300.0, 400.0, 1200.0), strict=True):
        bench.part("a", 0.0, axis, axis=axis)
        bench.part("b", at, axis, axis=axis)
    bench.read("a.x", "b.x", 300.0, 0.2)
    bench.read("a.y", "b.y", 400.0, 0.2)
    bench.diagonal(("a.x", "a.y", "a.z"), ("b.x", "b.y", "b.z"), 1306.0, 0.2)
    whole = solve(bench.case())
    index = whole.assembly.index
    z = whole.value_mm([(index["b.z"], 1.0), (index["a.z"], -1.0)])
    assert z == approx(float(np.sqrt(1306.0**2 - 500.0**2)), abs=1e-6)


def test_every_form_in_the_specification_is_read():
    """The block of specs/log.md, over an invented base: four legs and a jaw with two holes."""
    text = (Path(__file__).parents[1] / "specs" / "log.md").read_text(encoding="utf-8")
    rows = re.search(r"```csv\n(9,.*?)```", text, re.DOTALL)[1]
    plan = read_plan(
        'unit = "mm"\n[part.leg]\ncopies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }\n'
        'x = "outer 90 inner"\ny = "face 90 back"\nz = "foot 700 head"\n'
        '[part.rail]\ncopies = { l = "as drawn", r = "left for right" }\ny = "f 500 r"\n'
        '[part.long]\ncopies = { f = "as drawn", r = "front for rear" }\nx = "l 1000 r"\n'
        '[joint.short]\nmeet = ["rail.l.f against leg.fl.back, tight-up", "rail.l.r against leg.rl.back, tight-up",'
        ' "rail.r.f against leg.fr.back, tight-up", "rail.r.r against leg.rr.back, tight-up"]\n'
        '[joint.long]\nmeet = ["long.f.l against leg.fl.inner, tight-up", "long.f.r against leg.fr.inner, tight-up",'
        ' "long.r.l against leg.rl.inner, tight-up", "long.r.r against leg.rr.inner, tight-up"]\n'
        '[part.jaw]\nx = "left 600 right"\nz = "under 200 over"\n'
        'holes = { screw-l = ["100 from left", "100 from over"], screw-r = ["100 from right", "100 from over"] }\n'
    )
    _, state = settle(assemble(plan), parse_log(f"{HEADER}\n{rows}".encode()), plan.tools())
    assert [problem for problem in state.problems if problem.level == "error"] == []
    read = {reading.no: reading for reading in state.readings}
    assert sorted(read) == list(range(9, 15))
    assert read[9].terms == read[10].terms == read[11].terms
    assert len({mark for mark, _ in read[13].terms}) == 4
