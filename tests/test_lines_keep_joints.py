"""What is laid out keeps every joint in its fit, every limit and every hold, and its loops close.

Checked from the assembly itself (fits, limits, marks), by sums written out here. Builds are generated
(`builds.benches`), without demands that contradict each other, or stand as text. All are invented.
"""

from __future__ import annotations

import itertools
import json
import math
import tomllib
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from fitsolve.build.state import MarkState
from fitsolve.findings.lines import laid_out, layout_clearance_mm, layout_distance_mm
from tests.builds import SLIP, SNUG, TIGHT_UP, Bench, Case, benches, findings
from tests.cli_folder import folder_of, run

OFF = 2e-6
"""A limit may be missed by the sum of what two roundings leave."""


def lay(case: Case):
    found = findings(case, seats=False)
    return found, laid_out(found.solved)


def kept(value: float, exact: float, low: float, high: float) -> bool:
    """Whether a limit is kept, or missed by no more than the exact answer misses it."""
    return min(low, exact) - OFF <= value <= max(high, exact) + OFF


def gaps_of(contact, x):
    if contact.kind == "housing":
        a, b, c, d = contact.marks
        return [x[a] - x[c], x[d] - x[b]]
    return [x[contact.marks[1]] - x[contact.marks[0]]]


class TestEveryLimitIsKept:
    @given(benches(trouble=False), st.sampled_from([0.1, 0.5, 25.4 / 32, 2.0]))
    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    def test_fits_gaps_limits_and_holds(self, case, finest):
        from dataclasses import replace

        case = Case(replace(case.assembly, finest_mm=finest), case.state)
        found, laid = lay(case)
        assume(laid.proven)
        x, exact = laid.positions_mm, found.solved.positions_mm
        for number, contact in enumerate(case.assembly.contacts):
            if contact.joint in case.state.closed and contact.kind != "room":
                continue
            now, then = gaps_of(contact, x), gaps_of(contact, exact)
            assert kept(sum(now), sum(then), contact.least_mm, contact.most_mm)
            if contact.kind == "housing":
                least = min(0.0, contact.least_mm) / 2
                assert all(kept(a, b, least, math.inf) for a, b in zip(now, then, strict=True))
            told = layout_clearance_mm(found.solved, laid, number, sum(then))
            assert told is None or told == pytest.approx(sum(now), abs=1e-9)
        for d in case.assembly.distances:
            if case.state.marks[d.start] == case.state.marks[d.end] == MarkState.MADE:
                continue
            now, then = (d.sign * (at[d.end] - at[d.start]) for at in (x, exact))
            if d.hold:
                assert now == pytest.approx(then, abs=OFF)
            elif d.low_mm is not None:
                assert kept(now, then, d.low_mm, d.high_mm)
        for bound in case.state.rough:
            now, then = (bound.sign * (at[bound.end] - at[bound.start]) for at in (x, exact))
            assert kept(now, then, -math.inf, bound.most_mm)

    @given(benches(trouble=False))
    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    def test_lines_are_whole_steps_and_what_is_made_stays(self, case):
        found, laid = lay(case)
        x, exact = laid.positions_mm, found.solved.positions_mm
        for line in laid.lines.values():
            at = line.way * (x[line.mark] - x[line.reference])
            if line.line_mm is None:
                continue
            steps = Fraction(line.line_mm) / Fraction(line.step_mm)
            assert abs(steps - round(steps)) < Fraction(1, 10**9)
            assert line.line_mm == pytest.approx(at, abs=1e-6)
        for d in case.assembly.distances:
            if case.state.marks[d.start] == case.state.marks[d.end] == MarkState.MADE:
                assert x[d.end] - x[d.start] == pytest.approx(exact[d.end] - exact[d.start], abs=1e-6)

    @given(benches(trouble=False))
    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    def test_loops_close(self, case):
        """Distances of an overall run and of its pieces add up, where all have a line."""
        found, laid = lay(case)
        number = {(d.start, d.end): k for k, d in enumerate(case.assembly.distances)}
        size = {k: one.size_mm for k, one in enumerate(found.distances)}
        for along in case.assembly.runs:
            pairs = list(zip(along, along[1:], strict=False))
            whole = number.get((along[0], along[-1]))
            if whole is None or len(pairs) < 2 or any(pair not in number for pair in pairs):
                continue
            parts = [layout_distance_mm(found.solved, laid, number[pair], size[number[pair]]) for pair in pairs]
            total = layout_distance_mm(found.solved, laid, whole, size[whole])
            if total is not None and None not in parts:
                assert sum(parts) == pytest.approx(total, abs=1e-6)


def apron(finest: float, fit=SLIP, widths=(89.7, 90.23), **bench) -> Bench:
    """Two legs that are there, read, and an apron over both."""
    b = Bench(finest=finest, **bench)
    b.part("a", 100.0, "l 90 r")
    b.part("c", 800.0, "l 90 r")
    b.part("apron", 0.0, "l.end 100 l.o 90 l.i 610 r.i 90 r.o 110 r.end")
    for leg, e, width in (("a", "l", widths[0]), ("c", "r", widths[1])):
        b.read(f"{leg}.l", f"{leg}.r", width, 0.02)
        walls = ("apron.l.o", "apron.l.i") if e == "l" else ("apron.r.i", "apron.r.o")
        b.housing(f"{leg} {e}", (f"{leg}.l", f"{leg}.r"), walls, fit)
    b.read("a.r", "c.l", 611.37, 0.1)
    return b


class TestByHand:
    def test_a_dado_takes_the_only_width_that_fits(self):
        # legs 89.7 and 90.23, fit 0.05 .. 0.5: widths of halves 90.0, and 90.5 (90.28 .. 90.73)
        found, laid = lay(apron(0.5).case())
        assert not laid.without
        sizes = {d.start + ".." + d.end: (k, d.size_mm) for k, d in enumerate(found.distances)}
        at = {name: layout_distance_mm(found.solved, laid, *sizes[name]) for name in sizes}
        assert at["apron.l.o..apron.l.i"] == 90.0
        assert at["apron.r.i..apron.r.o"] == 90.5
        assert at["a.l..a.r"] == pytest.approx(89.7, abs=1e-9)

    def test_too_coarse_says_which_joint_and_which_step_would_do(self):
        # 89.7 + 0.05 .. 0.2: 89.75 .. 89.9 holds no half, of fifths none beside a wall on halves but 89.8
        found, laid = lay(apron(0.5, fit=(0.05, 0.1, 0.2), widths=(89.7, 89.9)).case())
        given_up = {found.solved.assembly.marks[mark].name for mark in laid.without}
        assert given_up == {"apron.l.i"}  # the other: 89.95 .. 90.1 holds 90.0
        line = next(one for one in laid.lines.values() if one.line_mm is None)
        assert [(source.kind, source.number) for source in line.because] == [("contact", 0)]
        assert laid.finer_mm(line.mark) == pytest.approx(0.2)

    def test_a_mark_with_a_finest_of_its_own(self):
        """`finest` of a distance means its mark farther from the reference end."""
        b = Bench(finest=0.5)
        b.part("a", 100.0, "l 90 r")
        b.part("apron", 0.0, "l.end 100 l.o 90 (finest 0.1) l.i 610 r.end")
        b.read("a.l", "a.r", 89.7, 0.02)
        b.housing("a l", ("a.l", "a.r"), ("apron.l.o", "apron.l.i"), (0.05, 0.1, 0.2))
        found, laid = lay(b.case())
        steps = {found.solved.assembly.marks[mark].name: line.step_mm for mark, line in laid.lines.items()}
        assert steps == {"apron.l.o": 0.5, "apron.l.i": 0.1, "apron.r.end": 0.5}
        assert not laid.without

    def test_a_made_mark_keeps_a_real_remainder(self):
        b = Bench(finest=0.5)
        b.part("p", 0.0, "l 100 m 100 n 100 r")
        b.read("p.l", "p.m", 100.13, 0.02)
        found, laid = lay(b.case())
        at = [layout_distance_mm(found.solved, laid, k, d.size_mm) for k, d in enumerate(found.distances)]
        assert at[0] == pytest.approx(100.13, abs=1e-9)
        assert at[1] == pytest.approx(200.0 - 100.13, abs=1e-9)
        assert at[2] == 100.0


class TestExtremes:
    def test_a_step_larger_than_the_build(self):
        _, laid = lay(apron(5000.0).case())
        assert all(line.line_mm in (None, 0.0) for line in laid.lines.values())
        assert laid.proven

    def test_a_step_of_a_micrometre(self):
        found, laid = lay(apron(0.001).case())
        assert not laid.without
        off = [abs(line.line_mm - line.figure_mm) for line in laid.lines.values()]
        assert max(off) <= 0.0005 + 1e-9 or sum(off) <= 0.001 * len(off)
        assert np.abs(laid.positions_mm - found.solved.positions_mm).max() < 0.01

    def test_nothing_to_cut(self):
        b = Bench()
        b.part("a", 100.0, "l 90 r")
        b.read("a.l", "a.r", 89.7, 0.02)
        found, laid = lay(b.case())
        assert laid.lines == {}
        assert layout_distance_mm(found.solved, laid, 0, 89.7) == pytest.approx(89.7)

    def test_nothing_made(self):
        b = apron(0.5)
        b.readings.clear()
        b.states.clear()
        found, laid = lay(b.case())
        assert not laid.without
        at = [sum(gaps_of(contact, laid.positions_mm)) for contact in found.solved.assembly.contacts]
        assert at == pytest.approx([0.5, 0.5], abs=1e-6)  # of halves only this lies in 0.05 .. 0.5

    def test_wood_that_can_only_come_down_is_not_laid_out_above_what_it_is(self):
        b = Bench(finest=0.5)
        b.part("p", 0.0, "l 310 r")
        b.rough("p.l", "p.r", 305.3)
        _, laid = lay(b.case())
        assert [line.line_mm for line in laid.lines.values()] == [305.0]

    @pytest.mark.parametrize("fit", [SNUG, TIGHT_UP])
    def test_a_hold_that_is_no_multiple_has_no_line(self, fit):
        b = Bench(finest=0.5)
        b.part("p", 0.0, "l 100.3 (hold) r")
        b.part("q", 100.3, "l 50 r")
        b.butt("j", "p.r", "q.l", fit)
        found, laid = lay(b.case())
        mark = found.solved.assembly.index["p.r"]
        assert mark in laid.without
        assert laid.finer_mm(mark) == pytest.approx(0.1)
        assert [source.kind for source in laid.lines[mark].because] == ["distance"]


READ = """
reading,leg.l.left,leg.l.right,3.531,caliper,
reading,leg.r.left,leg.r.right,3.488,caliper,
reading,leg.l.right,leg.r.left,41 3/32,tape,
"""


def test_json_has_the_layout_beside_every_size_and_clearance(tmp_path):
    """By hand: leg.l 3.531 + 0.002 .. 0.016 is 3.533 .. 3.547: 113/32 is 3.53125, no multiple of 1/32 fits.
    Of leg.r, 3.490 .. 3.504, 112/32 = 3.5 does. So one wall of the dado of leg.l has no line."""
    answer = json.loads(run("sizes", "--json", at=folder_of(tmp_path / "b", rows=READ)).stdout)
    at = {(d["from"], d["to"]): d["layout_mm"] for d in answer["distances"]}
    assert at["apron.l.end", "apron.r.end"] == pytest.approx(60 * 25.4, abs=1e-9)
    assert at["apron.l.left", "apron.l.right"] is None
    assert at["apron.r.left", "apron.r.right"] == pytest.approx(3.5 * 25.4, abs=1e-9)
    why = {(d["from"], d["to"]): d["no_line"] for d in answer["distances"]}
    [named] = why["apron.l.left", "apron.l.right"]
    assert named["joints"] == ["dado leg.l apron"]
    assert named["finest_mm"] == pytest.approx(25.4 / 32)
    assert named["finer_mm"] == pytest.approx(25.4 / 64)  # 3 17/32 + 1/64 = 3.547 is within 3.533 .. 3.547 just so
    assert (named["knife_off"], named["others"]) == (["leg.l"], [])
    assert named["shim_mm"] == pytest.approx(0.008 * 25.4, abs=0.001 * 25.4)  # what the fit aims at
    assert why["apron.r.left", "apron.r.right"] == []
    assert at["leg.l.left", "leg.l.right"] == pytest.approx(3.531 * 25.4, abs=1e-6)
    clearances = [c["layout_clearance_mm"] for joint in answer["joints"] for c in joint["contacts"]]
    assert clearances[0] is None
    assert clearances[1] == pytest.approx((3.5 - 3.488) * 25.4, abs=1e-6)
    for (start, end), mm in at.items():
        if mm is not None and start.startswith("apron"):
            steps = mm / (25.4 / 32)
            assert steps == pytest.approx(round(steps), abs=1e-7), (start, end)


TABLE = Path(__file__).parents[1] / "examples" / "wedging-table"


@pytest.fixture(scope="module")
def answer():
    return json.loads(run("sizes", "--json", at=TABLE).stdout)


class TestFromThePlansText:
    """The plan's own words (fits, runs) against what `sizes --json` says of the layout; nothing of ours between."""

    def test_every_fit_is_kept(self, answer):
        plan = tomllib.loads((TABLE / "plan.toml").read_text(encoding="utf-8"))
        fits = {name: tuple(25.4 * float(Fraction(text)) for text in three) for name, three in plan["fits"].items()}
        seen = 0
        for joint in answer["joints"]:
            for contact in joint["contacts"]:
                at = contact["layout_clearance_mm"]
                if joint["closed"] or at is None or contact["kind"] == "room":
                    continue
                [(least, _, most)] = [
                    f
                    for f in fits.values()
                    if f == pytest.approx((contact["least_mm"], contact["aim_mm"], contact["most_mm"]))
                ]
                assert least - 1e-6 <= at <= most + 1e-6
                seen += 1
        assert seen > 5

    def test_a_clearance_is_the_dados_width_less_the_legs(self, answer):
        at = {(d["from"], d["to"]): d["layout_mm"] for d in answer["distances"]}
        clearance = {
            joint["name"]: contact["layout_clearance_mm"]
            for joint in answer["joints"] for contact in joint["contacts"]
            if contact["axis"] == "x" and joint["name"].startswith("dado")
        }  # fmt: skip
        told = 0
        for leg, apron, (a, b) in [
            ("fl", "front", ("l.dado-o", "l.dado-i")), ("fr", "front", ("r.dado-i", "r.dado-o")),
            ("rl", "rear", ("l.dado-o", "l.dado-i")), ("rr", "rear", ("r.dado-i", "r.dado-o")),
        ]:  # fmt: skip
            width, leg_width = (
                at[f"apron.{apron}.{a}", f"apron.{apron}.{b}"],
                at[f"leg.{leg}.outer", f"leg.{leg}.inner"],
            )
            found = clearance[f"dado leg.{leg} apron.{apron}"]
            assert (found is None) == (width is None)
            if width is not None:
                assert found == pytest.approx(abs(width) - abs(leg_width), abs=1e-6)
                told += 1
        assert told

    def test_sizes_are_whole_32nds_and_add_up(self, answer):
        at = {
            (d["from"], d["to"]): d["layout_mm"]
            for d in answer["distances"]
            if d["part"].startswith("apron") and d["axis"] == "x"
        }
        steps = [mm / (25.4 / 32) for mm in at.values() if mm is not None]
        assert steps == pytest.approx(np.round(steps), abs=1e-6)
        names = ["l.end", "l.dado-o", "l.dado-i", "r.dado-i", "r.dado-o", "r.end"]
        for apron in ("apron.front", "apron.rear"):
            pieces = [at[f"{apron}.{a}", f"{apron}.{b}"] for a, b in itertools.pairwise(names)]
            assert at[f"{apron}.l.end", f"{apron}.r.end"] == pytest.approx(66 * 25.4, abs=1e-9)
            assert None in pieces or sum(pieces) == pytest.approx(66 * 25.4, abs=1e-6)


@given(
    st.integers(8900, 9100), st.integers(8900, 9100), st.integers(60900, 61100), st.sampled_from(["0.5", "0.2", "1"])
)
@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_nothing_nearer_keeps_the_plan(tmp_path_factory, first, second, apart, finest):
    """All lines within three steps tried, from the words of the plan and the readings alone: an apron goes over two
    legs when each dado is 0.1 to 0.5 wider than its leg and one place keeps all four gaps open."""
    w1, w2, s = first / 100, second / 100, apart / 100
    plan = f"""
unit = "mm"
finest = {finest}
give = 1
fits = {{ loose = [0.1, 0.3, 0.5] }}
[part.leg]
copies = ["a", "c"]
x = "l 90 r"
[part.apron]
x = "end 100 l.o 90 l.i 610 r.i 90 r.o 100 far"
[joint.dado]
meet = ["leg.a.l/r in apron.l.o/i, loose", "leg.c.l/r in apron.r.i/o, loose"]
"""
    rows = f"reading,leg.a.l,leg.a.r,{w1},caliper,\nreading,leg.c.l,leg.c.r,{w2},caliper,\nreading,leg.a.r,leg.c.l,{s},rod,\n"
    answer = json.loads(run("sizes", "--json", at=folder_of(tmp_path_factory.mktemp("b"), plan=plan, rows=rows)).stdout)
    chain = [d for d in answer["distances"] if d["part"] == "apron"]
    exact = np.cumsum([d["size_mm"] for d in chain])[:4]
    f = float(finest)

    def keeps(lines):
        o, i, ri, ro = lines
        if not (
            i - o - w1 + 1e-6 >= 0.1
            and i - o - w1 <= 0.5 + 1e-6
            and ro - ri - w2 + 1e-6 >= 0.1
            and ro - ri - w2 <= 0.5 + 1e-6
        ):
            return False
        # leg a stands from 0 to w1, leg c from w1 + s: the apron's end lies at p
        low = max(w1 - i, w1 + s + w2 - ro)
        high = min(-o, w1 + s - ri)
        return low <= high + 1e-6

    choices = [np.arange(math.floor(x / f) - 3, math.floor(x / f) + 5) * f for x in exact]
    tried = [lines for lines in itertools.product(*choices) if keeps(lines)]
    widths = [d["layout_mm"] for d in chain]
    if None in widths[:4]:
        assert not tried
        return
    lines = np.cumsum(widths)[:4]
    assert keeps(lines)
    best = min(np.abs(np.array(one) - exact).sum() for one in tried)
    assert np.abs(lines - exact).sum() == pytest.approx(best, abs=1e-6)
