"""Figures run from one end: a mark cut to a size stands at it, whatever is read of the marks before it."""

from __future__ import annotations

import pytest
from cli_folder import run

from fitsolve.build.folder import load_build
from fitsolve.build.logtext import HEADER
from fitsolve.reconciliation import reconcile

RAIL = """
unit = "mm"
workmanship = 0.3
workmanship_width = 0.1
give = 1
[tool.micrometer]
good_to = 0.002
[part.rail]
x = "l.end 42 l.shoulder 700 r.shoulder 42 r.end"
"""
CUT = ["made,rail.l.shoulder,rail.l.end,42,,", "made,rail.r.shoulder,rail.l.end,742,,", "made,rail.r.end,rail.l.end,784,,"]


@pytest.fixture
def between(tmp_path):
    def asked(plan, rows, start, end):
        (tmp_path / "plan.toml").write_text(plan)
        log = [f"{no},2026-03-02T08:00:00+01:00,{row}" for no, row in enumerate(rows, 1)]
        (tmp_path / "log.csv").write_text("\n".join([HEADER, *log, ""]))
        found = reconcile(load_build(tmp_path)).between(start, end)
        return found.distance_mm, found.expanded_mm

    return asked


def test_a_mark_read_off_does_not_carry_the_later_ones_along(between):
    """By hand: the end and r.shoulder stand where they were knifed, 742 and 784 ± 0.3; l.shoulder at 43.5 as read."""
    rows = [*CUT, "reading,rail.l.end,rail.l.shoulder,43.5,micrometer,"]
    assert between(RAIL, rows, "rail.l.end", "rail.r.shoulder") == (pytest.approx(742), pytest.approx(0.3))
    assert between(RAIL, rows, "rail.l.end", "rail.r.end") == (pytest.approx(784), pytest.approx(0.3))
    apart, spread = between(RAIL, rows, "rail.l.shoulder", "rail.r.shoulder")
    assert (apart, spread) == (pytest.approx(698.5), pytest.approx((0.3**2 + 0.002**2) ** 0.5))


def test_the_uncertainty_does_not_grow_along_the_piece(between):
    for mark in ("l.shoulder", "r.shoulder", "r.end"):
        assert between(RAIL, CUT, "rail.l.end", f"rail.{mark}")[1] == pytest.approx(0.3)


def test_what_is_as_drawn_still_hangs_together_mark_by_mark(between):
    """Nothing was said of how it was laid out: each distance is at plan ± 0.3, and they add up."""
    rows = ["made,rail,,,,", "reading,rail.l.end,rail.l.shoulder,43.5,micrometer,"]
    shoulder = between(RAIL, rows, "rail.l.end", "rail.r.shoulder")
    assert shoulder == (pytest.approx(743.5), pytest.approx((0.3**2 + 0.002**2) ** 0.5))


DADO = """
unit = "mm"
workmanship = 0.3
give = 1
fits = { slip = [0, 0.2, 0.4] }
[tool.micrometer]
good_to = 0.002
[part.leg]
x = "left 90 right"
[part.apron]
x = "l.end 100 l 90 r 100 r.end"
[joint.dado]
meet = "leg.left/right in apron.l/r, slip"
"""


def test_two_walls_laid_out_from_one_end_are_as_far_apart_as_one_setting_cuts_them(between):
    """By hand: the nearer wall ± 0.3 from the end; the farther ± 0.3 from the nearer, root 2 times 0.3 from the end."""
    rows = ["made,apron.l,apron.l.end,100,,", "made,apron.r,apron.l.end,190.2,,"]
    assert between(DADO, rows, "apron.l", "apron.r") == (pytest.approx(90.2), pytest.approx(0.3))
    assert between(DADO, rows, "apron.l.end", "apron.l") == (pytest.approx(100), pytest.approx(0.3))
    assert between(DADO, rows, "apron.l.end", "apron.r") == (pytest.approx(190.2), pytest.approx(0.3 * 2**0.5))


def test_both_are_moved_by_a_reading_of_the_nearer_wall_only(between):
    rows = ["made,apron.l,apron.l.end,100,,", "made,apron.r,apron.l.end,190.2,,",
            "reading,apron.l.end,apron.l,101,micrometer,"]  # fmt: skip
    assert between(DADO, rows, "apron.l", "apron.r")[0] == pytest.approx(90.2)


def test_from_the_command_line(tmp_path):
    (tmp_path / "plan.toml").write_text(RAIL)
    for words in (("l.shoulder", "42"), ("r.shoulder", "742"), ("r.end", "784")):
        assert run("made", "rail", *words, at=tmp_path).exit_code == 0
    assert run("read", "rail", "l.end", "l.shoulder", "43.5", "--tool", "caliper", "--sure", at=tmp_path).exit_code in (0, 1)
    assert run("between", "rail.l.end", "r.shoulder", at=tmp_path).stdout.startswith("rail l.end..r.shoulder   742 mm, ± 0.30")


def test_a_mark_with_stations_is_laid_out_once(between):
    """By hand: one size ± 0.3 and the stations ± 0.3 from it; what is cut once must not count as cut three times."""
    plan = RAIL + "[check]\nstraight = 'rail.l.shoulder@low..r.shoulder@low = rail.l.shoulder@up..r.shoulder@up, within 1'\n"
    plan = plan.replace("[check]", 'z = "low 80 up"\n[check]')
    assert between(plan, CUT, "rail.l.end", "rail.l.shoulder") == (pytest.approx(42), pytest.approx(0.3))
    at_station = between(plan, CUT, "rail.l.end", "rail.l.shoulder@up")
    assert at_station == (pytest.approx(42), pytest.approx(0.3 * 2**0.5))


def test_an_end_that_was_trimmed_is_one_cut_and_what_was_laid_out_from_the_old_one_stays(between):
    """By hand: o was knifed 42 from the old end, then the end was cut 41 from o: 41 ± 0.3, once. The far marks stay where
    they were, each distance on the way at its size ± 0.3: r.end stands 742 from o, and 783 from the new end."""
    rows = [*CUT, "trim,rail.l.end,rail.l.shoulder,41,,"]
    assert between(RAIL, rows, "rail.l.end", "rail.l.shoulder") == (pytest.approx(41), pytest.approx(0.3))
    assert between(RAIL, rows, "rail.l.shoulder", "rail.r.end") == (pytest.approx(742), pytest.approx(0.3 * 2**0.5))
    assert between(RAIL, rows, "rail.l.end", "rail.r.end") == (pytest.approx(783), pytest.approx(0.3 * 3**0.5))
