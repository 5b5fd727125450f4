"""A size laid out holds from its reference end: cutting what was advised leaves what was advised."""

from __future__ import annotations

import pytest
from cli_folder import PLAN as BENCH
from cli_folder import folder_of, rows_on_disk, run

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.build.shoplog import Row

PLAN = 'unit = "mm"\n[part.rail]\nx = "l 30 (give 1) a 40 (give 2) b 30 (give 1) r"\n'


def rail(*rows: tuple[str, ...], plan: str = PLAN):
    log = tuple(Row(k, "2025-03-10T09:00:00", *row) for k, row in enumerate(rows, 1))
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(plan), log=log))


def distances(found):
    return [one.size_mm for one in found.distances]


READ = ("reading", "rail.l", "rail.r", "106", "caliper")


def test_following_the_advice_and_measuring_nothing_gives_what_was_advised():
    # By hand: 6 mm over, gives 1, 2, 1: shares 1/6, 4/6, 1/6 of 6 mm, so 31, 44, 31.
    advised = distances(rail(READ))
    assert advised == pytest.approx([31, 44, 31], abs=1e-9)
    made = rail(READ, ("made", "rail.a", "rail.l", "31"), ("made", "rail.b", "rail.l", "75"))
    assert distances(made) == pytest.approx([31, 44, 31], abs=1e-9)
    assert all(one.state == "made" for one in made.distances)


@pytest.mark.parametrize(("end", "size", "expected"), [("l", "9", [9, 89]), ("r", "89", [9, 89]), ("r", "9", [89, 9])])
def test_a_size_holds_from_the_end_it_was_laid_out_from(end, size, expected):
    plan = 'unit = "mm"\ngive = 2\n[part.rail]\nx = "l 10 a 90 r"\n'
    found = rail(("reading", "rail.l", "rail.r", "98", "caliper"), ("made", "rail.a", f"rail.{end}", size), plan=plan)
    assert distances(found) == pytest.approx(expected, abs=1e-9)


def test_before_the_overall_is_read_the_rest_is_what_the_plan_leaves():
    found = rail(("made", "rail.l"), ("made", "rail.r"), ("made", "rail.a", "rail.l", "31"), ("made", "rail.b", "rail.l", "75"))
    assert distances(found) == pytest.approx([31, 44, 25], abs=1e-9)


def test_a_mark_cut_to_plan_shares_what_the_overall_is_off():
    # By hand: the three pieces are equally uncertain, 6 mm over: 2 mm each.
    found = rail(("made", "rail"), READ)
    assert distances(found) == pytest.approx([32, 42, 32], abs=1e-9)


def test_a_finest_line_of_the_other_unit_is_written_down_with_that_unit(tmp_path):
    # A rule of millimetres on a plan in inches: what was advised can be said, and is then what stands in the log. By
    # hand: 3.531 in of leg and 0.008 of play are 89.89 mm; on lines half a millimetre apart a dado is 90 wide.
    at = folder_of(tmp_path / "b", plan=BENCH.replace('finest = "1/32"', 'finest = "0.5 mm"'))
    run("read", "leg.l", "left", "right", "3.531", "--tool", "caliper", at=at)
    made = run("made", "apron", at=at)
    assert made.exit_code == 0, made.stderr
    cells = (line.split(",") for line in rows_on_disk(at))
    sizes = {start: reading for event, start, _, reading, *_ in cells if event == "made"}
    low, high = (sizes[f"apron.l.{wall}"].removesuffix(" mm") for wall in ("left", "right"))
    assert float(high) - float(low) == 90.0
    assert run("between", "apron", "l.left", "l.right", "--json", at=at).stdout.count("90.0") == 1
