"""Readings as makers take them: strong and bare, one good to so much, wind by sticks. Each worked by hand."""

from __future__ import annotations

import math

import pytest
from cli_folder import rows_on_disk, run

import fitsolve
from fitsolve.build.hand import read_by_hand, said_good_to, sticks
from fitsolve.build.plan import read_plan
from fitsolve.build.tools import BUILT_IN
from fitsolve.errors import BuildError
from fitsolve.lengths import LengthError

PLAN = """
format = 1
unit = "in"
finest = "1/32"
{head}
[part.leg]
copies = { fl = "as drawn", fr = "as drawn", rl = "as drawn", rr = "as drawn" }
z = "foot 30 head"
x = "outer 4 inner"
"""
LEVEL = """
[part.top]
z = "under 1 face"
x = "l 60 r"
[joint.on]
each = \"\"\"
leg
fl
fr
rl
rr
\"\"\"
meet = "top.under against leg.{leg}.head, tight-up"
"""
IN = 25.4


def build(*rows, head="", more=""):
    time = "2025-11-25T14:10:00+00:00"
    log = [
        fitsolve.Row(time=time, **dict(zip(("event", "start", "end", "reading", "tool", "note"), row, strict=True)))
        for row in rows
    ]
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(PLAN.replace("{head}", head) + more), log=log))


def reading(length, tool="rule", note=""):
    return ("reading", "leg.fl.outer", "leg.fl.inner", length, tool, note)


class TestStrongAndBare:
    """A little more, or less, than the line."""

    @pytest.mark.parametrize(("text", "length"), [
        ("4 strong", 4 + 1 / 64),  # half of the finest line
        ("4 bare", 4 - 1 / 64),
        ("3 17/32 STRONG 1/128", 3 + 17 / 32 + 1 / 128),
        ("4 bare 0.3 mm", 4 - 0.3 / IN),
    ])  # fmt: skip
    def test_it_moves_the_reading_and_widens_its_u(self, text, length):
        found = build(reading(text)).between("leg.fl.outer", "leg.fl.inner")
        assert found.distance_mm == pytest.approx(length * IN, abs=1e-9)
        size = abs(length - float(text.split()[0]) - (17 / 32 if "17/32" in text else 0)) * IN
        u_tool = BUILT_IN["rule"].u_mm(length * IN)
        assert found.expanded_mm == pytest.approx(2 * math.hypot(u_tool, size / 4), rel=1e-9)

    def test_the_plan_may_say_how_much(self):
        found = build(reading("4 strong"), head='strong = "0.2 mm"')
        assert found.between("leg.fl.outer", "leg.fl.inner").distance_mm == pytest.approx(4 * IN + 0.2, abs=1e-9)

    def test_less_than_nothing_is_no_length(self):
        with pytest.raises(LengthError):
            read_by_hand("1/128 bare", "in", 0.4)

    def test_what_stands_behind_it_must_be_a_length(self):
        with pytest.raises(BuildError, match=r"can't read"):
            build(reading("4 strong or so"))


class TestGoodTo:
    """A reading with a U of its own."""

    def test_it_stands_in_place_of_the_tools(self):
        found = build(reading("4", note="by lamplight, good to 1/16; twice"))
        assert found.between("leg.fl.outer", "leg.fl.inner").expanded_mm == pytest.approx(IN / 16, rel=1e-9)

    @pytest.mark.parametrize("note", ["", "good to go", "looks good to five people"])
    def test_other_words_say_nothing(self, note):
        assert said_good_to(note, "in") is None

    @pytest.mark.parametrize("note", ["good to 1/16 or so", "good to 0", "good to 1/"])
    def test_what_can_not_be_read_is_told_and_the_reading_counts_as_its_tool_does(self, note):
        found = build(reading("4", note=note))
        [problem] = [one for one in found.problems if one.level == "warning"]
        assert "does not say a length that this reading is good to" in problem.what
        u_tool = BUILT_IN["rule"].u_mm(4 * IN)
        assert found.between("leg.fl.outer", "leg.fl.inner").expanded_mm == pytest.approx(2 * u_tool, rel=1e-9)


class TestWind:
    """Two sticks, one across each pair of heads."""

    ROW = ("wind", "leg.fl.head + leg.fr.head", "leg.rl.head + leg.rr.head", "1/8", "rule")

    def check(self, *rows):
        return build(*rows, more=LEVEL)

    def twist(self, found):
        index, x = found.assembly.index, found.solved.positions_mm
        at = {name: x[index[f"leg.{name}.head"]] for name in ("fl", "fr", "rl", "rr")}
        return (at["fl"] - at["fr"]) - (at["rl"] - at["rr"])

    def test_by_hand(self):
        # 1/8 in at the end of a stick of 24 over 18 in: the corners are 1/8 * 18 / 24 = 3/32 out of plane.
        found = self.check((*self.ROW, "proud leg.fl, stick 24, width 18"))
        assert self.twist(found) == pytest.approx(3 / 32 * IN, abs=1e-9)

    def test_the_corner_named_stands_out(self):
        found = self.check((*self.ROW, "proud leg.fr.head, stick 24, width 18"))
        assert self.twist(found) == pytest.approx(-3 / 32 * IN, abs=1e-9)

    def test_its_u_is_that_of_the_gap(self):
        found = self.check((*self.ROW, "proud leg.fl, stick 24, width 18"))
        (said,) = found.state.readings
        assert said.u_mm == BUILT_IN["rule"].u_mm(IN / 8)
        assert said.shown_mm == pytest.approx(IN / 8)
        assert said.across

    @pytest.mark.parametrize(("note", "what"), [
        ("proud leg.fl, stick 24", "does not say the width"),
        ("proud leg.fl", "does not say the stick and the width"),
        ("stick 24, width 18", "which of the four corners"),
    ])  # fmt: skip
    def test_what_is_missing_is_said(self, note, what):
        with pytest.raises(BuildError, match=what):
            self.check((*self.ROW, note))

    def test_no_gap_needs_no_corner(self):
        row = (*self.ROW[:3], "0", "rule", "stick 24, width 18")
        assert self.twist(self.check(row)) == pytest.approx(0.0, abs=1e-9)

    def test_the_lengths_are_found_in_any_order(self):
        assert sticks("width 18 1/2, stick 2' 1", "in") == pytest.approx({"width": 18.5 * IN, "stick": 25 * IN})


def test_repeats_are_independent():
    # Four by rule: u / 2, U too.
    found = build(*[reading("4")] * 4).between("leg.fl.outer", "leg.fl.inner")
    assert found.expanded_mm == pytest.approx(BUILT_IN["rule"].u_mm(4 * IN), rel=1e-9)


class TestTheCommandWind:
    """`fitsolve wind`: the row it writes is the one the log reads."""

    ARGS = ("wind", "leg.fl.head", "leg.fr.head", "leg.rl.head", "leg.rr.head")

    @pytest.fixture
    def folder(self, tmp_path):
        (tmp_path / "plan.toml").write_text(PLAN.replace("{head}", "") + LEVEL, encoding="utf-8")
        return tmp_path

    def test_it_is_kept(self, folder):
        options = ("--stick", "24", "--width", "18", "--proud", "leg.fl.head", "--tool", "rule")
        result = run(*self.ARGS, "1/8", *options, at=folder)
        assert result.exit_code == 0, result.output
        assert rows_on_disk(folder) == [
            'wind,leg.fl.head + leg.fr.head,leg.rl.head + leg.rr.head,1/8,rule,"proud leg.fl.head, stick 24, width 18"'
        ]

    def test_without_a_corner_it_is_refused_and_nothing_written(self, folder):
        result = run(*self.ARGS, "1/8", "--stick", "24", "--width", "18", "--tool", "rule", at=folder)
        assert result.exit_code == 2
        assert "which of the four corners" in result.stderr
        assert "wind" not in (folder / "log.csv").read_text(encoding="utf-8")
