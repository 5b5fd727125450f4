"""Tools: their numbers stand above the published limits, and are what they are at the bench."""

import math
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsolve.build.tools import BUILT_IN, Tool, find_tool, own_tool, tool_fault, unknown_tool

# Every number in specs/references/tools.toml has its source beside it.
REFERENCE = tomllib.loads(
    (Path(__file__).parents[1] / "specs" / "references" / "tools.toml").read_text(encoding="utf-8")
)
CLASSES = {"tape-1": "I", "tape-2": "II", "tape-3": "III", "tape": "II"}
LENGTHS_MM = st.floats(0, 30_000)


def limit_mm(tape_class: str, length_mm: float, *, hooked: bool) -> float:
    """Directive 2014/32/EU, material measures: a + b L, L in m rounded up; c once for a hook."""
    row = REFERENCE["tapes"][tape_class]
    return row["a_mm"] + row["b_mm_per_m"] * math.ceil(length_mm / 1000) + (row["c_mm"] if hooked else 0)


class TestTapes:
    """A tape's U is a straight line above the stepped limits of its class, hook and all."""

    @pytest.mark.parametrize(("length_m", "limit"), REFERENCE["tapes"]["class_II_mm"])
    def test_the_stepped_limit_is_the_published_one(self, length_m, limit):
        assert limit_mm("II", length_m * 1000, hooked=False) == pytest.approx(limit, abs=1e-12)

    @pytest.mark.parametrize(("length_m", "limit"), REFERENCE["tapes"]["class_II_hooked_mm"])
    def test_the_stepped_limit_from_the_hook_is_the_published_one(self, length_m, limit):
        assert limit_mm("II", length_m * 1000, hooked=True) == pytest.approx(limit, abs=1e-12)

    @pytest.mark.parametrize("name", CLASSES)
    @given(LENGTHS_MM)
    def test_no_reading_is_thought_better_than_the_limit_of_its_class(self, name, length_mm):
        assert 2 * BUILT_IN[name].u_mm(length_mm) >= limit_mm(CLASSES[name], length_mm, hooked=True) - 1e-12

    @pytest.mark.parametrize("name", CLASSES)
    def test_just_behind_a_whole_metre_it_is_the_limit_and_no_more(self, name):
        for metres in range(1, 9):
            limit = limit_mm(CLASSES[name], metres * 1000 + 1e-6, hooked=True)
            assert 2 * BUILT_IN[name].u_mm(metres * 1000) == pytest.approx(limit, abs=1e-9)

    def test_a_tape_without_a_class_is_class_two(self):
        assert replace(BUILT_IN["tape"], name="tape-2") == BUILT_IN["tape-2"]


class TestOtherTools:
    """What a tool does at the bench, never the bare limit its maker promises."""

    def test_a_caliper_repeats_to_a_tenth_of_a_millimetre_at_any_length(self):
        assert 2 * BUILT_IN["caliper"].u_mm(0) == REFERENCE["calipers"]["at_the_bench_mm"]
        assert 2 * BUILT_IN["caliper"].u_mm(300) == REFERENCE["calipers"]["at_the_bench_mm"]

    @pytest.mark.parametrize(("length_mm", "limit_um"), REFERENCE["calipers"]["vernier_um"])
    def test_a_caliper_is_not_thought_better_than_its_limit_up_to_800_mm(self, length_mm, limit_um):
        # Beyond 800 mm the tool's own limit passes 0.1 mm: such a caliper wants a line in the plan.
        if length_mm <= 800:
            assert 2 * BUILT_IN["caliper"].u_mm(length_mm) >= limit_um / 1000

    @given(LENGTHS_MM)
    def test_a_rule_is_its_limit_and_the_reading_of_it(self, length_mm):
        rules = REFERENCE["rules"]
        expected = rules["reading_mm"] + rules["a_mm"] + rules["per_length"] * length_mm
        assert 2 * BUILT_IN["rule"].u_mm(length_mm) == pytest.approx(expected, abs=1e-9)

    def test_a_square_is_the_gap_and_the_blade(self):
        squares = REFERENCE["squares"]
        expected = squares["gap_mm"] + squares["per_blade"] * squares["blade_mm"]
        assert 2 * BUILT_IN["square"].u_mm(1.0) == pytest.approx(expected, abs=1e-12)

    @pytest.mark.parametrize(("name", "table"), [("rod", "rods"), ("feeler", "feelers")])
    def test_feel_does_not_grow_with_the_length(self, name, table):
        assert (
            2 * BUILT_IN[name].u_mm(0) == 2 * BUILT_IN[name].u_mm(2000) == REFERENCE[table]["at_the_bench_mm"]
        )


class TestStandardUncertainty:
    """u = (good_to + per_length * reading) / 2: what is written is k = 2, what is reckoned with k = 1."""

    def test_by_hand(self):
        # (0.79375 + 0.0004 * 1000) / 2 = 1.19375 / 2
        assert Tool("tape", 0.79375, 0.0004).u_mm(1000) == pytest.approx(0.596875, abs=1e-12)

    def test_shared_terms_are_halved_too(self):
        tool = Tool("tape", 0.5, zero_mm=0.8, scale=0.0006)
        assert (tool.zero_u_mm, tool.scale_u) == (0.4, 0.0003)

    @given(LENGTHS_MM)
    def test_the_side_a_reading_lies_on_changes_nothing(self, length_mm):
        for tool in BUILT_IN.values():
            assert tool.u_mm(-length_mm) == tool.u_mm(length_mm) > 0


@pytest.mark.parametrize("tool", BUILT_IN.values(), ids=lambda one: one.name)
def test_every_built_in_tool_says_where_its_numbers_come_from(tool):
    assert tool.source
    assert tool_fault(tool) is None
    assert BUILT_IN[tool.name] is tool
    assert (tool.zero_mm, tool.scale) == (0, 0)


class TestNames:
    """The build's own tools come first; an unknown name is answered with what may have been meant."""

    def test_its_own_before_the_built_in(self):
        mine = Tool("caliper", 0.05)
        assert find_tool("caliper", {"caliper": mine}) is mine
        assert find_tool("caliper") is BUILT_IN["caliper"]
        assert find_tool("laser", {"caliper": mine}) is None

    def test_a_slip_of_the_pen_is_met_with_the_nearest_name(self):
        assert unknown_tool("calliper") == (
            'no tool is called "calliper"',
            "Did you mean caliper? A tool of your own goes into the plan, as [tool.NAME].",
        )

    @pytest.mark.parametrize(
        ("written", "meant"),
        [("pinch rod", "rod"), ("steel rule", "rule"), ("tape measure", "tape"), ("feeler-gauge", "feeler")],
    )
    def test_a_word_of_a_longer_name_is_found(self, written, meant):
        assert unknown_tool(written)[1].startswith(f"Did you mean {meant}?")

    def test_a_name_like_no_other_is_met_with_all_of_them(self):
        what, hint = unknown_tool("zzz", {"story-stick": Tool("story-stick", 0.3)})
        assert what == 'no tool is called "zzz"'
        assert hint.startswith("There are: caliper, feeler, knife, rod, rule, square, story-stick, tape, ")


class TestOwnTools:
    """A plan may change a built-in tool, or add one of its own."""

    def test_what_the_plan_leaves_out_is_as_built_in(self):
        tool = own_tool("tape", good_to_mm=0.8)
        assert (tool.good_to_mm, tool.per_length, tool.kind) == (0.8, BUILT_IN["tape"].per_length, "tape")
        assert tool.source == "the plan of this build"

    def test_nothing_is_a_change_too(self):
        assert own_tool("tape", per_length=0.0).per_length == 0.0

    def test_a_new_tool_must_say_what_it_is_good_to(self):
        assert own_tool("story-stick") is None
        assert own_tool("story-stick", good_to_mm=0.3, zero_mm=0.5).zero_mm == 0.5

    @pytest.mark.parametrize(
        ("tool", "what"),
        [
            (Tool("tape", 0.0), "the tool tape is good to 0 mm: no reading is that exact"),
            (Tool("tape", math.nan), "the tool tape is good to nan mm: no reading is that exact"),
            (Tool("tape", math.inf), "the tool tape is good to inf mm: that says nothing"),
            (Tool("tape", 1.0, 0.4), "per_length of the tool tape is 0.4: that is 400 mm in every metre"),
            (Tool("tape", 1.0, -0.1), "per_length of the tool tape is -0.1: it can't be below 0"),
            (Tool("tape", 1.0, scale=math.nan), "scale of the tool tape is nan: that is no number"),
            (
                Tool("tape", 1.0, zero_mm=-1.0),
                "the zero of the tool tape may be off by -1 mm: that is no amount",
            ),
        ],
    )
    def test_numbers_that_cannot_be_are_refused(self, tool, what):
        assert tool_fault(tool)[0] == what
        assert tool_fault(tool)[1]


class TestClass:
    """A tape with a class: what the class permits is shared by its readings. [tapes] of specs/references/tools.toml."""

    @pytest.mark.parametrize("name", ["I", "II", "III"])
    def test_zero_and_scale_are_what_the_class_permits(self, name):
        limits = REFERENCE["tapes"][name]
        tool = own_tool("tape", tape_class=name)
        assert tool.zero_mm == pytest.approx(limits["a_mm"] + limits["b_mm_per_m"] + limits["c_mm"])
        assert tool.scale == pytest.approx(limits["b_mm_per_m"] / 1000)
        assert (tool.good_to_mm, tool.per_length, tool.kind) == (0.25, 0.0, "tape")

    @given(st.floats(0, 20_000))
    def test_no_tape_of_the_class_is_off_by_more(self, length_mm):
        # a + b L, L in m rounded up to the next whole metre, and c at the hook.
        limits = REFERENCE["tapes"]["II"]
        limit = limits["a_mm"] + limits["b_mm_per_m"] * math.ceil(length_mm / 1000) + limits["c_mm"]
        tool = own_tool("tape", tape_class="II")
        assert tool.zero_mm + tool.scale * length_mm >= limit - 1e-9

    def test_what_the_plan_says_goes_first(self):
        tool = own_tool("tape", tape_class="II", good_to_mm=0.5, zero_mm=0.0)
        assert (tool.good_to_mm, tool.zero_mm, tool.scale) == (0.5, 0.0, 0.0002)
