"""Slopes in a plan: which way they go, where they put their ends, and what handed copies make of them."""

from __future__ import annotations

import math

import pytest
from plans import at, gap, problems, warnings, worked
from pytest import approx

from fitsolve.report.screen import plainly

HEAD = 'unit = "mm"\ngive = 1\n'
LEG = """[part.leg]
copies = {{ fl = "as drawn", fr = "left for right", up = "top for bottom", off = "left for right, top for bottom" }}
x = "outer 80 inner"
z = [{z}]
slopes = "notch.bottom@inner..notch.bottom@outer 1:8{way}"
"""
RUNS = '"foot 100 notch.bottom@inner 60 notch.top", "foot 90 notch.bottom@outer"'
BASE = '"foot 100 notch.bottom 60 notch.top"'


def plan(z: str, way: str = "") -> str:
    return HEAD + LEG.format(z=z, way=way)


def ratios(text: str) -> dict[str, float]:
    return {slope.part.partition(".")[2]: slope.ratio for slope in worked(text).slopes}


HANDED = {"fl": 0.125, "fr": -0.125, "up": -0.125, "off": 0.125}


class TestWhichWay:
    """z[outer] - z[inner] = s (x[outer] - x[inner]): by hand, outer is 80 to the left of inner on fl
    and 10 below it, so s = +1/8; each axis turned around changes the sign once."""

    def test_the_runs_say_it(self):
        assert ratios(plan(RUNS)) == HANDED

    def test_a_word_says_it(self):
        assert ratios(plan(BASE, " down")) == HANDED
        assert ratios(plan(BASE, " up")) == {copy: -ratio for copy, ratio in HANDED.items()}

    def test_the_order_of_the_ends_turns_the_word_around(self):
        turned = plan(BASE, " up").replace(
            "notch.bottom@inner..notch.bottom@outer", "notch.bottom@outer..notch.bottom@inner"
        )
        assert ratios(turned) == HANDED

    def test_a_word_and_runs_that_agree(self):
        assert ratios(plan(RUNS, " down")) == HANDED

    def test_a_word_that_goes_against_the_runs(self):
        (problem,) = problems(plan(RUNS, " up"))
        assert problem.what == "by their runs notch.bottom@inner and notch.bottom@outer go the other way"
        assert (problem.level, problem.place.line) == ("error", 7)

    def test_nothing_says_it(self):
        assert ratios(plan(BASE)) == HANDED
        (notice,) = [one for one in problems(plan(BASE)) if "slope" in one.what]
        assert notice.level == "notice"
        assert notice.what == "nothing says which way this slope goes: taken as going up from left to right"
        assert notice.hint == "Say it behind the slope, from the first mark to the second: up or down."


ALONE = '"foot 100 notch.bottom@inner 60 notch.top"'
"""A run has the line at one station alone: the slope puts its other end."""


class TestWhereTheEndsLie:
    @pytest.mark.parametrize("copy", ["fl", "fr"])
    @pytest.mark.parametrize("turned", [False, True])
    def test_an_end_that_stands_nowhere_else_lies_where_the_slope_leads(self, copy, turned):
        text = plan(ALONE, " up" if turned else " down")
        if turned:
            text = text.replace("notch.bottom@inner..notch.bottom@outer", "notch.bottom@outer..notch.bottom@inner")
        assembly = worked(text)
        leg = f"leg.{copy}.notch"
        assert at(assembly, f"{leg}.top") - at(assembly, f"{leg}.bottom@outer") == approx(70)
        assert at(assembly, f"{leg}.top") - at(assembly, f"{leg}.bottom@inner") == approx(60)
        assert ratios(text) == HANDED

    def test_an_end_of_another_name_that_stands_nowhere_is_no_mark(self):
        (problem,) = problems(plan(ALONE, " down").replace("..notch.bottom@outer", "..notch.botom@outer"))
        assert 'has no mark "notch.botom@outer"' in problem.what

    @pytest.mark.parametrize("copy", ["fl", "fr"])
    def test_the_second_end_lies_where_the_slope_leads(self, copy):
        assembly = worked(plan(BASE, " down"))
        leg = f"leg.{copy}.notch"
        assert gap(assembly, f"{leg}.bottom", f"{leg}.bottom@inner") == 0
        assert gap(assembly, f"{leg}.bottom@inner", f"{leg}.bottom@outer") == approx(-10, abs=1e-12)
        assert assembly.slopes[0].placed == assembly.index["leg.fl.notch.bottom@outer"]

    def test_the_first_end_does_where_only_the_second_has_a_run(self):
        z = '"foot 100 notch.bottom 60 notch.top", "foot 90 notch.bottom@outer"'
        assembly = worked(plan(z, " down"))
        assert gap(assembly, "leg.fl.foot", "leg.fl.notch.bottom@inner") == approx(100, abs=1e-12)
        assert assembly.slopes[0].placed == assembly.index["leg.fl.notch.bottom@inner"]

    def test_neither_does_where_both_have_one(self):
        assert worked(plan(RUNS)).slopes[0].placed is None

    def test_one_slope_goes_on_where_another_ends(self):
        text = HEAD + (
            '[part.top]\nx = "l 100 mid 100 r"\nz = "under 20 upper"\n'
            'slopes = ["under@l..under@mid 1:10 up", "under@mid..under@r 1:5 down"]\n'
        )
        assembly = worked(text)
        assert gap(assembly, "top.under@l", "top.under@mid") == approx(10, abs=1e-12)
        assert gap(assembly, "top.under@l", "top.under@r") == approx(-10, abs=1e-12)

    def test_runs_may_be_off_by_less_than_half_of_finest(self):
        assert warnings(plan(RUNS.replace("90", "90.24"))) == []
        (problem,) = problems(plan(RUNS.replace("90", "90.25")))
        assert problem.what == (
            "the runs have notch.bottom@inner and notch.bottom@outer 9.75 mm apart; "
            "1:8 over 80 mm makes 10 mm"
        )

    def test_degrees(self):
        text = HEAD + '[part.a]\nx = "l 500 r"\nz = "low 100 top"\nslopes = "l@low..l@top 15° right"\n'
        assembly = worked(text)
        assert gap(assembly, "a.l@low", "a.l@top") == approx(100 * math.tan(math.radians(15)), abs=1e-9)
        assert at(worked(text.replace("15°", "15 deg")), "a.l@top") == at(assembly, "a.l@top")
        assert at(worked(plainly(text, "ascii")), "a.l@top") == at(assembly, "a.l@top")


def test_a_width_at_an_end_of_a_slope_is_reported_where_a_joint_meets():
    text = HEAD + (
        '[part.leg]\nx = "outer 80 inner"\nz = "foot 100 bottom 60 top"\n'
        'slopes = "bottom@inner..bottom@outer 1:8 down"\n'
        '[part.rail]\nx = "end 80 shoulder"\nz = "lower 60 upper"\n'
        'slopes = "lower@shoulder..lower@end 1:8 down"\n'
        '[joint.tail]\nmeet = ["rail.shoulder against leg.inner, tight-up, rail.shoulder above",'
        '"rail.lower@shoulder/upper in leg.bottom@inner/top, slip",'
        '"rail.lower@end/upper in leg.bottom@outer/top, slip"]\n'
    )
    derived = {(one.part, one.plan_mm) for one in worked(text).distances if one.derived}
    assert derived == {("leg", 60), ("leg", 70), ("rail", 60), ("rail", 70)}
